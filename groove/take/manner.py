"""How notes are held and struck: their lengths beside the part's, and how evenly loud they are.

Only plain notes count: ghosts and slurred notes are short and soft on purpose.
"""

from collections.abc import Mapping, Sequence
from math import exp, log, log10
from typing import TYPE_CHECKING

from msgspec import Struct

from groove.take.alignment import Alignment
from groove.take.heard import HeardNote
from groove.take.pair_rows import PairRows
from groove.take.regression import fit_carried_over
from groove.verdict import limit

if TYPE_CHECKING:
    from groove.arrays import Doubles, Flags

FARTHEST_RATIO = 4.0
"""A length that is farther from the part's counts as this far: one note that rings on."""
SAME_DB = 0.1


class LengthFigures(Struct, frozen=True, kw_only=True):
    """How long notes are held beside the part, at the player's own tempo.

    ``share`` is the mean of the ratios on a logarithmic scale, 1 for as long as the part's, with
    its 95 % interval; ``part_ms`` the median length in the part, of as many ``notes``.
    """

    share: float
    interval: tuple[float, float]
    part_ms: float
    notes: int


class LevelFigures(Struct, frozen=True, kw_only=True):
    """How loud the notes of a place are beside the rest, against the part's own accents, in dB."""

    mean_db: float
    interval_db: tuple[float, float]
    notes: int


class LoudnessFigures(Struct, frozen=True, kw_only=True):
    """How evenly loud notes are, in dB.

    ``sd_db`` is the spread of single notes around a slow line and the means of places in the bar;
    ``change_db`` how much louder the last note is than the first by that line, with its 95 %
    interval.  ``slots`` are sixteenths of the bar from 0.
    """

    sd_db: float
    change_db: float
    change_interval_db: tuple[float, float]
    slots: Mapping[float, LevelFigures]
    notes: int


def _is_plain(rows: PairRows) -> "Flags":
    import numpy

    return numpy.array([not note.is_ghost and not note.is_slurred for note in rows.notes], bool)


def length_figures(
    rows: PairRows, heard: Sequence[HeardNote], alignment: Alignment
) -> LengthFigures | None:
    """Return how long notes are held; None where too few ends are known."""
    import numpy

    plain = _is_plain(rows)
    shares, lengths_ms = [], []
    for note, pair, is_plain in zip(rows.notes, alignment.pairs, plain, strict=True):
        sounded = heard[pair.heard]
        if not is_plain or sounded.end_sec is None or note.length_sec <= 0:
            continue
        own, due = sounded.end_sec - sounded.sec, note.length_sec / alignment.ratio
        most = log(FARTHEST_RATIO)
        shares.append(min(most, max(-most, log(max(own, 1e-3) / due))))
        lengths_ms.append(1000 * due)
    if len(shares) < limit("notes_for_place"):
        return None
    fit = fit_carried_over(numpy.ones((len(shares), 1)), numpy.array(shares))
    low, high = fit.interval(0)
    return LengthFigures(
        share=exp(fit.values[0]),
        interval=(exp(low), exp(high)),
        part_ms=float(numpy.median(lengths_ms)),
        notes=len(shares),
    )


def loudness_figures(
    rows: PairRows, heard: Sequence[HeardNote], alignment: Alignment
) -> LoudnessFigures | None:
    """Return how evenly loud notes are; None for too few of them."""
    import numpy

    plain = _is_plain(rows)
    levels = numpy.array([heard[pair.heard].level_db for pair in alignment.pairs])[plain]
    middle = rows.due[plain].mean() if plain.any() else 0.0
    places = rows.slot_columns(plain)[plain]
    columns = numpy.concatenate(
        [numpy.ones((len(levels), 1)), (rows.due[plain] - middle)[:, None], places], axis=1
    )
    freedom = len(levels) - columns.shape[1]
    if len(levels) and levels.max() - levels.min() < SAME_DB:
        return None  # a keyboard that knows one loudness
    if len(levels) < limit("notes_for_place") or freedom < limit("notes_for_place"):
        return None
    fit = fit_carried_over(columns, levels)
    plainly, *_ = numpy.linalg.lstsq(columns, levels, rcond=None)
    left = levels - columns @ plainly
    length_sec = float(rows.due[plain][-1] - rows.due[plain][0])
    around = levels - columns[:, :2] @ plainly[:2]
    return LoudnessFigures(
        sd_db=float((float((left**2).sum()) / freedom) ** 0.5),
        change_db=fit.values[1] * length_sec,
        change_interval_db=fit.interval(1, length_sec),
        slots=_slots(rows, plain, around),
        notes=len(levels),
    )


def _slots(rows: PairRows, plain: "Flags", around_db: "Doubles") -> dict[float, LevelFigures]:
    """Return how each place of the bar lies beside the rest, the part's own accents taken off.

    A synthesizer's level goes with the square of the velocity (SoundFont 2.04, 8.4.1, from
    memory: 40 log10 of it over 127): the part's accents are as loud as it plays them.
    """
    import numpy

    part = numpy.array([40 * log10(max(1, note.velocity) / 127) for note in rows.notes])[plain]
    apart = around_db - part
    slot = rows.slot[plain]
    found = {}
    for name in sorted(set(slot.tolist())):
        own, rest = apart[slot == name], apart[slot != name]
        if len(own) < limit("notes_for_place") or len(rest) < limit("notes_for_place"):
            continue
        mean = float(own.mean() - rest.mean())
        error = float((own.var(ddof=1) / len(own) + rest.var(ddof=1) / len(rest)) ** 0.5)
        found[name] = LevelFigures(
            mean_db=mean, interval_db=(mean - 2 * error, mean + 2 * error), notes=len(own)
        )
    return found
