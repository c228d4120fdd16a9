"""The proof that lists are read rightly: known truth, dialects, damage, and a fuzz of parsers."""
