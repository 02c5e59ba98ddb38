"""From a song and cells to notes on the grid, one file a part."""
