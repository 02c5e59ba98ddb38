"""A part as MEI 5 (Music Encoding Initiative), as verovio draws it.

The ids of notes are those of the performance; their numbers on the tab have ``tab-`` before.
Lines are broken here (``sb``), by section and phrase.  Nearest to the staff stand the chord
symbols, and over them section, tempo and words side by side: verovio stacks what stands over a
staff by the kind of element, whatever its order, and puts only ``reh`` over ``harm``; so these are
one ``reh``.
"""

from collections.abc import Iterator
from fractions import Fraction
from itertools import groupby
from xml.sax.saxutils import escape, quoteattr

from groove.events import Part
from groove.sheet.finishing import FILLER, HEADING
from groove.sheet.kinds import printed_chord
from groove.sheet.lines import line_fillers, line_starts
from groove.sheet.mei_values import (
    articulations,
    duration,
    ending_key,
    key_attribute,
    slide_ends,
    tie_attribute,
)
from groove.sheet.options import Only, SheetOptions
from groove.sheet.rhythm import WHOLE_TICKS, Value
from groove.sheet.score import Event, Head, Measure, Score, TempoMark, Voice
from groove.sheet.spelling import StaffPitch
from groove.sheet.staves import has_tab, open_name
from groove.timing import Meter, microseconds_to_qpm

ACCIDS = {0: "n", 1: "s", -1: "f", 2: "x", -2: "ff"}
NOTE_SIGNS = {Fraction(1): "\ueca5", Fraction(3, 2): "\ueca5 \uecb7", Fraction(2): "\ueca3"}
"""The note that a tempo counts, as glyphs of SMuFL 1.4: metronome marks."""
HEAD_SHAPES = {"x": "x", "circle-x": "x", "triangle": "+", "diamond": "diamond"}
LOWEST_LINE = StaffPitch("E", 0, 4).line
"""The lowest line of the staff that drums stand on, which is read as in the treble clef."""
TAB_TEXT_PERCENT = 67
"""The size of text over a tab without a staff: verovio enlarges it by half as its lines."""
SECTION_PERCENT = 120
GAP = "\u2002\u2002"
"""Between the words over a bar: spaces that verovio does not trim."""


def mei_text(score: Score, options: SheetOptions, *, line_units: float, title: bool) -> str:
    """Return a part as MEI.

    ``line_units`` is the width of a line in half staff spaces, by which bars are shared out;
    ``title`` puts the title over the first page, and the tempo over its first bar; without it both
    are said elsewhere.
    """
    return "".join(MeiWriter(score, options, line_units, title=title).document())


