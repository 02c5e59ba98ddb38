"""From the text of a chart to a song.

The parser knows no feels and no cells: it keeps their names with their places, and who has the
library resolves them.
"""

import re
from collections.abc import Iterator
from typing import cast

from msgspec.structs import replace

from groove.chart.blocks import MOST_BLOCKS, RawBlock, block_heading, row_beside_heading
from groove.chart.form import check_length
from groove.chart.lines import (
    BAR_NAME,
    Line,
    TextLineKind,
    controls_notice,
    is_bracketed,
    plain_text,
    split_lines,
    unreadable,
)
from groove.chart.model import (
    DEFAULT_METER,
    DEFAULT_TEMPO_BPM,
    Notation,
    Settings,
    Song,
)
from groove.chart.order import check_order, unplayed_sections
from groove.chart.pickup import Pickup, pickup_of
from groove.chart.printed import chord_line, printed_line, stray_line
from groove.chart.riffs import check_riffs
from groove.chart.rows import is_row_under_bars
from groove.chart.section import (
    RawSection,
    SectionReader,
    check_steady_tempo,
    check_tempo,
    respelled_settings,
)
from groove.chart.settings import (
    CUE,
    LIKE,
    READERS,
    SETTING_NAMES,
    SONG_READERS,
    SettingTable,
    read_form,
    setting_name,
    unknown_setting,
)
from groove.chart.symbols import LONGEST_WORD
from groove.errors import ChartError, SourcePlace, SymbolError, joined_hints
from groove.events import ONE_BAR_OF_STICKS, CountIn, Part
from groove.naming import fold_name
from groove.neck.instrument import STANDARD, Tuning
from groove.notices import Notice

MOST_SECTIONS = 500
MOST_FURTHER = 8
"""How many more words that are no chords are looked for."""
IN_NUMBERS = re.compile(r"^\s*chords\s*:\s*numbers", re.IGNORECASE | re.MULTILINE)
LONGEST_SECTION = 60
ENDS_IN_TIMES = re.compile(r"(?:[x×]|(?:^|\s)[x×]\s)[0-9]+$", re.IGNORECASE)
UNTITLED = "Untitled"
ONE_A_SONG = ("tuning", "bass tone")
"""Settings that every section shares."""


