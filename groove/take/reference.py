"""What a take is held against: the bass part of a performance, note by note and in seconds."""

from collections.abc import Collection, Iterator, Mapping, Sequence
from fractions import Fraction
from itertools import pairwise

from msgspec import Struct
from msgspec.structs import replace

from groove.bar_place import BandWord
from groove.errors import OptionError
from groove.events import C_MAJOR, Bar, Note, Part, Performance, Touch
from groove.text.times import ordinal
from groove.theory.chords import Chord
from groove.theory.keys import Key
from groove.timing import TICKS_PER_QUARTER, Meter, microseconds_to_qpm

TOGETHER_SEC = 0.008
"""Notes nearer to each other than this are one stroke: a double stop."""
SIXTEENTH_TICKS = TICKS_PER_QUARTER // 4


class ExpectedNote(Struct, frozen=True, kw_only=True):
    """A stroke that is due.

    ``sec`` is counted from the reference's beginning at its own tempo; ``bar`` is the index of its
    bar in ``TakeReference.bars``, ``beat`` its place there in the meter's beats from 1; ``slot``
    its place in the bar in sixteenths from 0.  ``pitches`` are MIDI numbers, the lowest first,
    empty where any will do.  ``weight`` (0 to 1) is how sure it is to be played.  ``is_timed`` is
    false where the band waits or slows down: no tempo is read from there.
    """

    sec: float
    length_sec: float
    pitches: tuple[int, ...]
    bar: int
    beat: float
    slot: float
    velocity: int = 96
    weight: float = 1.0
    is_ghost: bool = False
    is_slurred: bool = False
    is_fill: bool = False
    is_timed: bool = True
    is_swung: bool = False
    after_shift: bool = False

    def moved(self, move_sec: float, scale: float) -> "ExpectedNote":
        """Return the note that much later, all times then multiplied."""
        return replace(self, sec=(self.sec + move_sec) * scale, length_sec=self.length_sec * scale)


class ExpectedBar(Struct, frozen=True, kw_only=True):
    """A bar of the reference as it is played; ``number`` is the chart's, ``time`` which pass."""

    number: int
    section: str
    time: int
    start_sec: float
    end_sec: float
    meter: Meter
    key: Key = C_MAJOR
    swing_pair_sec: float = 0.0
    chord_pitch_classes: tuple[tuple[float, tuple[int, ...]], ...] = ()

    @property
    def beat_sec(self) -> float:
        """How long a beat of the meter lasts."""
        return (self.end_sec - self.start_sec) * float(
            self.meter.beat_quarters / self.meter.bar_quarters
        )

    def moved(self, move_sec: float, scale: float) -> "ExpectedBar":
        """Return the bar that much later, its ends then multiplied."""
        return replace(
            self,
            start_sec=(self.start_sec + move_sec) * scale,
            end_sec=(self.end_sec + move_sec) * scale,
        )


class TakeReference(Struct, frozen=True, kw_only=True):
    """A bass part at its written tempo; ``tempo_bpm`` counts the first bar's own beat.

    ``is_line`` is false where only the grid counts and any notes will do.
    """

    title: str
    notes: tuple[ExpectedNote, ...]
    bars: tuple[ExpectedBar, ...]
    tempo_bpm: float
    beat_sec: float
    is_line: bool = True

    def place_words(self, index: int) -> str:
        """Return where a note stands: ``bar 5 (second time), beat 2.5``."""
        note = self.notes[index]
        bar = self.bars[note.bar]
        time = f" ({ordinal(bar.time)} time)" if bar.time > 1 else ""
        return f"bar {bar.number}{time}, beat {note.beat:.3g}"


