"""Riffs in a chart: blocks of rows, what they play, and what is refused with its place.

Positions are counted by hand: sixteen tokens in a bar of 4/4 are sixteenths, 240 ticks of 960.
"""

from fractions import Fraction

import pytest

from groove.cells.model import BassCell, DrumCell, KeysCell, Library
from groove.chart.model import Riff
from groove.chart.parse import parse_chart
from groove.chart.riffs import riff_cell
from groove.chart.write import write_chart
from groove.errors import ChartError
from groove.events import Part
from groove.pipeline import PerformOptions, perform_chart
from groove.text.notices import notice_texts
from groove.timing import Meter

FOUR = Meter(4, 4)
HEAD = "tempo: 90\nkey: C\n\n"
VERSE = "\nverse:\n  bass: heron\n  | G | % |\n"


def riff(rows: str, heading: str = "riff heron:") -> Riff:
    """Return the block of some rows."""
    return parse_chart(f"{HEAD}{heading}\n{rows}\nverse:\n  | C |\n").riffs[0]


def bass(rows: str, meter: Meter = FOUR) -> BassCell:
    """Return the bass cell of some rows."""
    cell = riff_cell(riff(rows), meter)
    assert isinstance(cell, BassCell)
    return cell


def struck(cell: BassCell, bar: int = 0) -> list[tuple[Fraction, Fraction, int]]:
    """Return (start, length, level) of every stroke of a bar, in beats."""
    return [(s.start_beats, s.length_beats, s.level) for s in cell.bars[bar].strokes]


RHYTHMS = [
    ("R . 5 .", FOUR, ["0 1", "2 1"]),
    ("R - 5 . . 5", Meter(6, 8), ["0 2/3", "2/3 1/3", "5/3 1/3"]),
    ("R - - 5 . . 8 .", FOUR, ["0 3/2", "3/2 1/2", "3 1/2"]),
    ("R - 5 R - 5 R - 5 8 . .", FOUR, ["0 2/3", "2/3 1/3", "1 2/3", "5/3 1/3", "2 2/3", "8/3 1/3",
     "3 1/3"]),
    ("R - - - . . . R - - - - . . 5 .", FOUR, ["0 1", "7/4 5/4", "7/2 1/4"]),
    ("R - - - - - . . . . . 5 5 . . . . . R . . . . -".replace(". -", ". ."), FOUR,
     ["0 1", "11/6 1/6", "2 1/6", "3 1/6"]),
]  # fmt: skip


def test_bars_of_every_size_are_laid_by_their_slots() -> None:
    sizes = []
    for row, meter, wanted in RHYTHMS:
        pairs = [(Fraction(a), Fraction(b)) for a, b in (each.split() for each in wanted)]
        assert [found[:2] for found in struck(bass(row, meter))] == pairs, row
        sizes.append(len(row.split()))
    assert sizes == [4, 6, 8, 12, 16, 24]


def test_line_ends_part_no_bars_and_bar_lines_do() -> None:
    one = bass("R . 5 .\n  8 . 5 .\n")
    two = bass("R . 5 . |\n  8 . 5 .\n")
    assert (len(one.bars), one.slots_per_beat) == (1, 2)
    assert (len(two.bars), two.slots_per_beat) == (2, 1)


def test_levels_belong_to_the_row_above_and_the_rule_does_the_rest() -> None:
    cell = bass("R x 5 5 8 5 R R |\n  R 5 5 5\n  levels: 9 . 3 4\n")
    assert [level for *_, level in struck(cell)] == [9, 3, 8, 7, 8, 7, 8, 7]
    assert [level for *_, level in struck(cell, 1)] == [9, 8, 3, 4]
    assert [level for *_, level in struck(bass("R R R R R R R R R R R R R R R R"))][:5] == [
        *(9, 6, 7, 6, 8),
    ]


def test_rows_with_a_condition_are_bars_of_their_own() -> None:
    cell = bass("R . 5 .\n  CHORUS: R R 5 5 |\n  8 8 5 5\n  phrase  end: R . >-1 .\n")
    assert len(cell.bars) == 1
    assert [(name, len(bars)) for name, bars in cell.when] == [("chorus", 2), ("phrase end", 1)]


