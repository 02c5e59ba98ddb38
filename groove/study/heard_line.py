"""A bass alone, as an ear heard it, becomes notes on the bars of a chart or of a steady beat."""

from collections.abc import Iterator, Sequence
from fractions import Fraction

from msgspec import Struct
from msgspec.structs import replace

from groove.articulation import GHOST_SEC
from groove.errors import RecordingError
from groove.harmony.analysis import Analysis
from groove.study.chart_place import find_chart_place
from groove.study.drafted import SoundedBar, drafted
from groove.study.first_bar import PlacedStrokes, find_first_bar
from groove.study.frames import chart_frames
from groove.study.heard_chords import PartNote
from groove.study.heard_strokes import FAINT_STRENGTH, HeardStroke, velocities
from groove.study.steady_beat import FEWEST_HEARD, Beats, beats_on, find_beats
from groove.study.studied_line import BarFrame, SoundedNote
from groove.timing import Meter

MAYBE_STOPPED, NO_PITCH, WEAK = "a string stopped, or struck", "no pitch heard", "faintly heard"
"""Why a stroke is unsure; the first two are left out of the line."""
_GHOST_SEC = 1.5 * GHOST_SEC  # an ear hears the end of a short note a little late
_TICKS = 3840
_PIECE_SEC, _LONGEST_SEC = 0.02, 4.0
_ON_BEAT = 0.12
_EARLY = Fraction(1, 8)


class Unsure(Struct, frozen=True, kw_only=True):
    """A stroke that may be none, or whose pitch is not known: where it is, and why."""

    sec: float
    start_quarters: Fraction
    why: str
    is_left_out: bool


class Hearing(Struct, frozen=True, kw_only=True):
    """How sure it is what was heard; confidences lie between 0 and 1.

    ``tempo_bpm`` counts beats of ``meter``, ``other_bpm`` is the tempo that comes next where
    nothing but the strokes told it.  ``beat_confidence`` is how well the strokes lie on its grid,
    ``place_confidence`` how sure bar 1 is, which begins at ``first_bar_sec``.
    ``pitched_share`` of the strokes have a pitch.  ``semitones`` is how much higher than the chart
    it sounds; ``beyond`` how many strokes lie outside the chart.
    """

    length_sec: float
    strokes: int
    meter: Meter
    tempo_bpm: float
    other_bpm: float | None
    tempo_confidence: float
    beat_confidence: float
    meter_confidence: float
    first_bar_sec: float
    place_confidence: float
    pitched_share: float
    semitones: int
    beyond: int
    unsure: tuple[Unsure, ...]


class HeardLine(Struct, frozen=True, kw_only=True):
    """The notes that are sure, the bars they lie in, the drafted chart (empty: one was given)."""

    notes: tuple[SoundedNote, ...]
    frames: tuple[BarFrame, ...]
    draft: str
    hearing: Hearing


class GivenBars(Struct, frozen=True, kw_only=True):
    """Bar lines that are known: at ``secs`` of a recording it has come to ``quarters`` of the song.

    ``semitones`` is how much higher than the chart what it was played with sounds.
    """

    secs: tuple[float, ...]
    quarters: tuple[Fraction, ...]
    semitones: int = 0


class _StartPlace(Struct, frozen=True, kw_only=True):
    """Where bar 1 begins, in slots of the beat, and all that is said of it."""

    slot: int
    meter: Meter
    meter_confidence: float
    confidence: float
    fit: float = 0.0
    semitones: int = 0


def heard_line(
    strokes: Sequence[HeardStroke],
    length_sec: float,
    chart: Analysis | None,
    title: str,
    given: GivenBars | None = None,
) -> HeardLine:
    """Return what was played; ``chart`` gives tempo, meters and chords, None finds them by ear.

    ``given`` are the bar lines of a chart where they are known.  Raises RecordingError for too few
    strokes to have a beat.
    """
    sure = [stroke for stroke in strokes if not stroke.is_unsure]
    likely = _likely_beats(sure, chart, given)
    if not likely:
        raise RecordingError(
            f"{len(sure)} strokes were heard in {length_sec:.0f} s",
            hint=f"expected a bass alone, {FEWEST_HEARD} strokes or more over some bars",
        )
    bars = chart_frames(chart) if chart else ()
    places = [_place(_placed(sure, beats), bars, chart) for beats in likely]
    if given:
        places = [_given_place(place, likely[0], given) for place in places]
    beats, place = max(
        zip(likely, places, strict=True), key=lambda each: each[0].confidence * each[1].fit
    )
    starts, ends = _quarters(strokes, beats, place)
    heard = list(_notes(strokes, starts, ends, place.semitones))
    if not heard:
        raise RecordingError(
            f"none of {len(strokes)} strokes has a pitch", hint="expected a bass alone"
        )
    if chart:
        notes = [note for note in heard if _is_inside(note, bars)]
        frames, draft = tuple(_heard_bars(notes, bars)), ""
    else:
        notes = heard
        tempo = Fraction(round(100 * beats.bpm * float(place.meter.tempo_unit_quarters)), 100)
        draft, frames = drafted(title, tempo, _bars(notes, place.meter), _soundings(notes))
    hearing = _hearing(strokes, starts, beats, place, length_sec, len(heard) - len(notes))
    return HeardLine(notes=tuple(notes), frames=frames, draft=draft, hearing=hearing)


