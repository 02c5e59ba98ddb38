"""Bars and chords that came from another notation, as a chart of ours.

Readers of MusicXML and ABC hand over what they found; here it becomes the text of a chart, which
our own parser reads, with the places of the file that was given.  Where the repeats of the file
are those of a chart they stay; other orders of play (nested repeats, D.C., parts) become sections
and a form.  What a chart cannot say is told in a notice: nothing is changed in silence.
"""

import dataclasses
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from itertools import pairwise

from msgspec import Struct, structs

from groove.bar_place import BandWord
from groove.chart.bars import MOST_CHORDS_IN_BAR
from groove.chart.form import MOST_PLAYED_BARS
from groove.chart.model import Section, Song, WrittenBar
from groove.chart.parse import UNTITLED, parse_chart
from groove.chart.repeats import play_order as chart_order
from groove.chart.settings import LONGEST_TITLE
from groove.errors import ChartError, SourcePlace
from groove.events import NO_CHORD
from groove.io.beats import (
    BeatBar,
    Chords,
    JoinedBar,
    joined_bars,
    on_beats,
)
from groove.io.chart_text import (
    TextBar,
    TextPickup,
    TextSection,
    sections_text,
    with_form,
)
from groove.io.foreign_line import heard_bars, piece_notes, report_pickup_notes, with_line
from groove.io.foreign_pickup import pickup_before
from groove.io.gate import Gate, Where, one_line
from groove.io.playing import (
    PlayOrder,
    Signs,
    close_endings,
    repeated_groups,
    score_order,
)
from groove.neck.instrument import Tuning
from groove.neck.line_places import LineBar, LineNote
from groove.timing import STRAIGHT_WORD, Meter

MOST_PIECES = 64
FEWEST_BARS = 4
"""A change of tempo or key that lasts for fewer bars is told and not followed."""
NO_SYMBOLS = (
    "there are no chord symbols, so bass and keys rest and the drums are alone: "
    "write chords above the notes, or use groove show FILE --chart as a chart to fill in"
)


@dataclass(slots=True, kw_only=True)
class ForeignBar:
    """One bar of the file, or a part of one between a bar line and a repeat sign.

    ``chords`` are (quarters from its start, symbol); ``length_quarters`` is what its notes fill,
    None where it has none; ``section`` names a section that begins here; ``word`` is what the band
    is told at its head; ``key``, ``qpm`` (quarters a minute) and ``swing`` (as a chart has it) are
    given where they change.  ``line`` are the notes of the bass part, None where there are none.
    """

    where: Where
    meter: Meter
    chords: Chords = field(default_factory=list)
    length_quarters: Fraction | None = None
    section: str = ""
    word: BandWord | None = None
    key: str = ""
    qpm: Fraction | None = None
    swing: str = ""
    opens_repeat: bool = False
    closes_repeat: bool = False
    passes: int = 2
    endings: tuple[int, ...] = ()
    signs: Signs = field(default_factory=Signs)
    line: tuple[LineNote, ...] | None = None

    @property
    def is_short(self) -> bool:
        """Whether its notes do not fill a bar of its meter."""
        return self.length_quarters is not None and self.length_quarters < self.meter.bar_quarters

    def add_chord(self, at: Fraction, symbol: str, gate: Gate) -> None:
        """Add a chord; more than a bar of a chart can have are told and left out."""
        if len(self.chords) < MOST_CHORDS_IN_BAR:
            self.chords.append((at, symbol))
        else:
            gate.report(f"more than {MOST_CHORDS_IN_BAR} chords, the others left out", self.where)

    def completes(self, before: "ForeignBar") -> bool:
        """Return whether this bar and the one before it make one whole bar."""
        parts = (before.length_quarters or Fraction(0), self.length_quarters or Fraction(0))
        return all(parts) and sum(parts) == before.meter.bar_quarters == self.meter.bar_quarters


@dataclass(slots=True, kw_only=True)
class ForeignSong:
    """Everything that a reader found.

    ``parts`` are runs of bars, (first, one past last), in the order in which they are played;
    empty where the bars are played as they stand.  ``tuning`` is that of the bass part, where the
    file states it.
    """

    title: str = ""
    bars: list[ForeignBar] = field(default_factory=list)
    parts: list[tuple[int, int]] = field(default_factory=list)
    tuning: Tuning | None = None

    @property
    def has_symbols(self) -> bool:
        """Whether a chord stands over any of its bars."""
        return any(symbol != NO_CHORD for bar in self.bars for _, symbol in bar.chords)


