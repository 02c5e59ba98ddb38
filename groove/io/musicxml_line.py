"""The notes of the bass part of a MusicXML file, measure by measure.

Elements and attributes are those of MusicXML 4.0.  A tab staff gives strings and frets to the
notes of the staff above it, or is the line itself where it stands alone.
"""

import re
from collections import Counter
from collections.abc import Iterator, Sequence
from fractions import Fraction
from statistics import fmean
from xml.etree.ElementTree import Element

from msgspec import Struct, structs

from groove.events import FretPlace
from groove.io.gate import Gate, Where, fine_place
from groove.io.musicxml_parts import semitones_up, tab_tuning, written_pitch
from groove.neck.instrument import TUNINGS, Tuning
from groove.neck.line_places import LineNote
from groove.theory.pitch import pitch_name

Lane = tuple[str, str]
"""A staff and a voice."""


class Heard(Struct, frozen=True, kw_only=True):
    """A note of the file: what it is in the line, where it stands, and whether it is held over."""

    note: LineNote
    staff: str
    voice: str
    goes_on: bool


class PartLine(Struct, frozen=True, kw_only=True):
    """A part's notes, one tuple a measure, and the strings that its tab staff states."""

    measures: tuple[tuple[LineNote, ...], ...]
    tuning: Tuning | None


class LineReader:
    """Reads the notes of one part."""

    def __init__(self, part: Element, gate: Gate, wheres: Sequence[Where]) -> None:
        """``wheres`` are the places of its measures."""
        self.part = part
        self.gate = gate
        self.wheres = wheres
        self.divisions = Fraction(1)
        self.shift = 0
        self.slurs: set[tuple[str, str, str]] = set()
        self.ties: dict[Lane, set[int]] = {}
        self.held: dict[Lane, set[int]] = {}
        self.repeats = False
        self.where = Where("", 1)
        self.at = self.last = Fraction(0)
        self.heard: list[Heard] = []

    def read(self) -> PartLine:
        """Return the line."""
        measures = self.measures()
        tabs = self.tab_staves()
        return PartLine(
            measures=tuple(self.line(each, tabs, i) for i, each in enumerate(measures)),
            tuning=self.tuning(measures),
        )

    def measures(self) -> list[list[Heard]]:
        """Return every note of the part, all staves and voices, by measure."""
        measures: list[list[Heard]] = []
        for measure, where in zip(self.part.findall("measure"), self.wheres, strict=False):
            self.where = where
            self.at = self.last = Fraction(0)
            self.heard = []
            for element in measure:
                self.element(element)
            if self.repeats and not self.heard and measures:
                self.heard = measures[-1]
            measures.append(self.heard)
        return measures

    def tab_staves(self) -> set[str]:
        """Return the numbers of the staves that are tab."""
        return {
            clef.get("number", "1")
            for clef in self.part.iterfind("measure/attributes/clef")
            if clef.findtext("sign", "").strip() == "TAB"
        }

    def element(self, element: Element) -> None:
        """Read one element of a measure."""
        if element.tag == "note":
            self.note(element)
        elif element.tag in ("backup", "forward"):
            sign = 1 if element.tag == "forward" else -1
            self.at = max(Fraction(0), fine_place(self.at + sign * self.length(element)))
        elif element.tag == "attributes":
            divisions = self.gate.bounded(element.findtext("divisions"), "divisions", self.where)
            self.divisions = divisions or self.divisions
            if element.find("transpose") is not None:
                self.shift = semitones_up(element)
            for style in element.iterfind("measure-style/measure-repeat"):
                self.repeats = style.get("type") == "start" and (style.text or "1").strip() == "1"

    def length(self, element: Element) -> Fraction:
        """Return an element's duration in quarters."""
        found = self.gate.bounded(element.findtext("duration"), "duration", self.where)
        return fine_place((found or Fraction(0)) / self.divisions)

    def note(self, element: Element) -> None:
        """Read a note, or move on by a rest."""
        if element.find("grace") is not None:
            self.gate.report("grace notes of the line are left out", self.where)
            return
        length = self.length(element)
        staff = element.findtext("staff", "1").strip()
        voice = element.findtext("voice", "1").strip()
        if element.find("chord") is None:
            self.last, self.at = self.at, fine_place(self.at + length)
            self.held[staff, voice] = self.ties.pop((staff, voice), set())
        start = self.last
        if element.find("rest") is not None or element.find("cue") is not None or not length:
            return
        pitch = written_pitch(element)
        if pitch is None:
            self.gate.report("a note of the line without a pitch is left out", self.where)
            return
        self.heard.append(
            Heard(
                note=self.line_note(element, start, length, pitch, (staff, voice)),
                staff=staff,
                voice=voice,
                goes_on=self.goes_on(element, pitch, (staff, voice)),
            )
        )

    def goes_on(self, element: Element, pitch: int, lane: Lane) -> bool:
        """Return whether a note is held over: some files say so at the note before alone."""
        ties = [*element.findall("tie"), *_inside([element], "notations", "tied")]
        kinds = {tie.get("type") for tie in ties}
        if "start" in kinds:
            self.ties.setdefault(lane, set()).add(pitch)
        return "stop" in kinds or pitch in self.held.get(lane, set())

    def line_note(
        self, element: Element, start: Fraction, length: Fraction, pitch: int, lane: Lane
    ) -> LineNote:
        """Return a note with what its notations say."""
        is_slurred = any(key[:2] == lane for key in self.slurs)
        notations = element.findall("notations")
        for slur in _inside(notations, "slur"):
            key = (*lane, slur.get("number", "1"))
            if slur.get("type") == "stop":
                self.slurs.discard(key)
            elif slur.get("type") == "start":
                self.slurs.add(key)
        technical = _inside(notations, "technical")
        bend = self.bend(technical)
        return LineNote(
            start_quarters=start,
            length_quarters=length,
            pitch=pitch + self.shift,
            stated=self.stated(technical),
            is_slurred=is_slurred or _stops(technical, "hammer-on", "pull-off"),
            slides=_stops(notations, "slide", "glissando"),
            is_ghost=(element.findtext("notehead") or "").strip() == "x",
            is_harmonic=bool(_inside(technical, "harmonic", "natural")),
            has_vibrato=bool(_inside(notations, "ornaments", "wavy-line")),
            bend_semitones=bend,
        )

    def stated(self, technical: Sequence[Element]) -> FretPlace | None:
        """Return the string and fret that a note states."""
        if not technical or technical[0].find("fret") is None:
            return None
        string = self.gate.whole(technical[0].findtext("string"), "string", self.where)
        fret = self.gate.whole(technical[0].findtext("fret"), "fret", self.where)
        return None if string is None or fret is None else FretPlace(string, fret)

    def bend(self, technical: Sequence[Element]) -> int:
        """Return how many half steps a note is bent up; another bend is told."""
        found = _inside(technical, "bend")
        if not found:
            return 0
        text = (found[0].findtext("bend-alter") or "").strip()
        if re.fullmatch("[1-4]", text):
            return int(text)
        self.gate.report("a bend that is not one to four half steps up is left out", self.where)
        return 0

    # --- what of it is the line ---

    def line(self, heard: Sequence[Heard], tabs: set[str], index: int) -> tuple[LineNote, ...]:
        """Return the notes of one measure: one voice of one staff, with the tab's places."""
        where = self.wheres[index]
        own = [each for each in heard if each.staff not in tabs]
        tab = [each for each in heard if each.staff in tabs]
        if own and tab:
            own = _with_places(own, tab)
        own = _one_staff(own or tab)
        voices = Counter(each.voice for each in own)
        if len(voices) > 1:
            self.gate.report("more voices of the line are left out", where)
            kept = max(voices, key=lambda voice: (voices[voice], -low(own, voice)))
            own = [each for each in own if each.voice == kept]
        return tuple(tied(sorted(own, key=lambda e: (e.note.start_quarters, e.note.pitch))))

    def tuning(self, measures: Sequence[Sequence[Heard]]) -> Tuning | None:
        """Return the strings of the tab staff at the octave at which they sound.

        Files write them as the notes are written, or as they sound: most notes decide.
        """
        written = tab_tuning(self.part, self.gate)
        if written is None:
            return None
        fits: Counter[int] = Counter()
        for each in (each for measure in measures for each in measure):
            place = each.note.stated
            if place and 1 <= place.string <= len(written):
                fits[each.note.pitch - place.fret - written[-place.string]] += 1
        shift = fits.most_common(1)[0][0] if fits else self.shift
        if shift % 12:
            shift = self.shift
        pitches = tuple(pitch + shift for pitch in written)
        known = [tuning for tuning in TUNINGS.values() if tuning.open_pitches == pitches]
        name = " ".join(pitch_name(pitch) for pitch in pitches)
        return known[0] if known else Tuning(name, pitches)