def performed_reference(
    performance: Performance, shifted: Collection[tuple[int, int]] = ()
) -> TakeReference:
    """Return the bass part of a performance as what a take is held against.

    Every note is due where the performance has it, the feel's own lateness and swing included.
    ``shifted`` are (played bar, tick in that bar) of notes before which the hand shifts.
    """
    bars = [bar for bar in performance.bars if bar.ref.played_bar >= 0]
    seen: dict[int, int] = {}
    expected_bars = []
    for bar in bars:
        seen[bar.ref.written_bar] = seen.get(bar.ref.written_bar, 0) + 1
        expected_bars.append(_expected_bar(bar, seen[bar.ref.written_bar], performance))
    timed = [
        _keeps_time(performance, bar, before)
        for before, bar in zip([bars[0], *bars], bars, strict=False)
    ]
    notes = []
    at = 0
    for note in performance.part_notes(Part.BASS):
        while at + 1 < len(bars) and note.grid_tick >= bars[at].end_tick:
            at += 1
        while at and note.grid_tick < bars[at].start_tick:
            at -= 1
        is_timed = timed[at]
        in_bar = note.grid_tick - bars[at].start_tick
        is_shifted = (bars[at].ref.played_bar, in_bar) in shifted
        notes.append(_expected_note(note, at, bars[at], performance, is_timed, is_shifted))
    tempo = performance.tempo_map
    first = bars[0]
    qpm = microseconds_to_qpm(tempo.microseconds_at(first.start_tick))
    return TakeReference(
        title=performance.title,
        notes=tuple(together(notes)),
        bars=tuple(expected_bars),
        tempo_bpm=qpm / float(first.meter.tempo_unit_quarters),
        beat_sec=60 / qpm * float(first.meter.beat_quarters),
    )


def _expected_bar(bar: Bar, time: int, performance: Performance) -> ExpectedBar:
    tempo = performance.tempo_map
    start, end = tempo.tick_to_sec(bar.start_tick), tempo.tick_to_sec(bar.end_tick)
    quarter_sec = tempo.microseconds_at(bar.start_tick) / 1e6
    pair = 2 * float(bar.swing.unit.quarters) * quarter_sec if bar.swing else 0.0
    chords = tuple(
        (
            tempo.tick_to_sec(bar.start_tick + max(0, onset.tick)),
            _tones(onset.chord) if onset.chord else (),
        )
        for onset in bar.chords
    )
    return ExpectedBar(
        number=bar.ref.written_bar,
        section=bar.ref.section,
        time=time,
        start_sec=start,
        end_sec=end,
        meter=bar.meter,
        key=bar.key,
        swing_pair_sec=pair,
        chord_pitch_classes=chords,
    )


def _tones(chord: Chord) -> tuple[int, ...]:
    """Return the pitch classes of a chord, its bass note the first."""
    lowest = (chord.bass or chord.root).pitch_class
    return lowest, *sorted(chord.pitch_classes - {lowest})


def _keeps_time(performance: Performance, bar: Bar, before: Bar) -> bool:
    """Return whether the tempo stays through a bar and the one before: no hold, no ritard."""
    if bar.word in (BandWord.HOLD, BandWord.STOP):
        return False
    return not any(
        each.start_tick < change.tick < each.end_tick
        for change in performance.tempo_map.changes
        for each in (before, bar)
    )


def _expected_note(
    note: Note, index: int, bar: Bar, performance: Performance, is_timed: bool, is_shifted: bool
) -> ExpectedNote:
    tempo = performance.tempo_map
    sec = tempo.tick_to_sec(note.onset_tick)
    at = note.grid_tick - bar.start_tick
    beat_ticks = float(bar.meter.beat_quarters * TICKS_PER_QUARTER)
    is_offbeat = False
    if bar.swing:
        unit = float(bar.swing.unit.quarters * TICKS_PER_QUARTER)
        is_offbeat = at % (2 * unit) == unit
    return ExpectedNote(
        sec=sec,
        length_sec=tempo.tick_to_sec(note.end_tick) - sec,
        pitches=(note.pitch,),
        bar=index,
        beat=1 + at / beat_ticks,
        slot=slot_place(Fraction(at, SIXTEENTH_TICKS)),
        velocity=note.velocity,
        is_ghost=note.touch is Touch.GHOST,
        is_slurred=note.touch.is_slurred,
        is_fill=not note.origin.time_keeping,
        is_timed=is_timed,
        is_swung=is_offbeat,
        after_shift=is_shifted,
    )


