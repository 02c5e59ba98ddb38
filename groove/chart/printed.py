"""Lines of a printed tab that are no rows: what each is called where it stands in a chart."""

import re
from functools import cache

from groove.chart.lines import Line, expected_text, is_chord
from groove.errors import ChartError

STRING = r"[A-Ga-g][#b♭♯]?"
_KINDS = {
    "the title of a printed tab": rf".*\(bass: {STRING}(?: {STRING}){{2,7}}\)",
    "a heading of a printed tab": r"(?:.*, )?bar [0-9]+",
    "a time of a printed tab that is told in words": r".*: as the \S+ (?:time|pass)\b.*",
    "the fingers of a printed tab": r"fi(?:\s+[0-4])*",
    "the plucking of a printed tab": r"pl(?:\s+[imp])*",
    "the legend of a printed tab": (
        r"(?:.*\s)?(?:x ghost|= held|[/\\] slide|h hammer-on|p pull-off|7b9 bend|~ vibrato"
        r"|<12> harmonic|r rest on that beat|fi fretting finger|pl pluck)\b.*"
    ),
}
HINT = (
    "under a line of bars stand its strings, as  G |-2-0-|  , and a row of beats; leave the rest "
    "of a printed tab out"
)


@cache
def _patterns() -> dict[str, re.Pattern[str]]:
    """Return the kinds of lines with their patterns, made where a line is none of a chart's."""
    return {words: re.compile(pattern, re.IGNORECASE) for words, pattern in _KINDS.items()}


def printed_line(line: Line) -> ChartError | None:
    """Return the error for a line that a printed tab has, None for any other."""
    text = line.text.strip()
    kind = next((words for words, pattern in _patterns().items() if pattern.fullmatch(text)), None)
    return _error(line, kind, HINT) if kind else None


def chord_line(line: Line) -> ChartError | None:
    """Return the error for chord names without bar lines, None for any other line."""
    words = line.text.split()
    if not all(map(is_chord, words)):
        return None
    bars = f"expected {expected_text(words)}; " if len(words) > 1 else ""
    return _error(line, "chord names without bar lines", bars + HINT)


def stray_line(line: Line) -> ChartError:
    """Return the error for a line among rows that is none."""
    found = "a line under bars that is no string, no tokens and no beats"
    stray = _error(line, found, f"{HINT}, or  bass | R - 5 . |")
    return printed_line(line) or chord_line(line) or stray


def _error(line: Line, found: str, hint: str) -> ChartError:
    return ChartError(f"found {found}", place=line.value_place(), hint=hint)