def _inside(elements: Sequence[Element], *tags: str) -> Sequence[Element]:
    """Return what stands inside elements, one tag in the other: a path takes four times as long."""
    for tag in tags:
        elements = [found for each in elements for found in each.findall(tag)]
    return elements


def _stops(elements: Sequence[Element], *tags: str) -> bool:
    """Return whether one of some notations ends at a note."""
    return any(found.get("type") == "stop" for tag in tags for found in _inside(elements, tag))


def _with_places(notes: Sequence[Heard], tab: Sequence[Heard]) -> list[Heard]:
    """Return notes with the strings and frets that the tab staff has for them."""
    places = {(t.note.start_quarters, t.note.pitch): t.note.stated for t in tab}
    return [
        structs.replace(
            each,
            note=structs.replace(
                each.note,
                stated=places.get((each.note.start_quarters, each.note.pitch)) or each.note.stated,
            ),
        )
        for each in notes
    ]


def _one_staff(heard: Sequence[Heard]) -> list[Heard]:
    """Return the notes of the lowest staff that has any: the highest number."""
    lowest = max((each.staff for each in heard), default="1")
    return [each for each in heard if each.staff == lowest]


def low(heard: Sequence[Heard], voice: str) -> float:
    """Return the mean pitch of a voice."""
    return fmean(each.note.pitch for each in heard if each.voice == voice)


def tied(heard: Sequence[Heard]) -> Iterator[LineNote]:
    """Yield notes, those that are tied in a measure as one."""
    found: list[LineNote] = []
    for each in heard:
        note = each.note
        if each.goes_on:
            before = next(
                (
                    index
                    for index, other in enumerate(found)
                    if other.pitch == note.pitch and other.end_quarters == note.start_quarters
                ),
                None,
            )
            if before is not None:
                length = found[before].length_quarters + note.length_quarters
                found[before] = structs.replace(found[before], length_quarters=length)
                continue
            note = structs.replace(note, is_tied=note.start_quarters == 0, is_slurred=False)
        found.append(note)
    yield from found
