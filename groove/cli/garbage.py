"""How often a process of ours looks for garbage: notes are many, small and never in circles."""

import gc

THRESHOLD = 100_000


def collect_rarely() -> None:
    """Look for garbage seldom from now on: often only costs time."""
    gc.set_threshold(THRESHOLD)