class _ChartReader:
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
        self.under: list[Line] | None = None
        self.under_pickup: list[Line] = []
        self.cues: list[Line] = []
        self.notices: list[Notice] = []

    def take(self, line: Line) -> None:
        heading, self.heading = self.heading, None
        if heading and not self.opens_block(heading, line):
            self.begin_section(heading)
        if self.block and not _is_setting(line) and self.block.takes(line):
            return
        self.block = None
        if line.kind not in (TextLineKind.BARS, TextLineKind.CHANGE, TextLineKind.ROW):
            self.under = None
        if line.kind is TextLineKind.SECTION:
            self.take_heading(line)
        elif line.kind in (TextLineKind.BARS, TextLineKind.CHANGE):
            self.take_bars(line)
        elif line.kind is TextLineKind.ROW:
            self.take_row(line)
        else:
            self.take_setting(line)

    def take_bars(self, line: Line) -> None:
        """Keep a line of bars, or a bar by its number, with the cues that stand over it."""
        section = self.current_section(line)
        if line.kind is TextLineKind.BARS:
            section.bar_lines.append(line)
        else:
            number = int(line.name.split()[1])
            if number in section.changes:
                first = section.changes[number].number
                hint = "expected one line of it: strike one out"
                message = f"bar {number} is given twice, first in line {first}"
                raise ChartError(message, place=line.name_place(), hint=hint)
            section.changes[number] = line
        if self.cues:
            section.cues[line.number] = tuple(cue.value for cue in self.cues)
            self.cues = []
        self.under = section.rows.setdefault(line.number, [])

    def take_row(self, line: Line) -> None:
        """Keep a row with the line of bars that it stands under.  Raises ChartError."""
        if self.under is None or is_bracketed(line.text):
            raise printed_line(line) or unreadable(line)
        if not is_row_under_bars(line.text):
            if self.under:
                raise stray_line(line)
            raise printed_line(line) or chord_line(line) or unreadable(line)
        self.under.append(line)

    def take_heading(self, line: Line) -> None:
        """Open a section, or wait for the next line where it may be a block."""
        if block_heading(line):
            self.heading = line
        else:
            self.begin_section(line)

    def opens_block(self, heading: Line, line: Line) -> bool:
        """Return whether a heading opens a block by the line under it; where it does, open it."""
        is_row = line.kind is TextLineKind.ROW or (
            line.kind is TextLineKind.SETTING and not _is_setting(line)
        )
        found = block_heading(heading)
        if not found or not is_row:
            return False
        part, name = found
        key = (part, fold_name(name))
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
        place = line.value_place()
        name = line.name.casefold()
        if name in SETTING_NAMES:
            raise ChartError(
                f"{line.name.casefold()} is a setting and has no value here",
                place=place,
                hint=f"expected a value, e.g. {name}: {_EXAMPLES.get(name, '…')}; "
                "a setting's name cannot be a section's",
            )
        _check_section_name(line)
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
        if not self.sections:
            raise ChartError(
                "found bars before any section",
                place=line.value_place(),
                hint="expected a section's name on the line above, e.g. verse:",
            )
        return next(reversed(self.sections.values()))

    def take_setting(self, line: Line) -> None:
        """Read a setting of the song or of the section it stands in."""
        name = setting_name(line)
        if name in SONG_READERS:
            self.song_table.add(line, SONG_READERS)
            if name == "pickup" and "|" in line.value:
                self.under = self.under_pickup
        elif name in ONE_A_SONG and self.sections:
            raise ChartError(
                f"{name} stands in a section",
                place=line.value_place(),
                hint="expected it before the first section: one instrument plays the whole song",
            )
        elif name == CUE:
            self.cues.append(line)
        elif name == LIKE:
            self.take_like(line)
        elif name in READERS:
            self.check_above_bars(line)
            table = next(reversed(self.sections.values())).table if self.sections else self.common
            table.add(line, READERS)
        else:
            raise printed_line(line) or row_beside_heading(line) or unknown_setting(line)

    def take_like(self, line: Line) -> None:
        """Keep which section another one is like."""
        section = next(reversed(self.sections.values()), None)
        if section is None or section.like:
            where = "stands in no section" if section is None else "is given twice"
            hint = "expected one line of it under a section's name"
            raise ChartError(f"as {where}", place=line.name_place(), hint=hint)
        self.check_above_bars(line)
        section.like = line

    def check_above_bars(self, line: Line) -> None:
        """Refuse a setting of a section that stands after its bars."""
        section = next(reversed(self.sections.values()), None)
        if section and (section.bar_lines or section.changes):
            raise ChartError(
                f"{line.name.casefold()} stands after the bars of {section.head.name}",
                place=line.name_place(),
                hint="expected it above the bars that it governs; what changes later is a section "
                "of its own",
            )

    def song(self) -> Song:
        """Return the song.  Raises ChartError."""
        if self.heading:
            self.begin_section(self.heading)
        if self.cues:
            hint = "expected bars under it: it is told over the first of them"
            place = self.cues[0].value_place()
            raise ChartError("found a cue with no bar after it", place=place, hint=hint)
        values = self.song_table.values
        notation = cast(Notation, values.get("chords", Notation.LETTERS))
        settings, notices = respelled_settings(self.common.settings(), "the song")
        self.notices += notices
        check_tempo(self.common, settings.meter or DEFAULT_METER)
        check_steady_tempo(self.common)
        reader = self.section_reader(settings, notation)
        sections = tuple(reader.read(raw) for raw in self.sections.values())
        names = {name: raw.head.name for name, raw in self.sections.items()}
        form_line = cast(Line | None, values.get("form"))
        song = Song(
            title=cast(str, values.get("title", UNTITLED)),
            settings=settings,
            sections=sections,
            form=read_form(form_line, names) if form_line else (),
            notation=notation,
            count_in=cast(CountIn, values.get("count-in", ONE_BAR_OF_STICKS)),
            pickup=cast(Pickup | None, values.get("pickup")),
            riffs=tuple(block.riff() for block in self.blocks.values()),
            source=self.source,
        )
        song = self.with_pickup(song, reader)
        self.notices += [notice for block in self.blocks.values() for notice in block.notices]
        self.notices += [*reader.notices, *reader.doubtful(), *check_riffs(song)]
        self.notices += unplayed_sections(song)
        song = replace(song, notices=tuple(self.notices))
        check_order(song)
        check_length(song, form_line.value_place() if form_line else None)
        return song

    def with_pickup(self, song: Song, reader: SectionReader) -> Song:
        """Return the song with its pickup read, counted in the longest unit that has whole ones.

        A pickup that is no shorter than the bar it leads into is refused.
        """
        if not song.pickup:
            return song
        line = self.song_table.lines["pickup"]
        meter = song.first_section.bars[0].meter
        quarters = song.pickup.quarters(meter)
        if quarters >= meter.bar_quarters:
            most = meter.beats_per_bar - 1
            beats = f"{most} beat{'s' if most > 1 else ''} at most, or " if most else ""
            raise ChartError(
                f"a pickup of {song.pickup.words} does not fit before a bar of {meter}",
                place=line.value_place(),
                hint=f"expected {beats}less than the bar in eighths or sixteenths, e.g. 1 eighth",
            )
        pickup = pickup_of(quarters, meter)
        _, begin, bar = line.value.partition("|")
        if not pickup or not begin:
            return replace(song, pickup=pickup)
        column = line.column + line.value.index("|")
        bars = replace(line, kind=TextLineKind.BARS, value=begin + bar, column=column)
        read = reader.read_pickup(bars, self.under_pickup, pickup, song.first_section)
        return replace(song, pickup=pickup, pickup_bar=read)

    def section_reader(self, settings: Settings, notation: Notation) -> SectionReader:
        """Return the reader of the sections.  Raises ChartError where there are none."""
        if not self.sections:
            place = SourcePlace(source=self.source, line=1, column=1, text="")
            hint = "expected a section and its bars:  verse:  and under it  | D | A |"
            raise ChartError("found no bars in this chart", place=place, hint=hint)
        return SectionReader(
            settings,
            notation,
            self.song_table.lines.get("chords"),
            self.common.settings().key,
            self.tuning(),
        )

    def tuning(self) -> Tuning:
        """Return the tuning that tab is written for: the chart's, else a four-string's."""
        return self.common.settings().tuning or STANDARD


