"""A part as it is written: measures with voices of values, and what stands above them.

Ticks count from the bar line.  Everything that a page needs is here, so that MusicXML, MEI and the
table of times are made from the same values and carry the same ids.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction

from msgspec import Struct

from groove.chart.model import Loudness, Swell
from groove.events import C_MAJOR, ChordOnset, Note, Part, Place, Touch
from groove.sheet.rhythm import Value
from groove.sheet.signs import Articulation, BarLineSign, Clef, Joint, JumpSign, Notehead
from groove.sheet.spelling import StaffPitch
from groove.sheet.swung import SwingMark, swing_mark
from groove.theory.keys import Key
from groove.timing import Meter, Swing, microseconds_to_qpm, quarters_to_ticks

TAB = "tab-"
"""How the id of a number on the tab begins; then follows the id of its note."""
HELD = "-held"
"""What follows a note's id, before a number, in the id of what is held of it."""


class Head(Struct, frozen=True, kw_only=True):
    """One notehead: a note of the performance, or what is held of it.

    ``id`` is the note's id in the performance; a held head adds ``-held`` and its number.
    ``pitch`` is as it sounds (for drums, where it stands on the staff); ``shows_accidental`` says
    whether the page needs its sign.
    """

    id: str
    note: Note
    pitch: StaffPitch
    shows_accidental: bool = False
    notehead: Notehead = Notehead.NORMAL
    tied_in: bool = False
    tied_out: bool = False
    slides_in: bool = False
    slides_out: bool = False
    slur_in: Joint | None = None
    slur_out: Joint | None = None

    @property
    def is_led_into(self) -> bool:
        """Whether a tie, a slide or a slur leads to it."""
        return bool(self.tied_in or self.slides_in or self.slur_in)

    @property
    def leads_on(self) -> bool:
        """Whether a tie, a slide or a slur goes on from it."""
        return bool(self.tied_out or self.slides_out or self.slur_out)

    @property
    def is_ghost(self) -> bool:
        """Whether the note is a muted stroke."""
        return self.note.touch is Touch.GHOST

    @property
    def touch_words(self) -> str:
        """What stands over the note: how far it is bent, in whole steps, and that it is shaken."""
        semitones, is_shaken = self.note.bend_semitones, self.note.has_vibrato
        if self.tied_in or not (semitones or is_shaken):
            return ""
        whole, half = divmod(semitones, 2)
        steps = f"{whole or ''}{'½' if half else ''}"
        bend = "full" if steps == "1" else steps
        return " ".join(filter(None, (bend, "~~~" if is_shaken else "")))

    @property
    def struck_place(self) -> Place | None:
        """Where on the neck the head is struck: None for what is held, which says no place."""
        return None if self.tied_in else self.note.place


class Event(Struct, frozen=True, kw_only=True):
    """A value with its heads, lowest first; no heads where it is a rest.

    ``has_fermata`` is a band's hold, ``has_caesura`` its stop, after this value.
    """

    value: Value
    heads: tuple[Head, ...] = ()
    articulations: tuple[Articulation, ...] = ()
    has_fermata: bool = False
    has_caesura: bool = False

    @property
    def is_marked(self) -> bool:
        """Whether a sign stands at it that holds or stops the band."""
        return self.has_fermata or self.has_caesura


class Voice(Struct, frozen=True, kw_only=True):
    """One voice of one staff in one measure; ``stem`` is ``up`` or ``down`` where it is forced."""

    number: int
    staff: int
    events: tuple[Event, ...]
    stem: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Staff:
    """One staff; ``strings`` are the open ones of a tab as they sound, lowest first.

    ``octaves_up`` is by how many octaves the staff is written above its sound.
    """

    clef: Clef
    lines: int = 5
    strings: tuple[StaffPitch, ...] = ()
    octaves_up: int = 0