class MeiWriter:
    """Writes one part."""

    def __init__(
        self, score: Score, options: SheetOptions, line_units: float, *, title: bool
    ) -> None:
        """Decide which staves there are, and where lines begin and end."""
        self.score = score
        self.has_title = title
        self.options = options
        tab = has_tab(score) and options.only is not Only.NOTATION
        self.with_tab = tab
        self.with_notes = not (tab and options.only is Only.TAB)
        self.octave = 1 if score.part is Part.BASS else 0
        self.breaks = line_starts(score.measures, line_units)
        # A screen's lines are as wide as the screen.
        is_endless = options.paper.is_endless
        self.fillers = {} if is_endless else line_fillers(score.measures, line_units)
        self.slides = slide_ends(score)

    # --- head ---

    def document(self) -> Iterator[str]:
        """Yield the whole document in pieces."""
        name = escape(self.score.title)
        yield '<?xml version="1.0" encoding="UTF-8"?>'
        yield '<mei xmlns="http://www.music-encoding.org/ns/mei" meiversion="5.0"><meiHead>'
        yield f"<fileDesc><titleStmt><title>{name}</title></titleStmt><pubStmt/></fileDesc>"
        yield "</meiHead><music><body><mdiv><score>"
        yield self.score_def()
        yield "<section>"
        runs = groupby(self.score.measures, key=ending_key)
        for (label, _), run in runs:
            measures = list(run)
            if label:
                yield f"<ending n={quoteattr(label)}>"
            for measure in measures:
                yield from self.measure(measure)
                if not label:
                    yield from self.filler(measure)
            if label:
                yield "</ending>"
                yield from self.filler(measures[-1])
        yield "</section></score></mdiv></body></music></mei>"

    def score_def(self) -> str:
        """Return key, meter and staves at the start."""
        first = self.score.measures[0]
        head = ""
        if self.has_title:
            name = escape(self.score.title)
            head = (
                '<pgHead func="first"><rend halign="center" valign="top" fontsize="x-large" '
                f'fontweight="bold">{name}</rend></pgHead>'
            )
        key = key_attribute(first.key_fifths)
        return f'<scoreDef key.sig="{key}">{head}<staffGrp {self.group()}>' + (
            "".join(self.staff_defs(first.meter)) + "</staffGrp></scoreDef>"
        )

    def group(self) -> str:
        """Return how the staves are held together."""
        if self.score.part is Part.KEYS:
            return 'symbol="brace" bar.thru="true"'
        return 'symbol="bracket" bar.thru="true"' if self.with_tab and self.with_notes else ""

    def staff_defs(self, meter: Meter) -> Iterator[str]:
        """Yield the staves with their clefs and meters."""
        shown = f'<meterSig count="{meter.count}" unit="{meter.unit}"/>'
        if self.score.part is Part.DRUMS:
            yield f'<staffDef n="1" lines="5"><clef shape="perc" line="3"/>{shown}</staffDef>'
        elif self.score.part is Part.KEYS:
            yield f'<staffDef n="1" lines="5"><clef shape="G" line="2"/>{shown}</staffDef>'
            yield f'<staffDef n="2" lines="5"><clef shape="F" line="4"/>{shown}</staffDef>'
        elif self.with_notes:
            octave = ' trans.diat="-7" trans.semi="-12"' if self.octave else ""
            yield f'<staffDef n="1" lines="5"{octave}>'
            yield f'<clef shape="F" line="4"/>{shown}</staffDef>'
        if self.with_tab:
            yield self.tab_def(meter)

    @property
    def tab_staff(self) -> int:
        """The number of the tab staff."""
        return 2 if self.with_notes else 1

    def tab_def(self, meter: Meter) -> str:
        """Return the tab staff with its strings, the highest as course 1."""
        tuning = self.score.tuning
        visible = ' visible="false"' if self.with_notes else ""
        courses = []
        for string in reversed(tuning.strings):
            pitch = tuning.open_pitch(string)
            name = open_name(pitch)
            accid = f' accid="{ACCIDS[name.accidental]}"' if name.accidental else ""
            octave = (pitch - name.accidental) // 12 - 1
            courses.append(
                f'<course n="{string}" pname="{name.letter.lower()}" oct="{octave}"{accid}/>'
            )
        return (
            f'<staffDef n="{self.tab_staff}" lines="{tuning.string_count}" '
            f'notationtype="tab.guitar"><clef shape="TAB" line="5"/>'
            f'<meterSig count="{meter.count}" unit="{meter.unit}"{visible}/>'
            f"<tuning>{''.join(courses)}</tuning></staffDef>"
        )

    # --- measures ---

    def measure(self, measure: Measure) -> Iterator[str]:
        """Yield a measure, with a line break and changes before it."""
        is_first = measure is self.score.measures[0]
        if measure.number in self.breaks and not is_first:
            yield "<sb/>"
        if not is_first and (measure.shows_key or measure.shows_meter):
            yield self.change(measure)
        short = ' metcon="false"' if measure.number == 0 else ""
        yield f'<measure xml:id="measure-{measure.number}" n="{measure.written_bar}"{short}'
        yield f"{self.lines(measure)}>"
        if measure.written_bar == 1 and measure.number in self.breaks and not is_first:
            # A number 1 is left out by verovio, but bar 1 may come again.
            yield "<mNum>1</mNum>"
        yield from self.staves(measure)
        yield from self.above(measure)
        yield from self.marks(measure)
        yield "</measure>"

    def filler(self, measure: Measure) -> Iterator[str]:
        """Yield what takes the place of the bars that a short line lacks, to be taken out again.

        Spaces in the rhythm of the line's own bars, so that these are as wide as in a full line.
        """
        for number, like in enumerate(self.fillers.get(measure.number, ())):
            yield f'<measure xml:id="{FILLER}{measure.number}-{number}" right="invis">'
            yield '<staff n="1"><layer n="1">'
            for event in like.voices[0].events:
                value = event.value
                yield f"<space {duration(value)}/>" if value.base else "<mSpace/>"
            yield "</layer></staff></measure>"

    def change(self, measure: Measure) -> str:
        """Return a change of key or meter."""
        key = f' key.sig="{key_attribute(measure.key_fifths)}"' if measure.shows_key else ""
        if not measure.shows_meter:
            return f"<scoreDef{key}/>"
        meter = measure.meter
        staves = []
        count = self.score.staves + (self.with_tab and self.with_notes)
        for number in range(1, count + 1):
            hidden = self.with_tab and self.with_notes and number == self.tab_staff
            visible = ' visible="false"' if hidden else ""
            sign = f'<meterSig count="{meter.count}" unit="{meter.unit}"{visible}/>'
            staves.append(f'<staffDef n="{number}">{sign}</staffDef>')
        return f"<scoreDef{key}><staffGrp>{''.join(staves)}</staffGrp></scoreDef>"

    def lines(self, measure: Measure) -> str:
        """Return the bar lines of a measure that are not plain."""
        left = ' left="rptstart"' if measure.opens_repeat else ""
        right = ""
        if measure.passes:
            right = ' right="rptend"'
        elif measure is self.score.measures[-1]:
            right = ' right="end"'
        elif measure.ends_section:
            right = ' right="dbl"'
        return left + right

    def staves(self, measure: Measure) -> Iterator[str]:
        """Yield the staves of a measure."""
        if self.with_notes:
            for staff, voices in groupby(measure.voices, key=lambda voice: voice.staff):
                yield f'<staff n="{staff}">'
                for number, voice in enumerate(voices, start=1):
                    yield f'<layer n="{number}">'
                    yield from self.nested(voice, is_tab=False)
                    yield "</layer>"
                yield "</staff>"
        if self.with_tab:
            yield f'<staff n="{self.tab_staff}"><layer n="1">'
            yield from self.nested(measure.voices[0], is_tab=True)
            yield "</layer></staff>"

    def nested(self, voice: Voice, *, is_tab: bool) -> Iterator[str]:
        """Yield the values of a voice inside their tuplets and beams."""
        bare = is_tab and self.with_notes
        beam: int | None = None
        for event in voice.events:
            value = event.value
            if beam is not None and value.beam_group != beam:
                yield "</beam>"
                beam = None
            if value.opens_tuplet and value.tuplet:
                shown = ' num.visible="false" bracket.visible="false"' if bare else ""
                ratio = f'num="{value.tuplet.actual}" numbase="{value.tuplet.normal}"'
                yield f"<tuplet {ratio}{shown}>"
            if value.beam_group is not None and beam is None and not bare:
                beam = value.beam_group
                yield "<beam>"
            yield self.tab_event(event) if is_tab else self.note_event(event, voice)
            if value.closes_tuplet:
                if beam is not None:
                    yield "</beam>"
                    beam = None
                yield "</tuplet>"
        if beam is not None:
            yield "</beam>"

    def note_event(self, event: Event, voice: Voice) -> str:
        """Return a rest, a note or a chord."""
        value = event.value
        if not event.heads:
            return self.rest(value)
        stem = f' stem.dir="{voice.stem}"' if voice.stem else ""
        accent = f' artic="{articulation}"' if (articulation := articulations(event)) else ""
        length = duration(value)
        if len(event.heads) == 1:
            return self.note(event.heads[0], f"{length}{stem}{accent}")
        notes = "".join(self.note(head, "") for head in event.heads)
        return f"<chord {length}{stem}{accent}>{notes}</chord>"

    def rest(self, value: Value) -> str:
        """Return a rest."""
        return "<mRest/>" if value.base == 0 else f"<rest {duration(value)}/>"

    def note(self, head: Head, attributes: str) -> str:
        """Return one head."""
        pitch = head.pitch
        accid = ""
        if head.shows_accidental:
            accid = f' accid="{ACCIDS[pitch.alter]}"'
        elif pitch.alter:
            accid = f' accid.ges="{ACCIDS[pitch.alter]}"'
        shape = HEAD_SHAPES.get(head.notehead)
        shape_text = f' head.shape="{shape}"' if shape else ""
        tie = tie_attribute(head)
        if self.score.part is Part.DRUMS:
            place = pitch.line - LOWEST_LINE
            return f'<note xml:id="{head.id}" {attributes} loc="{place}"{shape_text}{tie}/>'
        name = pitch.letter.lower()
        return (
            f'<note xml:id="{head.id}" {attributes} pname="{name}" '
            f'oct="{pitch.octave + self.octave}"{accid}{shape_text}{tie}/>'
        )

    def tab_event(self, event: Event) -> str:
        """Return a value of the tab: numbers, or nothing for a rest and what is held."""
        value = event.value
        if not event.heads and not self.with_notes:
            return self.rest(value)
        if value.base == 0:
            return "<mSpace/>"
        heads = [] if event.heads and event.heads[0].tied_in else event.heads
        rhythm = "" if self.with_notes or not event.heads else "<tabDurSym/>"
        notes = "".join(
            f'<note xml:id="tab-{head.id}" tab.course="{head.note.place.string}" '
            f'tab.fret="{head.note.place.fret}"/>'
            for head in heads
            if head.note.place
        )
        return f"<tabGrp {duration(value)}>{rhythm}{notes}</tabGrp>"

    # --- what stands above and below ---

    def above(self, measure: Measure) -> Iterator[str]:
        """Yield section, tempo, words and chords."""
        heading = GAP.join(self.heading(measure))
        if heading:
            ident = f' xml:id="{HEADING}{measure.number}"' if measure.heading else ""
            yield (
                f'<reh{ident} staff="1" tstamp="1" place="above"><rend halign="left">'
                f"{heading}</rend></reh>"
            )
        unit_ticks = WHOLE_TICKS // measure.meter.unit
        for onset in measure.chords:
            yield (
                f'<harm staff="1" tstamp="{1 + onset.tick / unit_ticks:g}" place="above">'
                f"{self.sized(printed_chord(onset.chord))}</harm>"
            )
        if measure.passes > 2:
            end = measure.meter.count + 1
            words = self.sized(f"{measure.passes} times", style="italic")
            yield (
                f'<reh staff="1" tstamp="{end}" place="above"><rend halign="right">'
                f"{words}</rend></reh>"
            )

    def sized(
        self, text: str, percent: int = 100, *, weight: str = "normal", style: str = ""
    ) -> str:
        """Return a text in its size, which does not depend on the staff under it."""
        if not self.with_notes:
            percent = percent * TAB_TEXT_PERCENT // 100
        slant = f' fontstyle="{style}"' if style else ""
        return f'<rend fontsize="{percent}%" fontweight="{weight}"{slant}>{escape(text)}</rend>'

    def heading(self, measure: Measure) -> Iterator[str]:
        """Yield what a bar is headed with: section, tempo, words to the band."""
        if measure.heading:
            yield self.sized(measure.heading, SECTION_PERCENT, weight="bold")
        for tempo in self.told_tempi(measure):
            yield self.tempo(tempo, measure.meter)
        if measure.words:
            yield self.sized(", ".join(measure.words), style="italic")

    def told_tempi(self, measure: Measure) -> Iterator[TempoMark]:
        """Yield the tempi over a bar; that of a pickup stands beside the heading after it."""
        first = self.score.measures[0]
        if measure.number == 0:
            return
        before = [first] if measure is not first and measure.number == 1 else []
        for bar in [*before, measure]:
            if bar is not first or self.has_title:
                yield from (tempo for tempo in bar.tempi if tempo.is_shown)

    def tempo(self, tempo: TempoMark, meter: Meter) -> str:
        """Return a metronome mark."""
        unit = meter.tempo_unit_quarters
        bpm = microseconds_to_qpm(tempo.microseconds) / float(unit)
        percent = 100 if self.with_notes else TAB_TEXT_PERCENT
        return (
            f'<rend fontsize="{percent}%"><rend glyph.auth="smufl">{NOTE_SIGNS[unit]}</rend></rend>'
            + self.sized(f"\u00a0= {bpm:.3g}")
        )

    def slide(self, head: Head) -> Iterator[str]:
        """Yield the lines of a slide, on the staff and on the tab, to the next note."""
        staves = ["", "tab-"][not self.with_notes : 1 + self.with_tab]
        for staff in staves:
            yield (
                f'<gliss xml:id="slide-{staff}{head.id}" startid="#{staff}{head.id}" '
                f'endid="#{staff}{self.slides[head.id]}" lform="solid"/>'
            )

    def marks(self, measure: Measure) -> Iterator[str]:
        """Yield fingers, pluck letters and slides."""
        for voice in measure.voices:
            for head in (head for event in voice.events for head in event.heads):
                if head.id in self.slides:
                    yield from self.slide(head)
                place = head.note.place
                if place is None or head.tied_in or not self.with_notes:
                    continue
                if self.options.fingers and place.finger:
                    yield f'<fing startid="#{head.id}" place="above">{place.finger}</fing>'
                if self.options.pluck and place.pluck:
                    yield (
                        f'<fing startid="#{head.id}" place="below"><rend fontstyle="italic" '
                        f'fontweight="normal">{place.pluck}</rend></fing>'
                    )
