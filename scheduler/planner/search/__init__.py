"""Ruin and recreate: take a few specimens out of the plan and put them back better, many times."""
