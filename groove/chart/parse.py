"""From the text of a chart to a song.

The parser knows no feels and no cells: it keeps their names with their places, and who has the
library resolves them.
"""

import dataclasses
import re
from collections.abc import Iterator
from itertools import groupby
from typing import cast

from msgspec.structs import replace

from groove.chart.bars import BarReader, ChartCount
from groove.chart.blocks import MOST_BLOCKS, RawBlock, block_heading
from groove.chart.form import check_length, song_form
from groove.chart.lines import (
    Line,
    LineKind,
    controls_notice,
    plain_text,
    split_lines,
    unreadable,
)
from groove.chart.model import (
    DEFAULT_METER,
    DEFAULT_TEMPO_BPM,
    Named,
    Notation,
    Pickup,
    Section,
    Settings,
    Song,
    Tempo,
    WrittenBar,
    pickup_of,
)
from groove.chart.repeats import check_repeats
from groove.chart.riffs import check_riffs
from groove.chart.rows import is_row_under_bars, stray_row, with_rows
from groove.chart.settings import (
    READERS,
    SETTING_NAMES,
    SONG_READERS,
    SettingTable,
    read_form,
    unknown_setting,
)
from groove.chart.symbols import LONGEST_WORD, Symbols
from groove.chart.transpose import respelled_bars
from groove.errors import ChartError, OptionError, SourcePlace, SymbolError
from groove.events import Part
from groove.neck.instrument import STANDARD, Tuning, parse_tuning
from groove.theory.keys import Key
from groove.timing import FASTEST_QPM, SLOWEST_QPM, Meter

MOST_SECTIONS = 500
MOST_FURTHER = 8
"""How many more words that are no chords are looked for."""
IN_NUMBERS = re.compile(r"^\s*chords\s*:\s*numbers", re.IGNORECASE | re.MULTILINE)
LONGEST_SECTION = 60
ENDS_IN_TIMES = re.compile(r"(?:[x×]|(?:^|\s)[x×]\s)[0-9]+$", re.IGNORECASE)
UNTITLED = "Untitled"
ONE_A_SONG = ("tuning",)
"""Settings that every section shares."""


class RawSection:
    """A section as it is read: its head, its settings and its lines of bars."""

    def __init__(self, head: Line) -> None:
        """Begin with the section's head."""
        self.head = head
        self.table = SettingTable()
        self.bar_lines: list[Line] = []
        self.rows: dict[int, list[Line]] = {}


