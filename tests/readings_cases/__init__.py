"""Invented logger files from known truth: many dialects, many kinds of damage, one judge."""
