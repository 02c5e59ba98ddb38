"""From a performance and its song to a part as it is written.

The page has ``grid_tick`` and ``written_ticks``: what the cell states, not what sounds, so a
stroke that is played short is written to its slot.
"""

from collections.abc import Collection, Hashable, Iterator, Mapping, Sequence

from msgspec import Struct
from msgspec.structs import replace

from groove.bar_place import BandWord
from groove.chart.model import Notation, Song
from groove.events import C_MAJOR, Bar, ChordOnset, Note, Part, Performance, Touch
from groove.neck.instrument import STANDARD, Tuning
from groove.sheet.abridging import abridged
from groove.sheet.drum_staff import FEET, HANDS, drum_sign
from groove.sheet.folding import Fold, fold_bars
from groove.sheet.form_words import (
    form_entries,
    lettered_measure,
    played_sections,
    section_letters,
)
from groove.sheet.hairpins import with_dynamics
from groove.sheet.jumps import with_jump
from groove.sheet.marks import (
    accented,
    band_words,
    bar_content,
    bar_tempi,
    kept_signs,
    page_joints,
    ramp_words,
    section_words,
)
from groove.sheet.rhythm import Value, short_rest, written_values
from groove.sheet.score import Event, Head, Measure, Score, TempoMark, Voice
from groove.sheet.shorthand import with_shorthand
from groove.sheet.signs import Articulation, Joint, Notehead
from groove.sheet.slashes import slashed_measures
from groove.sheet.spelling import BarAccidentals, StaffPitch, spell
from groove.sheet.staves import part_staves
from groove.sheet.swung import page_meter, page_swings, straightened
from groove.sheet.voices import Cut, part_voices, strokes_by_bar
from groove.text.moves import lettered
from groove.text.times import time_words
from groove.timing import STRAIGHT, Swing


def build_score(
    performance: Performance,
    song: Song,
    *,
    part: Part = Part.BASS,
    tuning: Tuning = STANDARD,
    written_out: bool = False,
    on_paper: bool = False,
    letters: bool = False,
    sim: bool = False,
    jumps: bool = False,
) -> Score:
    """Return a part of a performance as it is written.

    Bass notes need their places (``finger_performance``) for the tab.  ``written_out`` writes every
    repeat out; ``on_paper`` is as a copyist writes it, with signs and words for bars that are as
    others, where a file for other programs has all notes.
    On paper what comes again is played where it was the first time, a file tells every place;
    there the form stands too, and with ``letters`` one beside each section's name, and with ``sim``
    slashes for a cell that stays.  ``jumps`` lets a D.S. or D.C. stand for what comes again.
    """
    source = _part_source(performance, song, part)
    contents = _contents(source, has_places=not on_paper)
    folds = fold_bars(performance, song, contents, _begin_held(source), written_out=written_out)
    if jumps and not written_out:
        folds = with_jump(folds, contents, kept_signs(performance))
    plain = _Builder(source, folds).measures(folds)
    measures = tuple(with_dynamics([*plain], folds, performance, song))
    if on_paper and not written_out:
        measures = _shortened(abridged(measures, performance, contents), sim and part is Part.BASS)
    names = played_sections(performance)
    marks = section_letters(names) if letters and on_paper else {}
    if marks:
        measures = tuple(lettered_measure(measure, marks) for measure in measures)
    return Score(
        title=performance.title,
        part=part,
        measures=measures,
        staves=part_staves(part, tuning if _is_placed(performance, part) else None),
        program=dict(performance.programs).get(part, 0),
        form=form_entries(names, marks) if on_paper else (),
    )


def _shortened(measures: Sequence[Measure], has_slashes: bool) -> tuple[Measure, ...]:
    """Return measures with the signs for bars that are like those before."""
    slashed = slashed_measures(measures) if has_slashes else measures
    return with_shorthand(tuple(slashed))


