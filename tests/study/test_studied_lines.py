"""Lines taken apart: our own parts come back, counts by hand, a metric, files that others made."""

from collections.abc import Sequence
from fractions import Fraction
from functools import cache
from pathlib import Path
from typing import Any

import mido
import music21
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from groove.cells.model import BassBar, BassCell
from groove.cells.read import bass_bar, read_bass_cell
from groove.cells.tokens import is_struck, parse_token
from groove.cells.toml_bytes import toml_mapping
from groove.chart.parse import parse_chart
from groove.events import Bar, Part, Performance, Touch
from groove.io.charts import read_song
from groove.io.midi import midi_bytes
from groove.io.studied import read_line
from groove.pipeline import PerformOptions, analyse_song, perform_analysis, perform_chart
from groove.study.draft import DraftBar, draft_chart
from groove.study.heard_chords import FoundChord
from groove.study.line_cells import bass_cell, cell_toml, riff_text
from groove.study.nearest import OTHER_DEGREE, PITCHED, SOUND, KnownCells
from groove.study.note_kinds import NoteKind
from groove.study.result import LaidLine, Study
from groove.theory.chords import build_chord
from groove.theory.pitch import SpelledPitch
from groove.timing import TICKS_PER_QUARTER, Meter
from tests.conftest import ROOT
from tests.study.hand_made import B1, C2, C3, E2, FS1, G1, G2, LIBRARY, midi_file, studied

PRIMITIVE = Path(music21.__file__).parent / "midi" / "testPrimitive"
CHARTS = ROOT / "shared" / "charts"
TICKS_NEAR = 24
"""How far from where it sounds a note's slot may lie in a tight part: a quarter has 960."""


GROWING = """title: Copper Kettle Lane
tempo: 96
key: G
feel: straight eighths
verse:
| G | Em7 | C | D7 |
| G | Bm7 | Am7 D7 | <G |
chorus:
| C | G/B | Am7 | D7sus4 |
form: verse, chorus x2
"""


@cache
def played(chart: str, feel: str | None, tight: bool) -> Performance:
    is_ours = chart == "growing"
    song = parse_chart(GROWING) if is_ours else read_song(str(CHARTS / f"{chart}.txt"))
    known = analyse_song(song)
    return perform_analysis(known, LIBRARY, PerformOptions(feel=feel, tight=tight))


def studied_part(
    folder: Path, chart: str, feel: str | None, *, tight: bool
) -> tuple[Performance, Study]:
    """Return a part as the band plays it, and as it is read back from its MIDI."""
    performance = played(chart, feel, tight)
    file = folder / "part.mid"
    file.write_bytes(midi_bytes(performance))
    given_chart = CHARTS / f"{chart}.txt"
    if chart == "growing":
        given_chart = folder / "growing.txt"
        given_chart.write_text(GROWING, encoding="utf-8")
    return performance, studied(file, given_chart)


def strokes(performance: Performance, bar: Bar) -> list[tuple[int, bool]]:
    """Return where the strokes of a bar sound without the hand, and which are ghosts."""
    return sorted(
        {
            (note.onset_tick - bar.start_tick, note.touch is Touch.GHOST)
            for note in performance.part_notes(Part.BASS)
            if bar.start_tick <= note.grid_tick < bar.end_tick
        }
    )


def agrees(study: Study | LaidLine, index: int, wanted: Sequence[tuple[int, bool]]) -> bool:
    """Return whether a bar has the strokes that were played, each on a slot where it sounds."""
    bar = study.bars[index]
    if [ghost for _, ghost in wanted] != [note.is_ghost for note in bar.notes]:
        return False
    share = study.swing.percent / 100 if study.swing and study.swing.percent else 0.5
    unit = float(study.swing.unit.quarters) if study.swing else 0.5
    is_triplet = study.swing is not None and abs(share - 2 / 3) < 0.015
    for note, (tick, _) in zip(bar.notes, wanted, strict=True):
        at = float(note.slot * bar.slot_quarters)
        pair, rest = divmod(at, 2 * unit)
        if not is_triplet:
            swung = (
                rest * 2 * share
                if rest <= unit
                else 2 * unit * share + (rest - unit) * 2 * (1 - share)
            )
            at = pair * 2 * unit + swung
        if abs(at * TICKS_PER_QUARTER - tick) > TICKS_NEAR:
            return False
    return True


FEELS = (None, "shuffle", "sixteenths", "laid-back sixteenths", "tumbao", "half-time shuffle")
"""Straight eighths as the chart has it, triplets, sixteenths, swung sixteenths, no first beat."""


