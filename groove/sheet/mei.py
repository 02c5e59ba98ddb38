"""A part as MEI 5 (Music Encoding Initiative), as verovio draws it.

Why not the part's MusicXML, which verovio reads too: read from there it has no plucking letters, no
rhythm over a tab that stands alone, doubles what is altered in a chord's name and lets nothing
stand side by side over the staff.  Both are written from one score, with the signs of one table.

The ids of notes are those of the performance; their numbers on the tab have ``tab-`` before.
Lines are broken here (``sb``), by section and phrase.  Nearest to the staff stand the chord
symbols, and over them section, tempo and words side by side: verovio stacks what stands over a
staff by the kind of element, whatever its order, and puts only ``reh`` over ``harm``; so these are
one ``reh``.
"""

from collections.abc import Collection, Iterator
from itertools import groupby
from math import ceil
from xml.etree.ElementTree import Element

from groove.events import Part
from groove.sheet.elements import add, element_text
from groove.sheet.facts import NO_FACTS, SheetFacts
from groove.sheet.finishing import FILLER, HEADING, WORDS_ID
from groove.sheet.form_words import FORM_MM, form_lines
from groove.sheet.kinds import printed_chord
from groove.sheet.lead_signs import wrapped
from groove.sheet.lettering import framed
from groove.sheet.line_breaks import (
    PAPER_VALUE_UNITS,
    SCREEN_VALUE_UNITS,
    Room,
    line_fillers,
    line_starts,
    sign_measures,
    words_units,
)
from groove.sheet.mei_notes import ID, MeiNotes, add_value, tstamp
from groove.sheet.options import SheetOptions
from groove.sheet.print_pages import content_mm
from groove.sheet.score import Measure, Score, Staff, TempoMark
from groove.sheet.signs import ACCIDENTALS, BEAT_UNITS, HAIRPINS, BarLineSign
from groove.sheet.swung import SwingMark
from groove.timing import Meter

NAMESPACE = "http://www.music-encoding.org/ns/mei"
LINE_BREAK, PAGE_BREAK = "<sb />", "<pb />"
TAB_TEXT_PERCENT = 67
"""The size of text over a tab without a staff: verovio enlarges it by half as its lines."""
SECTION_PERCENT, SIGN_PERCENT = 120, 150
SLASH_ID, SIM = "slash-", "sim."
_GAP = "\u2002\u2002"
"""Between the words over a bar: spaces that verovio does not trim."""


def mei_text(
    score: Score,
    options: SheetOptions,
    *,
    line_units: float,
    title: bool,
    facts: SheetFacts = NO_FACTS,
    only: Collection[int] | None = None,
) -> str:
    """Return a part as MEI.

    ``line_units`` is the width of a line in half staff spaces, by which bars are shared out;
    ``title`` puts the title and the ``facts`` over the first page, and the tempo over its first
    bar; without it they are said elsewhere.  Lines are parted by ``LINE_BREAK``; a ``PAGE_BREAK``
    in the place of one begins a page.  ``only`` are the numbers of the measures that are written,
    where not all are: whole lines, the first among them.
    """
    mei = _MeiWriter(score, options, line_units, title=title, facts=facts).document(only)
    return '<?xml version="1.0" encoding="UTF-8"?>' + element_text(mei)


def line_room(options: SheetOptions, line_units: float) -> Room:
    """Return the room of a line of so many half staff spaces.

    A screen's lines are as wide as the screen.
    """
    value = SCREEN_VALUE_UNITS if options.paper.is_endless else PAPER_VALUE_UNITS
    return Room(line_units, value)


