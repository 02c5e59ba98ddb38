"""What a song is made of: key, changes, movement."""