class _PartSource(Struct, frozen=True, kw_only=True):
    """What a part's measures are made of, bar by bar of the performance.

    ``cuts`` are the strokes of each voice as they are played, ``written`` those with what swings
    written straight; ``tempi`` those of each bar, by tick; ``accents`` the ids of accented notes;
    ``words_over`` what the band is told over a bar.
    """

    performance: Performance
    song: Song
    part: Part
    cuts: Mapping[int, Sequence[tuple[Cut, ...]]]
    written: Mapping[int, Sequence[tuple[Cut, ...]]]
    tempi: Sequence[tuple[tuple[int, int], ...]]
    accents: Collection[str]
    words_over: Mapping[int, tuple[str, ...]]


def _part_source(performance: Performance, song: Song, part: Part) -> _PartSource:
    voices = part_voices(performance, part)
    cuts = {voice: strokes_by_bar(strokes, performance.bars) for voice, strokes in voices.items()}
    swings = page_swings(performance)
    meters = [page_meter(performance, index) for index in range(len(swings))]
    return _PartSource(
        performance=performance,
        song=song,
        part=part,
        cuts=cuts,
        written=straightened(cuts, swings, meters),
        tempi=bar_tempi(performance),
        accents=accented(performance, song, part),
        words_over=band_words(song, performance),
    )


def _contents(source: _PartSource, *, has_places: bool) -> list[Hashable]:
    """Return what each played bar shows: bars that show the same are written once."""
    return [
        bar_content(
            source.performance,
            index,
            strokes,
            source.tempi[index],
            source.words_over.get(index, ()),
            source.accents,
            has_places=has_places,
        )
        for index, strokes in enumerate(zip(*source.written.values(), strict=True))
    ]


def _begin_held(source: _PartSource) -> list[bool]:
    """Return which played bars begin with what is held from the bar before."""
    return [
        any(strokes[:1] and strokes[0].tied_in for strokes in of_all)
        for of_all in zip(*source.cuts.values(), strict=True)
    ]


def _is_placed(performance: Performance, part: Part) -> bool:
    """Return whether every note of a part has its place on the neck."""
    return all(note.place for note in performance.part_notes(part))


TOUCH_HEADS = {Touch.GHOST: Notehead.X, Touch.HARMONIC: Notehead.DIAMOND}
"""The heads of notes that are no plain strokes (Gould, *Behind Bars*; from memory)."""


