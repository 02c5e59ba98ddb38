"""A part as MusicXML 4.0 (W3C Music Notation Community Group, 2021).

The bass is written an octave above its sound, with ``transpose`` saying so, and has a tab staff
under it that carries string and fret.  What MusicXML has no word for travels as text in
``miscellaneous-field``: the song's own chart among it, so that a file of ours can be read back
whole.
"""

import io
import zipfile
from collections.abc import Iterable, Mapping
from fractions import Fraction
from functools import lru_cache
from math import gcd
from xml.etree.ElementTree import Element, SubElement, tostring

from groove.chart.model import Song
from groove.chart.write import form_text, write_chart
from groove.events import Part
from groove.sheet.kinds import chord_kind, printed_suffix
from groove.sheet.rhythm import Value
from groove.sheet.score import Event, Head, Measure, Score, TempoMark, Voice
from groove.sheet.spelling import StaffPitch
from groove.theory.chords import parse_chord
from groove.theory.general_midi import DRUM_TABLE
from groove.theory.pitch import SpelledPitch
from groove.timing import (
    STRAIGHT,
    TICKS_PER_QUARTER,
    Meter,
    Swing,
    SwingUnit,
    microseconds_to_qpm,
)

DOCTYPE = (
    '<?xml version="1.0" encoding="UTF-8"?>\n'
    '<!DOCTYPE score-partwise PUBLIC "-//Recordare//DTD MusicXML 4.0 Partwise//EN" '
    '"http://www.musicxml.org/dtds/partwise.dtd">\n'
)
CHART_FIELD = "groove-chart"
PART_ID = "P1"
TAB_VOICE = 5
FORTE_VELOCITY = 90
"""The velocity that MusicXML's ``dynamics`` counts as 100 percent."""
TYPES = {1: "whole", 2: "half", 4: "quarter", 8: "eighth", 16: "16th", 32: "32nd", 64: "64th"}
ACCIDENTALS = {0: "natural", 1: "sharp", -1: "flat", 2: "double-sharp", -2: "flat-flat"}
PLUCKS = {"i": "i", "m": "m", "p": "p"}
PART_NAMES = {Part.BASS: "Bass", Part.DRUMS: "Drums", Part.KEYS: "Keys", Part.CLICK: "Click"}
FIXED_ZIP_DATE = (2000, 1, 1, 0, 0, 0)
CONTAINER = (
    '<?xml version="1.0" encoding="UTF-8"?>\n<container><rootfiles>'
    '<rootfile full-path="part.musicxml" '
    'media-type="application/vnd.recordare.musicxml+xml"/></rootfiles></container>\n'
)


def musicxml_text(score: Score, song: Song, *, fingers: bool = False, pluck: bool = False) -> str:
    """Return a part as an uncompressed MusicXML file.

    ``fingers`` and ``pluck`` add the fretting fingers and the letters of the plucking hand.
    """
    root = Element("score-partwise", version="4.0")
    add(add(root, "work"), "work-title", score.title)
    identification(root, song)
    drums = used_drums(score)
    part_list(root, score, drums)
    part = SubElement(root, "part", id=PART_ID)
    writer = PartWriter(score, fingers=fingers, pluck=pluck)
    for measure, after in zip(score.measures, [*score.measures[1:], None], strict=True):
        writer.measure(part, measure, is_last=after is None)
    return DOCTYPE + tostring(root, encoding="unicode") + "\n"


def mxl_bytes(musicxml: str) -> bytes:
    """Return a MusicXML text as a compressed file (.mxl), the same bytes every time."""
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w", zipfile.ZIP_DEFLATED) as archive:
        files = (("META-INF/container.xml", CONTAINER), ("part.musicxml", musicxml))
        for name, text in files:
            entry = zipfile.ZipInfo(name, FIXED_ZIP_DATE)
            entry.compress_type = zipfile.ZIP_DEFLATED
            archive.writestr(entry, text.encode())
    return buffer.getvalue()


def add(parent: Element, tag: str, content: object = None, /, **attributes: str) -> Element:
    """Add an element with text."""
    child = SubElement(parent, tag, attributes)
    if content is not None:
        child.text = str(content)
    return child


# --- head -------------------------------------------------------------------------------------


def identification(root: Element, song: Song) -> None:
    """Add who wrote the file, and what only the chart can say."""
    element = add(root, "identification")
    add(add(element, "encoding"), "software", "groove")
    fields = add(element, "miscellaneous")
    for name, text in chart_fields(song).items():
        add(fields, "miscellaneous-field", text, name=name)


def chart_fields(song: Song) -> Mapping[str, str]:
    """Return what travels as text: the whole chart, and its settings one by one."""
    settings = song.settings
    pushes = sum(span.pushes > 0 for s in song.sections for bar in s.bars for span in bar.chords)
    fields = {
        "form": form_text(song),
        "feel": settings.feel.name if settings.feel else "",
        "fills": str(settings.fills or ""),
        "swing": str(settings.swing or ""),
        "seed": "" if settings.seed is None else str(settings.seed),
        "pushes": str(pushes or ""),
        CHART_FIELD: write_chart(song),
    }
    return {name: text for name, text in fields.items() if text}