class ChartReader:
    """Gathers the lines of a chart, then reads them in the order in which they depend."""

    def __init__(self, source: str) -> None:
        """``source`` is the name that messages use."""
        self.source = source
        self.song_table = SettingTable()
        self.common = SettingTable()
        self.sections: dict[str, RawSection] = {}
        self.blocks: dict[tuple[Part, str], RawBlock] = {}
        self.block: RawBlock | None = None
        self.heading: Line | None = None
        self.under = 0
        self.notices: list[str] = []

    def take(self, line: Line) -> None:
        """Put a line where it belongs."""
        heading, self.heading = self.heading, None
        if heading and not self.opens_block(heading, line):
            self.begin_section(heading)
        if self.block and not is_setting(line) and self.block.takes(line):
            return
        self.block = None
        if line.kind not in (LineKind.BARS, LineKind.ROW):
            self.under = 0
        if line.kind is LineKind.SECTION:
            self.take_heading(line)
        elif line.kind is LineKind.BARS:
            self.current_section(line).bar_lines.append(line)
            self.under = line.number
        elif line.kind is LineKind.ROW:
            self.take_row(line)
        else:
            self.take_setting(line)

    def take_row(self, line: Line) -> None:
        """Keep a row with the line of bars that it stands under.  Raises ChartError."""
        section = next(reversed(self.sections.values()), None)
        above = section.bar_lines[-1].number if section and section.bar_lines else None
        if section is None or above is None or self.under != above:
            raise unreadable(line)
        if not is_row_under_bars(line.text):
            raise stray_row(line) if section.rows.get(above) else unreadable(line)
        section.rows.setdefault(above, []).append(line)

    def take_heading(self, line: Line) -> None:
        """Open a section, or wait for the next line where it may be a block."""
        if block_heading(line):
            self.heading = line
        else:
            self.begin_section(line)

    def opens_block(self, heading: Line, line: Line) -> bool:
        """Return whether a heading opens a block by the line under it; where it does, open it."""
        is_row = line.kind is LineKind.ROW or (
            line.kind is LineKind.SETTING and not is_setting(line)
        )
        found = block_heading(heading)
        if not found or not is_row:
            return False
        part, name = found
        key = (part, name.casefold())
        if key in self.blocks:
            raise ChartError(
                f"the {part} part {name!r} stands twice, first in line "
                f"{self.blocks[key].place.line}",
                place=heading.value_place(),
                hint="expected another name, or one block",
            )
        if len(self.blocks) >= MOST_BLOCKS:
            hint = f"expected at most {MOST_BLOCKS}"
            raise ChartError("too many riffs", place=heading.value_place(), hint=hint)
        self.block = self.blocks[key] = RawBlock(heading, part, name)
        return True

    def begin_section(self, line: Line) -> None:
        """Open a section."""
        place = line.value_place()
        name = line.name.casefold()
        if name in SETTING_NAMES:
            raise ChartError(
                f"{line.name.casefold()} is a setting and has no value here",
                place=place,
                hint=f"expected a value, as {name}: {EXAMPLES.get(name, '…')}; "
                "a setting's name cannot be a section's",
            )
        check_section_name(line)
        if name in self.sections:
            first = self.sections[name].head.number
            raise ChartError(
                f"the section {line.name!r} stands twice, first in line {first}",
                place=place,
                hint="expected another name; the order of play is said once, in form:",
            )
        if len(self.sections) >= MOST_SECTIONS:
            hint = f"expected at most {MOST_SECTIONS}"
            raise ChartError("too many sections", place=place, hint=hint)
        self.sections[name] = RawSection(line)

    def current_section(self, line: Line) -> RawSection:
        """Return the section that bars belong to."""
        if not self.sections:
            raise ChartError(
                "found bars before any section",
                place=line.value_place(),
                hint="expected a section's name on the line above, as verse:",
            )
        return next(reversed(self.sections.values()))

    def take_setting(self, line: Line) -> None:
        """Read a setting of the song or of the section it stands in."""
        name = line.name.casefold()
        if name in SONG_READERS:
            self.song_table.add(line, SONG_READERS)
        elif name in ONE_A_SONG and self.sections:
            raise ChartError(
                f"{name} stands in a section",
                place=line.value_place(),
                hint="expected it before the first section: one instrument plays the whole song",
            )
        elif name in READERS:
            table = next(reversed(self.sections.values())).table if self.sections else self.common
            table.add(line, READERS)
        else:
            raise unknown_setting(line)

    def song(self) -> Song:
        """Return the song.  Raises ChartError."""
        if self.heading:
            self.begin_section(self.heading)
        values = self.song_table.values
        notation = cast(Notation, values.get("chords", Notation.LETTERS))
        settings = self.keys_respelled(self.common.settings(), "the song")
        self.check_tempo(self.common, settings.meter or DEFAULT_METER)
        sections = self.read_sections(settings, notation)
        names = {name: raw.head.name for name, raw in self.sections.items()}
        form_line = cast(Line | None, values.get("form"))
        song = Song(
            title=cast(str, values.get("title", UNTITLED)),
            settings=settings,
            sections=sections,
            form=read_form(form_line, names) if form_line else (),
            notation=notation,
            pickup=cast(Pickup | None, values.get("pickup")),
            riffs=tuple(block.riff() for block in self.blocks.values()),
            source=self.source,
        )
        self.notices += check_riffs(song)
        self.notices += written_notice(song)
        song = dataclasses.replace(song, notices=tuple(self.notices))
        song = self.with_pickup(song)
        check_length(song, form_line.value_place() if form_line else None)
        return song

    def with_pickup(self, song: Song) -> Song:
        """Return the song with its pickup counted in the longest unit that has whole ones.

        A pickup that is no shorter than the bar it leads into is refused.
        """
        if not song.pickup:
            return song
        meter = song.section(song_form(song)[0].section).bars[0].meter
        quarters = song.pickup.quarters(meter)
        if quarters >= meter.bar_quarters:
            most = meter.beats_per_bar - 1
            beats = f"{most} beat{'s' if most > 1 else ''} at most, or " if most else ""
            raise ChartError(
                f"a pickup of {song.pickup.words} does not fit before a bar of {meter}",
                place=self.song_table.lines["pickup"].value_place(),
                hint=f"expected {beats}less than the bar in eighths or sixteenths, as 1 eighth",
            )
        return dataclasses.replace(song, pickup=pickup_of(quarters, meter))

    def read_sections(self, settings: Settings, notation: Notation) -> tuple[Section, ...]:
        """Return the sections with their bars."""
        if not self.sections:
            place = SourcePlace(source=self.source, line=1, column=1, text="")
            hint = "expected a section and its bars:  verse:  and under it  | D | A |"
            raise ChartError("found no bars in this chart", place=place, hint=hint)
        count = ChartCount()
        return tuple(
            self.read_section(raw, settings, notation, count) for raw in self.sections.values()
        )

    def read_section(
        self, raw: RawSection, song: Settings, notation: Notation, count: ChartCount
    ) -> Section:
        """Return one section."""
        own = self.keys_respelled(raw.table.settings(), f"section {raw.head.name}")
        meter = own.meter or song.meter or DEFAULT_METER
        self.check_tempo(raw.table, meter)
        if not raw.bar_lines:
            raise ChartError(
                f"the section {raw.head.name!r} has no bars",
                place=raw.head.value_place(),
                hint="expected bars under it, as | D | A |",
            )
        key = own.key or song.key
        bars = BarReader(meter, count, self.symbols(notation, key)).read(raw.bar_lines)
        if not bars:
            place = raw.bar_lines[0].value_place()
            hint = "expected chords between the bar lines, as | D | A |"
            raise ChartError("found bar lines and no bar", place=place, hint=hint)
        bars = self.with_rows(raw, bars)
        check_repeats(bars)
        if notation is Notation.LETTERS:
            stated = raw.table.settings().key or self.common.settings().key
            bars = respelled_bars(bars, stated)
        return Section(name=raw.head.name, settings=own, bars=bars, place=raw.head.value_place())

    def with_rows(self, raw: RawSection, bars: tuple[WrittenBar, ...]) -> tuple[WrittenBar, ...]:
        """Return a section's bars with the rows under them."""
        if not raw.rows:
            return bars
        found: list[WrittenBar] = []
        lines = {bar.place.line for bar in bars}
        for number, rows in raw.rows.items():
            if number not in lines:
                hint = "expected a bar that begins on the line above, between |"
                raise ChartError("found a row under no bar", place=rows[0].value_place(), hint=hint)
        for number, group in groupby(bars, key=lambda bar: bar.place.line):
            own = list(group)
            under = raw.rows.get(number)
            before = found[-1] if found else None
            found += with_rows(own, under, self.tuning(), before) if under else own
        return tuple(found)

    def tuning(self) -> Tuning:
        """Return the tuning that tab is written for: the chart's, else a four-string's."""
        named = cast(Named | None, self.common.values.get("tuning"))
        if named is None:
            return STANDARD
        try:
            return parse_tuning(named.name)
        except OptionError as error:
            raise ChartError(error.message, place=named.place, hint=error.hint) from None

    def symbols(self, notation: Notation, key: Key | None) -> Symbols:
        """Return the reader of chord symbols for a section with a key."""
        if notation is Notation.LETTERS:
            return Symbols()
        if key is None:
            line = self.song_table.lines["chords"]
            raise ChartError(
                "numbers need a key to count from",
                place=line.value_place(),
                hint="expected a line as  key: D  before the first section",
            )
        return Symbols(key)

    def keys_respelled(self, settings: Settings, where: str) -> Settings:
        """Return settings whose key has at most seven accidentals, and say what was changed.

        More are in no signature, and in no MIDI file (*Standard MIDI Files 1.0*: −7 to 7).
        """
        if settings.key is None or settings.key == settings.key.respelled():
            return settings
        better = settings.key.respelled()
        self.notices.append(f"{where}: {settings.key.name} is read as {better.name}")
        return replace(settings, key=better)

    def check_tempo(self, table: SettingTable, meter: Meter) -> None:
        """Refuse a tempo that is out of range once its beat is known."""
        tempo = cast(Tempo | None, table.values.get("tempo"))
        if tempo is None:
            return
        for bpm in (tempo.bpm, tempo.end_bpm):
            if bpm and not SLOWEST_QPM <= bpm * meter.tempo_unit_quarters <= FASTEST_QPM:
                low, high = (
                    float(q / meter.tempo_unit_quarters) for q in (SLOWEST_QPM, FASTEST_QPM)
                )
                raise ChartError(
                    f"a tempo of {float(bpm):g} is out of range in {meter}",
                    place=table.lines["tempo"].value_place(),
                    hint=f"expected {low:g} to {high:g} beats ({meter.tempo_symbol}) a minute",
                )


