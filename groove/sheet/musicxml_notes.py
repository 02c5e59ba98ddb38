"""Notes, rests and chord symbols of a part in MusicXML 4.0, one element after another."""

from itertools import groupby
from math import gcd
from xml.etree.ElementTree import Element

from groove.events import NO_CHORD, ChordOnset, Note, Part, Touch
from groove.sheet.elements import add
from groove.sheet.kinds import chord_kind, printed_suffix
from groove.sheet.rhythm import Value
from groove.sheet.score import TAB, Event, Head, Score, Voice
from groove.sheet.signs import ACCIDENTALS, CAESURA, FERMATA, VALUES, Joint, Notehead
from groove.sheet.spelling import StaffPitch
from groove.theory.chords import Chord
from groove.theory.pitch import SpelledPitch
from groove.timing import TICKS_PER_QUARTER

PART_ID = "P1"
STAFF_INSTRUMENT, TAB_INSTRUMENT = f"{PART_ID}-I1", f"{PART_ID}-I2"
"""Two for one part, so that a note on the staff and its copy on the tab do not sound twice."""
TAB_VOICE = 5
FORTE_VELOCITY = 90
"""The velocity that MusicXML's ``dynamics`` counts as 100 percent."""


SLUR_LETTERS = {Joint.HAMMER_ON: "H", Joint.PULL_OFF: "P"}
"""What is printed over a slur of the tab (MusicXML 4.0, ``hammer-on`` and ``pull-off``)."""


