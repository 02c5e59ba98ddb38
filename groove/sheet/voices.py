"""The strokes of a part, voice by voice, and what of them falls into each bar.

Strokes that overlap the next one of their voice end there; drums are written to the next stroke of
their voice, at most to the end of the beat, so that the page is not full of rests.  What the keys
play in one bar stands on one staff as long as one hand reaches it, and else each chord that one
hand reaches, so that none is torn apart at middle C (both common practice, no source).
"""

from collections.abc import Collection, Hashable, Mapping, Sequence
from itertools import groupby
from statistics import mean

from msgspec import Struct

from groove.bar_place import BarRef
from groove.events import Bar, Note, Part, Performance
from groove.sheet.drum_staff import drum_sign
from groove.theory.pitch import MIDDLE_C
from groove.timing import quarters_to_ticks

RIGHT, _LEFT = 1, 2
ONE_HAND_SEMITONES = 16
"""A tenth: what one hand reaches."""
RIGHT_FROM, RIGHT_LOWEST, LEFT_HIGHEST = 58, 53, 67
"""Mean from which a section is for the right hand; three ledger lines under and over a staff."""


class VoiceStroke(Struct, frozen=True):
    """Notes of one voice that are struck together, from ``start`` to ``end`` in song ticks."""

    start: int
    end: int
    notes: tuple[tuple[str, Note], ...]


class Cut(Struct, frozen=True):
    """What of a stroke falls into one bar, in ticks from the bar line."""

    start: int
    end: int
    stroke: VoiceStroke
    tied_in: bool
    tied_out: bool

    def has_any(self, ids: Collection[str]) -> bool:
        """Return whether one of its notes is among those with these ids."""
        return any(name in ids for name, _ in self.stroke.notes)

    def content(self, *, has_places: bool) -> tuple[Hashable, ...]:
        """Return what the page shows of it, with its strings and frets where ``has_places``."""
        heads = tuple(
            (
                (note.pitch, note.touch, note.bend_semitones, note.has_vibrato),
                (note.place.string, note.place.fret) if has_places and note.place else None,
            )
            for _, note in self.stroke.notes
        )
        return (self.start, self.end, heads, self.tied_in, self.tied_out)


def part_voices(performance: Performance, part: Part) -> dict[int, list[VoiceStroke]]:
    """Return the strokes of each voice of a part, in order."""
    named = [
        (name, note)
        for name, note in zip(performance.note_ids, performance.notes, strict=True)
        if note.part is part
    ]
    count = 2 if part in (Part.DRUMS, Part.KEYS) else 1
    hands = _struck_hands([note for _, note in named]) if part is Part.KEYS else {}
    found: dict[int, list[VoiceStroke]] = {}
    for voice in range(1, count + 1):
        own = [pair for pair in named if _voice_of(pair[1], hands) == voice]
        found[voice] = _voice_strokes(own, performance.bars, part)
    return found


def _struck_hands(notes: Sequence[Note]) -> dict[int, int]:
    """Return the hand that plays what the keys strike at each tick, where one reaches all of it.

    A section stays in one hand, but for bars, and for chords of a wide bar, that would lie far
    off its staff.
    """
    bars: dict[BarRef, dict[int, list[int]]] = {}
    sections: dict[tuple[str, int], list[int]] = {}
    for note in notes:
        ref = note.origin.bar
        bars.setdefault(ref, {}).setdefault(note.grid_tick, []).append(note.pitch)
        sections.setdefault((ref.section, ref.occurrence), []).append(note.pitch)
    found: dict[int, int] = {}
    for ref, chords in bars.items():
        section_mean = mean(sections[ref.section, ref.occurrence])
        whole = [pitch for pitches in chords.values() for pitch in pitches]
        for tick, pitches in chords.items():
            reached = whole if _one_hand_reaches(whole) else pitches
            if _one_hand_reaches(reached):
                found[tick] = _nearest_hand(reached, section_mean)
    return found


def _one_hand_reaches(pitches: Sequence[int]) -> bool:
    """Return whether one hand reaches all these pitches together."""
    return max(pitches) - min(pitches) <= ONE_HAND_SEMITONES


def _nearest_hand(pitches: Sequence[int], section_mean: float) -> int:
    """Return the hand that plays pitches in a section whose notes have this mean."""
    if section_mean >= RIGHT_FROM:
        return RIGHT if min(pitches) >= RIGHT_LOWEST else _LEFT
    return _LEFT if max(pitches) <= LEFT_HIGHEST else RIGHT


def _voice_of(note: Note, hands: Mapping[int, int]) -> int:
    """Return the voice of a note: hands and feet, right hand and left, one for the bass."""
    if note.part is Part.DRUMS:
        return drum_sign(note.pitch).voice
    if note.part is Part.KEYS:
        split = RIGHT if note.pitch >= MIDDLE_C else _LEFT
        return hands.get(note.grid_tick, split)
    return 1


def _voice_strokes(
    named: list[tuple[str, Note]], bars: Sequence[Bar], part: Part
) -> list[VoiceStroke]:
    """Return strokes that do not overlap, each with its notes from the lowest up."""
    named.sort(key=lambda pair: (pair[1].grid_tick, pair[1].pitch))
    groups = [tuple(run) for _, run in groupby(named, key=lambda pair: pair[1].grid_tick)]
    starts = [group[0][1].grid_tick for group in groups]
    if not groups:
        return []
    strokes = []
    bar = 0
    for group, start, following in zip(
        groups, starts, [*starts[1:], bars[-1].end_tick], strict=True
    ):
        end = start + max(note.written_ticks for _, note in group)
        if part is Part.DRUMS:
            while start >= bars[bar].end_tick and bar + 1 < len(bars):
                bar += 1
            end = beat_end(bars[bar], start)
        strokes.append(VoiceStroke(start, max(start + 1, min(end, following)), group))
    return strokes


def beat_end(bar: Bar, tick: int) -> int:
    """Return where the beat ends that a tick of a bar lies in."""
    beat = quarters_to_ticks(bar.meter.beat_quarters)
    return tick + beat - (tick - bar.start_tick) % beat


def strokes_by_bar(strokes: Sequence[VoiceStroke], bars: Sequence[Bar]) -> list[tuple[Cut, ...]]:
    """Return what of a voice falls into each bar."""
    found: list[list[Cut]] = [[] for _ in bars]
    index = 0
    for stroke in strokes:
        while stroke.start >= bars[index].end_tick and index + 1 < len(bars):
            index += 1
        at = index
        while at < len(bars) and bars[at].start_tick < stroke.end:
            bar = bars[at]
            found[at].append(
                Cut(
                    max(stroke.start, bar.start_tick) - bar.start_tick,
                    min(stroke.end, bar.end_tick) - bar.start_tick,
                    stroke,
                    stroke.start < bar.start_tick,
                    stroke.end > bar.end_tick,
                )
            )
            at += 1
    return [tuple(cuts) for cuts in found]
