"""Ways of a record through a song: rough ones, to know its key and tempo, and fine ones."""

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from groove.record.due_sound import DueSound, at_other_steps
from groove.record.heard_tones import TONE_STEP_SEC
from groove.record.song_map import song_map
from groove.record.song_path import NO_PLACE, PathCosts, SongPath, song_path

if TYPE_CHECKING:
    from groove.arrays import Floats, Places

ELSEWHERE_COST = 0.65
"""What a moment costs that is no part of the song; of other songs a moment costs .65 to .9."""
_ROUGH, _FINE = 8, 3
"""Rows of ``TONE_STEP_SEC`` in a step: to know key and tempo, and for bar lines."""
_MOST_CELLS = 40_000_000
JUMP_SEC, _CUT_SEC = 2.0, 3.0
_ROUGH_BENT, _FINE_BENT = 0.03, 0.25
"""Found on made records that drift by 3 %: dearer bending tells bars left out from a slow tempo."""
_CLEARLY_LIKE = 0.1
_SLOPE_SEC = 10.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Look:
    """One way to look at both: in steps of ``every`` rows, the song ``ratio`` times as slow."""

    every: int
    ratio: float
    bent: float
    has_edits: bool = False

    @property
    def step_sec(self) -> float:
        """How long a step is."""
        return self.every * TONE_STEP_SEC

    def without_edits(self) -> "Look":
        """Return the same look for a song whose sections are played as they are."""
        return replace(self, has_edits=False)

    def lines(self, due: DueSound) -> "Places":
        """Return the bar lines of a song in steps, the end of the last bar among them."""
        import numpy

        return numpy.rint(due.line_secs * self.ratio / self.step_sec).astype(numpy.intp)

    def steps(self, heard: "Floats") -> "Floats":
        """Return what is heard of a record in steps."""
        return at_other_steps(heard, self.every, max(2, len(heard) // self.every))


ROUGH = Look(every=_ROUGH, ratio=1.0, bent=_ROUGH_BENT)


@dataclass(frozen=True, slots=True, kw_only=True)
class BestStretch:
    """How much less the best stretch of a way costs than one that is no part of the song.

    ``a_step`` is the mean over a stretch as long as the song is, or over all of a shorter record;
    ``first`` and ``end`` are its steps.
    """

    a_step: float
    first: int
    end: int


def best_stretch(path: SongPath, size: int) -> BestStretch:
    """Return how much a way gains where it gains most; the song has ``size`` steps."""
    import numpy

    count = min(size, len(path.places))
    sums = numpy.concatenate([[0.0], numpy.cumsum(ELSEWHERE_COST - path.paid)])
    gains = sums[count:] - sums[:-count]
    first = int(gains.argmax())
    return BestStretch(a_step=float(gains[first]) / count, first=first, end=first + count)


def fine_look(due: DueSound, heard: "Floats", ratio: float) -> Look:
    """Return the look for bar lines, in steps by which the moves of a long record can be kept."""
    cells = len(heard) * due.line_secs[-1] / TONE_STEP_SEC * ratio
    every = max(_FINE, int((cells / _MOST_CELLS) ** 0.5) + 1)
    return Look(every=every, ratio=ratio, bent=_FINE_BENT, has_edits=True)


def shifted(harmony: "Floats", semitones: int) -> "Floats":
    """Return harmony as it sounds some semitones higher."""
    import numpy

    halves = harmony[:, :12], harmony[:, 12:]
    moved = [numpy.roll(half, semitones, axis=1) for half in halves]
    return numpy.concatenate(moved, axis=1)


def best_shift(
    due: DueSound, record: "Floats", look: Look, begins_sec: float | None = None
) -> tuple[int, SongPath]:
    """Return in which key the record fits best, and its way there; in the first that is clear."""
    found: dict[int, tuple[float, SongPath]] = {}
    size = int(look.lines(due)[-1])
    for semitones in range(12):
        path = way(due, shifted(due.harmony, semitones), record, look, begins_sec)
        found[semitones] = best_stretch(path, size).a_step, path
        if found[semitones][0] > _CLEARLY_LIKE:
            break
    best = max(found, key=lambda semitones: found[semitones][0])
    return best, found[best][1]


def way(
    due: DueSound,
    harmony: "Floats",
    record: "Floats",
    look: Look,
    begins_sec: float | None = None,
) -> SongPath:
    """Return the cheapest way of a record through a song.

    ``harmony`` is the song's, as in ``DueSound``; ``record`` what is heard, in steps of ``look``.
    """
    import numpy

    step = look.step_sec
    lines = look.lines(due)
    size = int(lines[-1])
    across = numpy.ascontiguousarray(at_other_steps(harmony, look.every / look.ratio, size).T)
    begins_at = None
    if begins_sec is not None:
        begins_at = min(len(record) - 1, max(0, round(begins_sec / step)))
    return song_path(
        lambda first, end: 1 - record[first:end] @ across,
        len(record),
        song_map(due, lines, step, has_edits=look.has_edits),
        size,
        PathCosts(
            bent=look.bent,
            jump=JUMP_SEC / step,
            elsewhere=ELSEWHERE_COST,
            cut=_CUT_SEC / step,
        ),
        begins_at=begins_at,
    )


def tempo_ratio(path: SongPath, look: Look) -> float:
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
