"""A bass line as it was heard in a file: bars with their chords, notes on the slots of a grid."""

from bisect import bisect_left
from collections.abc import Iterator, Sequence
from fractions import Fraction
from statistics import median

from msgspec import Struct
from msgspec.structs import replace

from groove.articulation import GHOST_SEC, GHOST_VELOCITY_SHARE
from groove.study.slot_grid import BarGrid, BarSwing, best_grid
from groove.theory.chords import Chord
from groove.theory.keys import Key
from groove.timing import Meter

GHOST_NEIGHBOURS = 4
HOLD_SHARE = Fraction(3, 10)
"""A note that fills so much of a slot at its end is held through it (common practice, no source).

Players and synthesizers let go a little early: a quarter of nine tenths is a quarter.
"""


class SoundedNote(Struct, frozen=True, kw_only=True):
    """A note of a file: where it begins and ends, in quarters from the first bar and in seconds.

    ``pitch`` is a MIDI number, ``velocity`` 1 to 127.  ``is_ghost`` is None where the file does not
    say it, so that length and loudness have to.
    """

    start_quarters: Fraction
    end_quarters: Fraction
    length_sec: float
    pitch: int
    velocity: int
    is_ghost: bool | None = None


class StudyChord(Struct, frozen=True, kw_only=True):
    """A chord of a bar and from where in it; ``confidence`` (0 to 1) is 1 where a chart has it."""

    chord: Chord | None
    start_quarters: Fraction
    confidence: float = 1.0


class BarFrame(Struct, frozen=True, kw_only=True):
    """A bar before its notes: number, section, meter, key, chords, where it starts in quarters."""

    number: int
    section: str
    start_quarters: Fraction
    meter: Meter
    key: Key
    chords: tuple[StudyChord, ...]

    @property
    def end_quarters(self) -> Fraction:
        """Where it ends, counted as ``start_quarters``."""
        return self.start_quarters + self.meter.bar_quarters


class StudyNote(Struct, frozen=True, kw_only=True):
    """A note on its slot: start and length in slots of its bar; it may last into the next bar."""

    slot: int
    slots: int
    pitch: int
    velocity: int
    is_ghost: bool = False


class StudyBar(Struct, frozen=True, kw_only=True):
    """A bar of the line: its frame, its grid, its notes by slot; a slot sounds one of them."""

    frame: BarFrame
    slots_per_beat: Fraction
    notes: tuple[StudyNote, ...]

    @property
    def slot_count(self) -> int:
        """How many slots the bar has."""
        return int(self.frame.meter.bar_quarters / self.slot_quarters)

    @property
    def slot_quarters(self) -> Fraction:
        """How long a slot is."""
        return self.frame.meter.pulse_quarters / self.slots_per_beat

    def chord_at(self, slot: int) -> Chord | None:
        """Return the chord that sounds on a slot, None for none."""
        at = slot * self.slot_quarters
        begun = [each for each in self.frame.chords if each.start_quarters <= at]
        return begun[-1].chord if begun else None


def lay_out(
    notes: Sequence[SoundedNote], frames: Sequence[BarFrame], swing: BarSwing | None
) -> tuple[StudyBar, ...]:
    """Return the bars of a line: each note on the nearest slot of its bar's grid.

    A note that is nearer to the next bar line is the next bar's; of two on one slot the lower
    stays, since a bass line is one voice.
    """
    ghosts = ghosts_of(notes)
    left = sorted(
        zip(notes, ghosts, strict=True), key=lambda each: (each[0].start_quarters, each[0].pitch)
    )
    found: list[StudyBar] = []
    for frame in frames:
        end = frame.end_quarters
        own = left[: bisect_left(left, end, key=_start_quarters)]
        left = left[len(own) :]
        places = [max(Fraction(0), n.start_quarters - frame.start_quarters) for n, _ in own]
        grid = best_grid(places, frame.meter, swing)
        late = [
            (replace(note, start_quarters=end), is_ghost)
            for (note, is_ghost), at in zip(own, places, strict=True)
            if grid.snapped(at) >= frame.meter.bar_quarters
        ]
        left = [*late, *left]
        kept = [
            each
            for each, at in zip(own, places, strict=True)
            if grid.snapped(at) < frame.meter.bar_quarters
        ]
        found.append(_line_bar(kept, frame, grid))
    return tuple(_apart(found))


