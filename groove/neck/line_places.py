"""Lines that came from elsewhere: pitches in bars, given strings and frets as tab has them.

What the line states of strings and frets stays where it fits its pitch; the rest is fingered as a
whole.  A bar that comes again lies where it lay.
"""

from collections.abc import Iterator, Sequence
from fractions import Fraction
from itertools import groupby
from math import lcm

from msgspec import Struct, structs

from groove.bar_place import BarRef
from groove.chart.model import Slur, TabLine, WrittenNote
from groove.chart.tab_scale import MOST_SLOTS_A_BEAT
from groove.chart.tab_signs import HARMONICS
from groove.errors import NeckError, SourcePlace
from groove.events import FretPlace, Maker, Note, Origin, Part, Role
from groove.neck.fingering import finger_line
from groove.neck.instrument import HIGHEST_FRET, Tuning
from groove.timing import Meter, TempoChange, TempoMap, qpm_to_microseconds, quarters_to_ticks

WIDEST_STOP_FRETS = 5
"""How many frets apart two strings of one stroke are taken at most; common practice, no source."""
WIDEST_SLUR_FRETS = 5
USUAL_QPM = Fraction(100)
FINEST_SLOT = Fraction(1, 12)
"""Where no grid has all notes of a bar they are put on twelfths of a beat."""


class LineNote(Struct, frozen=True, kw_only=True):
    """A note of a bass line as another notation has it: when from the bar line, how it sounds.

    ``pitch`` is a MIDI number; of a ghost it says no more than where its head stands.  ``stated``
    is the string and fret that were given, None for none.  ``is_tied`` says that it goes on from
    the bar before, ``is_slurred`` and ``slides`` how it is reached.
    """

    start_quarters: Fraction
    length_quarters: Fraction
    pitch: int
    stated: FretPlace | None = None
    is_tied: bool = False
    is_slurred: bool = False
    slides: bool = False
    is_ghost: bool = False
    is_harmonic: bool = False
    has_vibrato: bool = False
    bend_semitones: int = 0

    @property
    def end_quarters(self) -> Fraction:
        """Where it ends."""
        return self.start_quarters + self.length_quarters


class LineBar(Struct, frozen=True, kw_only=True):
    """A bar of a line: its notes by time; ``name`` and ``place`` say where it was found."""

    notes: tuple[LineNote, ...]
    meter: Meter
    name: str
    place: SourcePlace


class PlacedLine(Struct, frozen=True):
    """A line as tab, a bar for each that was given, and what had to be told: (message, bar)."""

    lines: tuple[TabLine | None, ...]
    reported: tuple[tuple[str, str], ...]


def place_line(bars: Sequence[LineBar | None], tuning: Tuning) -> PlacedLine:
    """Return a line as tab on an instrument; None stays None."""
    placer = _Placer(tuning)
    lines = placer.place(bars)
    return PlacedLine(tuple(lines), tuple(dict.fromkeys(placer.reported)))


_BarKey = tuple[tuple[LineNote, ...], Meter, tuple[LineNote, ...]]