def slot_place(sixteenths: Fraction) -> float:
    """Return the nearest sixteenth or triplet to a place in a bar, in sixteenths."""
    twelfths = float(sixteenths) * 3
    near = min(
        (round(twelfths / step) * step for step in (3, 4)),
        key=lambda place: (abs(place - twelfths), place % 3),
    )
    return round(near / 3, 2)


def together(notes: Sequence[ExpectedNote]) -> Iterator[ExpectedNote]:
    """Yield the strokes that notes make, in order of time: a double stop is one."""
    held: ExpectedNote | None = None
    for note in sorted(notes, key=lambda note: note.sec):
        if held and note.sec - held.sec < TOGETHER_SEC:
            held = replace(held, pitches=tuple(sorted({*held.pitches, *note.pitches})))
            continue
        if held:
            yield held
        held = note
    if held:
        yield held


def piece_of_reference(
    reference: TakeReference,
    bars: range | None,
    times: int,
    tempo: Mapping[str, object],
) -> TakeReference:
    """Return some bars of a reference, some times over, at another tempo.

    ``bars`` are the numbers of its bars, each of which it has once (None: all); ``tempo`` may hold
    ``tempo_bpm`` or ``tempo_percent``.  Raises OptionError where there are no such bars.
    """
    first, after = _piece_bars(reference, bars)
    own_bars = reference.bars[first:after]
    own_notes = [note for note in reference.notes if first <= note.bar < after]
    start_sec = own_bars[0].start_sec
    pass_sec = own_bars[-1].end_sec - start_sec
    scale = _time_scale(reference, tempo)
    moves = [time * pass_sec - start_sec for time in range(times)]
    return replace(
        reference,
        bars=tuple(
            replace(bar.moved(move, scale), time=time)
            for time, move in enumerate(moves, start=1)
            for bar in own_bars
        ),
        notes=tuple(
            replace(note.moved(move, scale), bar=time * len(own_bars) + note.bar - first)
            for time, move in enumerate(moves)
            for note in own_notes
        ),
        tempo_bpm=reference.tempo_bpm / scale,
        beat_sec=reference.beat_sec * scale,
    )


def _piece_bars(reference: TakeReference, bars: range | None) -> tuple[int, int]:
    """Return the indices of the first of some bars and of the one after the last."""
    kept = [at for at, bar in enumerate(reference.bars) if bars is None or bar.number in bars]
    if not kept:
        last = reference.bars[-1].number
        raise OptionError(
            f"there are no such bars: {bars.start if bars else 0}", hint=f"expected 1 to {last}"
        )
    return kept[0], kept[-1] + 1


def _time_scale(reference: TakeReference, tempo: Mapping[str, object]) -> float:
    """Return how many times as long everything lasts at another tempo."""
    if percent := tempo.get("tempo_percent"):
        return 100 / float(Fraction(str(percent)))
    if bpm := tempo.get("tempo_bpm"):
        return reference.tempo_bpm / float(Fraction(str(bpm)))
    return 1.0


def grid_reference(reference: TakeReference) -> TakeReference:
    """Return the grid of a reference's bars, for a line of the player's own.

    Every sixteenth of a bar is due (in a bar of triplets every triplet too), on the beat the most
    likely, with the pitches of the chord that sounds; swung bars have their offbeats where the
    part has them.
    """
    from groove.take.reference_grid import grid_notes

    return TakeReference(
        title=reference.title,
        notes=tuple(grid_notes(reference)),
        bars=reference.bars,
        tempo_bpm=reference.tempo_bpm,
        beat_sec=reference.beat_sec,
        is_line=False,
    )


def gaps_sec(notes: Sequence[ExpectedNote]) -> list[float]:
    """Return for each note how far it is to its nearer neighbour; two seconds for one alone."""
    between = [after.sec - before.sec for before, after in pairwise(notes)]
    return [
        min(before, after) for before, after in zip([2.0, *between], [*between, 2.0], strict=True)
    ][: len(notes)]
