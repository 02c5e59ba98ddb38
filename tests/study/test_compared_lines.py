"""Two lines beside each other against differences made by hand, and a line laid into a chart."""

from collections.abc import Sequence
from fractions import Fraction
from pathlib import Path

import pytest

from groove.chart.parse import parse_chart
from groove.events import Part, Touch
from groove.io.midi import midi_bytes
from groove.io.studied import read_line
from groove.pipeline import PerformOptions, perform_song
from groove.study.comparison import ComparedLines, compare_lines
from groove.study.comparison_report import comparison_data, comparison_html, comparison_text
from groove.study.line_tab import with_feel
from groove.study.result import study_line
from tests.cli.command import Command
from tests.study.hand_made import C2, C3, E2, G1, G2, LIBRARY, midi_file, studied

CHART = "title: Two Chairs\ntempo: 120\nkey: C\nmeter: 4/4\na:\n| C | G7 |\nform: a x2\n"
LINE = [
    (0, 0.9, C2, 100), (1, 0.9, C2, 90), (2, 0.9, G2, 90), (3, 0.9, C3, 90),
    (4, 0.9, G1, 100), (5, 0.9, G1, 90), (6, 0.1, G1, 20), (7, 0.9, G1, 90),
    (8, 0.9, C2, 100), (9, 0.9, C2, 90), (10, 0.9, G2, 90), (11, 0.9, C3, 90),
    (12, 0.9, G1, 100), (13, 0.9, G1, 90), (14, 0.1, G1, 20), (15, 0.9, G1, 90),
]  # fmt: skip


def compared(folder: Path, other: Sequence[tuple[float, float, int, int]]) -> ComparedLines:
    chart = folder / "song.txt"
    chart.write_text(CHART, encoding="utf-8")
    one = studied(midi_file(folder, LINE), chart)
    return compare_lines(one, studied(midi_file(folder, other), chart))


def test_a_line_is_the_same_as_itself(tmp_path: Path) -> None:
    same = compared(tmp_path, LINE)
    assert same.same_share == 1
    assert len(same.bars) == 4
    assert [bar.is_same for bar in same.bars] == [True] * 4
    text = comparison_text(same, ("one.mid", "two.mid"))
    assert "the same\n  every note" in text
    assert "bar by bar" not in text
    assert comparison_data(same)["differences"] == []


def test_each_difference_is_told_where_it_is(tmp_path: Path) -> None:
    # By hand: another note on 3 and an octave lower on 4 of the first bar, a stroke more on 2.5
    # and the ghost a plain note in the second; the third is as it was, the fourth lacks 2.
    other: list[tuple[float, float, int, int]] = list(LINE)
    other[2] = (2, 0.9, E2, 90)
    other[3] = (3, 0.9, C2, 90)
    other[6] = (6, 0.9, G1, 90)
    other.insert(6, (5.5, 0.4, G1, 90))
    other.remove((13, 0.9, G1, 90))
    found = compared(tmp_path, other)
    assert [bar.is_same for bar in found.bars] == [False, False, True, False]
    assert [bar.is_same_rhythm for bar in found.bars] == [True, False, True, False]
    # 17 places are struck by either, of which 5 differ.
    assert found.same_share == pytest.approx(12 / 17)
    text = comparison_text(found, ("one.mid", "two.mid"))
    lines = [line.strip() for line in text.splitlines()]
    for line in (
        "71% of all strokes",
        "all notes in 1 of 4 bars with notes: bar 1",
        "the rhythm alone in 1 more: bar 1",
        "A has 2 ghosts, B 1",
        "bar 1 (first time), over C",
        "on 3 A strikes fifth G2, B third E2",
        "on 4 B is an octave lower, C2",
        "bar 2 (first time), over G7",
        "B alone strikes 2.5 (root G1)",
        "on 3 A strikes a ghost, B root G1",
        "bar 2 (second time), over G7",
        "A alone strikes 2 (root G1)",
    ):
        assert line in lines, line
    assert max(map(len, text.splitlines())) <= 80
    assert text.index("the same") < text.index("bar by bar")
    data = comparison_data(found)
    differences = data["differences"]
    assert isinstance(differences, list)
    assert [(row["bar"], row["played_bar"], row["beat"]) for row in differences] == [
        (1, 1, 3), (1, 1, 4), (2, 2, 2.5), (2, 2, 3), (2, 4, 2),
    ]  # fmt: skip
    assert differences[2]["one"] is None
    assert differences[4]["two"] is None
    assert differences[3]["one"]["kind"] == "ghost"
    assert data["ghosts"] == [2, 1]
    page = comparison_html(found, ("one.mid", "two.mid"))
    assert "on 4 B is an octave lower, C2" in page
    assert page.count("<h2>") == 3


