"""Bars of a section: from bar lines and tokens to written bars with exact beats."""

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from fractions import Fraction

from groove.chart.lines import Line
from groove.chart.model import BandWord, ChordSpan, WrittenBar
from groove.chart.settings import parse_meter
from groove.errors import ChartError, SourcePlace, nearest_hint
from groove.theory.chords import QUALITIES, Chord
from groove.theory.pitch import NOTE_PATTERN
from groove.timing import Meter

MOST_CHORDS_IN_BAR = 64
MOST_PASSES = 64
NO_CHORD = ("n.c.", "nc", "n.c")
BAR_MARK = re.compile(
    r"(?P<close>:)?(?P<bar>\|{1,2})(?P<open>:)?(?:(?P<endings>[0-9]{1,2}(?:,[0-9]{1,2})*)\.)?"
)
PASSES = re.compile(r"[x×]([0-9]{1,4})(?=\s|$|\|)", re.IGNORECASE)

ChordReader = Callable[[str], Chord]


@dataclass(frozen=True, slots=True, kw_only=True)
class Token:
    """A word between bar lines, with its place."""

    text: str
    place: SourcePlace


@dataclass(frozen=True, slots=True, kw_only=True)
class BarLine:
    """One bar line, everything that stands at it taken together."""

    place: SourcePlace
    closes: bool = False
    opens: bool = False
    is_double: bool = False
    endings: tuple[int, ...] = ()
    passes: int | None = None

    @property
    def is_plain(self) -> bool:
        """Whether it is a bar line and nothing else."""
        return not (self.closes or self.opens or self.endings)

    def merged(self, other: "BarLine") -> "BarLine":
        """Return this bar line and one right after it as one."""
        return BarLine(
            place=self.place,
            closes=self.closes or other.closes,
            opens=self.opens or other.opens,
            is_double=self.is_double or other.is_double,
            endings=self.endings or other.endings,
            passes=self.passes or other.passes,
        )


Mark = BarLine | Token


def read_marks(line: Line) -> Iterator[Mark]:
    """Yield the bar lines and words of one line."""
    text = line.value
    position = 0
    while position < len(text):
        if text[position].isspace():
            position += 1
            continue
        column = line.column + position
        match = BAR_MARK.match(text, position)
        if not match:
            end = next_break(text, position)
            word = text[position:end]
            yield Token(text=word, place=line.place(column, len(word)))
            position = end
            continue
        position = match.end()
        bar_line = BarLine(
            place=line.place(column, len(match[0])),
            closes=bool(match["close"]),
            opens=bool(match["open"]),
            is_double=len(match["bar"]) == 2,
            endings=read_endings(match, line, column),
        )
        if bar_line.closes and (passes := PASSES.match(text, skip_space(text, position))):
            position = passes.end()
            bar_line = replace(bar_line, passes=read_passes(passes, line))
        yield bar_line


def next_break(text: str, position: int) -> int:
    """Return where a word ends: at white space or a bar line."""
    end = position + 1
    while end < len(text) and not text[end].isspace() and not BAR_MARK.match(text, end):
        end += 1
    return end


def skip_space(text: str, position: int) -> int:
    """Return the position of the next character that is no white space."""
    while position < len(text) and text[position].isspace():
        position += 1
    return position


def read_endings(match: re.Match[str], line: Line, column: int) -> tuple[int, ...]:
    """Return the passes of an ending: ``|1,2.``."""
    if not match["endings"]:
        return ()
    passes = tuple(int(text) for text in match["endings"].split(","))
    if len(set(passes)) != len(passes) or not all(1 <= n <= MOST_PASSES for n in passes):
        raise ChartError(
            f"cannot read the ending {match['endings']}.",
            place=line.place(column, len(match[0])),
            hint=f"expected different passes from 1 to {MOST_PASSES}, as |1. or |1,2.",
        )
    return passes


def read_passes(match: re.Match[str], line: Line) -> int:
    """Return how often a repeat is played in all: ``:| x3``."""
    passes = int(match[1])
    if not 2 <= passes <= MOST_PASSES:
        raise ChartError(
            f"cannot play a repeat {passes} times",
            place=line.place(line.column + match.start(), len(match[0])),
            hint=f"expected x2 to x{MOST_PASSES}: how often it is played in all",
        )
    return passes


def merged_marks(lines: list[Line]) -> list[Mark]:
    """Return the marks of all lines, bar lines with nothing between them taken as one."""
    marks: list[Mark] = []
    for line in lines:
        for mark in read_marks(line):
            before = marks[-1] if marks else None
            if isinstance(mark, BarLine) and isinstance(before, BarLine):
                refuse_empty_bar(before, mark)
                marks[-1] = before.merged(mark)
            else:
                marks.append(mark)
    return marks


