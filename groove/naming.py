"""How names of feels, cells, riffs and styles are compared, and the words for a part that rests."""

OUT_WORDS = ("out", "none", "tacet")
"""What a chart or an option says for a part that does not play; no cell is called so."""


def fold_name(name: str) -> str:
    """Return a name as it is compared: capitals, doubled blanks and hyphens mean nothing."""
    return " ".join(name.casefold().replace("-", " ").split())
