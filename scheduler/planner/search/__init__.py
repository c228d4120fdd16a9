"""Ruin and recreate: a few specimens out of the plan, and back better, many times."""
