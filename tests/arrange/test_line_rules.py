"""What a bass line is measured by, feel by feel, over songs that come again.

Kick and bass are read from the written MIDI file with mido; the rest is common practice, no source.
"""

import io
from itertools import pairwise
from typing import NamedTuple

import mido
import pytest

from groove.cells.model import LineKind
from groove.events import Note, Part, Performance, Role, SectionKind, Touch
from groove.io.midi import PART_CHANNELS, midi_bytes
from groove.theory.general_midi import DRUM_KEYS
from tests.arrange.growing_songs import songs
from tests.arrange.songs import LIBRARY

FEELS = sorted(LIBRARY.feels)
LOCKED = [feel for feel in FEELS if feel != "long notes"]
HOOKS = [feel for feel in FEELS if LIBRARY.feels[feel].line is LineKind.HOOK]
KICKS = {DRUM_KEYS["kick"], DRUM_KEYS["low_kick"]}
FIFTH, OCTAVE, BEAT_TICKS = 7, 12, 960
TWELFTH_FRET = 43 + 12  # of the G string


def onsets(song: Performance, part: Part, keys: frozenset[int] | None = None) -> set[int]:
    """Return the ticks at which the file strikes a part, all of its keys or some."""
    found = set()
    for track in mido.MidiFile(file=io.BytesIO(midi_bytes(song))).tracks:
        tick = 0
        for message in track:
            tick += message.time
            own = message.type == "note_on" and message.channel == PART_CHANNELS[part] - 1
            if own and message.velocity and (keys is None or message.note in keys):
                found.add(tick)
    return found


def plucked(song: Performance) -> list[Note]:
    """Return the bass's notes, ghosts left out."""
    return [note for note in song.part_notes(Part.BASS) if note.touch is not Touch.GHOST]


@pytest.mark.parametrize("feel", LOCKED)
def test_seven_kicks_of_ten_have_a_bass_note_in_the_file(feel: str) -> None:
    kicks = together = 0
    for song in songs(feel):
        struck = onsets(song, Part.DRUMS, frozenset(KICKS))
        kicks += len(struck)
        together += len(struck & onsets(song, Part.BASS))
    assert kicks >= 400
    assert together >= 0.7 * kicks, (together, kicks)


@pytest.mark.parametrize("feel", LOCKED)
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
    """More notes, higher or longer ones: at least a twentieth more, or a half step up."""
    verse = weight(feel, SectionKind.VERSE, is_last=False)
    chorus = weight(feel, SectionKind.CHORUS, is_last=False)
    last = weight(feel, SectionKind.CHORUS, is_last=True)
    for before, after in ((verse, chorus), (verse, last)):
        grows = after.notes >= 1.05 * before.notes or after.sounding >= 1.05 * before.sounding
        assert grows or after.pitch >= before.pitch + 1, (before, after)
    assert last.notes > verse.notes or last.pitch >= verse.pitch + 1


@pytest.mark.parametrize("feel", FEELS)
def test_the_line_stays_home(feel: str) -> None:
    """Time is kept under the twelfth fret, most of it within an octave of the lowest string's."""
    low = total = 0
    for song in songs(feel):
        for note in plucked(song):
            assert note.pitch < TWELFTH_FRET, (feel, note)
            low += note.pitch <= 28 + 2 * OCTAVE
            total += 1
    assert low >= 0.95 * total


@pytest.mark.parametrize("feel", HOOKS)
def test_a_step_into_a_root_comes_late_and_only_where_the_root_changes(feel: str) -> None:
    """In the last two beats of its chord, towards another pitch than the one it stands on."""
    steps = 0
    for song in songs(feel):
        line = plucked(song)
        for before, after in pairwise(line):
            if before.origin.role is Role.APPROACH and after.origin.role is not Role.APPROACH:
                assert before.pitch != after.pitch or after.origin.role is Role.FILL
                pulse = song.bars[before.origin.bar.played_bar - 1].meter.pulse_ticks
                assert after.grid_tick - before.grid_tick <= 2 * pulse, (feel, before, after)
                steps += 1
    assert steps >= 60
