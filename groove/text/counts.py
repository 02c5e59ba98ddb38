"""Counts and lengths as a person writes them."""


def counted(count: int, noun: str) -> str:
    """Return a count with its noun: ``1 bar``, ``8 bars``."""
    return f"{count} {noun}" + ("" if count == 1 else "s")


def clock_text(sec: float) -> str:
    """Return a length as minutes and seconds: ``3:07``."""
    whole = round(sec)
    return f"{whole // 60}:{whole % 60:02d}"
