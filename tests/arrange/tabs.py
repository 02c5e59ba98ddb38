"""Bars of tab for tests, laid out column by column."""

WIDTH = 33
"""A margin and sixteen slots of two columns."""
NAMES = "GDAE"


def tab_rows(*bars: dict[str, dict[int, str]]) -> str:
    """Return four rows of tab; each bar says by string what stands at which sixteenth.

    A slur's sign goes into the column before its slot: ``{"A": {0: "5==", 2: "h7"}}``.
    """
    return "\n".join(
        f"{name} |" + "|".join(_row(bar.get(name, {})) if bar else " " for bar in bars) + "|"
        for name in NAMES
    )


def _row(signs: dict[int, str]) -> str:
    """Return one string of one bar."""
    columns = ["-"] * WIDTH
    for slot, text in signs.items():
        at = 1 + 2 * slot - (text[0] in "hp/\\")
        columns[at : at + len(text)] = text
    assert len(columns) == WIDTH, signs
    return "".join(columns)