def refuse_empty_bar(before: BarLine, after: BarLine) -> None:
    """Refuse two plain bar lines on one line with nothing between them."""
    if before.place.line == after.place.line and before.is_plain and after.is_plain:
        raise ChartError(
            "found a bar with nothing in it",
            place=replace(before.place, length=after.place.column - before.place.column + 1),
            hint="expected a chord, % for the bar before again, or N.C. for no chord",
        )


class BarReader:
    """Reads the bars of one section, in order."""

    def __init__(self, meter: Meter, first_number: int, read_chord: ChordReader) -> None:
        """``first_number`` is the chart's number of the section's first bar."""
        self.meter = meter
        self.number = first_number
        self.read_chord = read_chord
        self.bars: list[WrittenBar] = []
        self.open_repeat: BarLine | None = None
        self.endings: tuple[int, ...] = ()

    def read(self, lines: list[Line]) -> tuple[WrittenBar, ...]:
        """Return the bars of the section's lines.  Raises ChartError."""
        start: BarLine | None = None
        tokens: list[Token] = []
        for mark in merged_marks(lines):
            if isinstance(mark, Token):
                tokens.append(mark)
                continue
            if tokens:
                self.close_bar(start, tokens, mark)
            else:
                self.check_first(mark)
            start, tokens = mark, []
        if tokens:
            self.close_bar(start, tokens, None)
        if self.open_repeat:
            raise ChartError(
                "this repeat is opened and never closed",
                place=self.open_repeat.place,
                hint="expected :| after its last bar",
            )
        return tuple(self.bars)

    def check_first(self, mark: BarLine) -> None:
        """Refuse a repeat that closes before any bar."""
        if mark.closes and not self.bars:
            hint = "expected bars before it, as |: D | A :|"
            raise ChartError(
                "found the end of a repeat before any bar", place=mark.place, hint=hint
            )

    def close_bar(self, start: BarLine | None, tokens: list[Token], end: BarLine | None) -> None:
        """Add the bar between two bar lines."""
        opens = bool(start and start.opens)
        if start and opens:
            self.begin_repeat(start)
        if start and start.endings:
            self.endings = start.endings
        closes = bool(end and end.closes)
        bar = replace(
            self.read_bar(tokens),
            opens_repeat=opens,
            closes_repeat=closes,
            passes=(end.passes or 2) if end and closes else 2,
            endings=self.endings,
            double_bar=bool(end and end.is_double),
        )
        self.bars.append(bar)
        self.number += 1
        if closes:
            self.open_repeat = None
        if closes or (end and end.is_double):
            self.endings = ()

    def begin_repeat(self, mark: BarLine) -> None:
        """Note that a repeat is open."""
        if self.open_repeat:
            raise ChartError(
                f"found a repeat inside the one opened in line {self.open_repeat.place.line}",
                place=mark.place,
                hint="expected :| before the next |:  (repeats do not nest)",
            )
        self.open_repeat = mark
        self.endings = ()

    def read_bar(self, tokens: list[Token]) -> WrittenBar:
        """Return what stands between two bar lines."""
        place = tokens[0].place
        states_meter, word, rest = self.read_head(tokens)
        if not rest:
            raise ChartError(
                "found a bar with no chord in it",
                place=place,
                hint="expected a chord, % for the bar before again, or N.C. for no chord",
            )
        is_repeat = any(token.text == "%" for token in rest)
        chords = self.repeated(rest) if is_repeat else self.read_chords(rest)
        return WrittenBar(
            number=self.number,
            meter=self.meter,
            chords=chords,
            states_meter=states_meter,
            repeats_bar=is_repeat,
            word=word,
            place=place,
        )

    def read_head(self, tokens: list[Token]) -> tuple[bool, BandWord | None, list[Token]]:
        """Return whether a meter is stated, the word to the band, and the rest of the tokens."""
        states_meter = False
        word: BandWord | None = None
        index = 0
        while index < len(tokens) and tokens[index].text.startswith("("):
            inside = tokens[index].text.strip("()").casefold()
            if meter := parse_meter(inside):
                self.meter, states_meter = meter, True
            elif inside in list(BandWord):
                word = BandWord(inside)
            else:
                near = nearest_hint(inside, BandWord)
                raise ChartError(
                    f"no such word to the band: {tokens[index].text[:40]!r}",
                    place=tokens[index].place,
                    hint=(f"{near}; " if near else "")
                    + "expected (hold), (stop), or a meter as (3/4)",
                )
            index += 1
        return states_meter, word, tokens[index:]

    def repeated(self, tokens: list[Token]) -> tuple[ChordSpan, ...]:
        """Return the chords of the bar before, fitted to this bar's meter."""
        place = next(token.place for token in tokens if token.text == "%")
        if len(tokens) > 1:
            hint = "expected % alone in its bar"
            raise ChartError("found % beside other chords", place=place, hint=hint)
        if not self.bars:
            hint = "expected a chord: a section's first bar has none before it"
            raise ChartError("found % with no bar before it", place=place, hint=hint)
        end = self.meter.bar_quarters
        spans = [span for span in self.bars[-1].chords if span.start_quarters < end]
        ends = [*(span.start_quarters for span in spans[1:]), end]
        return tuple(
            replace(span, length_quarters=stop - span.start_quarters, place=place)
            for span, stop in zip(spans, ends, strict=True)
        )

    def read_chords(self, tokens: list[Token]) -> tuple[ChordSpan, ...]:
        """Return the chords of a bar with their beats."""
        if len(tokens) > MOST_CHORDS_IN_BAR:
            raise ChartError(
                f"found {len(tokens)} chords in one bar",
                place=tokens[MOST_CHORDS_IN_BAR].place,
                hint=f"expected at most {MOST_CHORDS_IN_BAR}",
            )
        beats = self.meter.beats_per_bar
        if any(token.text == "/" for token in tokens):
            shares = self.spelled_beats(tokens, beats)
        elif beats % len(tokens) == 0:
            shares = [(token, beats // len(tokens)) for token in tokens]
        else:
            raise self.uneven(tokens, beats)
        return self.spans(shares)

    def spelled_beats(self, tokens: list[Token], beats: int) -> list[tuple[Token, int]]:
        """Return each chord and its beats where every token is one beat."""
        if len(tokens) != beats:
            raise ChartError(
                f"found {len(tokens)} beats in a bar of {self.meter}, expected {beats}",
                place=tokens[min(len(tokens) - 1, beats)].place,
                hint="where a / stands alone every word is one beat: "
                + beat_example(tokens, beats),
            )
        shares: list[tuple[Token, int]] = []
        for token in tokens:
            if token.text != "/":
                shares.append((token, 1))
            elif shares:
                shares[-1] = (shares[-1][0], shares[-1][1] + 1)
            else:
                shares.append((self.chord_before(token), 1))
        return shares

    def chord_before(self, token: Token) -> Token:
        """Return the chord that a / at a bar's head holds."""
        if not self.bars:
            raise ChartError(
                "found / with no chord before it",
                place=token.place,
                hint="expected a chord: a section's first bar has none before it",
            )
        return Token(text=self.bars[-1].chords[-1].written, place=token.place)

    def uneven(self, tokens: list[Token], beats: int) -> ChartError:
        """Return the error for chords that do not share a bar evenly, with a line that would do."""
        return ChartError(
            f"found {len(tokens)} chords in a bar of {beats} beats ({self.meter})",
            place=replace(tokens[0].place, length=span_length(tokens)),
            hint="expected beats where they are not even, each word one beat: "
            + beat_example(tokens, beats),
        )

    def spans(self, shares: list[tuple[Token, int]]) -> tuple[ChordSpan, ...]:
        """Return chord spans from chords and their beats."""
        spans = []
        start = Fraction(0)
        for token, beats in shares:
            length = beats * self.meter.beat_quarters
            spans.append(self.read_span(token, start, length))
            start += length
        return tuple(spans)

    def read_span(self, token: Token, start: Fraction, length: Fraction) -> ChordSpan:
        """Return one chord with its push.  Raises ChartError with the nearest chord."""
        text = token.text.lstrip("<")
        pushes = len(token.text) - len(text)
        is_silent = text.casefold() in NO_CHORD
        if pushes > 2 or (pushes and (is_silent or text in ("%", "/", ""))):
            raise ChartError(
                f"cannot push {token.text[:20]!r}",
                place=token.place,
                hint="expected <G (an eighth early) or <<G (a sixteenth early) on a chord",
            )
        chord = None if is_silent else self.read_symbol(text, token.place)
        return ChordSpan(
            chord=chord,
            written="N.C." if is_silent else text,
            start_quarters=start,
            length_quarters=length,
            pushes=pushes,
            place=token.place,
        )

    def read_symbol(self, text: str, place: SourcePlace) -> Chord:
        """Return the chord of a symbol."""
        try:
            return self.read_chord(text)
        except ValueError as error:
            raise ChartError(
                f"cannot read the chord {text[:40]!r}", place=place, hint=chord_hint(text, error)
            ) from None


def span_length(tokens: list[Token]) -> int:
    """Return how many columns tokens of one line cover."""
    first, last = tokens[0].place, tokens[-1].place
    if first.line != last.line:
        return first.length
    return last.column + last.length - first.column


def beat_example(tokens: list[Token], beats: int) -> str:
    """Return a bar of the right number of beats that begins with the words that were found."""
    words = [token.text for token in tokens][:beats]
    return "| " + " ".join([*words, *["/"] * (beats - len(words))]) + " |"


def chord_hint(text: str, error: ValueError) -> str:
    """Return what was expected in place of a chord, and the nearest one."""
    head = text[:1].upper() + text[1:]
    match = re.match(NOTE_PATTERN, head)
    near = ""
    if match:
        known = [match[0] + spelling for quality in QUALITIES for spelling in quality.spellings]
        near = nearest_hint(head[:40], known)
    return "; ".join(filter(None, (str(error), near)))
