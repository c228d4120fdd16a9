"""The answers of looks, as text and as JSON."""