def _likely_beats(
    sure: Sequence[HeardStroke], chart: Analysis | None, given: GivenBars | None
) -> list[Beats]:
    """Return the beats that strokes may have; none for too few strokes."""
    if not (chart and given and sure):
        return find_beats(sure, float(chart.song.tempo.bpm) if chart else None)
    unit = chart.song.meter.tempo_unit_quarters
    return [beats_on(sure, given.secs, [float(at / unit) for at in given.quarters])]


def _given_place(found: _StartPlace, beats: Beats, given: GivenBars) -> _StartPlace:
    """Return bar 1 where it is given; it is doubted where the notes lie surely elsewhere."""
    is_there = abs(found.slot) < beats.slots
    sure = 1.0 if is_there else round(1 - found.confidence, 2)
    return replace(found, slot=0, confidence=sure, semitones=given.semitones)


def _hearing(
    strokes: Sequence[HeardStroke],
    starts: Sequence[Fraction],
    beats: Beats,
    place: _StartPlace,
    length_sec: float,
    beyond: int,
) -> Hearing:
    sure = [stroke for stroke in strokes if not stroke.is_unsure]
    return Hearing(
        length_sec=length_sec,
        strokes=len(strokes),
        meter=place.meter,
        tempo_bpm=round(beats.bpm, 1),
        other_bpm=beats.other_bpm,
        tempo_confidence=round(beats.tempo_confidence * beats.confidence, 2),
        beat_confidence=beats.confidence,
        meter_confidence=place.meter_confidence,
        first_bar_sec=round(beats.sec(place.slot / beats.slots), 3),
        place_confidence=place.confidence,
        pitched_share=round(sum(stroke.is_pitched for stroke in sure) / len(sure), 2),
        semitones=place.semitones,
        beyond=beyond,
        unsure=tuple(_unsure(strokes, starts)),
    )


def _placed(sure: Sequence[HeardStroke], beats: Beats) -> PlacedStrokes:
    """Return strokes on the nearest slots of their beat."""
    import numpy

    slots = numpy.rint(beats.at([stroke.sec for stroke in sure]) * beats.slots).astype(int)
    return PlacedStrokes(
        slots_per_beat=beats.slots,
        slots=slots,
        pitch_classes=numpy.array([_pitch_class(stroke) for stroke in sure]),
        lengths=numpy.diff(slots, append=slots[-1] + 1),
        is_plain=numpy.array([not stroke.is_soft for stroke in sure]),
    )


def _pitch_class(stroke: HeardStroke) -> int:
    return round(stroke.pitch) % 12 if stroke.pitch is not None and stroke.is_pitched else -1


def _place(
    placed: PlacedStrokes, frames: Sequence[BarFrame], chart: Analysis | None
) -> _StartPlace:
    """Return where bar 1 begins: by the chart's chords, else by what repeats."""
    if chart:
        meter = chart.song.meter
        found = find_chart_place(placed, frames, meter.tempo_unit_quarters)
        return _StartPlace(
            slot=found.slot,
            meter=meter,
            meter_confidence=1.0,
            confidence=found.confidence,
            fit=found.fit,
            semitones=found.semitones,
        )
    first = find_first_bar(placed)
    return _StartPlace(
        slot=first.slot,
        meter=first.meter,
        meter_confidence=first.meter_confidence,
        confidence=first.confidence,
    )


def _quarters(
    strokes: Sequence[HeardStroke], beats: Beats, place: _StartPlace
) -> "tuple[list[Fraction], list[Fraction]]":
    """Return where strokes begin and end, in quarters from bar 1.

    Swung strokes pull the beat's grid behind the beat: it is put where those on the beat stand.
    """
    import numpy

    unit = float(place.meter.tempo_unit_quarters)
    origin = place.slot / beats.slots
    starts = beats.at([stroke.sec for stroke in strokes]) - origin
    away = starts - numpy.rint(starts)
    near = [
        float(shift)
        for shift, stroke in zip(away, strokes, strict=True)
        if abs(shift) < _ON_BEAT and not (stroke.is_soft or stroke.is_unsure)
    ]
    shift = float(numpy.median(near)) if near else 0.0
    ends = beats.at([_end_sec(stroke, after) for stroke, after in _pairs(strokes)]) - origin
    return (
        [_fraction((start - shift) * unit) for start in starts.tolist()],
        [_fraction((end - shift) * unit) for end in ends.tolist()],
    )