@pytest.mark.parametrize("feel", FEELS)
def test_a_tight_part_comes_back_stroke_for_stroke(feel: str | None, tmp_path: Path) -> None:
    # The truth is the performance itself; the way there is a Standard MIDI File.
    performance, study = studied_part(tmp_path, "growing", feel, tight=True)
    compared = [
        (bar.ref.played_bar, agrees(study, index, strokes(performance, bar)))
        for index, bar in enumerate(performance.bars)
    ]
    assert len(compared) == 16
    assert [number for number, same in compared if not same] == []


@pytest.mark.parametrize("chart", ["slow-ferry", "turnip-field-waltz"])
def test_a_part_with_the_hand_comes_back_in_nearly_every_bar(chart: str, tmp_path: Path) -> None:
    tight = played(chart, None, True)
    _, study = studied_part(tmp_path, chart, None, tight=False)
    same = [
        [ghost for _, ghost in strokes(tight, bar)] == [note.is_ghost for note in own.notes]
        and all(
            abs(float(note.slot * own.slot_quarters) * TICKS_PER_QUARTER - tick) <= TICKS_NEAR
            for note, (tick, _) in zip(own.notes, strokes(tight, bar), strict=True)
        )
        for bar, own in zip(tight.bars, study.bars, strict=True)
    ]
    assert len(same) >= 44
    assert sum(same) / len(same) >= 0.95


HAND_SONG = """title: Two Chairs
tempo: 100
key: C
meter: 4/4
a:
| C | G7 |
"""


def test_notes_are_counted_as_a_teacher_counts_them(tmp_path: Path) -> None:
    # Counted by hand.  Over C: root, its octave, third, fifth.  Over G7: root, a half step below
    # the next root (B, which is G7's third), F#, which is in neither chord nor key.
    notes = [
        (0, 1, C2, 100), (1, 1, C3, 90), (2, 1, E2, 90), (3, 1, FS1, 90),
        (4, 1, G1, 100), (5, 1, G1, 90), (6, 1, B1, 90), (7, 1, G2, 90),
    ]  # fmt: skip
    chart = tmp_path / "song.txt"
    chart.write_text(HAND_SONG, encoding="utf-8")
    study = studied(midi_file(tmp_path, notes), chart)
    counts = {kind.value: round(share * 8) for kind, share in study.shares.items() if share}
    assert counts == {"root": 3, "octave": 2, "third": 2, "chromatic": 1}
    assert study.beat_shares[1] == {kind: float(kind is NoteKind.ROOT) for kind in NoteKind}
    assert [(each.bar, each.semitones) for each in study.approaches] == [(1, -1)]
    assert study.patterns[0].steps == ("R", "8", "3", ">-1")
    assert study.patterns[1].steps == ("R", "R", "3", "8")
    assert [bar.frame.chords[0].confidence for bar in study.bars] == [1.0, 1.0]


def test_a_ghost_is_short_and_soft_and_neither_alone(tmp_path: Path) -> None:
    # At 120 quarters a minute 0.1 quarter is 50 ms: common practice, no source.
    notes = [
        (0, 0.9, C2, 100), (1, 0.1, C2, 50), (2, 0.1, C2, 100), (3, 0.9, C2, 50),
        (4, 0.9, C2, 100), (5, 0.9, C2, 100), (6, 0.9, C2, 100), (7, 0.9, C2, 100),
    ]  # fmt: skip
    study = studied(midi_file(tmp_path, notes), None)
    assert [note.is_ghost for note in study.bars[0].notes] == [False, True, False, False]


@pytest.mark.parametrize(
    ("share", "found"), [(0.5, None), (0.6, 60.0), (2 / 3, 66.7), (0.75, 75.0)]
)
def test_swing_is_found_and_stated(share: float, found: float | None, tmp_path: Path) -> None:
    notes = [(beat + part, 0.2, C2, 90) for beat in range(16) for part in (0.0, share)]
    study = studied(midi_file(tmp_path, notes), None)
    assert (study.swing.percent if study.swing else None) == (
        pytest.approx(found, abs=0.2) if found else None
    )


def test_triplets_and_dotted_pairs_among_sixteenths_are_no_swing(tmp_path: Path) -> None:
    triplets = [(beat + third / 3, 0.2, C2, 90) for beat in range(16) for third in range(3)]
    assert studied(midi_file(tmp_path, triplets), None).swing is None
    gallop = [(beat + at, 0.2, C2, 90) for beat in range(16) for at in (0, 0.25, 0.5, 0.75)]
    assert studied(midi_file(tmp_path, gallop), None).swing is None


