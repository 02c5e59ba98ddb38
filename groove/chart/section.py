"""A section of a chart: its settings, bars, cues and rows, or those of another that it is like."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from itertools import groupby
from typing import TYPE_CHECKING, cast

from msgspec.structs import replace

from groove.chart.bars import BarReader, ChartCount
from groove.chart.blocks import BLOCK_ROWS, block_heading
from groove.chart.line_marks import BarLine, Token, read_marks
from groove.chart.lines import Line
from groove.chart.model import (
    DEFAULT_METER,
    Notation,
    Section,
    Settings,
    Tempo,
    WrittenBar,
)
from groove.chart.pickup import Pickup
from groove.chart.repeats import check_repeats
from groove.chart.rows import with_rows
from groove.chart.settings import SettingTable
from groove.chart.symbols import Symbols
from groove.chart.transpose import respelled_bars
from groove.errors import ChartError, joined_hints, nearest_hint
from groove.naming import named_among
from groove.neck.instrument import Tuning
from groove.notices import Notice, NoticeKind, make_notice
from groove.theory.keys import Key
from groove.timing import FASTEST_QPM, SLOWEST_QPM, Meter

if TYPE_CHECKING:
    from groove.chart.tab_scale import Doubt


class RawSection:
    """A section as it is read: its head, its settings and its lines of bars."""

    def __init__(self, head: Line) -> None:
        """Begin with the section's head."""
        self.head = head
        self.table = SettingTable()
        self.bar_lines: list[Line] = []
        self.rows: dict[int, list[Line]] = {}
        self.cues: dict[int, tuple[str, ...]] = {}
        self.like: Line | None = None
        self.changes: dict[int, Line] = {}


def _nothing_under(head: Line) -> ChartError:
    """Return the error for a section without bars, which may be meant as a block of rows."""
    expected = "expected bars under it, e.g. | D | A |"
    message = f"the section {head.name!r} has no bars"
    if block := block_heading(head):
        part, _ = block
        message = f"found nothing under {head.name!r}"
        expected = f"expected its row, e.g. {BLOCK_ROWS[part]}; or bars, e.g. | D | A |"
    return ChartError(message, place=head.value_place(), hint=expected)


