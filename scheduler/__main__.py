"""Run the program as `python -m scheduler`, where the command is not on the path."""

from scheduler.cli import main

if __name__ == "__main__":
    main()