@dataclass(frozen=True, slots=True)
class JoinedHeads:
    """What leads from a head to a later one, both by their ids."""

    kind: Joint
    start: str
    end: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Ending:
    """The passes that play a measure, and whether the bracket begins or ends at it.

    ``is_last`` is the one after which the song goes on.
    """

    passes: tuple[int, ...]
    opens: bool
    closes: bool
    is_last: bool

    @property
    def label(self) -> str:
        """The passes as printed: ``1, 2.``; the last one of several is said to be that."""
        is_alone = self.is_last and len(self.passes) == 1 and self.passes[0] > 2
        return ", ".join(map(str, self.passes)) + (". last time" if is_alone else ".")


class TempoMark(Struct, frozen=True, kw_only=True):
    """From ``tick`` on a quarter lasts ``microseconds``; ``is_shown`` where the page says so.

    ``stated_microseconds`` is what it says: after a pickup in which the tempo moves already, the
    tempo that the pickup begins in, which is the chart's number.  ``unit`` is the note that is
    counted, in quarters.
    """

    tick: int
    microseconds: int
    stated_microseconds: int
    unit: Fraction
    is_shown: bool

    @property
    def per_minute(self) -> str:
        """How many of the unit there are a minute, as printed."""
        return f"{microseconds_to_qpm(self.stated_microseconds) / float(self.unit):.4g}"


class Measure(Struct, frozen=True, kw_only=True):
    """One printed measure.

    ``number`` counts the printed measures from 1 (a pickup is 0); ``written_bar`` is what the page
    shows, the bar's number in the chart (``--bars``), so that a section that comes back has its
    numbers again.  ``played`` are the indices of the performance's bars that it stands for, one a
    pass.  ``chords`` are those that stand over it.  ``section`` is the section's name where one
    begins here, else empty, and ``heading`` what a page says of it, or of a pass that is written
    out, with which time it is; ``passes`` how often a repeat that closes here is played, 0 where
    none does.  ``changes_key`` is true where the key is another, ``shows_key`` where its signature
    is.  ``dynamic`` stands at its head; ``hairpin`` is one that begins there, ``ends_hairpin`` is
    true where one reaches its end.

    ``jumps`` are the signs of D.S., D.C., coda and Fine.

    On paper alone: ``as_before`` are the words of a measure without notes that stands for bars
    printed before; ``like_before`` is 1 where the sign for the bar before may stand, 2 in each of
    two bars that are as the two before; ``rest_bars`` is how many bars of rest are counted in it;
    ``is_slashed`` where a slash a beat stands for its cell, which is that of the first bars of its
    section, ``begins_sim`` where that is said;
    ``shows_number`` puts its number over it wherever it stands in its line; ``letter`` is that
    of its section, by which a band finds its place.
    """

    number: int
    written_bar: int
    played: tuple[int, ...]
    meter: Meter
    ticks: int
    voices: tuple[Voice, ...]
    chords: tuple[ChordOnset, ...]
    shows_meter: bool = False
    key: Key = C_MAJOR
    changes_key: bool = False
    shows_key: bool = False
    section: str = ""
    heading: str = ""
    words: tuple[str, ...] = ()
    swing: Swing | None = None
    tempi: tuple[TempoMark, ...] = ()
    dynamic: Loudness | None = None
    hairpin: Swell | None = None
    ends_hairpin: bool = False
    opens_repeat: bool = False
    passes: int = 0
    ending: Ending | None = None
    jumps: tuple[JumpSign, ...] = ()
    ends_section: bool = False
    ends_song: bool = False
    as_before: tuple[str, ...] = ()
    like_before: int = 0
    rest_bars: int = 0
    is_slashed: bool = False
    begins_sim: bool = False
    shows_number: bool = False
    letter: str = ""

    @property
    def events(self) -> list[Event]:
        """The values of all its voices, voice by voice."""
        return [event for voice in self.voices for event in voice.events]

    @property
    def heads(self) -> list[Head]:
        """The heads of all its voices, voice by voice."""
        return [head for event in self.events for head in event.heads]

    @property
    def is_pickup(self) -> bool:
        """Whether this is the short measure before the first."""
        return self.number == 0

    @property
    def meter_ticks(self) -> int:
        """The length of a whole bar in this meter; a pickup is shorter."""
        return quarters_to_ticks(self.meter.bar_quarters)

    @property
    def left_line(self) -> BarLineSign:
        """The bar line at its left."""
        return BarLineSign.REPEAT_OPENS if self.opens_repeat else BarLineSign.PLAIN

    @property
    def right_line(self) -> BarLineSign:
        """The bar line at its right."""
        if self.passes:
            return BarLineSign.REPEAT_CLOSES
        if self.ends_song:
            return BarLineSign.FINAL
        return BarLineSign.DOUBLE if self.ends_section else BarLineSign.PLAIN

    @property
    def passes_words(self) -> str:
        """What stands over a repeat that is played more than twice, unless endings say it."""
        return "" if self.ending else passes_words(self.passes)

    @property
    def swing_mark(self) -> SwingMark | None:
        """What a page says of a swing that begins here, unless its words say it already."""
        mark = swing_mark(self.swing) if self.swing else None
        is_said = mark and not mark.sign and any(mark.word in text for text in self.words)
        return None if is_said else mark

    @property
    def end_words(self) -> tuple[str, ...]:
        """What stands over the end of the measure: jumps from it, and how often it is played."""
        away = (sign.value for sign in self.jumps if not sign.stands_at_head)
        return (*away, *filter(None, [self.passes_words]))

    @property
    def ending_label(self) -> str:
        """The label of the ending that it stands in, empty outside of one."""
        return self.ending.label if self.ending else ""

    @property
    def times_words(self) -> str:
        """What the heading says beyond the section's name: which time, which pass."""
        return self.heading.removeprefix(self.section).removeprefix(", ")


