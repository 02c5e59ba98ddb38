"""A chart laid along a record: which bar is heard when, how sure that is, and whether it is it."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

from msgspec import Struct

from groove.record.bar_lines import Sounds, refined_lines, smooth_lines
from groove.record.due_sound import DueSound, at_other_steps, heard_harmony
from groove.record.heard_tones import TONE_STEP_SEC
from groove.record.listened import Listened
from groove.record.rises import RISE_STEP_SEC
from groove.record.song_path import NO_PLACE, PathCosts, SongMap, SongPath, song_path
from groove.record.sureness import line_sureness

if TYPE_CHECKING:
    from numpy import float32, float64, intp
    from numpy.typing import NDArray

    Floats = NDArray[float32]
    Doubles = NDArray[float64]
    Places = NDArray[intp]

ELSEWHERE_COST = 0.65
"""What a moment costs that is no part of the song; of other songs a moment costs .65 to .9."""
LIKE_ENOUGH = 0.15
"""How alike a record and a chart must be (``HeardSong.likeness``) to be taken for one song.

Measured on made records in other feels, by warping alone: 44 beside their own charts were alike by
.22 to .68 (ten of the shipped charts .22 to .58, which cost .37 to .56), 137 beside others' by .13
or less (133 of them by less than .1), at a cost of .54 or more.  Nearer to the others, for a wrong
one has bars with little confidence, and a right one that is refused has nothing.
"""

_ROUGH, _FINE = 8, 3
_MOST_CELLS = 40_000_000
_JUMP_SEC, _CUT_SEC = 2.0, 3.0
_ROUGH_BENT, _FINE_BENT = 0.03, 0.1
_CLEARLY_LIKE = 0.1
_SLOPE_SEC = 10.0


class HeardBar(Struct, frozen=True, kw_only=True):
    """A bar as the record has it: ``index`` is that of the played bar of the chart.

    ``sec`` and ``end_sec`` are where it begins and ends in the record; ``confidence``, 0 to 1, is
    how sure that is.  ``follows`` says that it comes at once after the bar before it in the list.
    """

    index: int
    sec: float
    end_sec: float
    confidence: float
    follows: bool


class HeardSong(Struct, frozen=True, kw_only=True):
    """How a record has a song.

    ``bars`` are those that are heard, in the record's order.  ``semitones`` is how far the record
    stands above the chart, -6 to 5; ``tuning_cents`` how far it is tuned up beside that.
    ``cost`` is what a moment of the record costs beside the chart, ``reversed_cost`` what it
    does beside the chart played backwards: another song costs as much both ways.
    """

    bars: tuple[HeardBar, ...]
    semitones: int
    tuning_cents: float
    length_sec: float
    cost: float
    reversed_cost: float

    @property
    def likeness(self) -> float:
        """How much less a moment costs than backwards, and than one that is no part of the song.

        Both count, in the sum: another song with chords as frequent costs little too, but either
        way round, and a song that is nearly the same backwards costs very little.
        """
        return (self.reversed_cost - self.cost) + (ELSEWHERE_COST - self.cost)

    @property
    def is_song(self) -> bool:
        """Whether it is the chart's song that is heard (see ``LIKE_ENOUGH``)."""
        return bool(self.bars) and self.likeness > LIKE_ENOUGH


@dataclass(frozen=True, slots=True, kw_only=True)
class _Look:
    """One way to look at both: in steps of ``every`` rows, the song ``ratio`` times as slow."""

    every: int
    ratio: float
    bent: float

    @property
    def step_sec(self) -> float:
        return self.every * TONE_STEP_SEC


