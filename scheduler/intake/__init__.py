"""What comes in: tables, logger files and typed words become records and problems."""
