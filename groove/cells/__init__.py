"""Rhythmic cells and feels: what a player repeats, as data."""