class _MeiWriter(MeiNotes):
    """Writes one part."""

    def __init__(
        self,
        score: Score,
        options: SheetOptions,
        line_units: float,
        *,
        title: bool,
        facts: SheetFacts,
    ) -> None:
        """Decide where lines begin and end."""
        super().__init__(score, options)
        self.has_title = title
        self.facts = facts
        room = line_room(options, line_units)
        self.breaks = line_starts(score.measures, room)
        self.signs = sign_measures(score.measures, self.breaks)
        self.fillers = {} if options.paper.is_endless else line_fillers(score.measures, room)
        self.hairpins = {hairpin.first.number: hairpin for hairpin in score.hairpins()}

    # --- head ---

    def document(self, only: Collection[int] | None) -> Element:
        """Return the whole document, or the measures of some numbers."""
        root = Element("mei", {"xmlns": NAMESPACE, "meiversion": "5.0"})
        description = add(add(root, "meiHead"), "fileDesc")
        add(add(description, "titleStmt"), "title", self.score.title)
        add(description, "pubStmt")
        score = add(add(add(add(root, "music"), "body"), "mdiv"), "score")
        self.score_definition(score)
        section = add(score, "section")
        for ending, run in groupby(self.score.measures, key=lambda each: each.ending_label):
            parent = add(section, "ending", n=ending) if ending else section
            for measure in run:
                if only is None or measure.number in only:
                    self.measure(section, parent, measure)
        return root

    def score_definition(self, score: Element) -> None:
        """Add key, meter and staves at the start."""
        first = self.score.measures[0]
        definition = add(score, "scoreDef", **{"key.sig": _key(first.key.signature_fifths)})
        if self.has_title:
            place = {"halign": "center", "valign": "top", "fontsize": "x-large"}
            head = add(definition, "pgHead", func="first")
            add(head, "rend", self.score.title, fontweight="bold", **place)
            width, _ = content_mm(self.options.paper)
            facts = wrapped(self.facts.untimed, FORM_MM, width)
            for line in (*filter(None, facts), *form_lines(self.score.form, width)):
                add(head, "rend", line, halign="center", valign="bottom", fontsize="small")
        group = add(definition, "staffGrp")
        if len(self.staves) > 1:
            group.set("symbol", "brace" if self.score.part is Part.KEYS else "bracket")
            group.set("bar.thru", "true")
        for number, staff in enumerate(self.staves, start=1):
            self.staff_definition(group, number, staff, first.meter)

    def staff_definition(self, group: Element, number: int, staff: Staff, meter: Meter) -> None:
        """Add a staff with its clef, meter and strings."""
        definition = add(group, "staffDef", n=number, lines=staff.lines)
        if staff.octaves_up:
            definition.set("trans.diat", str(-7 * staff.octaves_up))
            definition.set("trans.semi", str(-12 * staff.octaves_up))
        if staff.strings:
            definition.set("notationtype", "tab.guitar")
        add(definition, "clef", shape=staff.clef.sign.mei, line=staff.clef.line)
        self.meter(definition, staff, meter)
        if staff.strings:
            tuning = add(definition, "tuning")
            for course, pitch in reversed(list(enumerate(reversed(staff.strings), start=1))):
                accid = ACCIDENTALS[pitch.alter].mei if pitch.alter else None
                name = pitch.letter.lower()
                add(tuning, "course", n=course, pname=name, oct=pitch.octave, accid=accid)

    def meter(self, parent: Element, staff: Staff, meter: Meter) -> None:
        """Add a meter, once for a staff with its tab."""
        hidden = "false" if staff.strings and self.bare_tab else None
        add(parent, "meterSig", count=meter.count, unit=meter.unit, visible=hidden)

    # --- measures ---

    def measure(self, section: Element, parent: Element, measure: Measure) -> None:
        """Add a measure, with a line break and changes before it, and what fills its line up."""
        is_first = measure is self.score.measures[0]
        begins_line = measure.number in self.breaks and not is_first
        if begins_line:
            add(parent, "sb")
        if not is_first and (measure.shows_key or measure.shows_meter):
            self.change(parent, measure)
        element = add(
            parent,
            "measure",
            **{ID: f"{WORDS_ID if measure.as_before else 'measure-'}{measure.number}"},
            n=measure.written_bar,
            metcon="false" if measure.is_pickup else None,
            left=_bar_line(measure.left_line),
            right=_bar_line(measure.right_line),
        )
        if measure.as_before:
            self.words(element, measure)
        else:
            self.content(element, measure, begins_line=begins_line)
        if measure.ending is None or measure.ending.closes:
            self.filler(section, measure)

    def content(self, element: Element, measure: Measure, *, begins_line: bool) -> None:
        """Add what stands in a measure, or the sign that stands for it."""
        if measure.shows_number or (measure.written_bar == 1 and begins_line):
            # A number 1 is left out by verovio, but bar 1 may come again.
            add(element, "mNum", measure.written_bar)
        if measure.number in self.signs:
            self.sign(element, f"mRpt{measure.like_before if measure.like_before > 1 else ''}")
        elif measure.rest_bars:
            self.sign(element, "multiRest", num=measure.rest_bars)
        elif measure.is_slashed:
            self.slashes(element, measure)
        else:
            self.measure_staves(element, measure)
            self.band_signs(element, measure)
            self.marks(element, measure)
        self.above(element, measure)
        self.dynamics(element, measure)

    def sign(self, element: Element, tag: str, **attributes: object) -> None:
        """Add a sign that stands for what a measure has on each staff."""
        for number, staff in enumerate(self.staves, start=1):
            layer = add(add(element, "staff", n=number), "layer", n=1)
            hidden = "false" if (staff.strings and self.bare_tab) or tag == "mRpt" else None
            add(layer, tag, **attributes, **{"num.visible": hidden})

    def slashes(self, element: Element, measure: Measure) -> None:
        """Add a slash a beat on the middle line, and nothing on the tab."""
        for number, staff in enumerate(self.staves, start=1):
            layer = add(add(element, "staff", n=number), "layer", n=1)
            if staff.strings:
                add(layer, "mSpace")
                continue
            for beat in range(measure.meter.beats_per_bar):
                self.slash(layer, f"{SLASH_ID}{measure.number}-{beat}", measure.meter)

    def words(self, element: Element, measure: Measure) -> None:
        """Add a measure of spaces for words: they are put there when the page is finished."""
        element.set("label", ", ".join(measure.as_before))
        values = ceil(words_units(measure) / PAPER_VALUE_UNITS)
        for number, _ in enumerate(self.staves, start=1):
            layer = add(add(element, "staff", n=number), "layer", n=1)
            for _ in range(values):
                add(layer, "space", dur=16)

    def filler(self, section: Element, measure: Measure) -> None:
        """Add what takes the place of the bars that a short line lacks, to be taken out again.

        Spaces in the rhythm of the line's own bars, so that these are as wide as in a full line.
        """
        for number, like in enumerate(self.fillers.get(measure.number, ())):
            ident = f"{FILLER}{measure.number}-{number}"
            element = add(section, "measure", **{ID: ident}, right="invis")
            layer = add(add(element, "staff", n=1), "layer", n=1)
            for event in like.voices[0].events:
                add_value(layer, event.value, "space", "mSpace")

    def change(self, parent: Element, measure: Measure) -> None:
        """Add a change of key or meter."""
        key = _key(measure.key.signature_fifths) if measure.shows_key else None
        definition = add(parent, "scoreDef", **{"key.sig": key})
        if measure.shows_meter:
            group = add(definition, "staffGrp")
            for number, staff in enumerate(self.staves, start=1):
                self.meter(add(group, "staffDef", n=number), staff, measure.meter)

    def measure_staves(self, element: Element, measure: Measure) -> None:
        if self.with_notes:
            for number, voices in groupby(measure.voices, key=lambda voice: voice.staff):
                staff = add(element, "staff", n=number)
                for layer, voice in enumerate(voices, start=1):
                    self.values(add(staff, "layer", n=layer), voice, is_tab=False)
        if self.with_tab:
            staff = add(element, "staff", n=len(self.staves))
            self.values(add(staff, "layer", n=1), measure.voices[0], is_tab=True)

    # --- what stands above and below ---

    def above(self, element: Element, measure: Measure) -> None:
        """Add section, tempo, words and chords."""
        pieces = list(self.heading(measure))
        if pieces:
            ident = f"{HEADING}{measure.number}" if measure.heading else None
            text = self.over(element, "reh", measure, 0, **{ID: ident})
            line = add(text, "rend", halign="left")
            for piece in pieces:
                piece.tail = _GAP if piece is not pieces[-1] else None
                line.append(piece)
        for onset in measure.chords:
            symbol = self.over(element, "harm", measure, onset.tick)
            symbol.append(self.sized(printed_chord(onset.chord)))
        for sign in measure.jumps:
            if sign.stands_at_head:
                func = sign.value.casefold()
                add(element, "repeatMark", func=func, staff=1, tstamp=1, place="above")
        if measure.end_words:
            text = self.over(element, "reh", measure, measure.meter_ticks)
            words = self.sized(", ".join(measure.end_words), fontstyle="italic")
            add(text, "rend", halign="right").append(words)

    def dynamics(self, element: Element, measure: Measure) -> None:
        """Add a dynamic, and a hairpin up to the end of its last measure."""
        if measure.dynamic:
            add(element, "dynam", measure.dynamic.value, staff=1, tstamp=1, place="below")
        if hairpin := self.hairpins.get(measure.number):
            last = hairpin.last
            end = f"{last.number - measure.number}m+{last.meter.count + 1}"
            form = HAIRPINS[hairpin.swell].mei
            add(element, "hairpin", form=form, staff=1, tstamp=1, tstamp2=end, place="below")

    def over(
        self, element: Element, tag: str, measure: Measure, tick: int, **more: str | None
    ) -> Element:
        """Add what stands over a tick of a measure."""
        return add(element, tag, staff=1, tstamp=tstamp(measure, tick), place="above", **more)

    def sized(
        self,
        text: str,
        percent: int = 100,
        *,
        fontweight: str = "normal",
        **font: str,
    ) -> Element:
        """Return a text in its size, which does not depend on the staff under it."""
        if not self.with_notes:
            percent = percent * TAB_TEXT_PERCENT // 100
        rend = Element("rend", {"fontsize": f"{percent}%", "fontweight": fontweight} | font)
        rend.text = text
        return rend

    def heading(self, measure: Measure) -> Iterator[Element]:
        """Yield what a bar is headed with: section, tempo, words to the band."""
        if measure.letter:
            yield self.sized(framed(measure.letter), SECTION_PERCENT, fontweight="bold")
        if measure.heading:
            yield self.sized(measure.heading, SECTION_PERCENT, fontweight="bold")
        if self.has_title or measure.number > 1:
            yield from (self.tempo(tempo) for tempo in measure.tempi if tempo.is_shown)
        if measure.swing_mark:
            yield self.swing(measure.swing_mark)
        told = (*measure.words, SIM) if measure.begins_sim else measure.words
        if told:
            yield self.sized(", ".join(told), fontstyle="italic")

    def tempo(self, tempo: TempoMark) -> Element:
        line = Element("rend")
        line.append(self.sized(BEAT_UNITS[tempo.unit].sign))
        line.append(self.sized(f"\u00a0= {tempo.per_minute}"))
        return line

    def swing(self, mark: SwingMark) -> Element:
        """Return what is said of a swing: its word, its sign, its share."""
        line = Element("rend")
        for text in filter(None, (mark.word, mark.sign, mark.share)):
            line.append(self.sized(text, SIGN_PERCENT if text == mark.sign else 100))
            line[-1].tail = "\u2002" if text is not (mark.share or mark.sign) else None
        return line


def _key(fifths: int) -> str:
    """Return a key signature as MEI has it: ``2s``, ``3f``, ``0``."""
    return f"{abs(fifths)}{'s' if fifths > 0 else 'f'}" if fifths else "0"


def _bar_line(line: BarLineSign) -> str | None:
    """Return a bar line that is not plain."""
    return None if line is BarLineSign.PLAIN else line.value.mei