class _Placer:
    """Places the bars of one line, each kind of bar once."""

    def __init__(self, tuning: Tuning) -> None:
        self.tuning = tuning
        self.reported: list[tuple[str, str]] = []
        self.places: dict[_BarKey, tuple[FretPlace | None, ...]] = {}

    def report(self, message: str, bar: LineBar) -> None:
        self.reported.append((message, bar.name))

    def place(self, bars: Sequence[LineBar | None]) -> list[TabLine | None]:
        fitted = [self.fitted(bar) if bar else None for bar in bars]
        keys = [_key(fitted, index) for index in range(len(fitted))]
        first: dict[_BarKey, int] = {}
        for index, key in enumerate(keys):
            if key:
                first.setdefault(key, index)
        chosen = [bar for index in first.values() if (bar := fitted[index])]
        made: dict[_BarKey, TabLine] = {}
        for (key, index), bar, own in zip(
            first.items(), chosen, self.fingered(chosen), strict=True
        ):
            earlier = keys[index - 1] if index else None
            made[key] = self.tab_line(bar, own, made[earlier].notes if earlier else ())
        return [made[key] if key else None for key in keys]

    def fitted(self, bar: LineBar) -> LineBar:
        """Return a bar with every pitch on the neck and its places true, on a grid."""
        notes = []
        for note in sorted(bar.notes, key=lambda note: (note.start_quarters, note.pitch)):
            pitch = note.pitch
            while not note.is_ghost and pitch < self.tuning.lowest_pitch:
                pitch += 12
            while not note.is_ghost and not self.tuning.places(pitch, HIGHEST_FRET):
                pitch -= 12
            if pitch != note.pitch:
                self.report("a note off the neck is moved by octaves", bar)
            stated = note.stated if pitch == note.pitch else None
            if stated and not self.is_true(stated, note):
                self.report("a string and fret that are not the note's are left out", bar)
                stated = None
            notes.append(structs.replace(note, pitch=pitch, stated=stated))
        return structs.replace(bar, notes=tuple(self.on_grid(notes, bar)))

    def is_true(self, place: FretPlace, note: LineNote) -> bool:
        """Return whether a string and a fret give the note's pitch; of a ghost the string is."""
        if place.string not in self.tuning.strings or not 0 <= place.fret <= HIGHEST_FRET:
            return False
        if note.is_harmonic and place.fret in HARMONICS:
            sounding = self.tuning.open_pitch(place.string) + HARMONICS[place.fret]
            return sounding == note.pitch
        return note.is_ghost or self.tuning.pitch_at(place.string, place.fret) == note.pitch

    def on_grid(self, notes: Sequence[LineNote], bar: LineBar) -> list[LineNote]:
        """Return the notes of a bar where a grid has them all, else on twelfths of a beat."""
        beat = bar.meter.beat_quarters
        whole = bar.meter.bar_quarters
        inside = [
            structs.replace(n, length_quarters=min(n.end_quarters, whole) - n.start_quarters)
            for n in notes
            if n.start_quarters < whole
        ]
        if len(inside) < len(notes):
            self.report("notes after the end of the chart's bar are left out", bar)
        edges = [e / beat for n in inside for e in (n.start_quarters, n.end_quarters)]
        if lcm(1, *(edge.denominator for edge in edges)) <= MOST_SLOTS_A_BEAT:
            return inside
        self.report("notes that no grid of slots has are put on twelfths of a beat", bar)
        slot = beat * FINEST_SLOT
        found = []
        for note in inside:
            start = round(note.start_quarters / slot)
            end = max(start + 1, round(note.end_quarters / slot))
            if start * slot < whole:
                length = (end - start) * slot
                found.append(
                    structs.replace(note, start_quarters=start * slot, length_quarters=length)
                )
        return found

    # --- strings and frets ---

    def fingered(self, bars: Sequence[LineBar]) -> list[tuple[FretPlace | None, ...]]:
        """Return the place of every note of bars that follow each other; None for a ghost's."""
        low = [(i, j) for i, bar in enumerate(bars) for j in _lowest(bar.notes)]
        found: dict[tuple[int, int], FretPlace] = {
            (i, j): note.stated
            for i, bar in enumerate(bars)
            for j, note in enumerate(bar.notes)
            if note.stated and not note.is_ghost
        }
        if not found:
            found.update(zip(low, self.by_hand(bars, low), strict=False))
        near = FretPlace(self.tuning.string_count, 0)
        for i, j in low:
            if (i, j) not in found:
                found[i, j] = self.nearest(bars[i].notes[j].pitch, near)
            near = found[i, j]
        return [tuple(found.get((i, j)) for j in range(len(b.notes))) for i, b in enumerate(bars)]

    def by_hand(
        self, bars: Sequence[LineBar], chosen: Sequence[tuple[int, int]]
    ) -> list[FretPlace]:
        """Return the places with the least to do for the hand, none where no hand plays them."""
        starts: list[Fraction] = []
        at = Fraction(0)
        for bar in bars:
            starts.append(at)
            at += bar.meter.bar_quarters
        notes = []
        for number, (i, j) in enumerate(chosen, 1):
            note = bars[i].notes[j]
            tick = quarters_to_ticks(starts[i]) + quarters_to_ticks(note.start_quarters)
            ref = BarRef(section="line", written_bar=1, played_bar=number)
            notes.append(hand_note(ref, tick, note.length_quarters, note.pitch, velocity=90))
        tempo = TempoMap((TempoChange(0, qpm_to_microseconds(USUAL_QPM)),))
        try:
            line = finger_line(notes, tempo_map=tempo, tuning=self.tuning)
        except NeckError:
            return []
        return [FretPlace(place.string, place.fret) for place in line.places]

    def nearest(self, pitch: int, near: FretPlace) -> FretPlace:
        places = [FretPlace(*place) for place in self.tuning.places(pitch, HIGHEST_FRET)]
        return min(places, key=lambda p: (abs(p.fret - near.fret) * (p.fret > 0), p.fret))

    # --- tab ---

    def tab_line(
        self,
        bar: LineBar,
        places: Sequence[FretPlace | None],
        earlier: Sequence[WrittenNote],
    ) -> TabLine:
        """Return a bar of tab; ``earlier`` are the notes of the bar before."""
        written: list[WrittenNote] = []
        pairs = list(zip(bar.notes, places, strict=True))
        for _, group in groupby(pairs, key=lambda pair: pair[0].start_quarters):
            taken: list[FretPlace] = []
            for note, place in sorted(group, key=lambda pair: (pair[0].is_ghost, pair[0].pitch)):
                found = self.chosen(note, place, taken, [*earlier, *written])
                if found is None:
                    self.report("a note that no hand reaches with the others is left out", bar)
                    continue
                taken.append(found)
                written.append(_written(note, found, bar.place))
        line = sorted(written, key=lambda note: (note.start_quarters, note.string))
        return TabLine(
            open_pitches=self.tuning.open_pitches,
            notes=tuple(self.joined(_cut(line), pairs, earlier, bar)),
        )

    def chosen(
        self,
        note: LineNote,
        place: FretPlace | None,
        taken: Sequence[FretPlace],
        before: Sequence[WrittenNote],
    ) -> FretPlace | None:
        """Return where a note is played beside those of the same stroke, None for nowhere."""
        free = [s for s in self.tuning.strings if s not in {other.string for other in taken}]
        if note.is_ghost:
            wanted = (
                note.stated.string if note.stated else before[-1].string if before else free[-1]
            )
            string = wanted if wanted in free else free[0] if free else None
            return FretPlace(string, 0) if string else None
        if note.is_tied:
            held = [n for n in before if n.pitch == note.pitch and n.string in free]
            if held and held[-1].fret is not None:
                return FretPlace(held[-1].string, held[-1].fret)
        if place and place.string in free:
            return place
        places = [
            FretPlace(*p) for p in self.tuning.places(note.pitch, HIGHEST_FRET) if p[0] in free
        ]
        reached = [p for p in places if all(_reaches(p, other) for other in taken)]
        return min(reached, key=lambda p: p.fret, default=None)

    def joined(
        self,
        notes: Sequence[WrittenNote],
        pairs: Sequence[tuple[LineNote, FretPlace | None]],
        earlier: Sequence[WrittenNote],
        bar: LineBar,
    ) -> Iterator[WrittenNote]:
        """Yield notes with their slurs, where the string has one."""
        wanted_touches = {
            (note.start_quarters, note.pitch): note
            for note, _ in pairs
            if (note.is_slurred or note.slides) and not note.is_tied
        }
        found = list(notes)
        last: dict[int, int] = {}
        for index, note in enumerate(found):
            wanted = wanted_touches.get((note.start_quarters, note.pitch or -1))
            origin = found[last[note.string]] if note.string in last else None
            origin = origin or next((n for n in reversed(earlier) if n.string == note.string), None)
            if wanted:
                slur = _slur(wanted, note, origin)
                if slur is None:
                    self.report("a slur that the fretting hand cannot play is left out", bar)
                elif note.string in last:
                    at = last[note.string]
                    length = note.start_quarters - found[at].start_quarters
                    found[at] = structs.replace(found[at], length_quarters=length)
                found[index] = structs.replace(note, slur=slur)
            last[note.string] = index
        yield from found