def align_record(
    due: DueSound, listened: Listened, *, begins_sec: float | None = None, keeps_tempo: bool = False
) -> HeardSong:
    """Return where the bars of a song are heard in a record.

    ``begins_sec`` is where its first bar begins, where that is known; ``keeps_tempo`` says that
    the record goes at about the tempo of ``due``.
    """
    heard = heard_harmony(listened)
    if begins_sec is not None:
        begins_sec -= listened.start_sec
    rough = _Look(every=_ROUGH, ratio=1.0, bent=_ROUGH_BENT)
    semitones, path = _best_shift(due, heard, rough, begins_sec)
    ratio = 1.0 if keeps_tempo else _tempo_ratio(path, rough)
    look = _Look(every=_fine_step(due, heard, ratio), ratio=ratio, bent=_FINE_BENT)
    harmony = _shifted(due.harmony, semitones)
    path = _path(due, harmony, heard, look, begins_sec)
    backwards = _path(due, harmony[::-1], heard, look, begins_sec)
    stretches = _stretches(path, due, look)
    bars: list[HeardBar] = []
    for stretch in stretches:
        bars += _placed(stretch, due, harmony, heard, listened, bool(bars))
    return HeardSong(
        bars=tuple(bars),
        semitones=semitones if semitones < 6 else semitones - 12,
        tuning_cents=listened.tuning_cents,
        length_sec=listened.start_sec + listened.length_sec,
        cost=path.cost / len(path.places),
        reversed_cost=backwards.cost / len(path.places),
    )


def _fine_step(due: DueSound, heard: "Floats", ratio: float) -> int:
    """Return how many rows a step has, so that the moves of a long record can be kept."""
    cells = len(heard) * due.line_secs[-1] / TONE_STEP_SEC * ratio
    return max(_FINE, int((cells / _MOST_CELLS) ** 0.5) + 1)


def _shifted(harmony: "Floats", semitones: int) -> "Floats":
    """Return harmony as it sounds some semitones higher."""
    import numpy

    halves = harmony[:, :12], harmony[:, 12:]
    moved = [numpy.roll(half, semitones, axis=1) for half in halves]
    return numpy.concatenate(moved, axis=1)


def _best_shift(
    due: DueSound, heard: "Floats", look: _Look, begins_sec: float | None
) -> tuple[int, SongPath]:
    """Return in which key the record fits best, and its way there; in the first that is clear."""
    found: dict[int, SongPath] = {}
    for semitones in range(12):
        harmony = _shifted(due.harmony, semitones)
        found[semitones] = path = _path(due, harmony, heard, look, begins_sec)
        if path.cost < (ELSEWHERE_COST - _CLEARLY_LIKE) * len(path.places):
            break
    best = min(found, key=lambda semitones: found[semitones].cost)
    return best, found[best]


