"""A pickup with chords and notes: read, refused, written, moved, and played by the band.

What a pickup is: a short bar before bar 1 (common practice, no source).
"""

from fractions import Fraction

import pytest
from msgspec.structs import replace

from groove.cells.model import Library
from groove.chart.form import unroll
from groove.chart.model import TabLine, TokenLine
from groove.chart.parse import parse_chart
from groove.chart.transpose import sounding_song, transpose_song
from groove.chart.write import write_chart
from groove.errors import ChartError
from groove.events import Part
from groove.pipeline import PerformOptions, perform_chart
from groove.text.chart import chart_data, chart_text

TAB = "G |-----|\nD |-----|\nA |-0-2-|\nE |-----|\n"
VERSE = "verse:\n| D | G | Em7 A7 | D |\n"


def chart(pickup: str, rows: str = "", *, head: str = "key: D\n", verse: str = VERSE) -> str:
    return f"{head}pickup: {pickup}\n{rows}feel: straight eighths\n{verse}"


@pytest.mark.parametrize(
    ("pickup", "head", "expected"),
    [
        ("1 | A7 |", "", [("A7", 0, 1)]),
        ("2 | A7 |", "", [("A7", 0, 2)]),
        ("2 | A7 E7 |", "", [("A7", 0, 1), ("E7", 1, 1)]),
        ("3 | A7 / E7 |", "", [("A7", 0, 2), ("E7", 2, 1)]),
        ("1 |A7", "", [("A7", 0, 1)]),
        ("3 Eighths | A7 / E7 |", "", [("A7", 0, 1), ("E7", 1, Fraction(1, 2))]),
        ("1 | A7 |", "meter: 6/8\n", [("A7", 0, Fraction(3, 2))]),
        ("1 | N.C. |", "", [("N.C.", 0, 1)]),
    ],
)
def test_chords_share_the_beats_of_a_pickup_as_of_a_bar(
    pickup: str, head: str, expected: list[tuple[str, Fraction | int, Fraction | int]]
) -> None:
    song = parse_chart(chart(pickup, head=head))
    assert song.pickup_bar is not None
    spans = song.pickup_bar.chords
    found: list[tuple[str, Fraction | int, Fraction | int]] = [
        (span.written, span.start_quarters, span.length_quarters) for span in spans
    ]
    assert found == expected
    assert parse_chart(write_chart(song)) == song
    first, second = unroll(song)[:2]
    assert first.is_pickup and first.chords == spans
    assert first.length_quarters == second.start_quarters == sum(length for *_, length in expected)
    assert second.ref.written_bar == 1


def test_a_pickup_of_beats_alone_has_no_chord() -> None:
    song = parse_chart(chart("1"))
    assert song.pickup_bar is None
    assert [span.chord for span in unroll(song)[0].chords] == [None]


def test_rows_stand_under_a_pickup_as_under_any_bar() -> None:
    tab = parse_chart(chart("2 | A7 |", TAB)).pickup_bar
    assert tab and isinstance(tab.line, TabLine)
    # A string at 0 and 2: A1 and B1, a beat each.
    assert [note.pitch for note in tab.line.notes] == [33, 35]
    assert [note.start_quarters for note in tab.line.notes] == [0, 1]
    assert {note.length_quarters for note in tab.line.notes} == {1}
    row = parse_chart(chart("1 | A7 |", "bass | R >-1 |\n")).pickup_bar
    assert row and isinstance(row.line, TokenLine)
    assert [slot.token for slot in row.line.slots] == ["R", ">-1"]


def test_a_pickup_stands_anywhere_in_a_chart_and_is_written_with_its_rows() -> None:
    first = parse_chart(chart("2 | A7 |", TAB))
    later = parse_chart("key: D\nfeel: straight eighths\n" + VERSE + "pickup: 2 | A7 |\n" + TAB)
    assert first == later
    assert "pickup: 2 | A7 |\n  G |" in write_chart(first)
    assert parse_chart(write_chart(first)) == first


def test_a_pickup_moves_with_its_key() -> None:
    song = transpose_song(parse_chart(chart("2 | A7 |", TAB)), 3)
    assert song.pickup_bar and isinstance(song.pickup_bar.line, TabLine)
    assert song.pickup_bar.chords[0].written == "C7"
    assert [note.pitch for note in song.pickup_bar.line.notes] == [36, 38]
    of_section = "verse:\n  transpose: 3\n| D | G | Em7 A7 | D |\n"
    stated = parse_chart(chart("2 | A7 |", TAB, verse=of_section))
    for sounding in (unroll(stated)[0], unroll(sounding_song(stated))[0]):
        assert sounding.chords[0].symbol == "C7"
        assert isinstance(sounding.line, TabLine)
        assert [note.pitch for note in sounding.line.notes] == [36, 38]


def test_numbers_in_a_pickup_count_from_the_key_of_the_section_it_leads_to() -> None:
    song = parse_chart("chords: numbers\nkey: D\npickup: 1 | 57 |\nverse:\n  key: G\n| 1 | 4 |\n")
    assert song.pickup_bar
    assert [span.symbol for span in song.pickup_bar.chords] == ["D7"]


