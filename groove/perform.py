"""From notes on the grid to notes as they are played: swing, loudness, lengths, a human hand.

The order is fixed: swing moves the grid, lengths are shares of swung strokes, loudness follows
section and place, ghosts are set against their neighbours, and last the hand drifts.

Sources: swing by tempo after A. Friberg and A. Sundström, Music Perception 19(3), 2002 (3.5 : 1
near 120, about 100 ms for the short note, even when fast); drift and jitter as two processes
after M. Sogorski et al., PLoS ONE 13(1), 2018.  The sizes are common practice, no source.
"""

from bisect import bisect_right
from collections.abc import Iterable, Sequence
from operator import add, sub
from random import Random
from sys import maxsize

from msgspec import Struct

from groove.arrange.draws import draw_name, first_bell
from groove.arrange.plan import BarPlan, Plan
from groove.bar_place import BarRef
from groove.events import Maker, Note, Part, Touch
from groove.timing import Swing, TempoMap, microseconds_to_qpm, quarters_to_ticks

GHOST_MS = 45
GHOST_SHARE_OF_NEIGHBOUR = 2
GHOST_RATIOS = (0.40, 0.45, 0.50, 0.55, 0.60)
"""A ghost's velocity by its level, as a share of its neighbours' (common practice, no source)."""
KEYS_LENGTH_PERCENT = 95
MUTED_PERCENT = 55
"""How much of its length a muted string rings (common practice, no source)."""
ACCENT_ON_ONE = 4
ACCENT_AFTER_REST = 3
SOFTEST, LOUDEST = 10, 127
SHORT_NOTE_MS = 100
WIDEST_SWING = 3.5


class _Hand(Struct, frozen=True):
    """How far a player's hand strays: standard deviations in ms, and in velocity."""

    drift_ms: float
    jitter_ms: float
    velocity: float


_HANDS = {
    Part.BASS: _Hand(4.0, 2.5, 3.0),
    Part.DRUMS: _Hand(2.0, 1.5, 2.5),
    Part.KEYS: _Hand(4.0, 3.0, 3.0),
}


_PUSH_MS = 2.5
"""How far the band strays together on a pushed chord: a standard deviation."""


def swing_share(swing: Swing, qpm: float) -> float:
    """Return the long share of a pair, 0.5 straight; by tempo where the swing says so."""
    if swing.percent is not None:
        return swing.percent / 100
    ratio = (60_000 / qpm - SHORT_NOTE_MS) / SHORT_NOTE_MS
    ratio = min(WIDEST_SWING, max(1.0, ratio))
    return ratio / (1 + ratio)


def swung_offset(offset: int, unit_ticks: int, share: float) -> int:
    """Return a place in a bar after swing, in ticks.

    Each pair is stretched in its first half and squeezed in its second; places that are no binary
    part of the pair (triplets) stay where they are.
    """
    if offset * 4 % unit_ticks:
        return offset
    pair, rest = divmod(offset, 2 * unit_ticks)
    first = 2 * unit_ticks * share
    if rest < unit_ticks:
        moved = rest / unit_ticks * first
    else:
        moved = first + (rest - unit_ticks) / unit_ticks * (2 * unit_ticks - first)
    return pair * 2 * unit_ticks + round(moved)


def _moved_pair(swing: Swing, qpm: float) -> tuple[int, float] | None:
    """Return the unit in ticks and the long share of pairs that swing moves, None where none."""
    share = swing_share(swing, qpm)
    return (quarters_to_ticks(swing.unit.quarters), share) if share != 0.5 else None