def used_drums(score: Score) -> tuple[int, ...]:
    """Return the drum keys of a part, none for other parts."""
    if score.part is not Part.DRUMS:
        return ()
    return tuple(sorted({head.note.pitch for _, _, head in score.heads()}))


def part_list(root: Element, score: Score, drums: tuple[int, ...]) -> None:
    """Add the part with its instruments; programs and drum keys count from 1 here."""
    part = add(add(root, "part-list"), "score-part", id=PART_ID)
    name = PART_NAMES[score.part]
    add(part, "part-name", name)
    printed = {drum.key: drum.printed for drum in DRUM_TABLE}
    instruments = [(f"{PART_ID}-I{key}", printed.get(key, str(key)), key) for key in drums]
    instruments = instruments or [(f"{PART_ID}-I1", name, 0)]
    for ident, label, _ in instruments:
        add(add(part, "score-instrument", id=ident), "instrument-name", label)
    for ident, _, key in instruments:
        midi = add(part, "midi-instrument", id=ident)
        add(midi, "midi-channel", 10 if drums else 1)
        add(midi, "midi-program", score.program + 1)
        if drums:
            add(midi, "midi-unpitched", key + 1)


# --- measures ---------------------------------------------------------------------------------


def score_divisions(score: Score) -> int:
    """Return the fewest divisions of a quarter on which every value and chord falls."""
    ticks = {TICKS_PER_QUARTER}
    for measure in score.measures:
        ticks |= {tick for tick, _ in measure.chords} | {tempo.tick for tempo in measure.tempi}
        ticks |= {e.value.ticks for voice in measure.voices for e in voice.events}
    return TICKS_PER_QUARTER // gcd(*ticks)