@pytest.mark.parametrize(
    ("text", "line", "column", "found", "hint"),
    [
        (chart("0 | A7 |"), 2, 9, "cannot read pickup", "1 | A7 |"),
        (chart("1 | A7 | D |"), 2, 11, "no single bar", "pickup: 1 | A7 |"),
        (chart("1 |: A7 :|"), 2, 11, "no single bar", "pickup: 1 | A7 |"),
        (chart("1 | A7 E7 |"), 2, 13, "2 chords in a bar of 1 beat", "expected"),
        (chart("1 | (p) A7 |"), 2, 13, "(p) in the pickup", "in the bars of a section"),
        (chart("1 | H7 |"), 2, 13, "cannot read the chord 'H7'", "from A to G"),
        (chart("1 | % |"), 2, 13, "% with no bar before", "expected a chord"),
        (chart("4 | A7 |"), 2, 9, "does not fit before a bar of 4/4", "3 beats at most"),
        (chart("1 | A7 |", "G |---|\n"), 3, 1, "1 strings", "G D A E"),
        (chart("1 | A7 |", "bass | R | 5 |\n"), 3, 1, "2 bars under a line of 1", "as many"),
        (chart("1", "bass | R |\n"), 3, 1, "row with no bars above it", "expected"),
    ],
)
def test_what_no_pickup_can_be_is_refused_with_its_place(
    text: str, line: int, column: int, found: str, hint: str
) -> None:
    with pytest.raises(ChartError) as caught:
        parse_chart(text)
    error = caught.value
    assert found in error.message
    assert error.hint and hint in error.hint
    assert (error.place.line, error.place.column) == (line, column)


def played(library: Library, text: str, part: Part) -> list[tuple[int, int | None, int]]:
    """Return (tick, length, pitch) of what a part plays in the pickup."""
    performance = perform_chart(text, library, PerformOptions(tight=True))
    end = performance.bars[1].start_tick
    notes = performance.part_notes(part)
    return [(n.grid_tick, n.stated_ticks, n.pitch) for n in notes if n.grid_tick < end]


def test_the_band_plays_the_chord_and_the_sticks_count(library: Library) -> None:
    text = chart("2 | A7 |")
    # The root, held: A1 for two beats of 960 ticks.
    assert played(library, text, Part.BASS) == [(0, 1920, 33)]
    keys = played(library, text, Part.KEYS)
    assert {pitch % 12 for *_, pitch in keys} <= {9, 1, 4, 7}
    assert len(keys) >= 3
    assert {(tick, length) for tick, length, _ in keys} == {(0, 1920)}
    # Side stick (37 in the General MIDI key table) on both beats.
    assert [(tick, key) for tick, _, key in played(library, text, Part.DRUMS)] == [
        (0, 37),
        (960, 37),
    ]
    silent = chart("2")
    assert played(library, silent, Part.BASS) == played(library, silent, Part.KEYS) == []


def test_what_is_written_under_a_pickup_is_played(library: Library) -> None:
    assert played(library, chart("2 | A7 |", TAB), Part.BASS) == [(0, 960, 33), (960, 960, 35)]
    # The half step below D2: C sharp, from the middle of the beat.
    row = played(library, chart("1 | A7 |", "bass | R >-1 |\n"), Part.BASS)
    assert [(tick, pitch % 12) for tick, _, pitch in row] == [(0, 9), (480, 1)]


@pytest.mark.parametrize("part", list(Part)[:3])
def test_a_pickup_changes_nothing_after_it(library: Library, part: Part) -> None:
    def after(text: str) -> list[tuple[int, int, int]]:
        performance = perform_chart(text, library, PerformOptions(tight=True))
        start = performance.bars[1].start_tick
        return [
            (n.grid_tick, n.pitch, n.velocity)
            for n in performance.part_notes(part)
            if n.grid_tick >= start
        ]

    assert after(chart("2 | A7 |")) == after(chart("2"))
    assert len(after(chart("2"))) > 8


def test_the_pickups_chord_is_shown() -> None:
    song = parse_chart(chart("2 | A7 |"))
    bars = unroll(song)
    assert "pickup of 2 beats: A7" in chart_text(song, bars, 10.0)
    assert "pickup of 2 beats\n" in chart_text(replace(song, pickup_bar=None), bars, 10.0) + "\n"
    data = chart_data(song, bars, 10.0, {})
    assert data["pickup_bar"]["chords"][0]["symbol"] == "A7"  # type: ignore[index]


def test_a_moved_pickup_is_spelled_in_the_key_of_what_it_leads_into() -> None:
    # The dominant of E flat is B flat (music theory); the bridge, which goes up to D from D flat,
    # would have it A sharp.
    verse = f"{VERSE}bridge:\n  key: Db\n| Db | Gb |\n"
    moved = transpose_song(parse_chart(chart("1 | A7 |", verse=verse)), 1)
    assert moved.pickup_bar is not None
    assert [span.written for span in moved.pickup_bar.chords] == ["Bb7"]
    assert [span.written for span in moved.sections[1].bars[0].chords] == ["D"]
