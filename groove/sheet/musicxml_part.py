"""Measures of a part in MusicXML 4.0: attributes, directions, bar lines; notes are beside."""

from xml.etree.ElementTree import Element

from groove.sheet.elements import add
from groove.sheet.musicxml_notes import NoteWriter
from groove.sheet.musicxml_swing import swing_direction, swing_sound
from groove.sheet.score import Measure, Staff
from groove.sheet.signs import BEAT_UNITS, HAIRPINS, BarLineSign, JumpSign
from groove.timing import microseconds_to_qpm


class PartWriter(NoteWriter):
    """Writes the measures of one part, in order.

    ``in_force`` is the tempo at the end of the measure before, ``sounding`` the one that the file
    has stated last, in microseconds a quarter.
    """

    in_force = 0
    sounding = 0

    def measure(self, part: Element, measure: Measure) -> None:
        """Add a measure."""
        element = add(part, "measure", number=str(measure.number))
        if measure.is_pickup:
            element.set("implicit", "yes")
        elif measure.written_bar != measure.number:
            # Numbers name the measures of a file once; the page has those of the chart.
            element.set("text", str(measure.written_bar))
        _left_barline(element, measure)
        self.attributes(element, measure)
        self.directions(element, measure)
        chords = list(measure.chords)
        for index, voice in enumerate(measure.voices):
            if index:
                self.backup(element, measure)
            self.voice(element, voice, chords if index == 0 else [])
        if self.has_copy:
            self.backup(element, measure)
            self.tab(element, measure.voices[0])
        self.passes(element, measure)
        if measure.ends_hairpin:
            add(_below(element), "wedge", type="stop")
        _right_barline(element, measure)

    def backup(self, element: Element, measure: Measure) -> None:
        """Go back to the bar line."""
        add(add(element, "backup"), "duration", self.amount(measure.ticks))

    def attributes(self, element: Element, measure: Measure) -> None:
        """Add what changes: divisions and clefs at the start, key and meter where they do."""
        is_first = measure is self.score.measures[0]
        if not (is_first or measure.changes_key or measure.shows_meter):
            return
        attributes = add(element, "attributes")
        if is_first:
            add(attributes, "divisions", self.divisions)
        if measure.changes_key:
            key = add(attributes, "key")
            add(key, "fifths", measure.key.signature_fifths)
            add(key, "mode", measure.key.mode.value)
        if measure.shows_meter:
            time = add(attributes, "time")
            add(time, "beats", measure.meter.count)
            add(time, "beat-type", measure.meter.unit)
        if is_first:
            self.staves(attributes)

    def staves(self, attributes: Element) -> None:
        """Add staves, clefs, strings and transposition."""
        staves = self.score.staves
        if len(staves) > 1:
            add(attributes, "staves", len(staves))
        for number, staff in enumerate(staves, start=1):
            clef = add(attributes, "clef", number=number)
            add(clef, "sign", staff.clef.sign.musicxml)
            add(clef, "line", staff.clef.line)
        for number, staff in enumerate(staves, start=1):
            if staff.strings:
                self.strings(add(attributes, "staff-details", number=number), staff)
        if self.score.octaves_up:
            transpose = add(attributes, "transpose")
            add(transpose, "diatonic", 0)
            add(transpose, "chromatic", 0)
            add(transpose, "octave-change", -self.score.octaves_up)

    def strings(self, details: Element, staff: Staff) -> None:
        """Add a tab staff's strings, lowest first, at the octave in which the part is written."""
        add(details, "staff-lines", staff.lines)
        for line, pitch in enumerate(staff.strings, start=1):
            string = add(details, "staff-tuning", line=line)
            add(string, "tuning-step", pitch.letter)
            if pitch.alter:
                add(string, "tuning-alter", pitch.alter)
            add(string, "tuning-octave", pitch.octave + self.score.octaves_up)

    def directions(self, element: Element, measure: Measure) -> None:
        """Add section, words, tempi and dynamics at their places."""
        if measure.section:
            above = add(element, "direction", placement="above")
            kind = add(above, "direction-type")
            add(kind, "rehearsal", measure.section, enclosure="none")
        if measure.times_words:
            words(element, measure.times_words)
        for sign in measure.jumps:
            if sign.stands_at_head:
                jump_direction(element, sign)
        self.swing(element, measure)
        for text in measure.words:
            words(element, text)
        self.tempo(element, measure)
        if measure.dynamic:
            add(add(_below(element), "dynamics"), measure.dynamic.value)
        if measure.hairpin:
            add(_below(element), "wedge", type=HAIRPINS[measure.hairpin].musicxml)

    def swing(self, element: Element, measure: Measure) -> None:
        """Add the swing that begins with a measure: in words, as an equation, and as it sounds.

        A pickup sounds so already, though the sign stands over the measure after it.
        """
        if measure.swing:
            swing_direction(element, measure, self.swing_qpm(measure))
        elif measure.is_pickup and (later := self.score.measures[1:2]) and later[0].swing:
            swing_sound(add(element, "sound"), later[0].swing, self.swing_qpm(later[0]))

    def swing_qpm(self, measure: Measure) -> float:
        """Return the tempo at the head of a measure in quarters a minute."""
        first = next((tempo.microseconds for tempo in measure.tempi if tempo.tick == 0), 0)
        return microseconds_to_qpm(first or self.in_force or measure.tempi[0].microseconds)

    def passes(self, element: Element, measure: Measure) -> None:
        """Add jumps, and in words how often a repeat is played where that is more than twice."""
        for sign in measure.jumps:
            if not sign.stands_at_head:
                jump_direction(element, sign)
        if measure.passes_words:
            words(element, measure.passes_words)

    def tempo(self, element: Element, measure: Measure) -> None:
        """Add the tempo of a measure where it is another than before.

        It is a metronome mark where the page has one, else it only sounds: where the tempo moves
        within a bar, as the bar's mean, so that the bar is as long as it is played.
        """
        mean = self.mean_tempo(measure)
        shown = next((tempo for tempo in measure.tempi if tempo.is_shown), None)
        microseconds = shown.microseconds if shown else mean
        if not shown and microseconds == self.sounding:
            return
        self.sounding = microseconds
        if shown is None:
            add(element, "sound", tempo=_qpm(microseconds))
            return
        above = add(element, "direction", placement="above")
        mark = add(add(above, "direction-type"), "metronome")
        unit = BEAT_UNITS[shown.unit]
        add(mark, "beat-unit", unit.musicxml)
        for _ in range(unit.dots):
            add(mark, "beat-unit-dot")
        add(mark, "per-minute", shown.per_minute)
        add(above, "sound", tempo=_qpm(microseconds))

    def mean_tempo(self, measure: Measure) -> int:
        """Return how long a quarter of a measure is on average, in microseconds."""
        total, since = 0, 0
        for tempo in measure.tempi:
            total += self.in_force * (tempo.tick - since)
            since, self.in_force = tempo.tick, tempo.microseconds
        total += self.in_force * (measure.ticks - since)
        return round(total / measure.ticks)


