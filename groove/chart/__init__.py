"""The text of a song: read, unrolled into played bars, and written again."""
