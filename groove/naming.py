"""How names of feels, cells, riffs, styles and sections are compared, and the words for a rest."""

from collections.abc import Collection

OUT_WORDS = ("out", "none", "tacet")
"""What a chart or an option says for a part that does not play; no cell is called so."""


def fold_name(name: str) -> str:
    """Return a name as it is compared: capitals, doubled blanks and hyphens mean nothing."""
    return " ".join(name.casefold().replace("-", " ").split())


def named_among(name: str, known: Collection[str]) -> str:
    """Return the one of some names in small letters that a name in such letters means.

    It is itself, else one that differs by hyphens and blanks alone, else itself, which is unknown.
    """
    if name in known:
        return name
    folded = fold_name(name)
    return next((each for each in known if fold_name(each) == folded), name)