def _start_quarters(note: tuple[SoundedNote, bool]) -> Fraction:
    return note[0].start_quarters


def _line_bar(
    notes: Sequence[tuple[SoundedNote, bool]], frame: BarFrame, grid: BarGrid
) -> StudyBar:
    """Return a bar with its notes on the slots of a grid."""
    by_slot: dict[int, StudyNote] = {}
    for note, is_ghost in notes:
        at = max(Fraction(0), note.start_quarters - frame.start_quarters)
        slot = int(grid.snapped(at) / grid.slot)
        length = (note.end_quarters - note.start_quarters) / grid.slot
        made = StudyNote(
            slot=slot,
            slots=max(1, -int(-(length - HOLD_SHARE) // 1)),
            pitch=note.pitch,
            velocity=note.velocity,
            is_ghost=is_ghost,
        )
        by_slot.setdefault(slot, made)
    return StudyBar(
        frame=frame,
        slots_per_beat=frame.meter.pulse_quarters / grid.slot,
        notes=tuple(by_slot[slot] for slot in sorted(by_slot)),
    )


def _apart(bars: Sequence[StudyBar]) -> Iterator[StudyBar]:
    """Yield bars whose notes end where the next one begins, in the bar or in the one after it."""
    for index, bar in enumerate(bars):
        heads = [bar.slot_count]
        if index + 1 < len(bars):
            after = bars[index + 1]
            head = after.notes[0].slot if after.notes else after.slot_count
            heads = [bar.slot_count + int(head * after.slot_quarters / bar.slot_quarters)]
        starts = [note.slot for note in bar.notes] + heads
        yield replace(
            bar,
            notes=tuple(
                replace(note, slots=max(1, min(note.slots, following - note.slot)))
                for note, following in zip(bar.notes, starts[1:], strict=True)
            ),
        )


def ghosts_of(notes: Sequence[SoundedNote]) -> list[bool]:
    """Return which notes are ghosts: those so written, else short and softer than their like."""
    found = []
    for index, note in enumerate(notes):
        first = max(0, index - GHOST_NEIGHBOURS)
        near = [n.velocity for n in notes[first : index + GHOST_NEIGHBOURS + 1]]
        plain = sorted(near)[len(near) // 2 :]
        is_soft = note.velocity <= GHOST_VELOCITY_SHARE * median(plain)
        heard = is_soft and note.length_sec <= GHOST_SEC
        found.append(heard if note.is_ghost is None else note.is_ghost)
    return found


OFFBEAT = (Fraction(11, 20), Fraction(4, 5))
"""Where in a pair a swung second note lies: from just behind the middle to four fifths."""
LEAST_PAIRS = 8
STRAIGHT_SHARE = Fraction(13, 25)
SWING_SPREAD = Fraction(1, 25)
"""Second notes nearer than this to the middle of their pair are straight; scattered wider than
this about their median they are no swing."""


def find_swing(notes: Sequence[SoundedNote], unit: Fraction) -> tuple[Fraction, int]:
    """Return the long share of pairs of a unit (in quarters), and of how many it is the median.

    One half is straight, two thirds triplets.  Only pairs with nothing else between count, and
    three of four pairs must have a second note behind their middle, so that sixteenths and triplets
    are no swing; (1/2, n) is returned where they do not agree.
    """
    pair = 2 * unit
    inside: dict[int, list[Fraction]] = {}
    for note in notes:
        whole, rest = divmod(note.start_quarters, pair)
        phase = rest / pair
        if Fraction(1, 12) < phase < Fraction(11, 12):
            inside.setdefault(int(whole), []).append(phase)
    alone = sorted(found[0] for found in inside.values() if len(found) == 1)
    shares = [phase for phase in alone if Fraction(2, 5) <= phase <= OFFBEAT[1]]
    straight = Fraction(1, 2)
    if len(shares) < LEAST_PAIRS or 4 * len(shares) < 3 * len(inside):
        return straight, len(shares)
    middle = shares[len(shares) // 2]
    spread = median(abs(share - middle) for share in shares)
    is_swung = middle >= STRAIGHT_SHARE and spread <= SWING_SPREAD
    return (middle if is_swung else straight), len(shares)