def test_swing_and_register_are_told_of_the_whole(tmp_path: Path) -> None:
    even = [(beat + at, 0.2, C2, 90) for beat in range(16) for at in (0.0, 0.5)]
    swung = [(beat + at, 0.2, C2 - 5, 90) for beat in range(16) for at in (0.0, 0.6)]
    (tmp_path / "song.txt").write_text(CHART, encoding="utf-8")
    one = studied(midi_file(tmp_path, even), tmp_path / "song.txt")
    two = studied(midi_file(tmp_path, swung), tmp_path / "song.txt")
    text = comparison_text(compare_lines(one, two), ("a.mid", "b.mid"))
    assert "A swings not, B 60% eighths" in text
    assert "A goes from C2 to C2, B from G1 to G1" in text
    assert "the rhythm alone in 4 more" in text


def even_line(pitch: int, places: Sequence[float]) -> list[tuple[float, float, int, int]]:
    return [(beat + at, 0.2, pitch, 90) for beat in range(16) for at in places]


def lines_beside(
    folder: Path, one: list[tuple[float, float, int, int]], two: list[tuple[float, float, int, int]]
) -> ComparedLines:
    (folder / "song.txt").write_text(CHART, encoding="utf-8")
    chart = folder / "song.txt"
    first = studied(midi_file(folder, one), chart)
    return compare_lines(first, studied(midi_file(folder, two), chart))


def test_a_triplet_is_near_a_sixteenth_and_far_from_an_eighth(tmp_path: Path) -> None:
    # In beats: 2/3 lies 1/12 from 3/4 and 1/6 from 1/2 (SAME_PLACE is 1/12).
    triplets = even_line(C2, (0, 1 / 3, 2 / 3))
    sixteenths = even_line(C2, (0, 0.25, 0.5, 0.75))
    found = lines_beside(tmp_path, triplets, sixteenths)
    first = [(stroke.one is None, stroke.two is None) for stroke in found.bars[0].strokes[:4]]
    assert first == [(False, False), (False, False), (True, False), (False, False)]


def test_swing_is_the_same_within_a_percent_and_a_half_of_one_unit(tmp_path: Path) -> None:
    # SAME_SWING_PERCENT; units are two, whatever the percent.
    eighths = even_line(C2, (0, 0.6))
    assert lines_beside(tmp_path, eighths, even_line(C2, (0, 0.61))).has_same_swing
    assert not lines_beside(tmp_path, eighths, even_line(C2, (0, 0.63))).has_same_swing
    sixteenths = even_line(C2, (0, 0.3, 0.5, 0.8))
    assert not lines_beside(tmp_path, eighths, sixteenths).has_same_swing
    assert not lines_beside(tmp_path, eighths, even_line(C2, (0, 0.5))).has_same_swing


def test_the_line_with_more_of_a_kind_is_named(tmp_path: Path) -> None:
    found = lines_beside(tmp_path, even_line(C2, (0,)), even_line(G2, (0,)))
    text = comparison_text(found, ("a.mid", "b.mid"))
    # C2 is the root of two bars in four, and G2 their fifth; over G7 it is the other way round.
    assert "A plays more of: " in text
    for name, line in (("A", found.one), ("B", found.two)):
        for kind, share in line.shares.items():
            beside = (found.two if name == "A" else found.one).shares[kind]
            if share - beside >= 0.1:
                said = f"{name} plays more of: {kind.value}, {100 * share:.0f}% of its notes"
                assert said in text


def test_two_lines_are_compared_by_the_command(groove: Command) -> None:
    groove.write("song.txt", CHART)
    midi_file(groove.folder, LINE[:-1]).rename(groove.folder / "mine.mid")
    midi_file(groove.folder, LINE)
    said = groove("study", "line.mid", "mine.mid", "--chart", "song.txt")
    assert said.code == 0, said.err
    assert "A alone strikes 4 (root G1)" in said.out
    for words in ((), ("--chart", "song.txt")):
        [data] = groove("study", "line.mid", "mine.mid", "--json", *words).json
        assert (data["file"], data["other"]) == ("line.mid", "mine.mid")
        assert len(data["differences"]) == 1
    assert groove("study", "line.mid", "mine.mid", "-o", "both.html").code == 0
    assert "both.html" in groove.files()


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (
            ("line.mid", "--riffs"),
            "--riffs beside line.mid\n  expected one line: leave out line.mid",
        ),
        (("line.mid", "--cells", "mine"), "--cells beside line.mid"),
        (("line.mid", "--into-chart"), "--into-chart beside line.mid"),
        (("song.txt",), "song.txt is no MIDI file, no score and no recording"),
        (("none.mid",), "cannot read none.mid"),
        (("--riffs", "--into-chart"), "--riffs beside --into-chart"),
    ],
)
def test_what_two_lines_cannot_be_asked_for(
    groove: Command, words: tuple[str, ...], told: str
) -> None:
    groove.write("song.txt", CHART)
    midi_file(groove.folder, LINE)
    said = groove("study", "line.mid", *words)
    assert (said.code, said.out) == (2, "")
    assert told in said.err
    assert groove.files() == {"song.txt", "line.mid"}