class _Swinger:
    """Moves ticks of the grid to where swing puts them."""

    def __init__(self, plan: Plan, tempo_map: TempoMap) -> None:
        """Work out each bar's share once."""
        self.starts = [bar.start_tick for bar in plan.bars]
        self.bars: list[tuple[int, float] | None] = []
        swing, tempo, moved = None, 0, None
        for bar in plan.bars:
            microseconds = tempo_map.microseconds_at(bar.start_tick)
            if bar.swing is not swing or microseconds != tempo:
                swing, tempo = bar.swing, microseconds
                moved = _moved_pair(swing, microseconds_to_qpm(tempo)) if swing else None
            self.bars.append(moved)
        self.is_straight = not any(self.bars)
        # A song has few swings and few places in a bar, and thousands of notes.
        self.known: dict[tuple[int, float], dict[int, int]] = {}

    def swung(self, ticks: Sequence[int]) -> list[int]:
        """Return where ticks of the grid, which hardly ever go back, are played."""
        if self.is_straight:
            return list(ticks)
        found = []
        start, end, offsets, swing = 0, 0, {}, None
        for tick in ticks:
            if not start <= tick < end:
                index = max(0, bisect_right(self.starts, tick) - 1)
                start, swing = self.starts[index], self.bars[index]
                end = self.starts[index + 1] if index + 1 < len(self.starts) else maxsize
                offsets = self.known.setdefault(swing, {}) if swing else {}
            if swing is None:
                found.append(tick)
                continue
            offset = tick - start
            if offset not in offsets:
                offsets[offset] = swung_offset(offset, *swing)
            found.append(start + offsets[offset])
        return found


def perform(notes: Sequence[Note], plan: Plan, tempo_map: TempoMap, *, tight: bool) -> list[Note]:
    """Return the notes of one part as they are played, in the order of the grid.

    ``tight`` leaves out the human hand; swing, lengths and loudness stay.
    """
    if not notes:
        return []
    part = notes[0].part
    swinger = _Swinger(plan, tempo_map)
    first = plan.bars[0].bar.ref.played_bar
    homes = [plan.bars[note.origin.bar.played_bar - first] for note in notes]
    onsets = swinger.swung([note.grid_tick for note in notes])
    ends = swinger.swung([note.grid_tick + note.length_ticks for note in notes])
    lengths = _sounding_lengths(part, homes, onsets, ends)
    if part is Part.BASS:
        lengths = _player_lengths(notes, lengths, onsets, ends, plan.bars[0])
    velocities = loudness(part, notes, homes)
    if part is Part.BASS:
        lengths = _ghost_lengths(notes, lengths, tempo_map)
        velocities = _ghost_velocities(notes, velocities)
    if not tight:
        onsets, velocities = _human_hand(part, notes, homes, onsets, velocities, tempo_map)
    if part is Part.BASS:
        onsets, lengths = _one_at_a_time(notes, onsets, lengths)
    lengths = _playable_lengths(lengths, onsets, plan.bars[-1].end_tick)
    return [
        note.played(shift_ticks=onset - note.grid_tick, length_ticks=length, velocity=velocity)
        for note, onset, length, velocity in zip(notes, onsets, lengths, velocities, strict=True)
    ]


def _playable_lengths(lengths: list[int], onsets: list[int], end: int) -> list[int]:
    """Return lengths of at least a tick that do not go past the song's end."""
    return [
        length if 0 < length <= end - onset else max(1, min(length, end - onset))
        for length, onset in zip(lengths, onsets, strict=True)
    ]


def _sounding_lengths(
    part: Part, homes: Sequence[BarPlan], onsets: list[int], ends: list[int]
) -> list[int]:
    """Return how long each note sounds, in ticks.

    A feel's length is a share of a stroke up to one beat; a longer note is let go as early before
    its end as a beat's stroke would be.
    """
    full = [end - onset for onset, end in zip(onsets, ends, strict=True)]
    if part is Part.DRUMS:
        return [length if length > 0 else 1 for length in full]
    lengths = []
    bar: BarPlan | None = None
    beat = early_percent = 0
    for length, home in zip(full, homes, strict=True):
        if home is not bar:
            bar, beat = home, home.bar.meter.pulse_ticks
            early_percent = 100 - (
                home.feel.length_percent if part is Part.BASS else KEYS_LENGTH_PERCENT
            )
        length -= (length if length < beat else beat) * early_percent // 100
        lengths.append(length if length > 0 else 1)
    return lengths


