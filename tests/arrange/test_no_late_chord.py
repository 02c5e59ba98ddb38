"""No chord before its bass: every change has its root, in every feel, meter and number of chords.

One drop leaves the head of its bars open, and tumbao comes early, by design; a walk may begin a
chord with its third or fifth from the second chorus on (common practice, no source).
"""

from itertools import pairwise
from random import Random

import pytest

from groove.cells.model import LineKind
from groove.chart.model import Fills
from groove.events import Note, Part, Performance, Touch
from groove.timing import Meter
from tests.arrange.songs import LIBRARY, PLAIN, chart, play_bass

OPEN_HEADS = {"one drop"}
"""Feels whose bars may begin with a rest, whatever comes: the drop is on the backbeat."""
METERS = ("4/4", "3/4", "5/4", "12/8", "6/8", "9/8", "7/8", "5/8", "2/4")
BARS = 5


def _meters_of(feel: str) -> list[str]:
    """Return a feel's own meter and two foreign ones that it serves, if there are as many."""
    own = str(LIBRARY.feels[feel].meter or "4/4")
    served = [meter for meter in METERS if meter != own and _plays(feel, meter)]
    return [own, *served[:2]]


def _plays(feel: str, meter: str) -> bool:
    """Return whether a feel is played in a meter, and no other in its place."""
    return (
        play_bass(chart({"verse": ["D"]}, feel=feel, head=f"meter: {meter}")).bars[0].feel == feel
    )


def _bar(draw: Random, beats: int) -> str:
    """Return a bar of two chords up to one a beat."""
    heads = {0, *draw.sample(range(1, beats), draw.randint(1, beats - 1))}
    return " ".join(draw.choice(PLAIN) if beat in heads else "/" for beat in range(beats))


def _changes(song: Performance) -> list[tuple[int, set[int], bool]]:
    """Return each change: where it comes, what states it, and whether it is at a bar's head.

    The root states it, or the slash note; in a walk the third or the fifth may.
    """
    is_new = LIBRARY.feels[song.bars[0].feel].line is LineKind.NEW
    found, before = [], None
    for bar in song.bars[:-1]:
        for onset in bar.chords:
            begins = onset.tick == 0 and bar.ref.bar_in_section == 1
            if onset.chord and (onset.chord != before or begins):
                chord, tick = onset.chord, bar.start_tick + onset.sounding_tick
                others = [chord.degree(number) for number in (3, 5)] if is_new else []
                above = {degree.semitones for degree in others if degree}
                stated = {(chord.root.pitch_class + semitones) % 12 for semitones in above}
                found.append((tick, {chord.bass_note.pitch_class} | stated, onset.tick == 0))
            before = onset.chord
    return found


def _sounds(note: Note, tick: int, stated: set[int]) -> bool:
    """Return whether a note states a chord: it is struck at a tick, or early and held over it."""
    end = note.grid_tick + note.written_ticks
    is_there = note.grid_tick == tick or note.grid_tick < tick < end
    return is_there and note.pitch % 12 in stated and note.touch is not Touch.GHOST


@pytest.mark.parametrize("feel", sorted(LIBRARY.feels))
def test_no_chord_comes_before_its_bass(feel: str) -> None:
    compared = 0
    for meter in _meters_of(feel):
        draw = Random(f"{feel} {meter}")
        beats = Meter(*map(int, meter.split("/"))).beats_per_bar
        sections = {
            name: [_bar(draw, beats) for _ in range(BARS)] for name in ("verse", "chorus", "bridge")
        }
        head = f"meter: {meter}\nform: verse, chorus, bridge, chorus"
        song = play_bass(chart(sections, feel=feel, head=head, fills=Fills.MANY))
        notes = [note for note in song.notes if note.part is Part.BASS]
        for before, note in pairwise(sorted(notes, key=lambda note: note.grid_tick)):
            assert before.grid_tick + before.written_ticks <= note.grid_tick
        for tick, stated, is_head in _changes(song):
            if is_head and feel in OPEN_HEADS:
                continue
            near = [n for n in notes if tick - 8 * 960 < n.grid_tick <= tick]
            assert any(_sounds(note, tick, stated) for note in near), f"{meter}, tick {tick}"
            compared += 1
    assert compared > 30 if feel in OPEN_HEADS else compared > 60


def test_a_cell_that_leaves_the_head_of_its_bar_open_keeps_it_open() -> None:
    """One drop, a chord a bar: every second bar of a verse rests on its first beat."""
    song = play_bass(
        chart({"verse": ["D", "G", "A", "Bm", "G", "A", "D", "G", "D"]}, feel="one drop")
    )
    starts = {note.grid_tick for note in song.part_notes(Part.BASS)}
    heads = [bar.start_tick in starts for bar in song.bars[:-1]]
    assert heads == [True, False] * 4


def test_a_chord_inside_a_bar_is_struck_where_the_cell_rests() -> None:
    """One drop rests on its third beat: a chord that comes there has its root, G1, 31."""
    song = play_bass(chart({"verse": ["D G", "D"]}, feel="one drop"))
    assert (1920, 31) in {(note.grid_tick, note.pitch) for note in song.part_notes(Part.BASS)}