def _path(
    due: DueSound, harmony: "Floats", heard: "Floats", look: _Look, begins_sec: float | None
) -> SongPath:
    """Return the cheapest way of a record through a song."""
    import numpy

    step = look.step_sec
    lines = numpy.rint(due.line_secs * look.ratio / step).astype(numpy.intp)
    size = int(lines[-1])
    steps = max(2, len(heard) // look.every)
    song = at_other_steps(harmony, look.every / look.ratio, size)
    record = at_other_steps(heard, look.every, steps)
    across = numpy.ascontiguousarray(song.T)
    return song_path(
        lambda first, end: 1 - record[first:end] @ across,
        steps,
        SongMap(
            starts=lines[due.first_bars],
            ends=lines[due.last_bars + 1] - 1,
            bar_starts=lines[:-1],
            bar_ends=lines[1:] - 1,
        ),
        size,
        PathCosts(
            bent=look.bent,
            jump=_JUMP_SEC / step,
            elsewhere=ELSEWHERE_COST,
            cut=_CUT_SEC / step,
        ),
        begins_at=None if begins_sec is None else min(steps - 1, round(begins_sec / step)),
    )


def _tempo_ratio(path: SongPath, look: _Look) -> float:
    """Return how many times as slow as the chart the record goes, by its usual stretch."""
    import numpy

    count = max(1, round(_SLOPE_SEC / look.step_sec))
    found = []
    for first in range(0, len(path.places) - count, max(1, count // 3)):
        own = path.places[first : first + count + 1]
        moves = numpy.diff(own)
        if (own != NO_PLACE).all() and moves.min() >= 0 and moves.max() <= 2 and own[-1] > own[0]:
            found.append(count / (own[-1] - own[0]))
    return float(numpy.median(found)) if found else 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class _Stretch:
    """Bars that the record has one after the other: which, and about where their lines are."""

    bars: tuple[int, ...]
    secs: "Doubles"


def _stretches(path: SongPath, due: DueSound, look: _Look) -> list[_Stretch]:
    """Return the bars of a way, parted where the record leaves the song."""
    import numpy

    inside = numpy.flatnonzero(path.places != NO_PLACE)
    found = []
    for run in numpy.split(inside, numpy.flatnonzero(numpy.diff(inside) > 1) + 1):
        if not len(run):
            continue
        bars: list[int] = []
        secs: list[float] = []
        jumps = numpy.diff(path.places[run])
        for leg in numpy.split(run, numpy.flatnonzero((jumps < 0) | (jumps > 2)) + 1):
            own, lines = _leg(path, leg, due, look)
            bars, secs = [*bars, *own], [*secs, *lines]
        if bars:
            end = (run[-1] + 1) * look.step_sec
            found.append(_Stretch(bars=tuple(bars), secs=numpy.array([*secs, end])))
    return found


def _leg(
    path: SongPath, leg: "Places", due: DueSound, look: _Look
) -> tuple[list[int], list[float]]:
    """Return the bars between two jumps, and about where each begins in the record."""
    import numpy

    places = (path.places[leg] + 0.5) * look.step_sec / look.ratio
    first = int(numpy.searchsorted(due.line_secs, places[0], side="right")) - 1
    last = int(numpy.searchsorted(due.line_secs, places[-1], side="right")) - 1
    bars = list(range(max(0, first), min(last, len(due.line_secs) - 2) + 1))
    rising = numpy.concatenate([[True], numpy.diff(places) > 0])
    seconds = (leg + 0.5) * look.step_sec
    lines = numpy.interp(due.line_secs[bars], places[rising], seconds[rising])
    if bars:
        lines[0] = leg[0] * look.step_sec
    return bars, [float(sec) for sec in lines]


def _placed(
    stretch: _Stretch,
    due: DueSound,
    harmony: "Floats",
    heard: "Floats",
    listened: Listened,
    is_later: bool,
) -> list[HeardBar]:
    """Return the bars of a stretch with their lines put right, and how sure each is."""
    song, due_secs = _laid(stretch.bars, due, harmony)
    record = Sounds(harmony=heard, rises=listened.rises)
    secs = smooth_lines(due_secs, stretch.secs)
    secs = refined_lines(song, record, due_secs, secs)
    sure = line_sureness(song, record, due_secs, secs)
    return [
        HeardBar(
            index=index,
            sec=listened.start_sec + float(sec),
            end_sec=listened.start_sec + float(end),
            confidence=float(confidence),
            follows=not (number == 0 and is_later),
        )
        for number, (index, (sec, end), confidence) in enumerate(
            zip(stretch.bars, pairwise(secs), sure, strict=False)
        )
    ]


def _laid(bars: Sequence[int], due: DueSound, harmony: "Floats") -> "tuple[Sounds, Doubles]":
    """Return what is due in bars that come one after the other, and where their lines then are."""
    import numpy

    lengths = numpy.diff(due.line_secs)[list(bars)]
    lines = numpy.concatenate([[0.0], numpy.cumsum(lengths)])

    def rows(of: "Floats", step_sec: float) -> "Floats":
        times = numpy.arange(round(lines[-1] / step_sec) + 1) * step_sec
        bar = (numpy.searchsorted(lines, times, side="right") - 1).clip(0, len(bars) - 1)
        places = due.line_secs[numpy.array(bars)[bar]] + times - lines[bar]
        found: Floats = of[numpy.rint(places / step_sec).astype(int).clip(0, len(of) - 1)]
        return found

    sound = Sounds(harmony=rows(harmony, TONE_STEP_SEC), rises=rows(due.rises, RISE_STEP_SEC))
    return sound, lines