# --- distance ---------------------------------------------------------------------------------

TOKENS = ("R", "5", "8", "x", ".", "-", ">-1", "b7")


def bar_of(steps: Sequence[str]) -> BassBar:
    struck = {
        i: aim for i, step in enumerate(steps) if is_struck(step) and (aim := parse_token(step))
    }
    return bass_bar(tuple(steps), struck, dict.fromkeys(struck, 5), 2)


def cell_distance(one: Sequence[BassBar], other: Sequence[BassBar]) -> float:
    """Return how far some bars are from a cell that has the others and nothing else."""
    plain = LIBRARY.bass[LIBRARY.feels["straight eighths"].bass]
    meter = plain.meter or Meter(4, 4)
    known = replace(plain, meter=meter, bars=tuple(other), when=())
    return KnownCells([known]).distances(one, meter)[plain.name]


CELLS = st.lists(
    st.lists(st.sampled_from(TOKENS), min_size=8, max_size=8).map(bar_of), min_size=1, max_size=3
)


@settings(max_examples=25)
@given(one=CELLS, two=CELLS, three=CELLS)
def test_the_distance_of_cells_is_a_metric(
    one: list[BassBar], two: list[BassBar], three: list[BassBar]
) -> None:
    # The axioms of a metric space: M. Fréchet, Rend. Circ. Mat. Palermo 22, 1906.
    assert cell_distance(one, one) == 0
    assert cell_distance(one, two) == pytest.approx(cell_distance(two, one))
    through = cell_distance(one, two) + cell_distance(two, three)
    assert cell_distance(one, three) <= through + 1e-9
    assert cell_distance(one, [*one, *one]) == 0


def test_a_ghost_more_is_a_small_distance() -> None:
    plain = [bar_of(["R", "-", ".", "5", "8", ".", ".", "."])]
    ghost = [bar_of(["R", "-", "x", "5", "8", ".", ".", "."])]
    other = [bar_of(["R", "-", ".", "R", "8", ".", ".", "."])]
    more = [bar_of(["R", "-", "8", "5", "8", ".", ".", "."])]
    assert cell_distance(plain, ghost) == SOUND
    assert cell_distance(plain, other) == 2 * OTHER_DEGREE
    assert cell_distance(plain, more) == SOUND + PITCHED + OTHER_DEGREE


# --- cells out --------------------------------------------------------------------------------


def test_a_cell_learned_from_a_part_reads_back_and_plays_it_again(tmp_path: Path) -> None:
    chart = "title: Tin Lid\ntempo: 90\nkey: D\n{}\na:\n  {}\n| D | D | G | D |\n"
    riff = "riff lid:\n  R - x R  . R 5 8  R - x 5  - 5 7 8\n"
    first = perform_chart(chart.format(riff, "bass: lid"), LIBRARY, PerformOptions(tight=True))
    (tmp_path / "part.mid").write_bytes(midi_bytes(first))
    (tmp_path / "song.txt").write_text(chart.format(riff, "bass: lid"), encoding="utf-8")
    study = studied(tmp_path / "part.mid", tmp_path / "song.txt")
    assert [cell.times for cell in study.cells] == [4]
    text = riff_text(study.cells[0], "learned")
    again = perform_chart(chart.format(text, "bass: learned"), LIBRARY, PerformOptions(tight=True))
    assert [(n.onset_tick, n.pitch) for n in again.part_notes(Part.BASS)] == [
        (n.onset_tick, n.pitch) for n in first.part_notes(Part.BASS)
    ]
    toml = cell_toml(study.cells[0], "lid-1").encode()
    cell = read_bass_cell(toml_mapping(toml, "lid-1.toml"), "lid-1.toml")
    assert isinstance(cell, BassCell)
    assert cell_distance(cell.bars, study_bars(study)) == 0


def study_bars(study: Study) -> tuple[BassBar, ...]:
    return bass_cell(study.cells[0], "lid").bars


def test_two_bars_that_come_together_are_one_cell(tmp_path: Path) -> None:
    one, two = (0.0, 1.5), (0.0, 2.5)
    notes = [
        (4 * bar + at, 0.9, C2, 90) for bar in range(8) for at in (one if bar % 2 == 0 else two)
    ]
    study = studied(midi_file(tmp_path, notes), None)
    assert [(len(cell.patterns), cell.times) for cell in study.cells] == [(2, 4)]
    notes = [(4 * bar + at, 0.9, C2, 90) for bar in range(8) for at in (two if bar == 5 else one)]
    study = studied(midi_file(tmp_path, notes), None)
    assert [(len(cell.patterns), cell.times) for cell in study.cells] == [(1, 7), (1, 1)]


