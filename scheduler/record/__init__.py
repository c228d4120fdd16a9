"""The record: one SQLite file, its journal, and what is read from it."""
