"""From a performance and its song to a part as it is written.

The page has ``grid_tick`` and ``written_ticks``: what the cell states, not what sounds, so a
stroke that is played short is written to its slot.  Strokes that overlap the next one of their
voice end there; drums are written to the next stroke of their voice, at most to the end of the
beat, so that the page is not full of rests (common practice, no source).
"""

from collections.abc import Hashable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import groupby, pairwise

from groove.chart.model import Song
from groove.events import Bar, KeySignature, Note, Part, Performance, Touch
from groove.neck.instrument import STANDARD, Tuning
from groove.sheet.drum_staff import FEET, HANDS, drum_sign
from groove.sheet.folding import Fold, fold_bars
from groove.sheet.rhythm import Value, short_rest, written_values
from groove.sheet.score import Event, Head, Measure, Score, TempoMark, Voice
from groove.sheet.spelling import BarAccidentals, StaffPitch, spell
from groove.timing import STRAIGHT, Meter, Swing, quarters_to_ticks

MIDDLE_C = 60
LOUDER_BY = 14
"""How much louder than its neighbours a stroke off the beat is that gets an accent."""
NO_SWINGS: Mapping[str, Swing] = {}


@dataclass(frozen=True, slots=True)
class Stroke:
    """Notes of one voice that are struck together, from ``start`` to ``end`` in song ticks."""

    start: int
    end: int
    notes: tuple[tuple[str, Note], ...]


@dataclass(frozen=True, slots=True)
class Cut:
    """What of a stroke falls into one bar, in ticks from the bar line."""

    start: int
    end: int
    stroke: Stroke
    tied_in: bool
    tied_out: bool

    def content(self) -> Hashable:
        """Return what the page shows of it."""
        heads = tuple((note.pitch, note.touch) for _, note in self.stroke.notes)
        return (self.start, self.end, heads, self.tied_in, self.tied_out)


def build_score(
    performance: Performance,
    song: Song,
    *,
    part: Part = Part.BASS,
    tuning: Tuning = STANDARD,
    swings: Mapping[str, Swing] = NO_SWINGS,
    unrolled: bool = False,
) -> Score:
    """Return a part of a performance as it is written.

    ``swings`` gives the swing of each section by name (see ``section_swings``); what the chart
    itself states is known without.  Bass notes need their places (``finger_performance``) for the
    tab.  ``unrolled`` writes every repeat out.
    """
    voices = part_voices(performance, part)
    cuts = {voice: cut_bars(strokes, performance.bars) for voice, strokes in voices.items()}
    tempi = bar_tempi(performance)
    contents = [
        bar_content(performance, index, [bars[index] for bars in cuts.values()], tempi[index])
        for index in range(len(performance.bars))
    ]
    folds = fold_bars(performance, song, contents, unrolled=unrolled)
    slides = page_slides([cuts[1][fold.played[0]] for fold in folds])
    builder = Builder(performance, song, part, cuts, tempi, swings, slides)
    programs = dict(performance.programs)
    return Score(
        title=performance.title,
        part=part,
        measures=tuple(builder.measures(folds)),
        staves=2 if part is Part.KEYS else 1,
        tuning=tuning,
        program=programs.get(part, 0),
        has_pickup=performance.bars[0].ref.played_bar == 0,
    )


# --- strokes ----------------------------------------------------------------------------------


def part_voices(performance: Performance, part: Part) -> dict[int, list[Stroke]]:
    """Return the strokes of each voice of a part, in order."""
    named = [
        (name, note)
        for name, note in zip(performance.note_ids, performance.notes, strict=True)
        if note.part is part
    ]
    count = 2 if part in (Part.DRUMS, Part.KEYS) else 1
    found: dict[int, list[Stroke]] = {}
    for voice in range(1, count + 1):
        own = [pair for pair in named if voice_of(pair[1]) == voice]
        found[voice] = voice_strokes(own, performance.bars, part)
    return found