class PartWriter:
    """Writes the measures of one part."""

    def __init__(self, score: Score, *, fingers: bool, pluck: bool) -> None:
        """Find the divisions, and whether there is a tab staff."""
        self.score = score
        self.fingers = fingers
        self.pluck = pluck
        self.divisions = score_divisions(score)
        self.ticks_per_division = TICKS_PER_QUARTER // self.divisions
        self.has_tab = has_tab(score)
        self.octave = 1 if score.part is Part.BASS else 0

    def measure(self, part: Element, measure: Measure, *, is_last: bool) -> None:
        """Add a measure."""
        is_pickup = measure.number == 0
        element = add(part, "measure", number=str(measure.number))
        if is_pickup:
            element.set("implicit", "yes")
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

    def amount(self, ticks: int) -> int:
        """Return ticks as divisions."""
        return ticks // self.ticks_per_division

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

    # --- notes ---

    def voice(self, element: Element, voice: Voice, chords: list[tuple[int, str]]) -> None:
        """Add a voice, each chord symbol before the value in which it falls."""
        for event in voice.events:
            while chords and chords[0][0] < event.value.end:
                tick, symbol = chords.pop(0)
                self.harmony(element, symbol, tick - event.value.start)
            self.event(element, event, voice, is_tab=False)

    def tab(self, element: Element, voice: Voice) -> None:
        """Add the tab staff's copy of the voice."""
        for event in voice.events:
            self.event(element, event, voice, is_tab=True)

    def event(self, element: Element, event: Event, voice: Voice, *, is_tab: bool) -> None:
        """Add a rest, a note, or a chord."""
        if not event.heads:
            note = add(element, "note")
            if is_tab:
                note.set("print-object", "no")
            rest = add(note, "rest")
            if event.value.base == 0:
                rest.set("measure", "yes")
            self.timing(note, event, voice, None, is_tab=is_tab)
        for index, head in enumerate(event.heads):
            self.head(element, event, voice, head, is_tab=is_tab, joins=index > 0)

    def head(
        self,
        element: Element,
        event: Event,
        voice: Voice,
        head: Head,
        *,
        is_tab: bool,
        joins: bool,
    ) -> None:
        """Add one head."""
        note = add(element, "note", id=f"tab-{head.id}" if is_tab else head.id)
        note.set("dynamics", f"{head.note.velocity * 100 / FORTE_VELOCITY:.2f}")
        if joins:
            add(note, "chord")
        self.pitch(note, head.pitch)
        self.timing(note, event, voice, head, is_tab=is_tab)
        self.notations(note, event, head, is_tab=is_tab, joins=joins)
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
        add(element, "octave", pitch.octave + self.octave)

    def timing(
        self, note: Element, event: Event, voice: Voice, head: Head | None, *, is_tab: bool
    ) -> None:
        """Add what a note or rest is, in the order of the schema: duration to beams."""
        value = event.value
        add(note, "duration", self.amount(value.ticks))
        if head:
            self.sound(note, head)
        add(note, "voice", TAB_VOICE if is_tab else voice.number)
        self.value(note, value, head if not is_tab else None)
        if head and (is_tab or voice.stem):
            add(note, "stem", "none" if is_tab else voice.stem)
        if head and head.notehead != "normal":
            add(note, "notehead", head.notehead)
        if self.has_tab or self.score.staves > 1:
            add(note, "staff", 2 if is_tab else voice.staff)
        if head and not is_tab:
            for number, word in enumerate(value.beams, start=1):
                add(note, "beam", word, number=str(number))

    def sound(self, note: Element, head: Head) -> None:
        """Add a note's ties, and the drum that it is."""
        if head.tied_in:
            add(note, "tie", type="stop")
        if head.tied_out:
            add(note, "tie", type="start")
        if self.score.part is Part.DRUMS:
            add(note, "instrument", id=f"{PART_ID}-I{head.note.pitch}")

    def value(self, note: Element, value: Value, head: Head | None) -> None:
        """Add type, dots, the accidental of ``head`` and the tuplet."""
        if value.base:
            add(note, "type", TYPES[value.base])
        for _ in range(value.dots):
            add(note, "dot")
        if head and head.shows_accidental:
            add(note, "accidental", ACCIDENTALS[head.pitch.alter])
        if value.tuplet:
            modification = add(note, "time-modification")
            add(modification, "actual-notes", value.tuplet.actual)
            add(modification, "normal-notes", value.tuplet.normal)
            add(modification, "normal-type", TYPES[value.tuplet.base])

    def notations(
        self, note: Element, event: Event, head: Head, *, is_tab: bool, joins: bool
    ) -> None:
        """Add ties, tuplet brackets, slides, string and fret, fingers and accents."""
        value = event.value
        found = Element("notations")
        if head.tied_in:
            add(found, "tied", type="stop")
        if head.tied_out:
            add(found, "tied", type="start")
        if not (is_tab or joins):
            if value.opens_tuplet:
                add(found, "tuplet", type="start", number="1")
            if value.closes_tuplet:
                add(found, "tuplet", type="stop", number="1")
        for ends, kind in ((head.slides_in, "stop"), (head.slides_out, "start")):
            if ends:
                add(found, "slide", type=kind, number="2" if is_tab else "1")
        self.technical(found, head, is_tab=is_tab)
        if event.has_accent and not is_tab:
            add(add(found, "articulations"), "accent")
        if len(found):
            note.append(found)

    def technical(self, notations: Element, head: Head, *, is_tab: bool) -> None:
        """Add string and fret on the tab; fingers and pluck letters, if asked for, above."""
        place = head.note.place
        if place is None or (head.tied_in and not is_tab):
            return
        technical = Element("technical")
        if is_tab:
            add(technical, "string", place.string)
            add(technical, "fret", place.fret)
        else:
            if self.fingers:
                add(technical, "fingering", place.finger)
            if self.pluck and place.pluck in PLUCKS:
                add(technical, "pluck", PLUCKS[place.pluck])
        if len(technical):
            notations.append(technical)

    def harmony(self, element: Element, symbol: str, offset_ticks: int) -> None:
        """Add a chord symbol."""
        harmony = add(element, "harmony")
        try:
            chord = parse_chord(symbol)
        except ValueError:
            add(add(harmony, "root"), "root-step", "C", text="")
            add(harmony, "kind", "none", text="N.C.")
            self.offset(harmony, offset_ticks)
            return
        named(harmony, "root", chord.root)
        kind = chord_kind(chord)
        add(harmony, "kind", kind.name, text=printed_suffix(chord.suffix))
        if chord.bass:
            named(harmony, "bass", chord.bass)
        for degree in kind.degrees:
            child = SubElement(harmony, "degree", {"print-object": "no"})
            add(child, "degree-value", degree.value)
            add(child, "degree-alter", degree.alter)
            add(child, "degree-type", degree.type)
        self.offset(harmony, offset_ticks)

    def offset(self, element: Element, ticks: int) -> None:
        """Add where inside the next value a chord stands."""
        if ticks:
            add(element, "offset", self.amount(ticks))
        if self.has_tab or self.score.staves > 1:
            add(element, "staff", 1)


def named(parent: Element, tag: str, pitch: SpelledPitch) -> None:
    """Add a chord's root or bass."""
    element = add(parent, tag)
    add(element, f"{tag}-step", pitch.letter)
    if pitch.accidental:
        add(element, f"{tag}-alter", pitch.accidental)


@lru_cache(maxsize=128)
def open_name(pitch: int) -> SpelledPitch:
    """Return an open string's name, as players of flat tunings say it."""
    fifths = pitch * 7 % 12
    return SpelledPitch(fifths - 12 if fifths > 5 else fifths)


def clefs(part: Part, *, has_tab: bool) -> Iterable[tuple[str, int]]:
    """Return the clefs of a part's staves: sign and line."""
    if part is Part.DRUMS:
        return (("percussion", 2),)
    if part is Part.KEYS:
        return (("G", 2), ("F", 4))
    return (("F", 4), ("TAB", 5)) if has_tab else (("F", 4),)


def has_tab(score: Score) -> bool:
    """Return whether a part has a tab staff: a bass whose notes are placed."""
    heads = [head for _, _, head in score.heads()]
    return score.part is Part.BASS and all(head.note.place for head in heads)


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
