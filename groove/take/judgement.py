"""What a take shows, put together: what held, what moved, what was not heard, what comes next."""

from collections.abc import Sequence
from itertools import groupby

from msgspec import Struct
from msgspec.structs import replace

from groove.errors import OptionError
from groove.take.alignment import FEWEST_ONSETS, Alignment, align, due_range
from groove.take.course import MeasuredBy
from groove.take.drum_grid import clicked_start
from groove.take.heard import HeardNote, HeardTake
from groove.take.jumped import HALF_A_TONE, jumped_bars
from groove.take.manner import LevelFigures
from groove.take.reference import ExpectedBar, TakeReference
from groove.take.statistics import Known, PlaceFigures, TakeFigures, take_figures
from groove.take.tuned import SURE_PITCH, in_tune, tuning_semitones
from groove.text.counts import counted
from groove.verdict import (
    Evenness,
    Lean,
    Length,
    Steadiness,
    Trend,
    evenness,
    is_louder,
    lean,
    length,
    limit,
    steadiness,
    tight_limit_ms,
    trend,
    widest_by_chance_ms,
)

LIKELY_STRENGTH = 0.5
"""How strong an onset must be to be told as a possible extra note."""
MOST_WORST = 3
NAMED_TIMES = 2.0
"""How many standard errors a place must lie from the rest to be named."""


class TempoStretch(Struct, frozen=True, kw_only=True):
    """Bars in which the tempo is another: the first and the last one, and by how many percent."""

    first: int
    last: int
    percent: float


class TakeReport(Struct, frozen=True, kw_only=True):
    """A take, judged.

    ``missed`` and ``wrong`` are indices of expected notes, ``extra`` of heard ones; ``left_out``
    and ``again`` are the chart's bars that were skipped and those played once more; ``begun`` and
    ``ended`` the bars of the reference in which the take begins and ends.
    """

    reference: TakeReference
    take: HeardTake
    alignment: Alignment
    figures: TakeFigures
    missed: tuple[int, ...]
    wrong: tuple[int, ...]
    extra: tuple[int, ...]
    left_out: tuple[int, ...]
    again: tuple[int, ...]
    begun: ExpectedBar
    ended: ExpectedBar
    steadiness: Steadiness | None
    lean: Lean
    trend: Trend
    length: Length
    loudness: Evenness | None
    stretches: tuple[TempoStretch, ...]

    @property
    def expected_count(self) -> int:
        """How many notes were due in what was played."""
        return len(self.alignment.pairs) + len(self.missed)

    @property
    def worst_bars(self) -> list[int]:
        """The chart's bars that stray the most, the worst first, where they stand out."""
        figures = self.figures
        bars = {n: bar for n, bar in figures.bars.items() if bar.notes >= limit("notes_for_bar")}
        tight_ms = tight_limit_ms(figures.interval_ms)
        found = [
            (bar.root_ms, number)
            for number, bar in bars.items()
            if bar.root_ms
            > max(tight_ms, widest_by_chance_ms(figures.sd_ms or 0.0, bar.notes, len(bars)))
        ]
        return [number for _, number in sorted(found, reverse=True)[:MOST_WORST]]

    @property
    def named_slots(self) -> dict[float, PlaceFigures]:
        """The places of the bar that lie early or late beside the rest, as one can be sure of."""
        return {slot: each for slot, each in self.figures.slot_bias_ms.items() if stands_out(each)}

    @property
    def named_kinds(self) -> dict[str, PlaceFigures]:
        """The kinds of notes that lie early or late beside the rest."""
        return {kind: each for kind, each in self.figures.kinds.items() if stands_out(each)}

    @property
    def named_levels(self) -> dict[float, LevelFigures]:
        """The places of the bar that are louder or softer than in the part, the farthest first."""
        loud = self.figures.loudness
        if loud is None or self.loudness is None:
            return {}
        named = [
            (slot, each)
            for slot, each in loud.slots.items()
            if is_louder(each.mean_db, each.interval_db)
        ]
        return dict(sorted(named, key=lambda each: -abs(each[1].mean_db))[:MOST_WORST])

    @property
    def grows_by_db(self) -> float | None:
        """How much louder (positive) or softer a take gets to its end; None where it does not."""
        loud = self.figures.loudness
        if loud is None or self.loudness is None:
            return None
        grows = is_louder(loud.change_db, loud.change_interval_db)
        return loud.change_db if grows else None

    @property
    def swings_apart(self) -> bool:
        """Whether the player swings otherwise than the band, for sure and to be heard."""
        swing = self.figures.swing
        return (
            swing is not None
            and swing.is_even
            and abs(swing.apart_ms) > limit("mean_ms")
            and abs(swing.apart_ms) > NAMED_TIMES * swing.error_ms
        )


