"""A chart with notes written under its bars; all else of its text stays as it is."""

from collections.abc import Container, Iterator, Mapping, Sequence
from itertools import groupby, takewhile

from msgspec import Struct
from msgspec.structs import replace

from groove.chart.bar_layout import line_pieces, lines_of_bars, numbered_bar, plain_pieces
from groove.chart.kept import written_lines
from groove.chart.lines import LINE_END, Line, TextLineKind, split_lines
from groove.chart.model import DEFAULT_METER, Section, Song, TabLine, WrittenBar
from groove.chart.repeats import played_before
from groove.chart.settings import CUE, LIKE, SONG_READERS, setting_name
from groove.chart.versions import Kept, Unwritten, Version, directions_of, kept_versions
from groove.chart.write import bar_text, setting_lines
from groove.errors import ChartError
from groove.events import Performance
from groove.neck.instrument import STANDARD, Tuning

END_KINDS = frozenset({"ritard", "tag", "hit"})
NOTHING: frozenset[str] = frozenset()
FORM, TUNING = "form", "tuning"
INDENT = "  "


def _with_lines(
    text: str, song: Song, lines: Mapping[int, TabLine], tuning: Tuning, width: int
) -> str:
    """Return the text of a song's chart with notes as tab under its bars.

    ``lines`` are by the played number of their bars, on a bass of ``tuning``; bars without one
    stay as they are.  ``width`` is how wide a line of bars gets where it has more than one.
    """
    return _Editor(text, song, kept_versions(song, lines), tuning, width).text()


def with_part(
    text: str, song: Song, placed: Performance, chosen: Container[int], tuning: Tuning, width: int
) -> str:
    """Return the text of a song's chart with its placed bass part under the chosen bars.

    ``placed`` is all of the song on a bass of ``tuning``, ``chosen`` are written bars, with those
    that their notes ring into.  Where the chart's own tab is for another bass, that is written
    anew too.
    """
    is_other = _standing(song).open_pitches != tuning.open_pitches
    tabs = {
        bar.number
        for section in song.sections
        for bar in section.bars
        if is_other and isinstance(bar.line, TabLine)
    }
    lines = written_lines(placed, song, tuning)
    numbers: set[int] = set()
    for bar in placed.bars:
        number, written = bar.ref.played_bar, bar.ref.written_bar
        rings_on = number - 1 in numbers and any(note.is_tied for note in lines[number].notes)
        if bar.ref.is_written and (written in chosen or written in tabs or rings_on):
            numbers.add(number)
    return _with_lines(text, song, {number: lines[number] for number in numbers}, tuning, width)


class _Own(Struct, frozen=True, kw_only=True):
    """The lines of a section in its chart: its settings, and what belongs to its bars."""

    head: Line
    settings: tuple[Line, ...]
    bars: tuple[Line, ...]

    @property
    def last(self) -> int:
        """The number of its last line."""
        return max(line.number for line in (self.head, *self.settings, *self.bars))

    @property
    def indent(self) -> str:
        """How its lines are indented."""
        line = next(iter((*self.bars, *self.settings)), None)
        return line.text[: line.indent] if line else INDENT


