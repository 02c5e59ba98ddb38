"""Bars of a section: from bar lines and words to written bars with exact beats."""

import re
from collections.abc import Iterable, Mapping
from fractions import Fraction
from functools import lru_cache

from msgspec import Struct, field
from msgspec.structs import replace

from groove.bar_place import BandWord
from groove.chart.examples import spelled_hint, uneven_hint
from groove.chart.line_marks import BarLine, Token, merged_marks
from groove.chart.lines import Line
from groove.chart.model import ChordSpan, Directions, WrittenBar
from groove.chart.push import Push
from groove.chart.repeats import played_before
from groove.chart.settings import parse_meter
from groove.chart.symbols import Symbols
from groove.chart.words import WORDS, Word, find_word, read_fields, unknown_word
from groove.errors import ChartError, SourcePlace, SymbolError
from groove.theory.chords import Chord
from groove.timing import Meter

MOST_CHORDS_IN_BAR = 64
MOST_WRITTEN_BARS = 20_000
MOST_CHORDS = 100_000
MOST_SYMBOLS = 5_000
PUSHED = re.compile(r"(?:(?P<value>16|8\.|8|4)?<|(?P<doubled><<))(?!<)|")
_UNREAD_PUSH = re.compile(r"[0-9.]*<")
_NO_CHORD = ("n.c.", "nc", "n.c")
_TAB = re.compile(r"(?=.*-.*-)[-=~0-9hpxb/\\<>]+", re.IGNORECASE)
"""What stands on a string of tab, and in no bar of chords."""
HEAD_WORD = re.compile(r"\(\s*([^()]*?)\s*\)")


class ChartCount(Struct):
    """How much a chart has so far; refuses what is too large for a song."""

    bars: int = 0
    chords: int = 0
    symbols: set[str] = field(default_factory=set)

    def add(self, chords: tuple[ChordSpan, ...], place: SourcePlace) -> int:
        """Count one more bar and return its number, from 1.  Raises ChartError."""
        self.bars += 1
        self.chords += len(chords)
        self.symbols.update(span.written for span in chords)
        for count, most, noun in (
            (self.bars, MOST_WRITTEN_BARS, "bars"),
            (self.chords, MOST_CHORDS, "chords"),
            (len(self.symbols), MOST_SYMBOLS, "different chords"),
        ):
            if count > most:
                raise ChartError(
                    f"the chart has too many {noun}",
                    place=place,
                    hint=f"expected at most {most} {noun} in a song",
                )
        return self.bars


@lru_cache(maxsize=4096)
def _beat_grid(meter: Meter, shares: tuple[int, ...]) -> tuple[tuple[Fraction, Fraction], ...]:
    """Return (start, length) in quarters for chords that last so many beats each."""
    beat = meter.beat_quarters
    starts = [sum(shares[:index]) for index in range(len(shares))]
    return tuple((start * beat, share * beat) for start, share in zip(starts, shares, strict=True))


class _BarHead(Struct, frozen=True):
    """What stands at a bar's head: a stated meter, a word to the band; ``size`` in words."""

    meter: Meter | None
    word: BandWord | None
    directions: Directions
    size: int