def _player_lengths(
    notes: Sequence[Note], lengths: list[int], onsets: list[int], ends: list[int], first: BarPlan
) -> list[int]:
    """Return the lengths with written notes held out, and what is slurred on; short where muted.

    ``first`` is the song's first bar, whose tone the bass keeps.
    """
    tone = first.bar.settings.bass_tone
    percent = MUTED_PERCENT if tone and tone.name.casefold() == "muted" else 100
    kinds = {(note.origin.maker, note.touch) for note in notes}
    if any(maker is Maker.WRITTEN or touch.is_slurred for maker, touch in kinds):
        slides_on = [note.touch.is_slurred for note in notes[1:]] + [False]
        lengths = [
            end - onset if note.origin.maker is Maker.WRITTEN or slides else length
            for note, slides, length, onset, end in zip(
                notes, slides_on, lengths, onsets, ends, strict=True
            )
        ]
    return [max(1, length * percent // 100) for length in lengths] if percent < 100 else lengths


def loudness(part: Part, notes: Sequence[Note], homes: Sequence[BarPlan]) -> list[int]:
    """Return each note's velocity: its level, its section, its feel, beat 1, a rest before it."""
    velocities = []
    before_end = 0
    bar: BarPlan | None = None
    louder = 0
    for note, home in zip(notes, homes, strict=True):
        if home is not bar:
            bar, louder = home, home.velocity_offset - home.feel.softer_by
        velocity = note.velocity + louder
        if part is Part.BASS and note.touch is not Touch.GHOST:
            if note.grid_tick == home.start_tick:
                velocity += ACCENT_ON_ONE
            elif note.grid_tick > before_end:
                velocity += ACCENT_AFTER_REST
        before_end = note.grid_tick + note.length_ticks
        velocities.append(velocity)
    return _playable(velocities)


def _playable(velocities: Iterable[float]) -> list[int]:
    """Return velocities within what is still heard and what MIDI holds."""
    return [
        SOFTEST if velocity < SOFTEST else LOUDEST if velocity > LOUDEST else int(velocity)
        for velocity in velocities
    ]


def _ghost_velocities(notes: Sequence[Note], velocities: list[int]) -> list[int]:
    """Return the velocities with every ghost at 40-60 % of the notes beside it."""
    struck = [i for i, note in enumerate(notes) if note.touch is not Touch.GHOST]
    found = list(velocities)
    for index, note in enumerate(notes):
        if note.touch is not Touch.GHOST or not struck:
            continue
        at = bisect_right(struck, index)
        near = [velocities[struck[i]] for i in (at - 1, at) if 0 <= i < len(struck)]
        ratio = GHOST_RATIOS[min(note.origin.level or 1, len(GHOST_RATIOS)) - 1]
        (found[index],) = _playable([ratio * sum(near) / len(near)])
    return found


def _ghost_lengths(notes: Sequence[Note], lengths: list[int], tempo_map: TempoMap) -> list[int]:
    """Return the lengths with every ghost at 45 ms, and never over half of a neighbour's."""
    found = list(lengths)
    for index, note in enumerate(notes):
        if note.touch is not Touch.GHOST:
            continue
        near = [
            lengths[i]
            for i in (index - 1, index + 1)
            if 0 <= i < len(notes) and notes[i].touch is not Touch.GHOST
        ]
        wanted = tempo_map.ms_to_ticks(GHOST_MS, at_tick=note.grid_tick)
        limits = [length // GHOST_SHARE_OF_NEIGHBOUR for length in near]
        found[index] = max(1, min([wanted, *limits]))
    return found


def _human_hand(
    part: Part,
    notes: Sequence[Note],
    homes: Sequence[BarPlan],
    onsets: list[int],
    velocities: list[int],
    tempo_map: TempoMap,
) -> tuple[list[int], list[int]]:
    """Return onsets and velocities with slow drift and small jitter, by seed and bar."""
    hand = _HANDS[part]
    drift = _Drift(part, hand)
    jitter_ms, velocity_spread = hand.jitter_ms, hand.velocity
    bar: BarPlan | None = None
    start, ticks = 0, 1
    first_ms = far_ms = 0.0
    draw = drift.jitter.random
    late_ms, struck = [], []
    for note, home, velocity in zip(notes, homes, velocities, strict=True):
        if home is not bar:
            bar = home
            drift.enter(home)
            start, ticks = home.start_tick, home.end_tick - home.start_tick
            first_ms, far_ms = drift.start_ms, drift.end_ms - drift.start_ms
        # The bell of ``draws.bell``, twice a note, without the price of a call.
        ms = first_ms + far_ms * ((note.grid_tick - start) / ticks)
        ms += (draw() + draw() + draw() - 1.5) * 2 * jitter_ms
        if note.origin.pushed_ticks:
            ms = _push_ms(home, note.grid_tick)
        late_ms.append(ms)
        bell_draw = (draw() + draw() + draw() - 1.5) * 2
        struck.append(velocity + bell_draw * velocity_spread)
    late = tempo_map.each_ms_to_ticks(late_ms, at_ticks=(note.grid_tick for note in notes))
    moved = map(add, onsets, late)
    return [onset if onset > 0 else 0 for onset in moved], _playable(struck)


class _Drift:
    """One player's slow wander: a draw at every bar line of a section, straight in between."""

    def __init__(self, part: Part, hand: _Hand) -> None:
        # The plain text, which is quicker to look up.
        self.part = part.value
        self.hand = hand
        self.start_ms = self.end_ms = 0.0
        # Sown anew for every bar: to make a generator takes as long as to sow it.
        self.jitter = Random(0)

    def enter(self, bar: BarPlan) -> None:
        ref, number = bar.bar.ref, bar.bar.ref.bar_in_section
        self.start_ms = self.line_ms(bar.seed, ref, number)
        self.end_ms = self.line_ms(bar.seed, ref, number + 1)
        name = draw_name(bar.seed, self.part, "jitter", ref.section, number, ref.occurrence)
        self.jitter.seed(name)

    def line_ms(self, seed: int, ref: BarRef, number: int) -> float:
        """Return the drift at the bar line before a bar of a section, late positive."""
        drawn = first_bell(seed, self.part, "drift", ref.section, number, ref.occurrence)
        return drawn * self.hand.drift_ms


def _push_ms(bar: BarPlan, tick: int) -> float:
    """Return how far the whole band strays on a pushed chord at a tick: all are together."""
    ref, purpose = bar.bar.ref, f"push {tick - bar.start_tick}"
    drawn = first_bell(bar.seed, "band", purpose, ref.section, ref.bar_in_section, ref.occurrence)
    return drawn * _PUSH_MS


def _one_at_a_time(
    notes: Sequence[Note], onsets: list[int], lengths: list[int]
) -> tuple[list[int], list[int]]:
    """Return onsets that rise and lengths that end before the next note: a bass has one voice.

    Notes that the player wrote ring beside those that are written on other strings.
    """
    rising = list(onsets)
    for index in range(1, len(rising)):
        together = notes[index].grid_tick == notes[index - 1].grid_tick
        before = rising[index - 1]
        rising[index] = before if together else max(rising[index], before + 1)
    if not any(note.stated_place for note in notes):
        gaps = map(sub, rising[1:], rising)
        return rising, [*map(min, lengths, gaps), *lengths[-1:]]
    cut = [
        min(length, rising[after] - rising[index])
        if (after := _next_voice(notes, index)) is not None
        else length
        for index, length in enumerate(lengths)
    ]
    return rising, cut


def _next_voice(notes: Sequence[Note], index: int) -> int | None:
    """Return the next note that cannot sound beside one, None where there is none."""
    note = notes[index]
    for after in range(index + 1, len(notes)):
        other = notes[after]
        if not (note.stated_place and other.stated_place):
            return after
        if other.grid_tick >= note.grid_tick + note.length_ticks:
            return after
    return None