class SectionReader:
    """Reads the sections of a chart in order, with what they share."""

    def __init__(
        self,
        song: Settings,
        notation: Notation,
        chords: Line | None,
        stated: Key | None,
        tuning: Tuning,
    ) -> None:
        """``chords`` is the line that says how chords are written, ``stated`` the key as given."""
        self.song = song
        self.notation = notation
        self.chords = chords
        self.stated = stated
        self.tuning = tuning
        self.count = ChartCount()
        self.notices: list[Notice] = []
        self.doubts: dict[Doubt, list[WrittenBar]] = {}
        self.read_already: dict[str, tuple[RawSection, Section]] = {}

    def read(self, raw: RawSection) -> Section:
        """Return one section.  Raises ChartError."""
        section = self.read_like(raw, raw.like) if raw.like else self.read_own(raw)
        self.read_already[raw.head.name.casefold()] = (raw, section)
        return section

    def read_own(self, raw: RawSection) -> Section:
        """Return a section with bars of its own."""
        own = self.keys_respelled(raw)
        self.check_tempo(raw, own)
        if raw.changes:
            raise ChartError(
                "found a bar by its number in a section of its own bars",
                place=next(iter(raw.changes.values())).name_place(),
                hint="expected  as: verse  above it, or the bars as  | D | A |",
            )
        if not raw.bar_lines:
            raise _nothing_under(raw.head)
        bars = self.read_bars(raw.bar_lines, own, {})
        if not bars:
            place = raw.bar_lines[0].value_place()
            hint = "expected chords between the bar lines, e.g. | D | A |"
            raise ChartError("found bar lines and no bar", place=place, hint=hint)
        bars = self.with_rows(raw, _with_cues(raw, raw.bar_lines, bars))
        return Section(
            name=raw.head.name,
            settings=own,
            bars=self.finished(raw, bars),
            place=raw.head.value_place(),
        )

    def read_pickup(
        self, line: Line, rows: Sequence[Line], pickup: Pickup, first: Section
    ) -> WrittenBar:
        """Return the bar of a pickup, read as the section that it leads into is.

        ``line`` is the setting, ``rows`` stand under it.  Raises ChartError.
        """
        settings = first.settings.over(self.song)
        words = _one_bar(line, "as  pickup: 1 | A7 |")
        if words[0].text.startswith("("):
            raise ChartError(
                f"found {words[0].shown} in the pickup",
                place=words[0].place,
                hint="expected chords; words to the band stand in the bars of a section",
            )
        meter = pickup.meter(first.bars[0].meter)
        reader = BarReader(meter, ChartCount(), self.symbols(settings.key))
        bar = replace(reader.read_whole(words), number=0)
        self.note_doubled(reader.doubled)
        if rows:
            (bar,) = with_rows((bar,), rows, self.tuning, (), self.doubt)
        if self.notation is Notation.LETTERS:
            (bar,) = respelled_bars((bar,), first.settings.key or self.stated)
        return bar

    def finished(self, raw: RawSection, bars: tuple[WrittenBar, ...]) -> tuple[WrittenBar, ...]:
        """Return bars whose repeats were looked at, spelled as their key is."""
        check_repeats(bars)
        if self.notation is not Notation.LETTERS:
            return bars
        return respelled_bars(bars, raw.table.settings().key or self.stated)

    def read_bars(
        self,
        lines: Sequence[Line],
        settings: Settings,
        changes: Mapping[int, list[Token]],
    ) -> tuple[WrittenBar, ...]:
        """Return the bars of lines, some of them in place of those that stand there."""
        meter = settings.meter or self.song.meter or DEFAULT_METER
        symbols = self.symbols(settings.key or self.song.key)
        reader = BarReader(meter, self.count, symbols, changes)
        bars = reader.read(lines)
        self.note_doubled(reader.doubled)
        return bars

    def read_like(self, raw: RawSection, line: Line) -> Section:
        """Return a section that has the bars of another, some of them changed."""
        base_raw, base = self.base(raw, line)
        own = self.keys_respelled(raw).over(base.settings)
        self.check_tempo(raw, own)
        example = "as  bar 4: | D / / A |"
        changes = {number: _one_bar(change, example) for number, change in raw.changes.items()}
        for number, change in raw.changes.items():
            if not 1 <= number <= len(base.bars):
                raise ChartError(
                    f"{base.name} has no bar {number}",
                    place=change.name_place(),
                    hint=f"expected bar 1 to bar {len(base.bars)}, as the section is written",
                )
        bars = self.read_bars(base_raw.bar_lines, own, changes)
        merged = [
            bar if number in changes else replace(bar, line=before.line, cues=before.cues)
            for number, (bar, before) in enumerate(zip(bars, base.bars, strict=True), start=1)
        ]
        bars = self.with_rows(raw, _with_cues(raw, raw.changes.values(), tuple(merged)))
        return Section(
            name=raw.head.name,
            settings=own,
            bars=self.finished(raw, bars),
            like=base.name,
            changed=tuple(sorted({*changes, *_held_over(bars, base.bars)})),
            place=raw.head.value_place(),
        )

    def base(self, raw: RawSection, line: Line) -> tuple[RawSection, Section]:
        """Return the section that another one is like.  Raises ChartError."""
        name = " ".join(line.value.casefold().split())
        found = self.read_already.get(named_among(name, self.read_already))
        if raw.bar_lines:
            raise ChartError(
                f"the section {raw.head.name!r} has bars beside  as: {line.value[:40]}",
                place=raw.bar_lines[0].value_place(),
                hint="expected lines as  bar 4: | D / / A |  for what differs",
            )
        if found is None or found[1].like:
            names = [each.name for _, each in self.read_already.values() if not each.like]
            near = nearest_hint(line.value[:40], names)
            raise ChartError(
                f"no section above with bars of its own: {line.value[:40]!r}",
                place=line.value_place(),
                hint=joined_hints(near, "expected the name of one that stands above"),
            )
        return found

    def with_rows(self, raw: RawSection, bars: tuple[WrittenBar, ...]) -> tuple[WrittenBar, ...]:
        """Return a section's bars with the rows under them."""
        if not raw.rows:
            return bars
        found: list[WrittenBar] = []
        lines = {bar.place.line for bar in bars}
        for number, rows in raw.rows.items():
            if rows and number not in lines:
                hint = "expected a bar that begins on the line above, between |"
                raise ChartError("found a row under no bar", place=rows[0].value_place(), hint=hint)
        for number, group in groupby(bars, key=lambda bar: bar.place.line):
            own = list(group)
            under = raw.rows.get(number)
            found += with_rows(own, under, self.tuning, found, self.doubt) if under else own
        return tuple(found)

    def note_doubled(self, doubled: Sequence[Token]) -> None:
        """Say once how a push by a sixteenth is written now."""
        kind = NoticeKind.NOW_WRITTEN
        if doubled and all(notice.kind is not kind for notice in self.notices):
            token = doubled[0]
            new = f"16<{token.text.lstrip('<')}"
            line = token.line.number
            self.notices.append(make_notice(kind, line=line, old=token.shown, new=new))

    def doubt(self, doubt: "Doubt", bar: WrittenBar) -> None:
        """Keep a bar whose tab may be meant otherwise."""
        self.doubts.setdefault(doubt, []).append(bar)

    def doubtful(self) -> Iterator[Notice]:
        """Yield a notice for each kind of doubt about what a bar's tab means."""
        for doubt, bars in self.doubts.items():
            first, kind = bars[0], NoticeKind.DOUBTFUL_TAB
            line, name = first.place.line, doubt.value
            yield make_notice(kind, first.number, line=line, doubt=name, bars=len(bars))

    def symbols(self, key: Key | None) -> Symbols:
        """Return the reader of chord symbols for a section with a key."""
        if self.notation is Notation.LETTERS:
            return Symbols()
        if key is None:
            assert self.chords
            raise ChartError(
                "numbers need a key to count from",
                place=self.chords.value_place(),
                hint="expected a line as  key: D  before the first section",
            )
        return Symbols(key)

    def keys_respelled(self, raw: RawSection) -> Settings:
        """Return a section's own settings, its key with at most seven accidentals."""
        settings, notices = respelled_settings(raw.table.settings(), f"section {raw.head.name}")
        self.notices += notices
        return settings

    def check_tempo(self, raw: RawSection, own: Settings) -> None:
        """Refuse a tempo that is out of range once its beat is known."""
        check_tempo(raw.table, own.meter or self.song.meter or DEFAULT_METER)