def _qpm(microseconds: int) -> str:
    """Return a tempo in quarters a minute."""
    return f"{microseconds_to_qpm(microseconds):.6g}"


def words(element: Element, text: str) -> Element:
    """Add a direction in words."""
    above = add(element, "direction", placement="above")
    add(add(above, "direction-type"), "words", text)
    return above


JUMP_SOUNDS = {
    JumpSign.SEGNO: {"segno": "segno"},
    JumpSign.CODA: {"coda": "coda"},
    JumpSign.TO_CODA: {"tocoda": "coda"},
    JumpSign.FINE: {"fine": "yes"},
}
"""What a player does at a sign (MusicXML 4.0, ``sound``); the others send back."""


def jump_direction(element: Element, sign: JumpSign) -> None:
    """Add a sign of a jump, for the eye and for the ear."""
    above = add(element, "direction", placement="above")
    kind = add(above, "direction-type")
    if sign.stands_at_head:
        add(kind, sign.value.casefold())
    else:
        add(kind, "words", sign.value)
    back = {"dalsegno": "segno"} if sign.is_dal_segno else {"dacapo": "yes"}
    add(above, "sound", **JUMP_SOUNDS.get(sign, back))


def _below(element: Element) -> Element:
    """Add a direction under the staff; return what takes its sign."""
    return add(add(element, "direction", placement="below"), "direction-type")


def _left_barline(element: Element, measure: Measure) -> None:
    """Add what stands at the left: an ending that begins, a repeat that opens."""
    ending = measure.ending if measure.ending and measure.ending.opens else None
    is_plain = measure.left_line is BarLineSign.PLAIN
    if is_plain and not ending:
        return
    barline = add(element, "barline", location="left")
    if not is_plain:
        add(barline, "bar-style", measure.left_line.value.musicxml)
    if ending:
        add(barline, "ending", ending.label, number=_ending_numbers(ending.passes), type="start")
    if measure.opens_repeat:
        add(barline, "repeat", direction="forward")


def _right_barline(element: Element, measure: Measure) -> None:
    """Add what stands at the right: a repeat, an ending's end, a double or final line."""
    ending = measure.ending if measure.ending and measure.ending.closes else None
    if measure.right_line is BarLineSign.PLAIN and not ending:
        return
    barline = add(element, "barline", location="right")
    add(barline, "bar-style", measure.right_line.value.musicxml)
    if ending:
        kind = "stop" if measure.passes else "discontinue"
        add(barline, "ending", number=_ending_numbers(ending.passes), type=kind)
    if measure.passes:
        times = measure.passes if measure.passes > 2 else None
        add(barline, "repeat", direction="backward", times=times)


def _ending_numbers(passes: tuple[int, ...]) -> str:
    """Return an ending's passes as the schema wants them: ``1, 2``."""
    return ", ".join(map(str, passes))