def voice_of(note: Note) -> int:
    """Return the voice of a note: hands and feet, right hand and left, one for the bass."""
    if note.part is Part.DRUMS:
        return drum_sign(note.pitch).voice
    if note.part is Part.KEYS:
        return 1 if note.pitch >= MIDDLE_C else 2
    return 1


def voice_strokes(named: list[tuple[str, Note]], bars: Sequence[Bar], part: Part) -> list[Stroke]:
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
        strokes.append(Stroke(start, max(start + 1, min(end, following)), group))
    return strokes


def beat_end(bar: Bar, tick: int) -> int:
    """Return where the beat ends that a tick of a bar lies in."""
    beat = quarters_to_ticks(bar.meter.beat_quarters)
    return tick + beat - (tick - bar.start_tick) % beat


def cut_bars(strokes: Sequence[Stroke], bars: Sequence[Bar]) -> list[tuple[Cut, ...]]:
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


# --- what stands above the bars -----------------------------------------------------------------


def bar_tempi(performance: Performance) -> list[tuple[tuple[int, int], ...]]:
    """Return the tempo changes of each bar as (tick from the bar line, microseconds)."""
    changes = performance.tempo_map.changes
    found = []
    at = 0
    for bar in performance.bars:
        own = []
        while at < len(changes) and changes[at].tick < bar.end_tick:
            own.append((max(0, changes[at].tick - bar.start_tick), changes[at].microseconds))
            at += 1
        found.append(tuple(own))
    return found


def bar_content(
    performance: Performance,
    index: int,
    voices: Sequence[tuple[Cut, ...]],
    tempi: tuple[tuple[int, int], ...],
) -> Hashable:
    """Return everything that a measure shows, so that equal passes can be told."""
    bar = performance.bars[index]
    notes = tuple(tuple(cut.content() for cut in cuts) for cuts in voices)
    key = key_at(performance.key_signatures, bar.start_tick)
    microseconds = performance.tempo_map.microseconds_at(bar.start_tick)
    return (bar.meter, bar.length_ticks, bar.chords, key.fifths, notes, tempi[1:], microseconds)


def key_at(signatures: Sequence[KeySignature], tick: int) -> KeySignature:
    """Return the key signature in force at a tick; none at all is C major."""
    before = [signature for signature in signatures if signature.tick <= tick]
    return before[-1] if before else KeySignature(0, 0, False)