def _fraction(quarters: float) -> Fraction:
    return Fraction(round(quarters * _TICKS), _TICKS)


def _pairs(strokes: Sequence[HeardStroke]) -> Iterator[tuple[HeardStroke, HeardStroke | None]]:
    """Yield each stroke with the one after it."""
    yield from zip(strokes, [*strokes[1:], None], strict=True)


def _end_sec(stroke: HeardStroke, after: HeardStroke | None) -> float:
    """Return where a note stops: as heard, else at the next one."""
    if stroke.end_sec is not None:
        return max(stroke.end_sec, stroke.sec + _PIECE_SEC)
    return min(after.sec, stroke.sec + _LONGEST_SEC) if after else stroke.sec + _LONGEST_SEC


def _is_ghost(stroke: HeardStroke, length_sec: float) -> bool:
    """Return whether a stroke is much softer than its neighbours, and short or toneless."""
    return stroke.is_soft and (length_sec <= _GHOST_SEC or not stroke.is_pitched)


def _notes(
    strokes: Sequence[HeardStroke],
    starts: Sequence[Fraction],
    ends: Sequence[Fraction],
    semitones: int,
) -> Iterator[SoundedNote]:
    """Yield the strokes that are sure, as notes; a ghost may have any pitch."""
    loudness = velocities(strokes)
    rows = zip(_pairs(strokes), starts, ends, loudness, strict=True)
    for (stroke, after), start, end, velocity in rows:
        length_sec = _end_sec(stroke, after) - stroke.sec
        is_ghost = _is_ghost(stroke, length_sec)
        if stroke.is_unsure or not (is_ghost or stroke.is_pitched):
            continue
        yield SoundedNote(
            start_quarters=start,
            end_quarters=max(end, start + Fraction(1, _TICKS)),
            length_sec=length_sec,
            pitch=round(stroke.pitch or 0.0) - semitones,
            velocity=velocity,
            is_ghost=is_ghost,
        )


def _unsure(strokes: Sequence[HeardStroke], starts: Sequence[Fraction]) -> Iterator[Unsure]:
    """Yield the strokes that are left out of the line, and those that are hardly heard."""
    for (stroke, after), start in zip(_pairs(strokes), starts, strict=True):
        is_ghost = _is_ghost(stroke, _end_sec(stroke, after) - stroke.sec)
        why = ""
        if stroke.is_unsure:
            why = MAYBE_STOPPED
        elif not (is_ghost or stroke.is_pitched):
            why = NO_PITCH
        elif stroke.strength < FAINT_STRENGTH:
            why = WEAK
        if why:
            yield Unsure(sec=stroke.sec, start_quarters=start, why=why, is_left_out=why != WEAK)


def _is_inside(note: SoundedNote, frames: Sequence[BarFrame]) -> bool:
    """Return whether a note lies in the bars of a chart, a little before the first included."""
    end = frames[-1].end_quarters
    return -_EARLY <= note.start_quarters < end - _EARLY


def _heard_bars(notes: Sequence[SoundedNote], frames: Sequence[BarFrame]) -> Iterator[BarFrame]:
    """Yield the bars of a chart from the first that is played to the last, else the first."""
    first = max(Fraction(0), notes[0].start_quarters) if notes else Fraction(0)
    last = notes[-1].start_quarters if notes else Fraction(0)
    for frame in frames:
        end = frame.end_quarters
        if end - _EARLY > first and (frame.start_quarters - _EARLY <= last or not notes):
            yield frame
            if not notes:
                return


def _bars(notes: Sequence[SoundedNote], meter: Meter) -> Iterator[SoundedBar]:
    """Yield bars of one meter up to the last note."""
    count = max(1, -int(-max(note.start_quarters for note in notes) // meter.bar_quarters))
    for number in range(count):
        yield SoundedBar(start_quarters=number * meter.bar_quarters, meter=meter)


def _soundings(notes: Sequence[SoundedNote]) -> list[PartNote]:
    """Return the notes that say something of the chords."""
    return [
        PartNote(
            start_quarters=note.start_quarters,
            end_quarters=note.end_quarters,
            pitch=note.pitch,
            is_bass=True,
        )
        for note in notes
        if not note.is_ghost
    ]