def _key(bars: Sequence[LineBar | None], index: int) -> _BarKey | None:
    """Return what makes two bars lie alike: their notes, and what a tie or slur comes from."""
    bar = bars[index]
    if bar is None:
        return None
    before = bars[index - 1] if index else None
    leans = bool(bar.notes) and (
        bar.notes[0].is_tied or bar.notes[0].is_slurred or bar.notes[0].slides
    )
    return bar.notes, bar.meter, before.notes if leans and before else ()


def _lowest(notes: Sequence[LineNote]) -> Iterator[int]:
    """Yield the index of the lowest note of each stroke; ghosts and held notes are none."""
    struck = [(n.start_quarters, n.pitch, j) for j, n in enumerate(notes) if not n.is_ghost]
    held = {j for j, n in enumerate(notes) if n.is_tied}
    for _, group in groupby(sorted(struck), key=lambda each: each[0]):
        index = next(group)[2]
        if index not in held:
            yield index


def hand_note(bar: BarRef, tick: int, length_quarters: Fraction, pitch: int, velocity: int) -> Note:
    """Return a note of a line as the fretting hand is asked for it; ticks count from its start."""
    return Note(
        part=Part.BASS,
        grid_tick=tick,
        length_ticks=max(1, quarters_to_ticks(length_quarters)),
        pitch=pitch,
        velocity=velocity,
        origin=Origin(bar=bar, cell="", role=Role.FIXED, maker=Maker.WRITTEN),
    )