def respelled_settings(settings: Settings, where: str) -> tuple[Settings, list[Notice]]:
    """Return settings whose key has at most seven accidentals, and a notice of a change.

    More are in no signature, and in no MIDI file (*Standard MIDI Files 1.0*: −7 to 7).
    """
    if settings.key is None or settings.key == settings.key.respelled():
        return settings, []
    better = settings.key.respelled()
    kind, key = NoticeKind.KEY_READ_AS, settings.key.name
    notice = make_notice(kind, where=where, key=key, better=better.name)
    return replace(settings, key=better), [notice]


def check_tempo(table: SettingTable, meter: Meter) -> None:
    """Refuse a tempo that is out of range once its beat is known."""
    tempo = cast(Tempo | None, table.values.get("tempo"))
    if tempo is None:
        return
    for bpm in (tempo.bpm, tempo.end_bpm):
        if bpm and not SLOWEST_QPM <= bpm * meter.tempo_unit_quarters <= FASTEST_QPM:
            low, high = (float(q / meter.tempo_unit_quarters) for q in (SLOWEST_QPM, FASTEST_QPM))
            raise ChartError(
                f"a tempo of {float(bpm):g} is out of range in {meter}",
                place=table.lines["tempo"].value_place(),
                hint=f"expected {low:g} to {high:g} beats ({meter.tempo_symbol}) a minute",
            )


def check_steady_tempo(table: SettingTable) -> None:
    """Refuse a tempo that moves at the head of a chart: every section would begin it anew."""
    tempo = cast(Tempo | None, table.values.get("tempo"))
    if tempo is not None and tempo.end_bpm is not None:
        raise ChartError(
            "a tempo that moves stands at the head of the chart, for every section to begin anew",
            place=table.lines["tempo"].value_place(),
            hint=f"expected one tempo, as {float(tempo.bpm):g}, and where it moves: "
            "(ritard) in a bar of the last section, or this line in a section of its own",
        )


def _with_cues(
    raw: RawSection, lines: Iterable[Line], bars: tuple[WrittenBar, ...]
) -> tuple[WrittenBar, ...]:
    """Return bars with the cues over the lines that they begin on.  Raises ChartError."""
    first = {bar.place.line: bar.number for bar in reversed(bars)}
    for line in lines:
        if raw.cues.get(line.number) and line.number not in first:
            hint = "expected a bar that begins on the line under the cue"
            raise ChartError("found a cue over no bar", place=line.value_place(), hint=hint)
    return tuple(
        replace(bar, cues=raw.cues[bar.place.line])
        if bar.place.line in raw.cues and first[bar.place.line] == bar.number
        else bar
        for bar in bars
    )


def _held_over(bars: Sequence[WrittenBar], before: Sequence[WrittenBar]) -> Iterator[int]:
    """Yield the bars, from 1, that hold another chord since the one before them changed."""
    for number, (bar, other) in enumerate(zip(bars, before, strict=True), start=1):
        own, theirs = ([span.written for span in each.chords] for each in (bar, other))
        if own != theirs and not bar.repeats_bar:
            yield number


def _one_bar(line: Line, example: str) -> list[Token]:
    """Return the words of a line that has one bar between plain bar lines.

    Raises ChartError that shows an ``example`` for any other.
    """
    marks = list(read_marks(line))
    words = [mark for mark in marks if isinstance(mark, Token)]
    edges = [mark for mark in marks if isinstance(mark, BarLine)]
    is_one = words and isinstance(marks[0], BarLine) and len(edges) <= 2
    is_one = is_one and (len(edges) == 1 or isinstance(marks[-1], BarLine))
    if not is_one or not all(edge.is_plain and not edge.is_double for edge in edges):
        raise ChartError(
            "found no single bar here",
            place=line.value_place(),
            hint=f"expected one bar between plain bar lines, {example}",
        )
    return words
