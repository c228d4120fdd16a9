"""The trade's words: frozen records, problems, how things are said."""
