"""What comes in: tables, logger files and typed words, to records and problems."""