class BarReader:
    """Reads the bars of one section, in order."""

    def __init__(
        self,
        meter: Meter,
        count: ChartCount,
        symbols: Symbols,
        changes: Mapping[int, list[Token]] | None = None,
    ) -> None:
        """``count`` goes on from the sections before.

        ``changes`` are the words of bars, by number from 1, in place of those that stand there.
        """
        self.changes = changes or {}
        self.meter = meter
        self.count = count
        self.symbols = symbols
        self.bars: list[WrittenBar] = []
        self.open_repeat: BarLine | None = None
        self.endings: tuple[int, ...] = ()
        self.doubled: list[Token] = []

    def read(self, lines: Iterable[Line]) -> tuple[WrittenBar, ...]:
        """Return the bars of the section's lines.  Raises ChartError."""
        start: BarLine | None = None
        tokens: list[Token] = []
        for mark in merged_marks(lines):
            if isinstance(mark, Token):
                tokens.append(mark)
                if len(tokens) > MOST_CHORDS_IN_BAR + len(WORDS):
                    raise _too_many_chords(mark)
                continue
            if tokens:
                self.close_bar(start, tokens, mark)
            elif mark.closes:
                hint = "expected bars before it, e.g. |: D | A :|"
                message = "found the end of a repeat before any bar"
                raise ChartError(message, place=mark.place, hint=hint)
            start, tokens = mark, []
        if tokens:
            self.close_bar(start, tokens, None)
        elif start:
            self.check_last(start)
        self.check_closed()
        return tuple(self.bars)

    def read_whole(self, tokens: list[Token]) -> WrittenBar:
        """Return a bar that stands by itself, between plain bar lines."""
        return self.read_bar(tokens, opens=False, closes=False, passes=2, is_double=False)

    def check_last(self, mark: BarLine) -> None:
        """Refuse a repeat or an ending that begins where the section ends."""
        if mark.endings:
            hint = "expected bars after it, e.g. |1. A :|2. D |"
            raise ChartError("found an ending with nothing in it", place=mark.place, hint=hint)
        if mark.opens:
            self.begin_repeat(mark)

    def check_closed(self) -> None:
        """Refuse a repeat that nothing closes."""
        if self.open_repeat:
            raise ChartError(
                "this repeat is opened and never closed",
                place=self.open_repeat.place,
                hint="expected :| after its last bar",
            )

    def close_bar(self, start: BarLine | None, tokens: list[Token], end: BarLine | None) -> None:
        """Add the bar between two bar lines."""
        opens = bool(start and start.opens)
        if start and opens:
            self.begin_repeat(start)
        if start and start.endings:
            self.close_first_ending(start)
            self.endings = start.endings
        closes = bool(end and end.closes)
        is_double = bool(end and end.is_double)
        passes = (end.passes or 2) if end and closes else 2
        changed = self.changes.get(len(self.bars) + 1)
        # The bars after a changed one go on in the meter that it stood in.
        kept = _stated_meter(tokens) if changed else None
        tokens = changed or tokens
        self.meter = kept or self.meter
        bar = self.read_bar(tokens, opens, closes, passes, is_double)
        self.bars.append(replace(bar, states_meter=True) if kept else bar)
        if closes:
            self.open_repeat = None
        if closes or is_double:
            self.endings = ()

    def close_first_ending(self, mark: BarLine) -> None:
        """Close an ending that the next one follows without ``:|``: it can mean nothing else."""
        last = self.bars[-1] if self.bars else None
        follows = self.endings and min(mark.endings) == max(self.endings) + 1
        if last and follows and not last.closes_repeat and not mark.opens:
            self.bars[-1] = replace(last, closes_repeat=True)
            self.open_repeat = None

    def begin_repeat(self, mark: BarLine) -> None:
        """Note that a repeat is open."""
        if self.open_repeat:
            raise ChartError(
                f"found a repeat inside the one opened in line {self.open_repeat.line.number}",
                place=mark.place,
                hint="expected :| before the next |:  (repeats do not nest)",
            )
        self.open_repeat = mark
        self.endings = ()

    def read_bar(
        self, tokens: list[Token], opens: bool, closes: bool, passes: int, is_double: bool
    ) -> WrittenBar:
        """Return what stands between two bar lines."""
        head = _read_head(tokens, self.meter)
        self.meter = head.meter or self.meter
        rest = tokens[head.size :]
        place = tokens[0].place
        if not rest:
            raise ChartError(
                "found a bar with no chord in it",
                place=place,
                hint="expected a chord, % for the bar before again, or N.C. for no chord",
            )
        is_repeat = any(token.text == "%" for token in rest)
        chords = self.repeated(rest) if is_repeat else self.read_chords(rest)
        return WrittenBar(
            number=self.count.add(chords, place),
            meter=self.meter,
            chords=chords,
            states_meter=head.meter is not None,
            repeats_bar=is_repeat,
            word=head.word,
            directions=head.directions,
            opens_repeat=opens,
            closes_repeat=closes,
            passes=passes,
            endings=self.endings,
            double_bar=is_double,
            place=place,
        )

    def repeated(self, tokens: list[Token]) -> tuple[ChordSpan, ...]:
        """Return the chords of the bar before, fitted to this bar's meter."""
        token = next(token for token in tokens if token.text == "%")
        if len(tokens) > 1:
            hint = "expected % alone in its bar"
            raise ChartError("found % beside other chords", place=token.place, hint=hint)
        before = self.bar_before()
        if before is None:
            hint = "expected a chord: a section's first bar has none before it"
            raise ChartError("found % with no bar before it", place=token.place, hint=hint)
        end, place = self.meter.bar_quarters, token.place
        spans = [span for span in before.chords if span.start_quarters < end]
        ends = [*(span.start_quarters for span in spans[1:]), end]
        return tuple(
            replace(span, length_quarters=stop - span.start_quarters, place=place)
            for span, stop in zip(spans, ends, strict=True)
        )

    def read_chords(self, tokens: list[Token]) -> tuple[ChordSpan, ...]:
        """Return the chords of a bar with their beats."""
        if len(tokens) > MOST_CHORDS_IN_BAR:
            raise _too_many_chords(tokens[MOST_CHORDS_IN_BAR])
        beats = self.meter.beats_per_bar
        spells_beats = any(token.text == "/" for token in tokens)
        if len(tokens) != beats and (spells_beats or beats % len(tokens)):
            # A word that is no chord is the mistake, not the number of beats it makes.
            for token in tokens:
                if token.text != "/":
                    self.read_span(token, Fraction(0), self.meter.bar_quarters)
        if spells_beats:
            return self.spans(*self.spelled_beats(tokens, beats))
        if beats % len(tokens) == 0:
            return self.spans(tokens, [beats // len(tokens)] * len(tokens))
        raise _uneven(tokens, self.meter)

    def spelled_beats(self, tokens: list[Token], beats: int) -> tuple[list[Token], list[int]]:
        """Return the chords and their beats where every token is one beat."""
        if len(tokens) != beats:
            raise ChartError(
                f"found {len(tokens)} beats in a bar of {self.meter}, expected {beats}",
                place=tokens[min(len(tokens) - 1, beats)].place,
                hint=spelled_hint([token.shown for token in tokens], self.meter),
            )
        chords: list[Token] = []
        shares: list[int] = []
        for token in tokens:
            if token.text != "/":
                chords.append(token)
                shares.append(1)
            elif chords:
                shares[-1] += 1
            else:
                chords.append(self.chord_before(token))
                shares.append(1)
        return chords, shares

    def chord_before(self, token: Token) -> Token:
        """Return the chord that a / at a bar's head holds."""
        before = self.bar_before()
        if before is None:
            raise ChartError(
                "found / with no chord before it",
                place=token.place,
                hint="expected a chord: a section's first bar has none before it",
            )
        return replace(token, text=before.chords[-1].written)

    def bar_before(self) -> WrittenBar | None:
        """Return the bar that is played before the one that is being read, None for none."""
        return played_before(self.bars, self.endings)

    def spans(self, tokens: list[Token], shares: list[int]) -> tuple[ChordSpan, ...]:
        """Return chord spans from chords and their beats."""
        grid = _beat_grid(self.meter, tuple(shares))
        found = tuple(
            self.read_span(token, start, length)
            for token, (start, length) in zip(tokens, grid, strict=True)
        )
        self.check_push(found)
        return found

    def read_span(self, token: Token, start: Fraction, length: Fraction) -> ChordSpan:
        """Return one chord with its push.  Raises ChartError with the nearest chord."""
        match = PUSHED.match(token.text)
        assert match
        text = token.text[match.end() :]
        is_silent = text.casefold() in _NO_CHORD
        is_unread = _UNREAD_PUSH.match(text) is not None
        is_pushed = match[0] != ""
        if is_unread or (is_pushed and (is_silent or text in ("%", "/", ""))):
            raise ChartError(
                f"cannot push {token.shown!r}",
                place=token.place,
                hint="expected <G (an eighth early), 16<G (a sixteenth), 8.<G or 4<G on a chord",
            )
        if match["doubled"]:
            self.doubled.append(token)
        return ChordSpan(
            chord=None if is_silent else self.read_symbol(text, token),
            written="N.C." if is_silent else text,
            start_quarters=start,
            length_quarters=length,
            push=_read_push(match),
            place=token.place,
        )

    def check_push(self, spans: tuple[ChordSpan, ...]) -> None:
        """Refuse a push by a stated value that is as long as the chord before it."""
        before = self.bar_before()
        lengths = [before.chords[-1].length_quarters if before else None]
        lengths += [span.length_quarters for span in spans]
        for span, length in zip(spans, lengths, strict=False):
            is_stated = span.push is not None and span.push is not Push.EIGHTH
            if is_stated and span.push and length is not None and span.push.quarters >= length:
                raise ChartError(
                    f"the push of {span.push_sign}{span.written} is as long as the chord before",
                    place=span.place,
                    hint=f"expected a shorter one, e.g. <{span.written}",
                )

    def read_symbol(self, text: str, token: Token) -> Chord:
        """Return the chord of a symbol."""
        try:
            return self.symbols.read(text)
        except ValueError as error:
            if _TAB.fullmatch(token.text):
                raise ChartError(
                    "found tab without the name of its string",
                    place=token.place,
                    hint=f"expected it in front, e.g.  G |{token.text[:20]}|",
                ) from None
            raise SymbolError(
                f"cannot read the chord {token.shown[len(token.text) - len(text) :]!r}",
                place=token.place,
                hint=self.symbols.hint(text, error, _word_before(token)),
                word=token.text,
            ) from None


def _stated_meter(tokens: list[Token]) -> Meter | None:
    """Return the meter that a bar states at its head, None where it states none."""
    meters = (parse_meter(t.text.strip("() ")) for t in tokens if t.text.startswith("("))
    return next((meter for meter in meters if meter), None)


def _read_push(match: re.Match[str]) -> Push | None:
    """Return the push before a chord, None where there is none."""
    if match["doubled"]:
        return Push.SIXTEENTH
    return Push(match["value"] or Push.EIGHTH) if match[0] else None


def _word_before(token: Token) -> str:
    """Return the word before a token in its bar, an empty text at the bar's head."""
    words = re.split(r"\s+", token.line.text[: token.column - 1].rpartition("|")[2].strip())
    return PUSHED.sub("", words[-1], count=1)


def _read_head(tokens: list[Token], meter: Meter) -> _BarHead:
    """Return what stands in brackets at a bar's head; ``meter`` is that of the bar before."""
    words: dict[str, tuple[Word, re.Match[str], Token, str]] = {}
    stated: Meter | None = None
    size = 0
    for token in tokens:
        if not token.text.startswith("("):
            break
        match = HEAD_WORD.fullmatch(token.text)
        inside = match[1] if match else ""
        own = parse_meter(inside) if match else None
        found = find_word(inside) if match and not own else None
        if not own and not found:
            raise unknown_word(token, inside or token.text.strip("()").casefold())
        if (own and stated) or (found and found[0].kind in words):
            hint = "expected one of its kind in a bar"
            raise ChartError(f"found a second {token.shown}", place=token.place, hint=hint)
        stated = own or stated
        if found:
            words[found[0].kind] = (*found, token, inside)
        size += 1
    fields: dict[str, object] = {}
    for word, match, token, inside in words.values():
        fields |= read_fields(word, match, token, inside, stated or meter)
    stop = words["stop"][1][0] if "stop" in words else ""
    band_word = BandWord(stop) if stop in tuple(BandWord) else None
    return _BarHead(stated, band_word, Directions(**fields), size)  # type: ignore[arg-type]


def _too_many_chords(token: Token) -> ChartError:
    return ChartError(
        "found too many chords in one bar",
        place=token.place,
        hint=f"expected at most {MOST_CHORDS_IN_BAR}; bars stand between |",
    )


def _uneven(tokens: list[Token], meter: Meter) -> ChartError:
    """Return the error for chords that do not share a bar evenly, with a line that would do."""
    beats = meter.beats_per_bar
    return ChartError(
        f"found {len(tokens)} chords in a bar of {beats} beat{'s' if beats > 1 else ''} ({meter})",
        place=replace(tokens[0].place, length=_span_length(tokens)),
        hint=uneven_hint([token.shown for token in tokens], meter),
    )


def _span_length(tokens: list[Token]) -> int:
    """Return how many columns tokens of one line cover."""
    first, last = tokens[0], tokens[-1]
    if first.line is not last.line:
        return len(first.text)
    return last.column + len(last.text) - first.column
