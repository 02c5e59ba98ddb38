"""Large charts and charts at the limits: read or refused with the limit, never a hang.

A limit is met while reading, so the work is bounded by it; nothing here is timed.  A hundred times
a song's size shows what grows with its square as a megabyte does.
"""

from itertools import islice, permutations

import pytest

from groove.chart.bars import (
    MOST_CHORDS,
    MOST_CHORDS_IN_BAR,
    MOST_SYMBOLS,
    MOST_WRITTEN_BARS,
)
from groove.chart.form import MOST_PLAYED_BARS, unroll
from groove.chart.lines import LONGEST_CHART_BYTES, MOST_LINES
from groove.chart.parse import MOST_SECTIONS, parse_chart
from groove.chart.settings import MOST_STEPS
from groove.errors import ChartError

LARGE_BYTES = 300_000
VERSE = "verse:\n"
NUMBERS = "key: D\nchords: numbers\n" + VERSE


def filled(head: str, piece: str, tail: str = "", size: int = LARGE_BYTES) -> str:
    """Return a chart of a size: a head, a piece again and again, a tail."""
    return head + piece * ((size - len(head) - len(tail)) // len(piece)) + tail


LARGE = {
    "bar lines": filled(VERSE, "|"),
    "bar lines, one a line": filled(VERSE, "|\n"),
    "chords in one bar": filled(VERSE + "|", "D "),
    "bars": filled(VERSE, "|D"),
    "bars again": filled(VERSE + "|D", "|%"),
    "full bars": filled("meter: 24/4\n" + VERSE, "|" + "D " * 24),
    "open brackets": filled(VERSE + "|", "("),
    "open brackets, spaced": filled(VERSE + "|", "( "),
    "brackets in a chord": filled(VERSE + "|D", "("),
    "bracket pairs": filled(VERSE + "|D", "()"),
    "meters": filled(VERSE + "| D |", "(3/4) "),
    "opened repeats": filled(VERSE, "|: "),
    "closed repeats": filled(VERSE + "|D", " :|"),
    "repeats": filled(VERSE, "|:D:|"),
    "endings": filled(VERSE, "|:D|1.D:|2.D|"),
    "one ending's bars": filled(VERSE + "|:D", "|1.D", ":|2.D"),
    "one ending's numbers": filled(VERSE + "|", "1,", "1. D"),
    "comments": filled("", "# remark\n"),
    "signs": filled("", "# "),
    "sharps": filled(VERSE + "|D ", "#"),
    "colons": filled("", ":"),
    "pushes": filled(VERSE + "|", "<"),
    "one long chord": filled(VERSE + "|", "D"),
    "one long numeral": filled(NUMBERS + "|", "V/", "V"),
    "one long number": filled(NUMBERS + "|", "1"),
    "three long chords": VERSE + "|" + ("D" * 90_000 + " ") * 3,
    "a long setting": filled("tempo: ", "9"),
    "a long key": filled("key: ", "b"),
    "a long choice": filled("fills: ", "f"),
    "a long title": filled("title: ", "a", "\n" + VERSE + "|D|"),
    "a long name": filled("", "a", ": 3"),
    "a long section": filled("", "a", ":"),
    "a long line": filled("", "a"),
    "a long form": filled(VERSE + "|D|\nform: ", "verse,", "verse"),
    "white space": filled("", " "),
    "line ends": filled("", "\r"),
    "zeros": filled("", "\0"),
    "many times": filled(VERSE + "|D:|", "x9"),
    "sections": "".join(f"s{n}:\n|D|\n" for n in range(30_000)),
    "settings": "".join(f"tempo{n}: 3\n" for n in range(20_000)),
}

TONES = ["b9", "#9", "#11", "b13", "(9)", "(11)", "(13)", "b5", "#5", "no3", "addb6", "add4"]


def different_chords(count: int) -> str:
    """Return a chart of so many chords, no two alike, two a bar."""
    changes = ["".join(tones) for tones in islice(permutations(TONES, 6), count)]
    pairs = zip(*[iter(changes)] * 2, strict=True)
    return VERSE + "|" + "|".join(f"C7{one} D7{two}" for one, two in pairs) + "|"


LOW = {"MOST_WRITTEN_BARS": 1_000, "MOST_CHORDS": 5_000, "MOST_SYMBOLS": 500}
"""A twentieth and a tenth of what these are: what is read up to them takes the time."""


@pytest.fixture
def low_limits(monkeypatch: pytest.MonkeyPatch) -> None:
    for name, limit in LOW.items():
        monkeypatch.setattr(f"groove.chart.bars.{name}", limit)


def test_the_limits_are_those_of_the_longest_song_that_is_played() -> None:
    """All bars that may be played may be written, with five chords each."""
    assert MOST_WRITTEN_BARS == MOST_PLAYED_BARS
    assert MOST_CHORDS == 5 * MOST_WRITTEN_BARS
    assert MOST_SYMBOLS == 5_000


def test_so_many_different_chords_may_stand_in_a_chart_and_not_one_more(low_limits: None) -> None:
    most = LOW["MOST_SYMBOLS"]
    bars = parse_chart(different_chords(most)).sections[0].bars
    assert len({span.symbol for bar in bars for span in bar.chords}) == most
    text = different_chords(16_000)
    assert len(text) > LARGE_BYTES
    for refused in (different_chords(most + 2), text):
        with pytest.raises(ChartError, match="too many different chords") as caught:
            parse_chart(refused)
        assert f"at most {most} different chords" in caught.value.hint


LIMITS = {
    "bars": LOW["MOST_WRITTEN_BARS"],
    "bars again": LOW["MOST_WRITTEN_BARS"],
    "repeats": LOW["MOST_WRITTEN_BARS"],
    "full bars": LOW["MOST_CHORDS"],
    "chords in one bar": MOST_CHORDS_IN_BAR,
    "bar lines, one a line": MOST_LINES,
    "sections": MOST_SECTIONS,
    "a long form": MOST_STEPS,
}
"""What stands in the error of these."""


@pytest.mark.parametrize("name", LARGE)
def test_a_large_chart_is_refused_with_its_limit(name: str, low_limits: None) -> None:
    text = LARGE[name]
    assert 200_000 < len(text) <= LONGEST_CHART_BYTES
    with pytest.raises(ChartError) as caught:
        parse_chart(text)
    hint = caught.value.hint
    assert hint
    assert len(caught.value.report()) < 1500
    limit = LIMITS.get(name)
    assert limit is None or f"at most {limit}" in hint or f" {limit} " in hint


def test_the_limits_are_those_of_large_charts() -> None:
    assert LIMITS.keys() <= LARGE.keys()


def test_a_chart_larger_than_a_megabyte_is_refused() -> None:
    whole = (
        "# " + "é" * ((LONGEST_CHART_BYTES - 2 - len("\nverse:\n| D |")) // 2) + "\nverse:\n| D |"
    )
    assert len(whole.encode()) <= LONGEST_CHART_BYTES < len(whole.encode()) + 2
    assert len(parse_chart(whole).sections) == 1
    with pytest.raises(ChartError, match="larger than 1 MB"):
        parse_chart("é" + whole)


def test_a_megabyte_of_comments_is_no_trouble() -> None:
    text = filled(VERSE + "| D |\n", "  # a remark\n\n", size=1_000_000)
    assert len(parse_chart(text).sections) == 1


def test_twenty_thousand_bars_may_be_played_and_not_one_more() -> None:
    rows = "|D" * 1000 + "|\n"
    assert MOST_PLAYED_BARS == 20_000
    song = parse_chart(f"a:\n{rows}b:\n| D |\nform: a x20")
    assert len(unroll(song)) == 20_000
    with pytest.raises(ChartError, match="20001 bars when played") as caught:
        parse_chart(f"a:\n{rows}b:\n| D |\nform: a x20, b")
    assert (caught.value.place.line, caught.value.place.column) == (5, 7)
    assert "at most 20000" in caught.value.hint
    with pytest.raises(ChartError, match="64000 bars when played"):
        parse_chart(f"a:\n|: {rows.strip('|').strip()[:-1]} :| x64")


def test_sixty_four_chords_may_stand_in_a_bar() -> None:
    # No meter has so many beats; the limit is met before the beats are counted.
    for count in (MOST_CHORDS_IN_BAR, MOST_CHORDS_IN_BAR + 1):
        with pytest.raises(ChartError) as caught:
            parse_chart(VERSE + "| " + "D " * count + "|")
        is_over = count > MOST_CHORDS_IN_BAR
        assert ("too many chords in one bar" in caught.value.message) is is_over