class UnlinedSong(Struct, frozen=True, kw_only=True):
    """A song, and the line of each bar that is played, of its pickup first; None for no line."""

    song: Song
    lines: tuple[LineBar | None, ...]


def foreign_to_song(foreign: ForeignSong, gate: Gate) -> Song:
    """Return the song that was found, its bars played in the order that the file asks for.

    Raises ChartError, with a place in the file, for what no chart can say.
    """
    read = read_foreign(foreign, gate)
    own = read.lines
    if read.song.pickup:
        report_pickup_notes(own[0], gate)
        own = own[1:]
    song = with_line(read.song, own, foreign.tuning, gate)
    return structs.replace(song, notices=(*gate.notices(), *song.notices))


def read_foreign(foreign: ForeignSong, gate: Gate) -> UnlinedSong:
    """Return the song that was found without the line under its bars, and the line beside it.

    What had to be told stands in the gate.  Raises as ``foreign_to_song`` does.
    """
    if not foreign.has_symbols:
        gate.report(NO_SYMBOLS)
    foreign = dataclasses.replace(foreign, bars=_split_bars(foreign, gate))
    _settle(foreign.bars, gate)
    order = _played_order(foreign, gate)
    joined = joined_bars(foreign.bars, order)
    pickup = pickup_before(joined, gate)
    played = on_beats(joined[1:] if pickup else joined, gate)
    song = _written_song(foreign, played, pickup, gate) or _parsed(
        *with_form(played), pickup=pickup, gate=gate
    )
    song = structs.replace(song, title=_titled(foreign.title, gate))
    return UnlinedSong(song=song, lines=tuple(heard_bars(joined, foreign.bars, gate)))


def _titled(text: str, gate: Gate) -> str:
    """Return a title that a chart may have."""
    title = one_line(text)
    if len(title) <= LONGEST_TITLE:
        return title or UNTITLED
    gate.report(f"the title is cut to {LONGEST_TITLE} letters")
    return title[: LONGEST_TITLE - 1] + "…"


# --- bars as they stand -----------------------------------------------------------------------


def _split_bars(foreign: ForeignSong, gate: Gate) -> list[ForeignBar]:
    """Return the bars, those that are as long as two or more cut into bars of their meter.

    The runs of ``foreign.parts`` are moved along.
    """
    bars: list[ForeignBar] = []
    starts: list[int] = []
    for bar in foreign.bars:
        starts.append(len(bars))
        bars += _pieces(bar, gate)
    starts.append(len(bars))
    foreign.parts[:] = [(starts[first], starts[last]) for first, last in foreign.parts]
    return bars


def _pieces(bar: ForeignBar, gate: Gate) -> list[ForeignBar]:
    """Return a bar, in pieces where a bar line seems to be missing."""
    usual = bar.meter.bar_quarters
    length = bar.length_quarters or usual
    count = int(length / usual)
    if count < 2:
        return [bar]
    if count > MOST_PIECES:
        gate.report("far too long for its meter, counted as one bar", bar.where)
        return [dataclasses.replace(bar, length_quarters=None)]
    gate.report(f"as long as {count} bars or more of {bar.meter}, cut into bars", bar.where)
    return [
        _piece(bar, usual * number, length) for number in range(count + (length > usual * count))
    ]


def _piece(bar: ForeignBar, start: Fraction, length: Fraction) -> ForeignBar:
    """Return the piece of a bar of that length which begins at ``start`` quarters into it.

    What stands at a bar's head is the first one's, what stands at its end the last one's.
    """
    usual = bar.meter.bar_quarters
    is_last = start + usual >= length
    signs = bar.signs
    piece = ForeignBar(
        where=bar.where,
        meter=bar.meter,
        chords=[(at - start, s) for at, s in bar.chords if start <= at < start + usual],
        length_quarters=min(usual, length - start),
        line=piece_notes(bar.line, start, usual),
        endings=bar.endings,
        closes_repeat=bar.closes_repeat and is_last,
        passes=bar.passes,
        signs=Signs(
            segno=None if start else signs.segno,
            coda=None if start else signs.coda,
            to_coda=signs.to_coda if is_last else None,
            fine=signs.fine and is_last,
            jump=signs.jump if is_last else None,
        ),
    )
    if start:
        return piece
    return dataclasses.replace(
        piece,
        section=bar.section,
        word=bar.word,
        key=bar.key,
        qpm=bar.qpm,
        swing=bar.swing,
        opens_repeat=bar.opens_repeat,
    )