class _Builder:
    """Makes the measures one after another; remembers what the measure before has shown."""

    def __init__(self, source: _PartSource, folds: Sequence[Fold]) -> None:
        """Find which of the printed notes are joined."""
        self.performance = source.performance
        self.song = source.song
        self.part = source.part
        self.cuts = source.written
        self.tempi = source.tempi
        self.accents = source.accents
        self.band_words = source.words_over
        printed = [fold.played[0] for fold in folds]
        joints = page_joints(
            [(self.performance.bars[i].length_ticks, source.cuts[1][i]) for i in printed]
        )
        self.joints_from = {start: kind for start, (_, kind) in joints.items()}
        self.joints_into = dict(joints.values())
        self.held: dict[str, int] = {}

    def measures(self, folds: Sequence[Fold]) -> Iterator[Measure]:
        before: Measure | None = None
        swings = page_swings(self.performance)
        feel = ""
        number = 0 if self.performance.bars[0].ref.is_pickup else 1
        ramps = ramp_words(self.performance, self.tempi)
        for fold in folds:
            bar = self.performance.bars[fold.played[0]]
            measure = self.measure(fold, bar, number, before)
            if bar.ref.is_written and _is_new(swings, fold, before):
                measure = replace(measure, swing=swings[fold.played[0]])
            ramp = ramps.get(fold.played[0])
            if ramp:
                measure = replace(measure, words=(*measure.words, ramp))
            words_over = self.band_words.get(fold.played[0], ())
            new = (*_changed_feel(bar, feel, words_over), *self.tacet(fold))
            measure = replace(measure, words=(*measure.words, *new, *words_over))
            feel = bar.feel if bar.ref.is_written else feel
            yield measure
            before = measure
            number += 1

    def tacet(self, fold: Fold) -> Iterator[str]:
        """Yield the word for a section, at its head, in which the part has nothing to play."""
        bars = self.performance.bars
        first = bars[fold.played[0]].ref
        if not fold.opens_section or not first.is_written:
            return
        time = (first.section, first.occurrence)
        own = [i for i, bar in enumerate(bars) if (bar.ref.section, bar.ref.occurrence) == time]
        if not any(cuts[index] for cuts in self.cuts.values() for index in own):
            yield "tacet"

    def measure(self, fold: Fold, bar: Bar, number: int, before: Measure | None) -> Measure:
        index = fold.played[0]
        key = C_MAJOR if self.part is Part.DRUMS else bar.key
        is_named = fold.opens_section and bar.ref.is_written
        return Measure(
            number=number,
            written_bar=bar.ref.written_bar,
            played=fold.played,
            meter=page_meter(self.performance, index),
            ticks=bar.length_ticks,
            voices=tuple(self.voices(index, bar, key.signature_fifths)),
            chords=self.chords(bar),
            shows_meter=before is None or before.meter != bar.meter,
            key=key,
            changes_key=before is None or before.key != key,
            shows_key=before is None or before.key.signature_fifths != key.signature_fifths,
            section=bar.ref.section if is_named else "",
            heading=self.heading(fold, before),
            tempi=tuple(self.tempo_marks(fold, number)),
            opens_repeat=fold.opens_repeat,
            passes=fold.passes,
            ending=fold.ending,
            jumps=fold.jumps,
            ends_section=fold.ends_section and bar.ref.is_written,
            ends_song=fold.ends_song,
        )

    def tempo_marks(self, fold: Fold, number: int) -> Iterator[TempoMark]:
        """Yield the tempi of a measure: a page has them where it and where sections begin.

        That of a pickup stands over the measure after it, beside the first section's name.
        """
        index = fold.played[0]
        unit = page_meter(self.performance, index).tempo_unit_quarters
        starts = number == 1 or (fold.opens_section and number > 0)
        found = list(self.tempi[index])
        if number == 1 and not any(tick == 0 for tick, _ in found):
            start = self.performance.bars[index].start_tick
            found.insert(0, (0, self.performance.tempo_map.microseconds_at(start)))
        pickup = self.performance.bars[index - 1] if number == 1 and index else None
        for tick, microseconds in found:
            stated = microseconds
            if pickup and tick == 0:
                stated = self.performance.tempo_map.microseconds_at(pickup.start_tick)
            yield TempoMark(
                tick=tick,
                microseconds=microseconds,
                stated_microseconds=stated,
                unit=unit,
                is_shown=starts and tick == 0,
            )

    def chords(self, bar: Bar) -> tuple[ChordOnset, ...]:
        """Return what stands over a bar in letters: nothing over a pickup without a chord."""
        if not any(onset.chord for onset in bar.chords) and not bar.ref.is_written:
            return ()
        if self.song.notation is Notation.LETTERS:
            return bar.chords
        return tuple(replace(onset, chord=lettered(onset.chord)) for onset in bar.chords)

    def heading(self, fold: Fold, before: Measure | None) -> str:
        """Return what a measure is headed with: which time a section comes, which pass begins.

        In the words of ``groove tab``; a pass only has them where it is written out.
        """
        refs = [self.performance.bars[index].ref for index in fold.played]
        if not refs[0].is_written:
            return ""
        if fold.opens_section and len(refs) > 1:
            occurrences = sorted({ref.occurrence for ref in refs})
            return section_words(refs[0].section, occurrences)
        last = self.performance.bars[before.played[-1]].ref if before else refs[0]
        is_pass = not fold.has_signs and refs[0].pass_number > max(1, last.pass_number)
        return time_words(refs[0]) if is_pass or fold.opens_section else ""

    def voices(self, index: int, bar: Bar, key_fifths: int) -> Iterator[Voice]:
        for number, bars in self.cuts.items():
            cuts = bars[index]
            spans = tuple((cut.start, cut.end) for cut in cuts)
            is_pickup = bar.ref.is_pickup
            values = (
                short_rest(bar.meter)
                if is_pickup and not spans
                else written_values(bar.meter, spans)
            )
            signs = BarAccidentals(key_fifths)
            events = tuple(self.event(value, cuts, signs, key_fifths) for value in values)
            # Of a drummer's hands and feet the upper voice has the sign of both.
            is_lower = self.part is Part.DRUMS and number == FEET
            events = events if is_lower else _with_band_sign(events, bar.word)
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
        if value.is_rest:
            return Event(value=value)
        cut = cuts[value.stroke]
        follows = value.start > cut.start or cut.tied_in
        goes_on = value.ties_on or cut.tied_out
        heads = tuple(
            self.head(name, note, signs, key_fifths, tied_in=follows, tied_out=goes_on)
            for name, note in cut.stroke.notes
        )
        over = () if follows else self.articulations(cut)
        return Event(value=value, heads=heads, articulations=over)

    def articulations(self, cut: Cut) -> tuple[Articulation, ...]:
        """Return what stands over a stroke: the ring of an open hat, an accent."""
        notes = cut.stroke.notes
        found = {drum_sign(note.pitch).articulation for _, note in notes if note.part is Part.DRUMS}
        if any(name in self.accents for name, _ in notes):
            found.add(Articulation.ACCENT)
        return tuple(sign for sign in Articulation if sign in found)

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
        comes_by = None if tied_in else self.joints_into.get(name)
        leaves_by = None if tied_out else self.joints_from.get(name)
        if tied_in:
            self.held[name] = self.held.get(name, 0) + 1
            name = f"{name}-held{self.held[name]}"
        ghost = note.touch is Touch.GHOST
        if self.part is Part.DRUMS:
            sign = drum_sign(note.pitch)
            pitch, notehead, shows = sign.pitch, sign.notehead, False
        else:
            pitch = _note_pitch(note, key_fifths)
            notehead = TOUCH_HEADS.get(note.touch, Notehead.NORMAL)
            shows = not ghost and signs.printed(pitch, held=tied_in)
        return Head(
            id=name,
            note=note,
            pitch=pitch,
            shows_accidental=shows,
            notehead=notehead,
            tied_in=tied_in,
            tied_out=tied_out,
            slides_in=comes_by is Joint.SLIDE,
            slides_out=leaves_by is Joint.SLIDE,
            slur_in=None if comes_by is Joint.SLIDE else comes_by,
            slur_out=None if leaves_by is Joint.SLIDE else leaves_by,
        )