def _is_setting(line: Line) -> bool:
    """Return whether a line is a setting by its name."""
    return line.kind is TextLineKind.SETTING and line.name.casefold() in SETTING_NAMES


_EXAMPLES = {
    "title": "Lantern Row",
    "form": "intro, verse x2",
    "chords": "numbers",
    "pickup": "1",
    "count-in": "2 sticks",
    "count in": "2 sticks",
    "tempo": str(DEFAULT_TEMPO_BPM),
    "meter": str(DEFAULT_METER),
    "key": "D",
    "feel": "sixteenths",
    "bass": "long notes",
    "drums": "out",
    "keys": "out",
    "fills": "few",
    "swing": "58% eighths",
    "dynamics": "mf",
    "loudness": "mf",
    "vary": "some",
    "bass tone": "finger",
    "cue": "stop on 3",
    "as": "verse",
    "transpose": "2",
    "tuning": "four",
    "seed": "7",
}


def _check_section_name(line: Line) -> None:
    """Refuse a name that the form could not call."""
    if BAR_NAME.fullmatch(line.name):
        raise ChartError(
            f"{line.name} is a bar's number and no section",
            place=line.value_place(),
            hint=f"expected the bar after it, e.g.  {line.name}: | D |, in a section  as: verse",
        )
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
        song = _read_chart(text, source)
        return replace(song, notices=(notice, *song.notices)) if notice else song
    except SymbolError as error:
        found = _further(text, error)
        others = [f"{e.word[:LONGEST_WORD]} ({e.place.line}:{e.place.column})" for e in found]
        also = f"no chords either: {', '.join(others)}" if others else ""
        hint = joined_hints(error.hint, also)
        raise ChartError(error.message, place=error.place, hint=hint) from None


def _read_chart(text: str, source: str) -> Song:
    """Return the song that a chart spells, stopping at the first mistake."""
    reader = _ChartReader(source)
    for line in split_lines(text, source):
        reader.take(line)
    return reader.song()


def _further(text: str, error: SymbolError) -> Iterator[SymbolError]:
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
            _read_chart("\n".join(lines), error.place.source)
        except SymbolError as found:
            error = found
        except ChartError:
            return
        else:
            return
        yield error
