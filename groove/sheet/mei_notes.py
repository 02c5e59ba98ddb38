"""Notes, rests and numbers of the tab in MEI 5, and the signs that belong to single notes."""

from xml.etree.ElementTree import Element

from groove.events import Part
from groove.sheet.elements import add
from groove.sheet.finishing import SLIDE
from groove.sheet.options import SheetOptions, Staves
from groove.sheet.rhythm import WHOLE_TICKS, Value
from groove.sheet.score import TAB, Event, Head, Measure, Score, Voice
from groove.sheet.signs import ACCIDENTALS, CAESURA, FERMATA
from groove.sheet.spelling import StaffPitch
from groove.timing import TICKS_PER_QUARTER, Meter

ID = "xml:id"
TIES = {(False, True): "i", (True, True): "m", (True, False): "t"}
"""Initial, medial and terminal, by whether a head is tied in and out."""
LOWEST_LINE = StaffPitch("E", 0, 4).line
"""The lowest line of the staff that drums stand on, which is read as in the treble clef."""
TOUCH_PERCENT, TAB_TOUCH_PERCENT = 80, 55
"""The size of what stands over a bent note, over the staff and over the tab."""


class MeiNotes:
    """Writes the notes of a part."""

    def __init__(self, score: Score, options: SheetOptions) -> None:
        """Decide which staves there are."""
        self.score = score
        self.options = options
        only = options.staves if score.tab else Staves.BOTH
        self.with_tab = score.tab is not None and only is not Staves.NOTATION
        self.with_notes = only is not Staves.TAB
        self.staves = [
            staff for staff in score.staves if (self.with_tab if staff.strings else self.with_notes)
        ]
        self.joints = {joint.start: joint for joint in score.joints()}

    @property
    def bare_tab(self) -> bool:
        """Whether the tab leaves rhythm and meter to the staff over it."""
        return self.with_tab and self.with_notes

    def values(self, layer: Element, voice: Voice, *, is_tab: bool) -> None:
        """Add the values of a voice inside their tuplets and beams; the two always nest."""
        bare = is_tab and self.bare_tab
        parent = tuplet = layer
        beam: int | None = None
        for event in voice.events:
            value = event.value
            if beam is not None and value.beam_group != beam:
                parent, beam = tuplet, None
            if value.opens_tuplet and value.tuplet:
                hidden = "false" if bare else None
                signs = {"num.visible": hidden, "bracket.visible": hidden}
                ratio = {"num": value.tuplet.actual, "numbase": value.tuplet.normal}
                parent = tuplet = add(parent, "tuplet", **ratio, **signs)
            if value.beam_group is not None and beam is None and not bare:
                parent, beam = add(parent, "beam"), value.beam_group
            if is_tab:
                self.tab_event(parent, event)
            else:
                self.event(parent, event, voice)
            if value.closes_tuplet:
                parent = tuplet = layer
                beam = None

    def event(self, parent: Element, event: Event, voice: Voice) -> None:
        """Add a rest, a note or a chord."""
        if not event.heads:
            add_value(parent, event.value, "rest", "mRest")
            return
        artic = " ".join(each.sign.mei for each in event.articulations) or None
        signs = _duration(event.value) | {"stem.dir": voice.stem, "artic": artic}
        if len(event.heads) == 1:
            self.head(parent, event.heads[0], signs)
            return
        chord = add(parent, "chord", **signs)
        for head in event.heads:
            self.head(chord, head, {})

    def head(self, parent: Element, head: Head, signs: dict[str, object]) -> None:
        """Add one head."""
        pitch = head.pitch
        note = add(parent, "note", **{ID: head.id}, **signs)
        if self.score.part is Part.DRUMS:
            note.set("loc", str(pitch.line - LOWEST_LINE))
        else:
            note.set("pname", pitch.letter.lower())
            note.set("oct", str(pitch.octave + self.score.octaves_up))
        if head.shows_accidental:
            note.set("accid", ACCIDENTALS[pitch.alter].mei)
        elif pitch.alter:
            note.set("accid.ges", ACCIDENTALS[pitch.alter].mei)
        if head.notehead.value.mei:
            note.set("head.shape", head.notehead.value.mei)
        if tie := TIES.get((head.tied_in, head.tied_out)):
            note.set("tie", tie)

    def slash(self, layer: Element, name: str, meter: Meter) -> None:
        """Add the stroke of a beat on which the cell goes on."""
        beat = int(WHOLE_TICKS / meter.beat_quarters / TICKS_PER_QUARTER)
        dots = 1 if meter.is_compound else None
        place = {"pname": "d", "oct": 3, "head.shape": "slash", "stem.visible": "false"}
        value = {"dur": 4 if meter.is_compound else beat, "dots": dots}
        add(layer, "note", **{ID: name}, **value, **place)

    def tab_event(self, parent: Element, event: Event) -> None:
        """Add a value of the tab: numbers, or nothing for a rest and what is held."""
        if not event.heads and not self.with_notes:
            add_value(parent, event.value, "rest", "mRest")
            return
        group = add_value(parent, event.value, "tabGrp", "mSpace")
        if event.heads and not self.with_notes:
            add(group, "tabDurSym")
        for head in event.heads:
            if place := head.struck_place:
                where = {"tab.course": place.string, "tab.fret": place.fret}
                add(group, "note", **{ID: TAB + head.id}, **where)

    def joint(self, element: Element, head: Head) -> None:
        """Add the lines to the next note, on the staff and on the tab."""
        joint = self.joints[head.id]
        for staff in ["", TAB][not self.with_notes : 1 + self.with_tab]:
            add(
                element,
                joint.kind.value.mei,
                **{ID: f"{SLIDE}{staff}{head.id}"},
                startid=f"#{staff}{head.id}",
                endid=f"#{staff}{joint.end}",
                lform="solid",
            )

    def band_signs(self, element: Element, measure: Measure) -> None:
        """Add the signs of what is held as long as the band likes, and of where it stops."""
        for voice in measure.voices if self.with_notes else ():
            for event in voice.events:
                staff, start = voice.staff, event.value.start
                if event.has_fermata:
                    beat = tstamp(measure, start)
                    add(element, FERMATA.mei, staff=staff, tstamp=beat, place="above")
                if event.has_caesura:
                    beat = tstamp(measure, (start + 2 * event.value.end) // 3)
                    add(element, CAESURA.mei, staff=staff, tstamp=beat, place="within")

    def marks(self, element: Element, measure: Measure) -> None:
        """Add fingers, pluck letters, slides, bends and vibrato."""
        for head in measure.heads:
            if head.id in self.joints:
                self.joint(element, head)
            if head.touch_words:
                staff = TAB if self.with_tab else ""
                over = add(element, "dir", startid=f"#{staff}{head.id}", place="above")
                percent = TAB_TOUCH_PERCENT if self.with_tab else TOUCH_PERCENT
                size = {"fontsize": f"{percent}%", "fontstyle": "normal"}
                add(over, "rend", head.touch_words, **size)
            place = head.struck_place
            if place is None or not self.with_notes:
                continue
            if self.options.fingers and place.finger:
                add(element, "fing", place.finger, startid=f"#{head.id}", place="above")
            if self.options.pluck and place.pluck:
                letter = add(element, "fing", startid=f"#{head.id}", place="below")
                add(letter, "rend", place.pluck, fontstyle="italic", fontweight="normal")


def tstamp(measure: Measure, tick: int) -> str:
    """Return the place of a tick in a measure as MEI counts it, in beats of the meter from 1."""
    return f"{1 + tick * measure.meter.unit / WHOLE_TICKS:g}"


def _duration(value: Value) -> dict[str, object]:
    return {"dur": value.base, "dots": value.dots or None}


def add_value(parent: Element, value: Value, tag: str, whole_bar: str) -> Element:
    """Add a value; one of the whole bar has a name of its own."""
    return add(parent, tag, **_duration(value)) if value.base else add(parent, whole_bar)