def pooled(places: Sequence[PlaceFigures]) -> PlaceFigures:
    """Return the figures of some places together."""
    count = sum(each.notes for each in places)
    return PlaceFigures(
        mean_ms=sum(each.notes * each.mean_ms for each in places) / count,
        error_ms=sum((each.notes * each.error_ms) ** 2 for each in places) ** 0.5 / count,
        root_ms=(sum(each.notes * each.root_ms**2 for each in places) / count) ** 0.5,
        notes=count,
    )


def stands_out(place: PlaceFigures) -> bool:
    """Return whether notes of a place lie surely, and audibly, beside the rest."""
    return (
        place.notes >= limit("notes_for_place")
        and abs(place.mean_ms) > limit("mean_ms")
        and abs(place.mean_ms) > NAMED_TIMES * place.error_ms
    )


def _tuned_take(reference: TakeReference, take: HeardTake) -> HeardTake:
    """Return a take in the tuning of its part; of a grid any pitch will do."""
    apart = tuning_semitones(reference.notes, take.notes) if reference.is_line else 0.0
    return replace(
        take,
        notes=in_tune(take.notes, apart),
        tuning_semitones=take.tuning_semitones + apart,
    )


def judged_take(
    reference: TakeReference,
    take: HeardTake,
    *,
    free_tempo: bool = False,
    latency_ms: float | None = None,
    from_sec: float | None = None,
) -> TakeReport:
    """Return a take, judged.

    ``latency_ms`` is how late the player's set-up writes what is played, for a file that begins on
    a beat of the song; ``from_sec`` where in the file the song begins, to within a second, if the
    take does not know its path already.
    Raises OptionError for a take without notes and for one of something else.
    """
    if not take.notes:
        raise OptionError("no note was heard in the take", hint="expected the bass alone, louder")
    if len(take.notes) < FEWEST_ONSETS:
        few = counted(len(take.notes), "note")
        raise OptionError(f"only {few} heard in the take", hint="expected the bass alone, louder")
    if not reference.notes:
        raise OptionError("the reference has no bass notes", hint="expected a bass part")
    take = _tuned_take(reference, take)
    alignment = align(reference, take.notes, start_sec=from_sec, path=take.path)
    if not alignment.fits:
        found = f"{100 * max(0.0, alignment.path.score):.0f} % of it is explained"
        own = ", --free-line takes a line of your own" if reference.is_line else ""
        raise OptionError(
            f"the take does not fit the reference: {found}",
            hint="is it this song, these bars, this seed? --from SECONDS says where it begins"
            + own,
        )
    start, known_by = _known_start(reference, take, alignment, latency_ms)
    figures = take_figures(
        reference,
        take.notes,
        alignment,
        free_tempo=free_tempo,
        start_sec=start,
        known_by=known_by,
    )
    return _report(reference, take, alignment, figures)


def _report(
    reference: TakeReference, take: HeardTake, alignment: Alignment, figures: TakeFigures
) -> TakeReport:
    left_out, again = jumped_bars(reference, take.notes, alignment.jumps, alignment.predicted_secs)
    missed = _missed(reference, alignment) if reference.is_line else ()
    wrong = _wrong(reference, take.notes, alignment) if reference.is_line else ()
    extra = _extra(take.notes, alignment) if reference.is_line else ()
    change = figures.change_percent
    return TakeReport(
        reference=reference,
        take=take,
        alignment=alignment,
        figures=figures,
        missed=missed,
        wrong=wrong,
        extra=extra,
        left_out=left_out,
        again=again,
        begun=reference.bars[reference.notes[alignment.first].bar],
        ended=reference.bars[reference.notes[alignment.last].bar],
        steadiness=None
        if figures.sd_ms is None
        else steadiness(figures.sd_ms, figures.interval_ms, figures.notes),
        lean=lean(figures.mean_ms, figures.error_ms, figures.notes)
        if figures.known_by and figures.measure is MeasuredBy.REFERENCE
        else Lean.UNKNOWN,
        trend=trend(change, figures.drift_interval, figures.notes, figures.beats)
        if figures.drift_interval
        else Trend.UNKNOWN,
        length=_length(figures),
        loudness=evenness(figures.loudness.sd_db, figures.loudness.notes)
        if figures.loudness
        else None,
        stretches=tuple(_stretches(reference, alignment)),
    )


