"""Lines of a chart: settings, heads of sections, bars and rows, with places for messages."""

import re
from collections.abc import Iterator
from enum import StrEnum

from msgspec import Struct, structs

from groove.errors import ChartError, SourcePlace
from groove.notices import Notice, NoticeKind, make_notice
from groove.theory.chords import parse_chord

LONGEST_CHART_BYTES = 1_048_576
MOST_LINES = 40_000
_SHOWN = 30
LONGEST_SHOWN_BARS = 60
MOST_NAME_WORDS = 3
_ASCII_CONTROLS = "\x00-\x08\x0b\x0c\x0e-\x1f\x7f"
"""C0 but tab and line ends, and DEL."""
_OTHER_CONTROLS = (
    "\x80-\x9f"  # C1
    "\u2028\u2029"  # line and paragraph separator
    "\u061c\u200e\u200f\u202a-\u202e\u2066-\u2069"  # bidirectional controls (UAX #9)
    "\ud800-\udfff"  # lone surrogates
    "\ufdd0-\ufdef"
    + "".join(chr(plane << 16 | low) for plane in range(17) for low in (0xFFFE, 0xFFFF))
)  # noncharacters
"""With those of ASCII what no output can show, and what MusicXML, SVG and HTML may not even hold
(XML 1.0, Char)."""
LINE_END = re.compile(r"\r\n|\r|\n")
BAR_NAME = re.compile(r"bar [0-9]{1,5}", re.IGNORECASE)
"""What begins a line that changes a bar of a section like another."""

BRACKETED = re.compile(r"\[\s*([^\W_][^\[\]:|,]*)\]")
"""A heading in brackets."""

ROW = re.compile(r"\s*(?:[A-G][#b♭♯]?\s*\|[^A-Za-z]*[-=–—]|bass\s*\|)", re.IGNORECASE)
"""A row of tab or of tokens by how it begins."""

_COMMENT = re.compile(r"(?:^|(?<=[\s:]))#(?=\s|$)")
_TITLE = re.compile(r"\s*title\s*:", re.IGNORECASE)


class TextLineKind(StrEnum):
    """What a line of a chart is."""

    SETTING = "setting"
    SECTION = "section"
    BARS = "bars"
    ROW = "row"
    CHANGE = "change"


class Line(Struct, frozen=True):
    """One line that says something: its kind, its name and value or its bars, and its place.

    ``text`` is the line without its comment; ``column`` (from 1) is where ``value`` begins.
    """

    kind: TextLineKind
    name: str
    value: str
    column: int
    number: int
    text: str
    source: str

    def place(self, column: int, length: int = 1) -> SourcePlace:
        """Return a place in this line; ``column`` counts from 1."""
        return SourcePlace(
            source=self.source, line=self.number, column=column, text=self.text, length=length
        )

    def name_place(self) -> SourcePlace:
        """Return the place of the name."""
        return self.place(1 + self.indent, max(1, len(self.name)))

    @property
    def indent(self) -> int:
        """How far the line is indented."""
        return len(self.text) - len(self.text.lstrip())

    def value_place(self) -> SourcePlace:
        """Return the place of the value, or of the name where there is none."""
        if self.value:
            return self.place(self.column, len(self.value))
        return self.place(self.indent + 1, max(1, len(self.text.strip())))


def plain_text(text: str) -> str:
    """Return a text with a blank for every control character, so that each mark keeps its place."""
    return _controls(text).sub(" ", text)


def _controls(text: str) -> re.Pattern[str]:
    """Return what finds the controls of a text; those beyond ASCII take long to compile."""
    return re.compile(f"[{_ASCII_CONTROLS}{'' if text.isascii() else _OTHER_CONTROLS}]")


def controls_notice(text: str) -> Notice | None:
    """Return the notice of the control characters of a text, None where it has none."""
    found = _controls(text).findall(text)
    if not found:
        return None
    line = LINE_END.sub("\n", text[: text.index(found[0])]).count("\n") + 1
    return make_notice(NoticeKind.CONTROLS, count=len(found), line=line)


def split_lines(text: str, source: str) -> Iterator[Line]:
    """Yield the lines of a chart that say something.  Raises ChartError for what no line can be."""
    if len(text.encode("utf-8", "replace")) > LONGEST_CHART_BYTES:
        place = SourcePlace(source=source, line=1, column=1, text=text[:80].split("\n")[0])
        raise ChartError("the chart is larger than 1 MB", place=place, hint="a song has a few kB")
    count = 0
    for number, raw in enumerate(LINE_END.split(text.removeprefix("\ufeff")), start=1):
        shown = _without_comment(raw)
        if not shown or shown.isspace():
            continue
        line = _read_line(shown.rstrip(), number, source)
        count += 1
        if count > MOST_LINES:
            hint = f"expected at most {MOST_LINES} lines, comments aside"
            raise ChartError("the chart has too many lines", place=line.place(1), hint=hint)
        yield line


