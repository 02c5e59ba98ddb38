"""What a line is measured by over many songs that come again: leaps, and what a chorus adds.

Common practice, no source.  What a single song shows is in ``test_ten_rules``.
"""

from itertools import pairwise
from typing import NamedTuple

import pytest

from groove.bar_place import SectionKind
from groove.cells.model import LineKind
from groove.events import Note, Part, Performance, Role, Touch
from tests.arrange.growing_songs import songs
from tests.arrange.songs import LIBRARY

MOVING = sorted(set(LIBRARY.feels) - {"long notes"})
HOOKS = [feel for feel in MOVING if LIBRARY.feels[feel].line is LineKind.HOOK]
FIFTH, OCTAVE, BEAT_TICKS = 7, 12, 960


def plucked(song: Performance) -> list[Note]:
    """Return the bass's notes, ghosts left out."""
    return [note for note in song.part_notes(Part.BASS) if note.touch is not Touch.GHOST]


@pytest.mark.parametrize("feel", MOVING)
def test_few_leaps_into_a_new_chord(feel: str) -> None:
    """At most one change in twelve by more than a fifth, where a nearer note may be played.

    A feel's octave may fall to any root, a line may leap over a beat's rest, and from root to root
    where the feel has nothing between them.
    """
    changes = leaps = 0
    for song in songs(feel):
        for before, after in pairwise(plucked(song)):
            if before.origin.symbol == after.origin.symbol:
                continue
            changes += 1
            rests = after.grid_tick - before.grid_tick - before.written_ticks >= BEAT_TICKS
            is_home = before.origin.role in (Role.OCTAVE, Role.ROOT, Role.SLASH)
            size = abs(after.pitch - before.pitch)
            leaps += FIFTH < size != OCTAVE and not (rests or is_home)
    assert changes >= 300
    assert leaps <= 0.08 * changes, (leaps, changes)


class Weight(NamedTuple):
    """How a section is heard, a bar: notes, mean pitch by time, share of the time that sounds."""

    notes: float
    pitch: float
    sounding: float


def weight(feel: str, kind: SectionKind, *, is_last: bool) -> Weight:
    """Return the mean of the bars of a kind of section, those of last choruses or the others."""
    counts, pitches, sounding = [], [], []
    for song in songs(feel):
        line = plucked(song)
        for bar in song.bars[:-1]:
            if bar.place.kind is not kind or bar.place.is_last_chorus is not is_last:
                continue
            own = [n for n in line if n.origin.bar.played_bar == bar.ref.played_bar]
            ticks = sum(note.written_ticks for note in own)
            counts.append(len(own))
            sounding.append(sum(note.length_ticks for note in own) / bar.length_ticks)
            if own:
                pitches.append(sum(note.pitch * note.written_ticks for note in own) / ticks)
    assert len(counts) >= 20
    means = [sum(values) / len(values) for values in (counts, pitches, sounding)]
    return Weight(*means)


@pytest.mark.parametrize("feel", HOOKS)
def test_a_chorus_lifts_and_the_last_one_more(feel: str) -> None:
    """More notes or longer ones, a twentieth at least, or higher ones, by most of a half step."""
    verse = weight(feel, SectionKind.VERSE, is_last=False)
    chorus = weight(feel, SectionKind.CHORUS, is_last=False)
    last = weight(feel, SectionKind.CHORUS, is_last=True)
    for before, after in ((verse, chorus), (verse, last)):
        grows = after.notes >= 1.05 * before.notes or after.sounding >= 1.05 * before.sounding
        assert grows or after.pitch >= before.pitch + 0.75, (before, after)
    assert last.notes > verse.notes or last.pitch >= verse.pitch + 1
