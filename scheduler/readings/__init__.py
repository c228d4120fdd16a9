"""What loggers write -> readings, and the readings of a day as they are stored."""