def written_notice(song: Song) -> list[str]:
    """Return what is told of lines that are read and not yet played."""
    bars = [bar.number for section in song.sections for bar in section.bars if bar.line]
    if not bars:
        return []
    numbers = ", ".join(map(str, bars[:8])) + (" …" if len(bars) > 8 else "")
    return [f"the notes written under bar {numbers} are read and not played yet"]


def is_setting(line: Line) -> bool:
    """Return whether a line is a setting by its name."""
    return line.kind is LineKind.SETTING and line.name.casefold() in SETTING_NAMES


EXAMPLES = {
    "title": "Lantern Row",
    "form": "intro, verse x2",
    "chords": "numbers",
    "pickup": "1",
    "tempo": str(DEFAULT_TEMPO_BPM),
    "meter": str(DEFAULT_METER),
    "key": "D",
    "feel": "sixteenths",
    "bass": "long notes",
    "drums": "out",
    "keys": "out",
    "fills": "few",
    "swing": "58% eighths",
    "loudness": "mf",
    "transpose": "2",
    "tuning": "four",
    "seed": "7",
}


def check_section_name(line: Line) -> None:
    """Refuse a name that the form could not call."""
    if "," in line.name or ENDS_IN_TIMES.search(line.name) or len(line.name) > LONGEST_SECTION:
        raise ChartError(
            f"a section cannot be called {line.name[:LONGEST_SECTION]!r}",
            place=line.value_place(),
            hint="expected a name without a comma and not ending in x and a number, "
            f"of at most {LONGEST_SECTION} letters",
        )