def _is_new(swings: Sequence[Swing], fold: Fold, before: Measure | None) -> bool:
    """Return whether a swing begins with a measure, as printed, or on one of its passes."""
    earlier = {index - 1 for index in fold.played} | ({before.played[-1]} if before else set())
    forces = {swings[index] if index >= 0 else STRAIGHT for index in earlier}
    # A pickup stands in the swing of the bar after it, where the sign is.
    forces |= {STRAIGHT} if before is None or before.is_pickup else set()
    return any(force != swings[fold.played[0]] for force in forces)


def _changed_feel(bar: Bar, before: str, words_over: Sequence[str]) -> Iterator[str]:
    """Yield the feel that begins at a bar, but the first, unless the bar's own words say it."""
    is_said = any(word.endswith(f"feel {bar.feel}") for word in words_over)
    if before and bar.ref.is_written and bar.feel != before and not is_said:
        yield bar.feel


def _with_band_sign(events: tuple[Event, ...], word: BandWord | None) -> tuple[Event, ...]:
    """Return the values of a bar with the sign of a hold or a stop, at the last that sounds.

    Of a bar of rests the first is held; it has nothing that could stop.
    """
    last = max((index for index, event in enumerate(events) if event.heads), default=0)
    is_cut = word is BandWord.STOP and bool(events[last].heads)
    signed = replace(events[last], has_fermata=word is BandWord.HOLD, has_caesura=is_cut)
    return (*events[:last], signed, *events[last + 1 :])


def _note_pitch(note: Note, key_fifths: int) -> StaffPitch:
    """Return how a note is spelled, by its chord, its key and where it leads."""
    return spell(note.pitch, note.origin.chord, key_fifths, note.origin.target_pitch)