# --- without a chart --------------------------------------------------------------------------


@pytest.mark.parametrize("chart", ["lantern-row", "two-clocks"])
def test_chords_are_found_in_what_the_band_plays(chart: str, tmp_path: Path) -> None:
    # The truth is the chart that the band plays from.
    performance = played(chart, None, tight=False)
    file = tmp_path / "band.mid"
    file.write_bytes(midi_bytes(performance))
    given_chart = read_line(str(file), str(CHARTS / f"{chart}.txt"), lambda _: None)
    drafted = read_line(str(file), None, lambda _: None)
    same = total = 0
    # A pickup is a whole bar to a MIDI file's meters, or a meter of its own.
    for wanted, found in zip(given_chart.frames, drafted.frames, strict=False):
        truth = wanted.chords[0].chord if wanted.chords else None
        if truth is None or wanted.meter != found.meter:
            continue
        heard = found.chords[0].chord
        total += 1
        same += heard is not None and heard.root.pitch_class == truth.root.pitch_class
    assert total >= 50
    assert same / total >= 0.94


def test_a_draft_reads_back_as_a_chart_with_the_files_sections(tmp_path: Path) -> None:
    performance = played("lantern-row", None, tight=False)
    file = tmp_path / "band.mid"
    file.write_bytes(midi_bytes(performance))
    draft = read_line(str(file), None, lambda _: None).text
    song = parse_chart(draft, source="draft")
    names = [entry.section.split()[0] for entry in song.form]
    assert names == [
        "intro", "verse", "chorus", "verse", "chorus", "bridge", "chorus", "breakdown", "verse",
        "chorus", "ending",
    ]  # fmt: skip
    assert analyse_song(song).key.pretty == "D major"


def test_a_draft_says_which_chords_are_unsure_and_takes_no_name_that_a_chart_keeps() -> None:
    four = Meter(4, 4)
    sure = FoundChord(
        start_quarters=Fraction(0), chord=build_chord(SpelledPitch(2), "7", None), confidence=0.9
    )
    unsure = replace(sure, confidence=0.1)
    bars = [
        DraftBar(meter=four, section="Pickup", chords=((0, sure),)),
        DraftBar(meter=four, section="", chords=((0, sure), (2, unsure))),
        DraftBar(meter=Meter(3, 4), section="riff one", chords=()),
    ]
    text = draft_chart("Tin Lid", Fraction(181, 2), bars, 2)
    assert text.splitlines()[:4] == [
        "# a draft; played bars whose chords are unsure: 2", "title: Tin Lid", "tempo: 90",
        "meter: 4/4",
    ]  # fmt: skip
    song = parse_chart(text, source="draft")
    assert [section.name for section in song.sections] == [
        "section pickup",
        "B",
        "section riff one",
    ]


PRIMITIVE_FILES = sorted(path.name for path in PRIMITIVE.glob("*.mid"))


@pytest.mark.parametrize("name", PRIMITIVE_FILES)
def test_files_that_others_made_are_studied(name: str) -> None:
    # The MIDI files that music21 ships; notes counted by mido.
    file = PRIMITIVE / name
    found = mido.MidiFile(file)
    channels: dict[tuple[int, int], int] = {}
    for index, track in enumerate(found.tracks):
        for message in track:
            if message.type == "note_on" and message.velocity and message.channel != 9:
                key = (index, message.channel)
                channels[key] = channels.get(key, 0) + 1
    study = studied(file, None)
    assert len(PRIMITIVE_FILES) >= 20
    assert 0 < len(study.notes) <= max(channels.values())
    assert sum(study.shares.values()) in (0, pytest.approx(1))
    # Meters as music21 reads the file's events; four quarters where it states none.
    file_of_events = music21.midi.MidiFile()
    file_of_events.open(str(file))
    file_of_events.read()
    file_of_events.close()
    as_read: Any = music21.midi.translate
    stated = {
        Fraction(as_read.midiEventsToTimeSignature(event).barDuration.quarterLength)
        for track in file_of_events.tracks
        for event in track.events
        if event.type == music21.midi.MetaEvents.TIME_SIGNATURE
    }
    assert {bar.frame.meter.bar_quarters for bar in study.bars} == (stated or {Fraction(4)})