class NoteWriter:
    """Writes the notes of one part.

    A tab under its staff is a copy of it; a tab that stands alone has rhythm and voice of its own,
    and a staff without a tab says strings and frets itself.
    """

    def __init__(self, score: Score, *, fingers: bool, pluck: bool) -> None:
        """Find the divisions, and whether there is a tab staff."""
        self.score = score
        self.has_copy = score.tab is not None and len(score.staves) > 1
        self.fingers = fingers
        self.pluck = pluck
        self.divisions = _score_divisions(score)
        self.ticks_per_division = TICKS_PER_QUARTER // self.divisions

    def amount(self, ticks: int) -> int:
        """Return ticks as divisions."""
        return ticks // self.ticks_per_division

    def voice(self, element: Element, voice: Voice, chords: list[ChordOnset]) -> None:
        """Add a voice, each chord symbol before the value in which it falls."""
        for event in voice.events:
            while chords and chords[0].tick < event.value.end:
                onset = chords.pop(0)
                self.harmony(element, onset.chord, onset.tick - event.value.start)
            self.event(element, event, voice, is_copy=False)

    def tab(self, element: Element, voice: Voice) -> None:
        """Add the tab staff's copy of the voice."""
        for event in voice.events:
            self.event(element, event, voice, is_copy=True)

    def event(self, element: Element, event: Event, voice: Voice, *, is_copy: bool) -> None:
        """Add a rest, a note, or a chord."""
        if not event.heads:
            note = add(element, "note")
            if is_copy:
                note.set("print-object", "no")
            rest = add(note, "rest")
            if event.value.base == 0:
                rest.set("measure", "yes")
            self.timing(note, event, voice, None, is_copy=is_copy, joins=False)
            found = Element("notations")
            if not is_copy:
                self.event_notations(found, event)
            if len(found):
                note.append(found)
        for index, head in enumerate(event.heads):
            self.head(element, event, voice, head, is_copy=is_copy, joins=index > 0)

    def head(
        self,
        element: Element,
        event: Event,
        voice: Voice,
        head: Head,
        *,
        is_copy: bool,
        joins: bool,
    ) -> None:
        """Add one head."""
        note = add(element, "note", id=TAB + head.id if is_copy else head.id)
        if is_copy and head.tied_in:
            # What is held has no number: it was said where it was struck.
            note.set("print-object", "no")
        note.set("dynamics", f"{head.note.velocity * 100 / FORTE_VELOCITY:.2f}")
        if joins:
            add(note, "chord")
        self.pitch(note, head.pitch)
        self.timing(note, event, voice, head, is_copy=is_copy, joins=joins)
        self.notations(note, event, head, is_copy=is_copy, joins=joins)
        if head.is_ghost:
            add(add(note, "play"), "mute", "palm")

    def pitch(self, note: Element, pitch: StaffPitch) -> None:
        """Add the written pitch, or the place of a drum."""
        if self.score.part is Part.DRUMS:
            unpitched = add(note, "unpitched")
            add(unpitched, "display-step", pitch.letter)
            add(unpitched, "display-octave", pitch.octave)
            return
        element = add(note, "pitch")
        add(element, "step", pitch.letter)
        if pitch.alter:
            add(element, "alter", pitch.alter)
        add(element, "octave", pitch.octave + self.score.octaves_up)

    def timing(
        self,
        note: Element,
        event: Event,
        voice: Voice,
        head: Head | None,
        *,
        is_copy: bool,
        joins: bool,
    ) -> None:
        """Add what a note or rest is, in the order of the schema: duration to beams.

        A chord's beams are its first note's: others that had them too would be read as beams of
        their own.
        """
        value = event.value
        add(note, "duration", self.amount(value.ticks))
        if head:
            self.sound(note, head, is_copy=is_copy)
        add(note, "voice", TAB_VOICE if is_copy else voice.number)
        self.value(note, value, head if not is_copy else None)
        if head and (is_copy or voice.stem):
            add(note, "stem", "none" if is_copy else voice.stem)
        if head and head.notehead is not Notehead.NORMAL:
            add(note, "notehead", head.notehead.value.musicxml)
        if len(self.score.staves) > 1:
            add(note, "staff", 2 if is_copy else voice.staff)
        if head and not (is_copy or joins):
            for number, word in enumerate(value.beams, start=1):
                add(note, "beam", word, number=number)

    def sound(self, note: Element, head: Head, *, is_copy: bool) -> None:
        """Add a note's ties, and the drum that it is; a copy has an instrument that is silent."""
        if head.tied_in:
            add(note, "tie", type="stop")
        if head.tied_out:
            add(note, "tie", type="start")
        if self.score.part is Part.DRUMS:
            add(note, "instrument", id=f"{PART_ID}-I{head.note.pitch}")
        elif self.has_copy:
            add(note, "instrument", id=TAB_INSTRUMENT if is_copy else STAFF_INSTRUMENT)

    def value(self, note: Element, value: Value, head: Head | None) -> None:
        """Add type, dots, the accidental of ``head`` and the tuplet."""
        if value.base:
            add(note, "type", VALUES[value.base])
        for _ in range(value.dots):
            add(note, "dot")
        if head and head.shows_accidental:
            add(note, "accidental", ACCIDENTALS[head.pitch.alter].musicxml)
        if value.tuplet:
            modification = add(note, "time-modification")
            add(modification, "actual-notes", value.tuplet.actual)
            add(modification, "normal-notes", value.tuplet.normal)
            add(modification, "normal-type", VALUES[value.tuplet.base])

    def notations(
        self, note: Element, event: Event, head: Head, *, is_copy: bool, joins: bool
    ) -> None:
        """Add ties, tuplet brackets, slides, string and fret, fingers and accents."""
        found = Element("notations")
        if head.tied_in:
            add(found, "tied", type="stop")
        if head.tied_out:
            add(found, "tied", type="start")
        for ends, kind in ((head.slides_in, "stop"), (head.slides_out, "start")):
            if ends:
                name = Joint.SLIDE.value.musicxml
                add(found, name, type=kind, number="2" if is_copy else "1")
        for slur, kind in ((head.slur_in, "stop"), (head.slur_out, "start")):
            if slur and not is_copy:
                add(found, "slur", type=kind, number="1")
        self.technical(found, head, is_copy=is_copy)
        if not is_copy:
            self.vibrato(found, head)
        if not (is_copy or joins):
            self.event_notations(found, event)
        if len(found):
            note.append(found)

    def vibrato(self, notations: Element, head: Head) -> None:
        """Add the wavy line of a shaken note, from its head to the last one that is held."""
        kinds = [("start", not head.tied_in), ("stop", not head.tied_out)]
        ends = [kind for kind, is_end in kinds if is_end and head.note.has_vibrato]
        if ends:
            ornaments = add(notations, "ornaments")
            for kind in ends:
                add(ornaments, "wavy-line", type=kind, number="1")

    def event_notations(self, notations: Element, event: Event) -> None:
        """Add what belongs to all heads of a value: tuplet brackets and articulations."""
        if event.value.opens_tuplet:
            add(notations, "tuplet", type="start", number="1")
        if event.value.closes_tuplet:
            add(notations, "tuplet", type="stop", number="1")
        if event.has_fermata:
            add(notations, FERMATA.musicxml, type="upright")
        names = [(sign.group, sign.sign.musicxml) for sign in event.articulations]
        if event.has_caesura:
            names.append(("articulations", CAESURA.musicxml))
        for group, own in groupby(names, key=lambda pair: pair[0]):
            parent = add(notations, group)
            for _, name in own:
                add(parent, name)

    def touches(self, technical: Element, note: Note) -> None:
        """Add what the fretting hand does with a note: a harmonic, a bend and how far it goes."""
        if note.touch is Touch.HARMONIC:
            add(add(technical, "harmonic"), "natural")
        if note.bend_semitones:
            add(add(technical, "bend"), "bend-alter", note.bend_semitones)

    def technical(self, notations: Element, head: Head, *, is_copy: bool) -> None:
        """Add string and fret where they are read; fingers and letters, if asked for, above."""
        technical = Element("technical")
        if (is_copy or not self.has_copy) and head.note.place:
            add(technical, "string", head.note.place.string)
            add(technical, "fret", head.note.place.fret)
            for slur, kind in ((head.slur_in, "stop"), (head.slur_out, "start")):
                if slur:
                    letter = SLUR_LETTERS[slur] if kind == "start" else None
                    add(technical, slur.value.musicxml, letter, type=kind)
            if not head.tied_in:
                self.touches(technical, head.note)
        if not is_copy and (place := head.struck_place):
            if self.fingers and place.finger:
                add(technical, "fingering", place.finger)
            if self.pluck and place.pluck:
                add(technical, "pluck", place.pluck)
        if len(technical):
            notations.append(technical)

    def harmony(self, element: Element, chord: Chord | None, offset_ticks: int) -> None:
        """Add a chord symbol."""
        harmony = add(element, "harmony")
        if chord is None:
            # Its function has no meaning, and shows nothing: a root would be shown by some.
            add(harmony, "function")
            add(harmony, "kind", "none", text=NO_CHORD)
            self.offset(harmony, offset_ticks)
            return
        _named(harmony, "root", chord.root)
        kind = chord_kind(chord)
        add(harmony, "kind", kind.name, text=printed_suffix(kind.text))
        if chord.bass:
            _named(harmony, "bass", chord.bass)
        for degree in kind.degrees:
            child = add(harmony, "degree", **{} if degree.is_shown else {"print-object": "no"})
            add(child, "degree-value", degree.value)
            add(child, "degree-alter", degree.alter)
            add(child, "degree-type", degree.type, text=kind.label(degree))
        self.offset(harmony, offset_ticks)

    def offset(self, element: Element, ticks: int) -> None:
        """Add where inside the next value a chord stands."""
        if ticks:
            add(element, "offset", self.amount(ticks))
        if len(self.score.staves) > 1:
            add(element, "staff", 1)


def _score_divisions(score: Score) -> int:
    """Return the fewest divisions of a quarter on which every value and chord falls."""
    ticks = {TICKS_PER_QUARTER}
    for measure in score.measures:
        ticks |= {onset.tick for onset in measure.chords} | {tempo.tick for tempo in measure.tempi}
        ticks |= {event.value.ticks for event in measure.events}
    return TICKS_PER_QUARTER // gcd(*ticks)


def _named(parent: Element, tag: str, pitch: SpelledPitch) -> None:
    """Add a chord's root or bass."""
    element = add(parent, tag)
    add(element, f"{tag}-step", pitch.letter)
    if pitch.accidental:
        add(element, f"{tag}-alter", pitch.accidental)