def _without_comment(raw: str) -> str:
    """Return a line of a chart up to its comment; a title has none, for it may hold the sign."""
    if "#" not in raw or _TITLE.match(raw):
        return raw
    comment = _COMMENT.search(raw)
    return raw[: comment.start()] if comment else raw


def _read_line(text: str, number: int, source: str) -> Line:
    """Return what a line of a chart is.  Raises ChartError with its place."""
    start = len(text) - len(text.lstrip())
    if text.lstrip().startswith(("|", ":|")):
        bars = text.lstrip()
        return Line(TextLineKind.BARS, "", bars, start + 1, number, text, source)
    name, colon, value = text.partition(":")
    value_column = len(name) + 1 + len(value) - len(value.lstrip()) + 1
    folded = " ".join(name.split())
    kind = TextLineKind.SETTING if value.strip() else TextLineKind.SECTION
    line = Line(kind, folded, value.strip(), value_column, number, text, source)
    if not colon or "|" in name:
        return Line(TextLineKind.ROW, "", text.strip(), start + 1, number, text, source)
    if not folded:
        raise ChartError(
            "found a colon without a name",
            place=line.place(start + 1),
            hint="expected a section's name before it, e.g. verse:",
        )
    if value.lstrip().startswith("|") and BAR_NAME.fullmatch(folded):
        return structs.replace(line, kind=TextLineKind.CHANGE)
    if value.lstrip().startswith("|"):
        raise ChartError(
            "found bars on the line of a name",
            place=line.place(value_column, len(value.strip())),
            hint=f"expected two lines:  {folded[:_SHOWN]}:  and under it  {value.strip()[:_SHOWN]}",
        )
    return line


def is_bracketed(text: str) -> bool:
    """Return whether a line is a heading in brackets, as charts of others have it."""
    return BRACKETED.fullmatch(text.strip()) is not None


_SHOWN_BARS = 90


def unreadable(line: Line) -> ChartError:
    """Return the error for a line that is nothing where it stands."""
    start = line.indent
    if ROW.match(line.text):
        return ChartError(
            "found a row with no bars above it",
            place=line.place(start + 1, len(line.text) - start),
            hint="expected its chords on the line right above it, e.g. | D | G |",
        )
    if bracketed := BRACKETED.fullmatch(line.text.strip()):
        return ChartError(
            "found a heading in brackets",
            place=line.value_place(),
            hint=f"expected the section's name with a colon: {bracketed[1].strip()[:_SHOWN]}:",
        )
    if early := re.fullmatch(r"((?:\([^()|]*\)\s*)+)\|(.*)", line.text.strip()):
        return ChartError(
            "found a word before its bar line",
            place=line.place(start + 1, len(early[1].rstrip())),
            hint=f"a word stands after the bar line: | {early[1].strip()} {early[2].strip()}"[
                :_SHOWN_BARS
            ],
        )
    found = "bars" if "|" in line.text else "a line"
    comment = "a comment has a space after its #; " if line.text[start] == "#" else ""
    return ChartError(
        f"found {found} without a bar line or a colon in front",
        place=line.place(start + 1, len(line.text) - start),
        hint=comment + "expected " + expected_text(line.text.split()),
    )


def expected_text(words: list[str]) -> str:
    """Return what a line that is nothing may have meant, with its own words where they fit."""
    is_chords = all(map(is_chord, words))
    bars = f"| {' | '.join(words)} |" if is_chords else ""
    is_name = re.fullmatch(r"\w+( \w+)*", " ".join(words)) and len(words) <= MOST_NAME_WORDS
    is_name = is_name and not re.search(r"x ?[0-9]+$", words[-1], re.IGNORECASE)
    name = " ".join(words) if is_name and (len(words) == 1 or not is_chords) else "verse"
    if is_chords and len(bars) <= LONGEST_SHOWN_BARS:
        return f"bars ({bars}), a section ({name}:) or a setting (tempo: 84)"
    return f"a section ({name[:_SHOWN]}:), bars (| D | A |) or a setting (tempo: 84)"


def is_chord(word: str) -> bool:
    """Return whether a word is a chord by letter."""
    try:
        parse_chord(word.lstrip("<"))
    except ValueError:
        return False
    return True
