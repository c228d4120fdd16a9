"""What looks return, as text."""