# --- into a chart -----------------------------------------------------------------------------


SONG = """# mine
title: Copper Kettle Lane
tempo: 96
key: G
feel: {}
verse:
| G | Em7 | C | D7 |
|: G | Bm7 |1. Am7 | D7 :|2. Am7 D7 | <G |
form: verse x2
"""


@pytest.mark.parametrize(
    ("feel", "is_given"),
    [("sixteenths", True), ("shuffle", True), ("shuffle", False), ("bossa", False)],
)
def test_a_line_laid_into_a_chart_plays_the_same_notes(
    groove: Command, feel: str, is_given: bool
) -> None:
    # The truth is the performance that the line was read from; the chart is read anew.
    song = parse_chart(SONG.format(feel))
    first = perform_song(song, LIBRARY, PerformOptions(tight=True))
    (groove.folder / "part.mid").write_bytes(midi_bytes(first))
    groove.write("song.txt", SONG.format(feel))
    chart = ("--chart", "song.txt") if is_given else ()
    said = groove("study", "part.mid", *chart, "--into-chart")
    assert said.code == 0, said.err
    assert said.out.startswith("# mine" if is_given else "# the feel is the nearest one, ")
    again = perform_song(parse_chart(said.out), LIBRARY, PerformOptions(tight=True))
    notes = [
        [(note.onset_tick, note.pitch) for note in band.part_notes(Part.BASS) if plain(note.touch)]
        for band in (first, again)
    ]
    ghosts = [
        [note.onset_tick for note in band.part_notes(Part.BASS) if not plain(note.touch)]
        for band in (first, again)
    ]
    assert len(notes[0]) >= 80
    near = [
        abs(a[0] - b[0]) <= NEAR_TICKS and a[1] == b[1]
        for a, b in zip(notes[0], notes[1], strict=True)
    ]
    assert all(near)
    assert len(ghosts[0]) == len(ghosts[1])


NEAR_TICKS = 12
"""Swing is read from the file to a tenth of a percent: a tick or so in a pair of 480 or 960."""


def plain(touch: Touch) -> bool:
    return touch is not Touch.GHOST


def test_notes_over_bar_lines_are_held_and_a_pickup_is_told(groove: Command) -> None:
    groove.write("song.txt", "title: Tied\ntempo: 90\nkey: C\npickup: 1\na:\n| C | F |\n")
    midi_file(groove.folder, [(0, 0.9, G1, 90), (1, 1, C2, 90), (4, 2, E2, 90), (7, 2, C2, 90)])
    said = groove("study", "line.mid", "--chart", "song.txt", "--into-chart")
    assert said.code == 0, said.err
    assert "notes of the line in the pickup are left out" in said.err
    band = perform_song(parse_chart(said.out), LIBRARY, PerformOptions(tight=True))
    found = [(note.grid_tick, note.pitch) for note in band.part_notes(Part.BASS)]
    # In quarters from the pickup: 1, 4 (held to 6, over the bar line at 5), 7; 960 ticks each.
    assert found == [(960, C2), (4 * 960, E2), (7 * 960, C2)]
    held = band.part_notes(Part.BASS)[1]
    assert held.written_ticks == 2 * 960


def test_a_draft_states_the_lines_own_swing_and_no_feel_twice(tmp_path: Path) -> None:
    swung = [(beat + at, 0.2, C2, 90) for beat in range(16) for at in (0.0, 0.6)]
    line = read_line(str(midi_file(tmp_path, swung)), None, lambda _: None)
    study = study_line(
        line.notes, line.frames, LIBRARY.bass, title="x", part="y", feels=LIBRARY.feels.values()
    )
    text = with_feel(line.text, study)
    song = parse_chart(text)
    assert song.settings.swing is not None
    assert song.settings.swing.percent == pytest.approx(60, abs=0.2)
    assert song.settings.feel is not None
    assert song.settings.feel.name == study.feels[0].name
    assert with_feel(text, study).count("feel:") == 1
    assert Fraction(song.tempo.bpm) == 120
    # In triplets a line is written so, and swings by itself.
    triplets = [(beat + at, 0.2, C2, 90) for beat in range(16) for at in (0.0, 2 / 3)]
    study = studied(midi_file(tmp_path, triplets), None)
    assert study.swing is not None
    assert "swing:" not in with_feel(line.text, study)