def parse_chart(text: str, *, source: str = "chart") -> Song:
    """Return the song that a chart spells.

    ``source`` is the file's name in messages.  Raises ChartError with line, column, what was
    expected and the nearest thing that would do; a word that is no chord is told with those after
    it, so that a chart copied from somewhere is mended in one go.  Control characters are read as
    blanks, and that is said.
    """
    notice, text = controls_notice(text), plain_text(text)
    try:
        song = read_chart(text, source)
        return dataclasses.replace(song, notices=(notice, *song.notices)) if notice else song
    except SymbolError as error:
        found = further(text, error)
        others = [f"{e.word[:LONGEST_WORD]} ({e.place.line}:{e.place.column})" for e in found]
        also = f"no chords either: {', '.join(others)}" if others else ""
        hint = "; ".join(filter(None, (error.hint, also)))
        raise ChartError(error.message, place=error.place, hint=hint) from None


def read_chart(text: str, source: str) -> Song:
    """Return the song that a chart spells, stopping at the first mistake."""
    reader = ChartReader(source)
    for line in split_lines(text, source):
        reader.take(line)
    return reader.song()


def further(text: str, error: SymbolError) -> Iterator[SymbolError]:
    """Yield the words after a first one that are no chords: each is struck out and read past."""
    chord = "1" if IN_NUMBERS.search(text) else "C"
    lines = text.split("\n")
    for _ in range(MOST_FURTHER):
        row, column = error.place.line - 1, error.place.column - 1
        end = column + len(error.word)
        if row >= len(lines) or lines[row][column:end] != error.word:
            return
        struck = chord.ljust(len(error.word))
        lines[row] = lines[row][:column] + struck + lines[row][end:]
        try:
            read_chart("\n".join(lines), error.place.source)
        except SymbolError as found:
            error = found
        except ChartError:
            return
        else:
            return
        yield error
