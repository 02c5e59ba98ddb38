"""A chart laid along a record: which bar is heard when, how sure that is, and whether it is it."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

from msgspec import Struct

from groove.record.bar_lines import Sounds, refined_lines, smooth_lines
from groove.record.due_sound import DueSound, heard_harmony
from groove.record.excerpt import likely_parts
from groove.record.heard_bar import HeardBar
from groove.record.heard_tones import TONE_STEP_SEC
from groove.record.listened import Listened
from groove.record.near_readings import edit_count, with_doubts, without_unlike
from groove.record.rises import RISE_STEP_SEC
from groove.record.song_path import NO_PLACE, SongPath
from groove.record.sureness import line_sureness
from groove.record.ways import (
    ELSEWHERE_COST,
    ROUGH,
    Look,
    best_shift,
    best_stretch,
    fine_look,
    shifted,
    tempo_ratio,
    way,
)

if TYPE_CHECKING:
    from groove.arrays import Doubles, Floats, Places

LIKE_ENOUGH = 0.15
"""How alike a record and a chart must be (``HeardSong.likeness``) to be taken for one song.

Measured on made records in other feels, by warping alone: 44 beside their own charts were alike by
.22 to .68 (ten of the shipped charts .22 to .58, which cost .37 to .56), 137 beside others' by .13
or less (133 of them by less than .1), at a cost of .54 or more.  Nearer to the others, for a wrong
one has bars with little confidence, and a right one that is refused has nothing.
"""


class HeardSong(Struct, frozen=True, kw_only=True):
    """How a record has a song.

    ``bars`` are those that are heard, in the record's order.  ``semitones`` is how far the record
    stands above the chart, -6 to 5; ``tuning_cents`` how far it is tuned up beside that.
    ``cost`` is what a moment of the record costs beside the chart, in the stretch as long as the
    song that fits best; ``reversed_cost`` what it does beside the chart played backwards: another
    song costs as much both ways.
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


def align_record(
    due: DueSound, listened: Listened, *, begins_sec: float | None = None, keeps_tempo: bool = False
) -> HeardSong:
    """Return where the bars of a song are heard in a record.

    ``begins_sec`` is where its first bar begins, where that is known; ``keeps_tempo`` says that
    the record goes at about the tempo of ``due``.
    """
    end_sec = listened.end_sec
    if begins_sec is None:
        listened, against = likely_parts(due, listened)
    else:
        begins_sec -= listened.start_sec
        against = listened
    heard = heard_harmony(listened)
    semitones, path = best_shift(due, ROUGH.steps(heard), ROUGH, begins_sec)
    look = fine_look(due, heard, 1.0 if keeps_tempo else tempo_ratio(path, ROUGH))
    harmony = shifted(due.harmony, semitones)
    record = look.steps(heard)
    path = way(due, harmony, record, look, begins_sec)
    if against is not listened:
        record = look.steps(heard_harmony(against))
    backwards = way(due, harmony[::-1], record, look, begins_sec)
    bars: list[HeardBar] = []
    for stretch in _stretches(without_unlike(path), due, look):
        bars += _placed(stretch, due, harmony, heard, listened, bool(bars))
    edits = edit_count(bars, due)
    if edits:
        plain = way(due, harmony, look.steps(heard), look.without_edits(), begins_sec)
        plain_sec = (plain.cost - path.cost) * look.step_sec / edits
        start_sec = listened.start_sec
        bars = with_doubts(bars, due, harmony, heard, start_sec=start_sec, plain_sec=plain_sec)
    size = int(look.lines(due)[-1])
    return HeardSong(
        bars=tuple(bars),
        semitones=semitones if semitones < 6 else semitones - 12,
        tuning_cents=listened.tuning_cents,
        length_sec=end_sec,
        cost=_usual_cost(path, size),
        reversed_cost=_usual_cost(backwards, size),
    )


def _usual_cost(path: SongPath, size: int) -> float:
    """Return what a moment costs where a way fits best; no song at all costs no more."""
    return ELSEWHERE_COST - max(0.0, best_stretch(path, size).a_step)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Stretch:
    """Bars that the record has one after the other: which, and about where their lines are."""

    bars: tuple[int, ...]
    secs: "Doubles"


def _stretches(places: "Places", due: DueSound, look: Look) -> list[_Stretch]:
    """Return the bars of a way, parted where the record leaves the song."""
    import numpy

    inside = numpy.flatnonzero(places != NO_PLACE)
    found = []
    for run in numpy.split(inside, numpy.flatnonzero(numpy.diff(inside) > 1) + 1):
        if not len(run):
            continue
        bars: list[int] = []
        secs: list[float] = []
        jumps = numpy.diff(places[run])
        for leg in numpy.split(run, numpy.flatnonzero((jumps < 0) | (jumps > 2)) + 1):
            own, lines = _leg(places, leg, due, look)
            bars, secs = [*bars, *own], [*secs, *lines]
        if bars:
            end = (run[-1] + 1) * look.step_sec
            found.append(_Stretch(bars=tuple(bars), secs=numpy.array([*secs, end])))
    return found


def _leg(
    way_places: "Places", leg: "Places", due: DueSound, look: Look
) -> tuple[list[int], list[float]]:
    """Return the bars between two jumps, and about where each begins in the record."""
    import numpy

    places = (way_places[leg] + 0.5) * look.step_sec / look.ratio
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
