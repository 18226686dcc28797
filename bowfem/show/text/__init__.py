"""What a terminal prints."""