class _Editor:
    """Puts new lines in place of those of a chart, and after them."""

    def __init__(self, text: str, song: Song, kept: Kept, tuning: Tuning, width: int) -> None:
        self.raw = LINE_END.split(text.removeprefix("\ufeff"))
        self.lines = list(split_lines(text, song.source))
        self.song = song
        self.kept = kept
        self.tuning = tuning
        self.width = width
        self.put: dict[int, list[str]] = {}
        self.after: dict[int, list[str]] = {}

    def text(self) -> str:
        for section, own in self.sections():
            versions = self.kept.versions.get(section.name, ())
            if section.like:
                self.edit_like(section, versions, own)
            elif versions:
                self.edit_base(versions[0], own)
            for version in versions[1:]:
                block = self.new_section(version, own)
                self.after.setdefault(own.last, []).extend(["", *block])
        self.edit_settings()
        found: list[str] = []
        for number, line in enumerate(self.raw, start=1):
            found += self.put.get(number, [line])
            found += self.after.get(number, [])
        return "\n".join(found).rstrip("\n") + "\n"

    def sections(self) -> Iterator[tuple[Section, _Own]]:
        heads = {section.place.line: section for section in self.song.sections}
        riffs = {riff.place.line for riff in self.song.riffs}
        starts = heads.keys() | riffs
        runs: dict[int, list[Line]] = {}
        start = 0
        for line in self.lines:
            start = line.number if line.number in starts else start
            runs.setdefault(start, []).append(line)
        for number, section in heads.items():
            head, *rest = runs[number]
            yield section, _own_lines(head, rest)

    def edit_base(self, version: Version, own: _Own) -> None:
        """Put a section's notes under its own bars."""
        bars = self.bars(version)
        if version.is_written_out:
            self.replace_bars(own, list(self.written_out(version, own)))
            return
        section = version.section
        dropped = END_KINDS if self.loses_end(version) else NOTHING
        for number, group in groupby(bars, key=lambda bar: bar.place.line):
            row = list(group)
            was = [section.bars[bar.number - section.bars[0].number] for bar in row]
            if row == was:
                continue
            line = next(line for line in own.bars if line.number == number)
            pieces, tail = line_pieces(line, row, dropped)
            laid = list(
                lines_of_bars(pieces, tail, self.tuning, line.text[: line.indent], self.width)
            )
            laid[0] += self.comment(line)
            self.put[number] = laid
            self.put |= {row.number: [] for row in _rows_under(line, own.bars)}

    def loses_end(self, version: Version) -> bool:
        """Whether the words of the song's end move from a section to another version of it."""
        several = len(self.kept.versions[version.section.name]) > 1
        return several and not version.ends_song

    def comment(self, line: Line) -> str:
        """Return what stands after a line's own text: its comment."""
        comment = self.raw[line.number - 1][len(line.text) :].strip()
        return f"  {comment}" if comment else ""

    def bars(self, version: Version) -> list[WrittenBar]:
        """Return the bars of a version with what is written under them."""
        found = []
        meter = version.section.settings.meter or self.song.meter or DEFAULT_METER
        own = version.section.bars
        before: WrittenBar | None = None
        for place, (index, line) in enumerate(zip(version.steps, version.lines, strict=True)):
            bar = replace(
                own[index],
                line=line if isinstance(line, TabLine) else own[index].line,
                directions=directions_of(version, place, self.kept),
            )
            if version.is_written_out:
                bar = replace(
                    bar,
                    states_meter=bar.meter != meter,
                    repeats_bar=bar.repeats_bar
                    and before is played_before(own[:index], bar.endings),
                )
                _check_on_beats(bar)
            meter, before = bar.meter, own[index]
            found.append(bar)
        return found

    def edit_like(self, section: Section, versions: Sequence[Version], own: _Own) -> None:
        """Put what differs from the section that another is like into lines ``bar 4: …``."""
        base = self.base_of(section)
        lines = (Unwritten.STAYS,) * len(base.steps)
        unplayed = replace(base, section=section, lines=lines, ends_song=False)
        version = versions[0] if versions else unplayed
        if not self.is_like(version):
            self.put |= {line.number: [] for line in own.settings}
            self.put[own.settings[0].number] = self.settings_of(version, own)
            self.replace_bars(own, list(self.written_out(version, own)))
            return
        bars = self.bars(version)
        if bars != list(section.bars) or self.bars(base) != list(base.section.bars):
            self.replace_bars(own, list(self.changes(bars, base, own.indent)))

    def replace_bars(self, own: _Own, lines: Sequence[str]) -> None:
        """Put lines in place of a section's bars and rows."""
        self.put |= {line.number: [] for line in own.bars}
        if own.bars:
            self.put[own.bars[0].number] = list(lines)
        else:
            self.after[own.last] = [*lines, *self.after.get(own.last, [])]

    def base_of(self, section: Section) -> Version:
        """Return the first version of the section that one is like, or of itself."""
        name = section.like or section.name
        versions = self.kept.versions.get(name)
        if versions:
            return versions[0]
        base = self.song.section(name)
        steps = tuple(range(len(base.bars)))
        return Version(
            name=name,
            section=base,
            steps=steps,
            lines=(Unwritten.STAYS,) * len(steps),
            ends_song=False,
            is_written_out=False,
        )

    def is_like(self, version: Version) -> bool:
        """Whether a version can be written as what differs from its first or its base."""
        base = self.base_of(version.section)
        return version.steps == base.steps and version.is_written_out is base.is_written_out

    def changes(self, bars: Sequence[WrittenBar], base: Version, indent: str) -> Iterator[str]:
        """Yield the lines of bars that differ from those of a base."""
        for number, (bar, was) in enumerate(zip(bars, self.bars(base), strict=True), start=1):
            if (bar_text(bar), bar.line, bar.cues) != (bar_text(was), was.line, was.cues):
                yield from numbered_bar(bar, number, self.tuning, indent)

    def new_section(self, version: Version, own: _Own) -> Iterator[str]:
        """Yield the lines of a version after the first: a section of its own."""
        yield f"{own.head.text[: own.head.indent]}{version.name}:"
        if not self.is_like(version):
            yield from self.settings_of(version, own)
            yield from self.written_out(version, own)
            return
        base = self.base_of(version.section)
        yield f"{own.indent}as: {base.name}"
        if version.section.like:
            settings = (line for line in own.settings if setting_name(line) != LIKE)
            yield from (line.text for line in settings)
        yield from self.changes(self.bars(version), base, own.indent)

    def settings_of(self, version: Version, own: _Own) -> list[str]:
        """Return a section's settings, with those that it has of another."""
        return [own.indent + text for text in setting_lines(version.section.settings)]

    def written_out(self, version: Version, own: _Own) -> Iterator[str]:
        """Yield the bars of a version without its repeats."""
        pieces = plain_pieces(self.bars(version))
        return lines_of_bars(pieces, "|", self.tuning, own.indent, self.width)

    def edit_settings(self) -> None:
        """Say which bass the tab is for, and the order of sections, where it differs."""
        if _standing(self.song).open_pitches != self.tuning.open_pitches:
            self.set(TUNING, self.tuning.name)
        if self.kept.form:
            counted = [(name, len(list(run))) for name, run in groupby(self.kept.form)]
            self.set(FORM, ", ".join(n + (f" x{k}" if k > 1 else "") for n, k in counted))

    def set(self, name: str, value: str) -> None:
        """Put a setting of the song in place of the chart's, else under its title or at its end."""
        heads = {section.place.line for section in self.song.sections}
        found = (
            n for n in self.lines if n.kind is TextLineKind.SETTING and setting_name(n) == name
        )
        line = next(found, None)
        if line:
            text = f"{line.text[: line.indent]}{name}: {value}"
            self.put[line.number] = [text + self.comment(line)]
        elif name == FORM:
            self.after.setdefault(self.lines[-1].number, []).extend(["", f"{name}: {value}"])
        else:
            first = self.lines[0]
            self.put[first.number] = (
                [self.raw[first.number - 1], f"{name}: {value}"]
                if first.number not in heads
                else [f"{name}: {value}", "", self.raw[first.number - 1]]
            )


