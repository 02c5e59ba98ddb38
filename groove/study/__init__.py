"""Somebody's bass line, taken apart: its notes, its cells, what it is near to."""