def _settle(bars: list[ForeignBar], gate: Gate) -> None:
    """Give every bar the key and tempo that it has, and a section to the full bar it begins with.

    An upbeat that begins a section belongs to the bar before it.
    """
    for bar, following in pairwise(bars):
        if bar.section and bar.is_short and not following.section and not following.is_short:
            bar.section, following.section = "", bar.section
    close_endings(bars)
    _take_upbeats(bars, gate)
    _keep_lasting(bars, "qpm", "tempo", gate)
    _keep_lasting(bars, "key", "key", gate)
    if any(bar.swing for bar in bars):
        # Where a file says nothing notes are even.
        bars[0].swing = bars[0].swing or STRAIGHT_WORD
    _keep_lasting(bars, "swing", "swing", gate)


def _keep_lasting(bars: list[ForeignBar], name: str, words: str, gate: Gate) -> None:
    """Carry a key or tempo from bar to bar; a change for a few bars is told and left out.

    The first one that is stated holds from the start, unless a section begins with it.
    """
    changes = [index for index, bar in enumerate(bars) if getattr(bar, name)]
    if not changes:
        return
    first = changes[0] if bars[changes[0]].section else 0
    held = getattr(bars[changes[0]], name)
    for start, stop in pairwise([first, *changes[1:], len(bars)]):
        value = getattr(bars[start], name) or held
        is_passing = stop - start < FEWEST_BARS and not bars[start].section
        if value != held and is_passing:
            gate.report(f"a change of {words} for a few bars is left out", bars[start].where)
            value = held
        held = value
        for bar in bars[start:stop]:
            setattr(bar, name, held)


def _take_upbeats(bars: list[ForeignBar], gate: Gate) -> None:
    """Let a repeat begin with the upbeat before it where its last bar lacks just that.

    Tunes are written so, and a player plays the upbeat each time; common practice, no source.
    """
    for start, stop in repeated_groups(bars):
        upbeat = bars[start - 1] if start else None
        lasts = [bar for bar in bars[start:stop] if bar.closes_repeat]
        if not upbeat or upbeat.endings or upbeat.closes_repeat or not bars[start].opens_repeat:
            continue
        if all(upbeat.completes(bar) for bar in lasts):
            bars[start].opens_repeat, upbeat.opens_repeat = False, True
            message = "the upbeat before the repeat is played each time, as its last bar lacks it"
            gate.report(message, upbeat.where)


def _played_order(foreign: ForeignSong, gate: Gate) -> list[int]:
    """Return the bars in the order of play.  Raises ChartError where there are too many."""
    for bar in foreign.bars if foreign.parts else ():
        if bar.signs.jump:
            gate.report("the jump is left out: the order of parts says what is played", bar.where)
            bar.signs.jump = None
    indices: list[int] = []
    orders: dict[tuple[int, int], PlayOrder] = {}
    for first, last in foreign.parts or [(0, len(foreign.bars))]:
        run = (first, last)
        if run not in orders:
            orders[run] = score_order(foreign.bars[first:last])
            for message, index in orders[run].reported:
                gate.report(message, foreign.bars[first + index].where)
        indices += [first + index for index in orders[run].indices]
        if orders[run].is_cut or len(indices) > MOST_PLAYED_BARS:
            raise gate.error(
                f"the song has more than {MOST_PLAYED_BARS} bars when played",
                foreign.bars[first].where,
                hint="expected fewer repeats",
            )
    if not indices:
        gate.report("the endings let no bar be played, so each is played once")
    return indices or list(range(len(foreign.bars)))


# --- the chart --------------------------------------------------------------------------------