def _check_on_beats(bar: WrittenBar) -> None:
    """Refuse a bar that had its chords from a bar of another meter, off its own beats."""
    beat = bar.meter.beat_quarters
    if not bar.repeats_bar and any(span.start_quarters % beat for span in bar.chords):
        raise ChartError(
            "this bar repeats one of another meter and cannot be written out",
            place=bar.place,
            hint="expected its chords in place of %",
        )


def _standing(song: Song) -> Tuning:
    """Return the tuning that the chart's own tab is for."""
    return song.settings.tuning or STANDARD


def _own_lines(head: Line, rest: Sequence[Line]) -> _Own:
    """Return the lines of a section by what they are for; those of the song are left out."""
    settings: list[Line] = []
    bars: list[Line] = []
    above: Line | None = None
    for line in rest:
        name = setting_name(line) if line.kind is TextLineKind.SETTING else ""
        # Rows may stand under the song's pickup too.
        is_row = line.kind is TextLineKind.ROW and above in bars
        above = above if line.kind is TextLineKind.ROW else line
        if is_row or name == CUE or line.kind in (TextLineKind.BARS, TextLineKind.CHANGE):
            bars.append(line)
        elif name and name not in SONG_READERS:
            settings.append(line)
    return _Own(head=head, settings=tuple(settings), bars=tuple(bars))


def _rows_under(line: Line, bars: Sequence[Line]) -> Iterator[Line]:
    after = iter(bars)
    next(each for each in after if each is line)
    yield from takewhile(lambda each: each.kind is TextLineKind.ROW, after)
