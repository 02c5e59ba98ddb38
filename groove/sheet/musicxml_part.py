"""Measures of a part in MusicXML 4.0: attributes, directions, bar lines; notes are beside."""

from collections.abc import Iterable
from fractions import Fraction
from math import gcd
from xml.etree.ElementTree import Element

from groove.events import Part
from groove.sheet.musicxml_notes import NoteWriter, add
from groove.sheet.score import Measure, TempoMark
from groove.sheet.staves import open_name
from groove.timing import (
    STRAIGHT,
    Meter,
    Swing,
    SwingUnit,
    microseconds_to_qpm,
)


class PartWriter(NoteWriter):
    """Writes the measures of one part."""

    def measure(self, part: Element, measure: Measure, *, is_last: bool) -> None:
        """Add a measure."""
        is_pickup = measure.number == 0
        element = add(part, "measure", number=str(measure.number))
        if is_pickup:
            element.set("implicit", "yes")
        elif measure.written_bar != measure.number:
            # Numbers name the measures of a file once; the page has those of the chart.
            element.set("text", str(measure.written_bar))
        left_barline(element, measure)
        self.attributes(element, measure)
        self.directions(element, measure)
        chords = list(measure.chords)
        for index, voice in enumerate(measure.voices):
            if index:
                self.backup(element, measure)
            self.voice(element, voice, chords if index == 0 else [])
        if self.has_tab:
            self.backup(element, measure)
            self.tab(element, measure.voices[0])
        right_barline(element, measure, is_last=is_last)

    def backup(self, element: Element, measure: Measure) -> None:
        """Go back to the bar line."""
        add(add(element, "backup"), "duration", self.amount(measure.ticks))

    def attributes(self, element: Element, measure: Measure) -> None:
        """Add what changes: divisions and clefs at the start, key and meter where they do."""
        is_first = measure is self.score.measures[0]
        if not (is_first or measure.shows_key or measure.shows_meter):
            return
        attributes = add(element, "attributes")
        if is_first:
            add(attributes, "divisions", self.divisions)
        if measure.shows_key:
            key = add(attributes, "key")
            add(key, "fifths", measure.key_fifths)
            add(key, "mode", "minor" if measure.key_is_minor else "major")
        if measure.shows_meter:
            time = add(attributes, "time")
            add(time, "beats", measure.meter.count)
            add(time, "beat-type", measure.meter.unit)
        if is_first:
            self.staves(attributes)

    def staves(self, attributes: Element) -> None:
        """Add staves, clefs, strings and transposition."""
        part = self.score.part
        staves = 2 if self.has_tab or part is Part.KEYS else 1
        if staves > 1:
            add(attributes, "staves", staves)
        for number, (letter, line) in enumerate(clefs(part, has_tab=self.has_tab), start=1):
            clef = add(attributes, "clef", number=str(number))
            add(clef, "sign", letter)
            add(clef, "line", line)
        if self.has_tab:
            self.strings(attributes)
        if part is Part.BASS:
            transpose = add(attributes, "transpose")
            add(transpose, "diatonic", 0)
            add(transpose, "chromatic", 0)
            add(transpose, "octave-change", -1)

    def strings(self, attributes: Element) -> None:
        """Add the tab staff's strings, lowest first, at the octave in which the part is written."""
        tuning = self.score.tuning
        details = add(attributes, "staff-details", number="2")
        add(details, "staff-lines", tuning.string_count)
        for line, pitch in enumerate(tuning.open_pitches, start=1):
            string = add(details, "staff-tuning", line=str(line))
            name = open_name(pitch)
            add(string, "tuning-step", name.letter)
            if name.accidental:
                add(string, "tuning-alter", name.accidental)
            octave = (pitch - name.accidental) // 12 - 1
            add(string, "tuning-octave", octave + self.octave)

    def directions(self, element: Element, measure: Measure) -> None:
        """Add section, words and tempi at their places."""
        if measure.section:
            direction = add(element, "direction", placement="above")
            kind = add(direction, "direction-type")
            add(kind, "rehearsal", measure.section, enclosure="none")
        for words in measure.words:
            direction = add(element, "direction", placement="above")
            add(add(direction, "direction-type"), "words", words)
            if measure.swing and words is measure.words[0]:
                swing_sound(add(direction, "sound"), measure.swing)
        for tempo in measure.tempi:
            self.tempo(element, tempo, measure.meter)

    def tempo(self, element: Element, tempo: TempoMark, meter: Meter) -> None:
        """Add a tempo: printed as a metronome mark, or only sounding."""
        qpm = f"{microseconds_to_qpm(tempo.microseconds):.6g}"
        if not tempo.is_shown:
            sound = add(element, "sound", tempo=qpm)
            if tempo.tick:
                add(sound, "offset", self.amount(tempo.tick))
            return
        direction = add(element, "direction", placement="above")
        mark = add(add(direction, "direction-type"), "metronome")
        unit = meter.tempo_unit_quarters
        add(mark, "beat-unit", "half" if unit == 2 else "quarter")
        if unit == Fraction(3, 2):
            add(mark, "beat-unit-dot")
        bpm = microseconds_to_qpm(tempo.microseconds) / float(unit)
        add(mark, "per-minute", f"{bpm:.4g}")
        add(direction, "sound", tempo=qpm)