def _written_song(
    foreign: ForeignSong, played: Sequence[BeatBar], pickup: TextPickup | None, gate: Gate
) -> Song | None:
    """Return the song with the repeats as they stand, None where a chart would not play it so."""
    if foreign.parts or any(bar.signs.jump for bar in foreign.bars):
        return None
    joined = joined_bars(foreign.bars, range(len(foreign.bars)))[1 if pickup else 0 :]
    if not joined:
        return None
    is_plain = [bar.where for bar in played] == [each.where for each in joined]
    beats = played if is_plain else on_beats(joined, Gate(""))
    first = joined[0].indices[0]
    is_opened = any(bar.opens_repeat for bar in foreign.bars[:first])
    bars = _signed_bars(joined, beats, foreign.bars, is_opened=is_opened)
    sections = _repeated_sections(bars)
    if sections is None:
        return None
    try:
        song = _parsed(sections, (), pickup=pickup, gate=gate)
    except ChartError:
        return None
    found = [
        _written_facts(section.bars[index])
        for section in song.sections
        for index, _ in chart_order(section.bars)
    ]
    return song if found == [bar.said for bar in played] else None


def _signed_bars(
    joined: Sequence[JoinedBar],
    beats: Sequence[BeatBar],
    bars: Sequence[ForeignBar],
    *,
    is_opened: bool,
) -> list[TextBar]:
    """Return the bars as they stand with their repeats; a repeat in mid-bar opens the next one.

    ``is_opened`` is whether one begins with the pickup before them.
    """
    found = []
    for each, beat in zip(joined, beats, strict=True):
        first, *others = (bars[index] for index in each.indices)
        found.append(
            TextBar(
                beat=beat,
                opens_repeat=is_opened or first.opens_repeat,
                closes_repeat=any(bar.closes_repeat for bar in (first, *others)),
                passes=max(bar.passes for bar in (first, *others)),
                endings=first.endings,
            )
        )
        is_opened = any(bar.opens_repeat for bar in others)
    starts = {start for start, _ in repeated_groups(found)}
    return [structs.replace(bar, opens_repeat=index in starts) for index, bar in enumerate(found)]


def _repeated_sections(bars: Sequence[TextBar]) -> list[TextSection] | None:
    """Return the bars in their sections, None where one begins inside a repeat."""
    starts = [
        index for index, bar in enumerate(bars) if not index or bar.beat.parts(bars[index - 1].beat)
    ]
    inside = {i for start, stop in repeated_groups(bars) for i in range(start + 1, stop)}
    if inside.intersection(starts):
        return None
    ends = [*starts[1:], len(bars)]
    return [TextSection(tuple(bars[a:b])) for a, b in zip(starts, ends, strict=True)]


def _parsed(
    sections: Sequence[TextSection],
    form: Sequence[tuple[int, int]],
    *,
    pickup: TextPickup | None,
    gate: Gate,
) -> Song:
    """Return the song of sections and a form.  Raises ChartError with a place in the file."""
    text, lines = sections_text(sections, form, pickup)
    try:
        song = parse_chart(text, source=gate.source)
    except ChartError as error:
        where = lines[min(error.place.line, len(lines)) - 1]
        raise gate.error(error.message, where, hint=error.hint) from None
    wheres = iter([bar.beat.where for section in sections for bar in section.bars])
    placed = tuple(_placed_section(section, wheres, gate) for section in song.sections)
    opening = song.pickup_bar
    if pickup and opening:
        opening = _placed_bar(opening, gate.place(pickup.where))
    return structs.replace(song, sections=placed, pickup_bar=opening)


def _placed_section(section: Section, wheres: Iterator[Where], gate: Gate) -> Section:
    """Return a section whose places are those of the file."""
    bars = tuple(_placed_bar(bar, gate.place(next(wheres))) for bar in section.bars)
    return structs.replace(section, bars=bars, place=bars[0].place)


def _placed_bar(bar: WrittenBar, place: SourcePlace) -> WrittenBar:
    """Return a bar whose places are those of the file."""
    chords = tuple(structs.replace(span, place=place) for span in bar.chords)
    return structs.replace(bar, chords=chords, place=place)


def _written_facts(bar: WrittenBar) -> tuple[object, ...]:
    """Return what a bar of a chart says, as ``BeatBar.said`` has it."""
    spans = tuple((span.start_quarters, span.written, span.push) for span in bar.chords)
    return bar.meter, spans, bar.word