def passes_words(passes: int) -> str:
    """Return how often a repeat is played where a reader would not know it: more than twice."""
    return f"{passes}×" if passes > 2 else ""


@dataclass(frozen=True, slots=True)
class Hairpin:
    """A swell over whole measures, from the head of ``first`` to the end of ``last``."""

    swell: Swell
    first: Measure
    last: Measure


@dataclass(frozen=True, slots=True, kw_only=True)
class Score:
    """A part ready to be written.

    ``form`` are the sections in the order played, in words, where a page is to have them.
    """

    title: str
    part: Part
    measures: tuple[Measure, ...]
    staves: tuple[Staff, ...]
    program: int = 0
    form: tuple[str, ...] = ()

    @property
    def tab(self) -> Staff | None:
        """The tab under the staff, None for a part without one."""
        return next((staff for staff in self.staves if staff.strings), None)

    @property
    def octaves_up(self) -> int:
        """By how many octaves the part is written above its sound."""
        return self.staves[0].octaves_up

    def heads(self) -> Iterator[tuple[Measure, Event, Head]]:
        """Yield every head with its event and its measure, in order of voices."""
        for measure in self.measures:
            for voice in measure.voices:
                for event in voice.events:
                    for head in event.heads:
                        yield measure, event, head

    def joints(self) -> Iterator[JoinedHeads]:
        """Yield what leads from head to head, in order."""
        left = ""
        for _, _, head in self.heads():
            if left and (head.slides_in or head.slur_in):
                yield JoinedHeads(head.slur_in or Joint.SLIDE, left, head.id)
                left = ""
            if head.slides_out or head.slur_out:
                left = head.id

    def hairpins(self) -> Iterator[Hairpin]:
        """Yield the hairpins, in order."""
        first: Measure | None = None
        for measure in self.measures:
            first = measure if measure.hairpin else first
            if measure.ends_hairpin and first and first.hairpin:
                yield Hairpin(first.hairpin, first, measure)
