"""The program by its package's name, where no command lies on the path: python -m scheduler."""

from scheduler.cli import main

if __name__ == "__main__":
    main()
