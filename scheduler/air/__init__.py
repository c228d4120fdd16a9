"""The air of a room: its hours, what is believed of hours that nobody measured, and the air now."""