class Builder:
    """Makes the measures one after another; remembers what the measure before has shown."""

    def __init__(
        self,
        performance: Performance,
        song: Song,
        part: Part,
        cuts: dict[int, list[tuple[Cut, ...]]],
        tempi: list[tuple[tuple[int, int], ...]],
        swings: Mapping[str, Swing],
        slides: Mapping[str, str],
    ) -> None:
        """Take what ``build_score`` has worked out."""
        self.performance = performance
        self.song = song
        self.part = part
        self.cuts = cuts
        self.tempi = tempi
        self.swings = swings
        self.accents = accented(performance, part)
        self.slid_from = frozenset(slides)
        self.slid_into = frozenset(slides.values())
        self.band_words = band_words(song)
        self.held: dict[str, int] = {}

    def measures(self, folds: Sequence[Fold]) -> Iterator[Measure]:
        """Yield the measures of all folds."""
        before: Measure | None = None
        swing = STRAIGHT
        number = 0 if self.performance.bars[0].ref.played_bar == 0 else 1
        ramps = ramped_occurrences(self.performance, self.tempi)
        for fold in folds:
            bar = self.performance.bars[fold.played[0]]
            measure = self.measure(fold, bar, number, before)
            own = self.swing_of(bar.ref.section) if measure.section else None
            if own and own != swing:
                swing = own
                measure = replace(measure, swing=swing, words=(*measure.words, swing_words(swing)))
            ramp = ramps.get((bar.ref.section, bar.ref.occurrence))
            if ramp and measure.section:
                measure = replace(measure, words=(*measure.words, ramp))
            word = self.band_words.get((bar.ref.section.casefold(), bar.ref.written_bar))
            if word:
                measure = replace(measure, words=(*measure.words, word))
            yield measure
            before = measure
            number += 1

    def swing_of(self, section: str) -> Swing:
        """Return the swing of a section: as given, else as the chart states it."""
        if section in self.swings:
            return self.swings[section]
        try:
            settings = self.song.section(section).settings.over(self.song.settings)
        except KeyError:
            return STRAIGHT
        return settings.swing or STRAIGHT

    def measure(self, fold: Fold, bar: Bar, number: int, before: Measure | None) -> Measure:
        """Return one measure."""
        index = fold.played[0]
        key = key_at(self.performance.key_signatures, bar.start_tick)
        if self.part is Part.DRUMS:
            key = KeySignature(0, 0, False)
        tempi = tuple(
            TempoMark(
                tick=tick,
                microseconds=microseconds,
                is_shown=before is None or (fold.opens_section and tick == 0),
            )
            for tick, microseconds in self.tempi[index]
        )
        is_named = fold.opens_section and bar.ref.written_bar > 0
        return Measure(
            number=number,
            played=fold.played,
            meter=self.page_meter(index),
            ticks=bar.length_ticks,
            voices=tuple(self.voices(index, bar, key.fifths)),
            chords=bar.chords if bar.ref.written_bar else (),
            shows_meter=before is None or before.meter != bar.meter,
            key_fifths=key.fifths,
            key_is_minor=key.is_minor,
            shows_key=before is None or before.key_fifths != key.fifths,
            section=bar.ref.section if is_named else "",
            tempi=tempi,
            opens_repeat=fold.opens_repeat,
            passes=fold.passes,
            ending=fold.ending,
            ends_section=fold.ends_section and bar.ref.written_bar > 0,
        )

    def page_meter(self, index: int) -> Meter:
        """Return the meter that the page has: a pickup stands in the meter of bar 1."""
        bars = self.performance.bars
        is_pickup = bars[index].ref.written_bar == 0 and index + 1 < len(bars)
        return bars[index + 1 if is_pickup else index].meter

    def voices(self, index: int, bar: Bar, key_fifths: int) -> Iterator[Voice]:
        """Yield the voices of one bar."""
        for number, bars in self.cuts.items():
            cuts = bars[index]
            spans = tuple((cut.start, cut.end) for cut in cuts)
            is_pickup = bar.ref.written_bar == 0
            values = (
                short_rest(bar.meter)
                if is_pickup and not spans
                else written_values(bar.meter, spans)
            )
            signs = BarAccidentals(key_fifths)
            events = tuple(self.event(value, cuts, signs, key_fifths) for value in values)
            stems = {HANDS: "up", FEET: "down"}
            yield Voice(
                number=number,
                staff=number if self.part is Part.KEYS else 1,
                events=events,
                stem=stems[number] if self.part is Part.DRUMS else None,
            )

    def event(
        self, value: Value, cuts: tuple[Cut, ...], signs: BarAccidentals, key_fifths: int
    ) -> Event:
        """Return a value with its heads."""
        if value.is_rest:
            return Event(value=value)
        cut = cuts[value.stroke]
        follows = value.start > cut.start or cut.tied_in
        goes_on = value.ties_on or cut.tied_out
        heads = tuple(
            self.head(name, note, signs, key_fifths, tied_in=follows, tied_out=goes_on)
            for name, note in cut.stroke.notes
        )
        accent = not follows and any(name in self.accents for name, _ in cut.stroke.notes)
        return Event(value=value, heads=heads, has_accent=accent)

    def head(
        self,
        name: str,
        note: Note,
        signs: BarAccidentals,
        key_fifths: int,
        *,
        tied_in: bool,
        tied_out: bool,
    ) -> Head:
        """Return one head; held ones are numbered."""
        slides_in = not tied_in and name in self.slid_into
        slides_out = not tied_out and name in self.slid_from
        if tied_in:
            self.held[name] = self.held.get(name, 0) + 1
            name = f"{name}-held{self.held[name]}"
        ghost = note.touch is Touch.GHOST
        if self.part is Part.DRUMS:
            sign = drum_sign(note.pitch)
            pitch, notehead, shows = sign.pitch, sign.notehead, False
        else:
            pitch = note_pitch(note, key_fifths)
            notehead = "x" if ghost else "normal"
            shows = not ghost and signs.printed(pitch, held=tied_in)
        return Head(
            id=name,
            note=note,
            pitch=pitch,
            shows_accidental=shows,
            notehead=notehead,
            tied_in=tied_in,
            tied_out=tied_out,
            slides_in=slides_in,
            slides_out=slides_out,
        )