def test_drums_and_keys_have_blocks_too() -> None:
    drums = riff_cell(riff("kick: 9 . 9 . |\nclosed hat: 5 3 5 3 | 6 3 6 3", "drums tin:"), FOUR)
    keys = riff_cell(riff(". 7 - . | 6 - - -", "Keys tin:"), FOUR)
    assert isinstance(drums, DrumCell) and isinstance(keys, KeysCell)
    assert [(s.key, s.step, s.level) for s in drums.bars[1] if s.key == "kick"] == [
        ("kick", 0, 9),
        ("kick", 2, 9),
    ]
    assert [s.level for s in drums.bars[1] if s.key == "hat"] == [6, 3, 6, 3]
    laid = [(int(s.start_beats), int(s.length_beats)) for bar in keys.bars for s in bar]
    assert laid == [(1, 2), (0, 4)]


def test_a_section_plays_the_riff_that_it_names(library: Library) -> None:
    """Root, fifth and octave of G from E1 up, worked by hand on a four-string."""
    text = HEAD + "riff heron:\n  R . 5 . 8 . x .\n" + VERSE + "  | G |\n"
    performance = perform_chart(text, library, PerformOptions(tight=True))
    notes = [note for note in performance.part_notes(Part.BASS) if note.grid_tick < 2 * 3840]
    found = [(note.grid_tick, note.pitch) for note in notes if note.touch == "plain"]
    assert found == [(0, 31), (960, 38), (1920, 43), (3840, 31), (4800, 38), (5760, 43)]
    assert {note.origin.cell for note in notes} == {"heron"}


def test_a_name_that_is_shipped_is_the_charts_own_and_told_once(library: Library) -> None:
    text = f"{HEAD}riff Octaves:\n  R . . .\nverse:\n  bass: octaves\n  | C | D | E | F |\n"
    performance = perform_chart(text, library)
    told = [text for text in notice_texts(performance.notices) if "of the shipped" in text]
    assert told == ["bass Octaves: the chart's own, in place of the shipped one"]
    assert len([n for n in performance.part_notes(Part.BASS) if n.grid_tick < 3 * 3840]) == 3


def test_a_riff_that_nobody_plays_is_told() -> None:
    song = parse_chart("riff heron:\n  R . 5 .\nverse:\n  | C |\n")
    assert notice_texts(song.notices) == [
        "heron (line 1) is played nowhere: write bass: heron in a section",
    ]  # fmt: skip


def test_a_heading_with_bars_or_settings_under_it_is_a_section() -> None:
    song = parse_chart("riff one:\n  | C |\nkeys two:\n  bass: out\n  | D |\ndrums x2y:\n| E |")
    assert [section.name for section in song.sections] == ["riff one", "keys two", "drums x2y"]
    assert song.riffs == ()


def test_no_part_of_the_band_is_called_out() -> None:
    for word in ("out", "none", "tacet", "TACET"):
        song = parse_chart(f"verse:\n  drums: {word}\n  | C |\n")
        drums = song.sections[0].settings.drums
        assert drums is not None and drums.is_out


FAULTS = [
    ("riff a:\n  R . 5", "bass: a", 2, 3, "found 3 slots in a bar of a, played in 4/4: 4 beats"),
    ("riff a:\n  R . Q .", "bass: a", 2, 7, "found 'Q'"),
    ("riff a:\n  R . - .", "bass: a", 2, 7, "found a hold after a rest"),
    ("riff a:\n  R 5 || R 5", "", 1, 1, "found a bar with nothing in it"),
    ("riff a:\n  chorus: R 5 . .", "", 1, 1, "found only rows with a condition"),
    ("riff a:\n  R 5 . .\n  korus: R 5", "", 3, 3, "no such row of a bass part: 'korus'"),
    ("riff a:\n  R 5 . .\n  levels: 9 8", "", 3, 11, "found 2 levels under 4 steps"),
    ("riff a:\n  R 5 . .\n  levels: 9 8 7 .", "", 3, 15, "found '7' under '.'"),
    ("riff a:\n  levels: 9 8 7 .", "", 2, 3, "found levels with no row above"),
    ("riff out:\n  R 5 . .", "", 1, 1, "a bass part cannot be called 'out'"),
    ("riff a:\n  R .\nriff A:\n  R .", "", 3, 1, "the bass part 'A' stands twice"),
    ("drums a:\n  9 . . .", "", 2, 3, "found a row of drums without its drum"),
    ("drums a:\n  kik: 9 . . .", "", 2, 3, "no such row of a drums part: 'kik'"),
    ("drums a:\n  kick: 9 - . .", "", 2, 11, "found '-'"),
    ("keys a:\n  V . . .", "", 2, 3, "found 'V'"),
    ("riff a:\n  phrase end: R .", "", 1, 1, "found only rows with a condition"),
    (
        "riff a:\n  R . . .\n  phrase end: R . . . | R . . .",
        "bass: a",
        3,
        25,
        "found 2 bars for phrase end",
    ),
    ("riff a:\n  R 5 . . 5 | R . . . . 5 5 . . . . .", "bass: a", 2, 3, "found 5 slots"),
]