def _length(figures: TakeFigures) -> Length:
    held = figures.lengths
    if held is None:
        return Length.UNKNOWN
    return length(held.share, held.interval, held.part_ms, held.notes)


def _missed(reference: TakeReference, alignment: Alignment) -> tuple[int, ...]:
    """Return the notes that were due while the player played, and were not heard."""
    paired = {pair.expected for pair in alignment.pairs}
    return tuple(index for index in due_range(reference, alignment) if index not in paired)


def _wrong(
    reference: TakeReference, heard: Sequence[HeardNote], alignment: Alignment
) -> tuple[int, ...]:
    """Return the notes in whose place another pitch was heard."""
    found = []
    for pair in alignment.pairs:
        note, sounded = reference.notes[pair.expected], heard[pair.heard]
        if note.is_ghost or sounded.pitch is None or sounded.pitch_confidence < SURE_PITCH:
            continue
        if min(abs(sounded.pitch - pitch) for pitch in note.pitches) > HALF_A_TONE:
            found.append(pair.expected)
    return tuple(found)


def _extra(heard: Sequence[HeardNote], alignment: Alignment) -> tuple[int, ...]:
    """Return the onsets between first and last note that no note is due for.

    What is far softer than its neighbours is left out: the end of a note, an echo, the hand.
    """
    paired = {pair.heard for pair in alignment.pairs}
    low, high = alignment.pairs[0].heard, alignment.pairs[-1].heard
    last = heard[high].sec + 2 * (heard[high].sec - heard[max(low, high - 4)].sec) / 4
    spans = [
        (
            alignment.predicted_secs[jump.at] - jump.shift_sec - 0.1,
            alignment.predicted_secs[jump.at],
        )
        for jump in alignment.jumps
        if jump.shift_sec > 0
    ]
    return tuple(
        index
        for index, note in enumerate(heard)
        if index not in paired
        and low < index
        and note.sec <= last
        and note.strength >= LIKELY_STRENGTH
        and not note.is_ghost
        and not any(begin <= note.sec < end for begin, end in spans)
    )


def _known_start(
    reference: TakeReference, take: HeardTake, alignment: Alignment, latency_ms: float | None
) -> tuple[float | None, Known]:
    """Return where in the file the reference begins, and by what that is known."""
    if latency_ms is not None:
        return latency_ms / 1000, Known.LATENCY
    clicked = clicked_start(reference, take, alignment)
    return (None, Known.NOTHING) if clicked is None else (clicked, Known.CLICK)


def _stretches(reference: TakeReference, alignment: Alignment) -> "Sequence[TempoStretch]":
    """Return the bars in which the local tempo is surely another than that of the whole."""
    import numpy

    played = [
        index
        for index in range(alignment.first, alignment.last + 1)
        if alignment.pieces[index] >= 0
    ]
    due = numpy.array([reference.notes[index].sec for index in played])
    sounded = numpy.array([alignment.predicted_secs[index] for index in played])
    piece = numpy.array([alignment.pieces[index] for index in played])
    percents: list[tuple[int, float]] = []
    for number, bar in enumerate(reference.bars):
        inside = (due >= bar.start_sec - 1e-6) & (due <= bar.end_sec + 1e-6)
        if inside.sum() < limit("notes_for_bar") or len(set(piece[inside].tolist())) > 1:
            continue
        slope = float(numpy.polyfit(due[inside], sounded[inside], 1)[0])
        percents.append((number, 100 * (1 / (slope * alignment.ratio) - 1)))
    least = limit("drift_percent")
    found = []
    for sign, run in groupby(percents, key=lambda each: (each[1] > least) - (each[1] < -least)):
        bars = list(run)
        if sign:
            mean = sum(percent for _, percent in bars) / len(bars)
            first, last = (reference.bars[bars[at][0]].number for at in (0, -1))
            found.append(TempoStretch(first=first, last=last, percent=mean))
    return found
