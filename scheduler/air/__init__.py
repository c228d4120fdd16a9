"""The air of a room: its hours, what is known of them, and the air now."""