def clefs(part: Part, *, has_tab: bool) -> Iterable[tuple[str, int]]:
    """Return the clefs of a part's staves: sign and line."""
    if part is Part.DRUMS:
        return (("percussion", 2),)
    if part is Part.KEYS:
        return (("G", 2), ("F", 4))
    return (("F", 4), ("TAB", 5)) if has_tab else (("F", 4),)


def swing_sound(sound: Element, swing: Swing) -> None:
    """Add a swing as players read it: the shares of long and short in percent."""
    element = add(sound, "swing")
    if swing.percent == STRAIGHT.percent:
        add(element, "straight")
        return
    long = round(swing.percent) if swing.percent is not None else 67
    common = gcd(long, 100 - long)
    add(element, "first", long // common)
    add(element, "second", (100 - long) // common)
    add(element, "swing-type", "eighth" if swing.unit is SwingUnit.EIGHTHS else "16th")


def left_barline(element: Element, measure: Measure) -> None:
    """Add what stands at the left: an ending that begins, a repeat that opens."""
    ending = measure.ending if measure.ending and measure.ending.opens else None
    if not (measure.opens_repeat or ending):
        return
    barline = add(element, "barline", location="left")
    if measure.opens_repeat:
        add(barline, "bar-style", "heavy-light")
    if ending:
        add(barline, "ending", ending.label, number=ending_numbers(ending.passes), type="start")
    if measure.opens_repeat:
        add(barline, "repeat", direction="forward")


def right_barline(element: Element, measure: Measure, *, is_last: bool) -> None:
    """Add what stands at the right: a repeat, an ending's end, a double or final line."""
    ending = measure.ending if measure.ending and measure.ending.closes else None
    if not (measure.passes or ending or measure.ends_section or is_last):
        return
    barline = add(element, "barline", location="right")
    closes = measure.passes or is_last
    add(barline, "bar-style", "light-heavy" if closes else style_between(measure))
    if ending:
        kind = "stop" if measure.passes else "discontinue"
        add(barline, "ending", number=ending_numbers(ending.passes), type=kind)
    if measure.passes:
        repeat = add(barline, "repeat", direction="backward")
        if measure.passes > 2:
            repeat.set("times", str(measure.passes))


def style_between(measure: Measure) -> str:
    """Return the line at the end of a measure that closes nothing."""
    return "light-light" if measure.ends_section else "regular"


def ending_numbers(passes: tuple[int, ...]) -> str:
    """Return an ending's passes as the schema wants them: ``1, 2``."""
    return ", ".join(map(str, passes))