def note_pitch(note: Note, key_fifths: int) -> StaffPitch:
    """Return how a note is spelled, by its chord, its key and where it leads."""
    return spell(note.pitch, note.origin.chord, key_fifths, note.origin.target_pitch)


def accented(performance: Performance, part: Part) -> frozenset[str]:
    """Return the ids of bass notes with an accent.

    A pushed chord has one, and a stroke off the beat that is clearly louder than both neighbours
    (common practice, no source).
    """
    if part is not Part.BASS:
        return frozenset()
    struck = [
        (name, note)
        for name, note in zip(performance.note_ids, performance.notes, strict=True)
        if note.part is part and note.touch is not Touch.GHOST
    ]
    starts = {bar.ref.played_bar: bar for bar in performance.bars}
    found = {name for name, note in struck if note.origin.detail == "pushed"}
    for (_, before), (name, note), (_, after) in zip(struck, struck[1:], struck[2:], strict=False):
        bar = starts.get(note.origin.bar.played_bar)
        louder = note.velocity - max(before.velocity, after.velocity) >= LOUDER_BY
        if bar and louder and beat_end(bar, note.grid_tick - 1) != note.grid_tick:
            found.add(name)
    return frozenset(found)


def page_slides(bars: Iterable[Sequence[Cut]]) -> dict[str, str]:
    """Return the slides of a page as ids: the note that is left, and the one that is slid into.

    ``bars`` are the bars of one voice as printed.  A slide begins at the note printed before: none
    into a song's first note, and none between two notes of one pitch.
    """
    strokes = [cut.stroke.notes[0] for cuts in bars for cut in cuts if not cut.tied_in]
    return {
        name: following
        for (name, note), (following, after) in pairwise(strokes)
        if after.touch is Touch.SLIDE and after.pitch != note.pitch
    }


def band_words(song: Song) -> dict[tuple[str, int], str]:
    """Return what the chart tells the band at a bar's head: section and written bar to the word."""
    return {
        (section.name.casefold(), bar.number): str(bar.word)
        for section in song.sections
        for bar in section.bars
        if bar.word
    }


def ramped_occurrences(
    performance: Performance, tempi: Sequence[tuple[tuple[int, int], ...]]
) -> dict[tuple[str, int], str]:
    """Return the occurrences in which the tempo moves, with the trade's word for it."""
    found: dict[tuple[str, int], str] = {}
    starts: dict[tuple[str, int], int] = {}
    for bar, own in zip(performance.bars, tempi, strict=True):
        name = (bar.ref.section, bar.ref.occurrence)
        starts.setdefault(name, bar.start_tick)
        for tick, microseconds in own:
            if bar.start_tick + tick > starts[name]:
                before = performance.tempo_map.microseconds_at(starts[name])
                found[name] = "rit." if microseconds > before else "accel."
    return found


def swing_words(swing: Swing) -> str:
    """Return the swing as the page has it."""
    if swing.percent == STRAIGHT.percent:
        return "straight"
    share = "" if swing.percent is None else f" ({swing.percent:g}%)"
    return f"swing {swing.unit}{share}"