def _reaches(place: FretPlace, other: FretPlace) -> bool:
    """Return whether one hand holds two places at once; an open string asks for no finger."""
    is_open = not place.fret or not other.fret
    return is_open or abs(place.fret - other.fret) < WIDEST_STOP_FRETS


def _written(note: LineNote, place: FretPlace, where: SourcePlace) -> WrittenNote:
    """Return a note as a chart has it; its slur comes later."""
    rings = note.is_harmonic and note.stated == place and place.fret in HARMONICS
    bend = note.bend_semitones if place.fret + note.bend_semitones <= HIGHEST_FRET else 0
    return WrittenNote(
        start_quarters=note.start_quarters,
        length_quarters=note.length_quarters,
        string=place.string,
        fret=None if note.is_ghost else place.fret,
        pitch=None if note.is_ghost else note.pitch,
        bend_semitones=0 if note.is_ghost or rings else bend,
        is_harmonic=rings,
        has_vibrato=note.has_vibrato and not note.is_ghost,
        is_tied=note.is_tied and note.start_quarters == 0,
        place=where,
    )


def _cut(notes: Sequence[WrittenNote]) -> list[WrittenNote]:
    """Return notes that end where the next one on their string begins."""
    found = list(notes)
    following: dict[int, Fraction] = {}
    for index in range(len(found) - 1, -1, -1):
        note = found[index]
        end = note.start_quarters + note.length_quarters
        end = min(end, following.get(note.string, end))
        found[index] = structs.replace(note, length_quarters=end - note.start_quarters)
        following[note.string] = note.start_quarters
    return found


def _slur(wanted: LineNote, note: WrittenNote, origin: WrittenNote | None) -> Slur | None:
    """Return how the fretting hand reaches a note from the one before on its string."""
    if wanted.slides:
        return Slur.SLIDE
    if origin is None or origin.fret is None or note.fret is None:
        return None
    frets = note.fret - origin.fret
    if not 0 < abs(frets) <= WIDEST_SLUR_FRETS:
        return None
    return Slur.HAMMER_ON if frets > 0 else Slur.PULL_OFF