@pytest.mark.parametrize(("block", "setting", "line", "column", "message"), FAULTS)
def test_what_is_wrong_is_told_at_its_place(
    block: str, setting: str, line: int, column: int, message: str
) -> None:
    with pytest.raises(ChartError) as caught:
        parse_chart(f"{block}\nverse:\n  {setting}\n  | C |\n")
    place = caught.value.place
    assert (place.line, place.column) == (line, column)
    assert caught.value.message.startswith(message)
    assert caught.value.hint


def test_a_riff_is_written_as_it_is_read() -> None:
    text = (
        HEAD + "riff heron:\n  R — 5 … | r x @bb2 s5 >-1 -\n  levels: 9..8... | 9 3 . 7 5 .\n"
        "  chorus: 8 . . .\ndrums a:\n  open hat: 9 .\n  kick: 9 9\nkeys b:\n  7 -\n" + VERSE
    ).replace("9..8...", "9 .. 8 ...")
    song = parse_chart(text.replace("bass: heron", ""))
    assert parse_chart(write_chart(song)) == song
    assert len(song.riffs) == 3


def test_levels_of_a_riffs_second_bar_alone_are_written() -> None:
    text = "riff heron:\n  R 5 . .  | R 5 8 .\n  levels: . . . . | . 3 9 .\nverse:\n| C | F |\n"
    song = parse_chart(text)
    assert [[slot.level for slot in bar] for bar in song.riffs[0].rows[0].bars] == [
        [None] * 4,
        [None, 3, 9, None],
    ]
    assert "levels: . . . . | . 3 9 ." in write_chart(song)
    assert parse_chart(write_chart(song)) == song


TURNS = [
    # (bars, the riff's bar under each as played): two bars of riff, R on beat 1 and then 5.
    ("| C | C | C |", "1 2 1"),
    ("|: C | C | C :|", "1 2 1 1 2 1"),
    ("| C |: C | C :|", "1 1 2 1 2"),
    ("| C | C | C :|", "1 2 1 1 2 1"),
    ("|: C | C |1. C :|2. C | C ||", "1 2 1 1 2 1 2"),
    ("|: C |1. C :|2. C || C |", "1 2 1 2 1"),
    ("|: C :| x3", "1 1 1"),
    ("| C | (tag x2) C | C |", "1 2 1 2 1"),
]


@pytest.mark.parametrize(("rows", "wanted"), TURNS)
def test_a_riff_begins_anew_where_its_section_or_a_repeat_does(
    library: Library, rows: str, wanted: str
) -> None:
    text = f"{HEAD}riff heron:\nR . . . | 5 . . .\nverse:\nbass: heron\n{rows}\n"
    performance = perform_chart(text, library, PerformOptions(tight=True))
    notes = performance.part_notes(Part.BASS)
    # The chord is C throughout: its root is bar 1 of the riff, its fifth bar 2.
    turns = [{0: "1", 7: "2"}[note.pitch % 12] for note in notes]
    assert " ".join(turns) == wanted
    assert len(performance.bars) == len(notes)


def test_blocks_of_drums_and_keys_begin_anew_with_a_repeat_too(library: Library) -> None:
    blocks = "drums wren:\nkick: 9 . . . | . . . .\nkeys owl:\n9 . . . | . . 9 .\n"
    text = f"{HEAD}{blocks}verse:\ndrums: wren\nkeys: owl\n|: C | C | C :|\n"
    performance = perform_chart(text, library, PerformOptions(tight=True))
    kicks = [
        note.grid_tick // 3840
        for note in performance.part_notes(Part.DRUMS)
        if note.pitch in (35, 36)
    ]
    assert kicks == [0, 2, 3, 5]
    chords = sorted(
        {
            note.grid_tick % 3840 // 960 + 10 * (note.grid_tick // 3840)
            for note in performance.part_notes(Part.KEYS)
        }
    )
    assert chords == [0, 12, 20, 30, 42, 50]


def test_an_entry_of_a_section_begins_its_riff_anew(library: Library) -> None:
    rows = "riff heron:\nR . . . | 5 . . .\nverse:\nbass: heron\n| C | C | C |\n"
    text = f"{HEAD}{rows}form: verse x2\n"
    notes = perform_chart(text, library, PerformOptions(tight=True)).part_notes(Part.BASS)
    assert [note.pitch % 12 for note in notes] == [0, 7, 0, 0, 7, 0]
