"""What a record's own dryness tests teach about its rooms: dates for a share, honest ranges."""
