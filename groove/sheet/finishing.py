"""What the engraver lacks: one pass over a finished page, which is a tree of SVG.

On the tab, the cross of a ghost, a harmonic's brackets, and slides from number to number: a note is
found by the id of its number; the lines that verovio draws for a slide there begin and end as on a
staff with heads, and are drawn anew. Over the staff, what stands over the chord symbols: verovio
lifts the symbols of a line to one height after it has put the rest in its place.
"""

from collections.abc import Iterator, Mapping, Sequence, Set
from dataclasses import dataclass
from xml.etree.ElementTree import Element, SubElement

from groove.sheet.drawing import (
    GROUP,
    HREF,
    INNER,
    PATH,
    POLYGON,
    SPAN,
    TEXT,
    USE,
    first,
    groups_by_kind,
    kinds,
    numbers,
    size_of,
    sized,
)
from groove.sheet.lead_signs import READING_SHARE, text_mm
from groove.sheet.lettering import BOLD, draw_tempo_note, set_chord_name
from groove.sheet.print_pages import TEXT_FONT
from groove.sheet.score import TAB

HEADING, FILLER, SLIDE, WORDS_ID = "heading-", "filler-", "slide-", "words-"
"""How the ids begin of a line's heading, of what fills a short line up, of a slide, and of a
measure that has words in the place of notes."""
TEXT_SIZE = 360.0
"""The size of the engraver's text at 100 percent, in its own units."""
WORDS_SHARE = 1.2
"""The size of a name as a share of other text."""
WORDS_GAP = 120.0
"""What stays free left of words in a measure, in the engraver's units."""
RIGHT_EDGE = 100
"""What stays free at the right end of a page, in the engraver's units."""
LINE_SHARE = 1.2
"""The distance of two lines of text as a share of its size."""
NARROW_SHARE = 0.75
"""The same of words that have their own measure, where nothing is beside them."""
OWN_FONT = 1.3
"""How much wider than the font of print the widest is that a viewer may have (DejaVu Serif)."""
SMALLEST_SHARE = 0.7
"""How small words may be set to stay on the page: what is longer begins further left."""
DIGIT_WIDTH = 0.5
"""A digit's width as a share of its size (Times, Adobe AFM)."""
MIDDLE = 0.35
"""How far the middle of a digit stands over its baseline, as a share of its size."""
SLANT = 0.28
"""How far the end of a slide along one string stands off its line, as a share of the size."""
_GAP = 0.15
TRIANGLE = "0,125 290,125 145,-125"
"""Corners of a head, in thousandths of four staff spaces, as wide and as high as a black one."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Lacking:
    """What the engraver cannot know of a part.

    ``ghosts``, ``harmonics`` and ``triangles`` are ids of notes with such heads; ``slides`` gives
    the note that each slide comes to by the one that it leaves; ``words`` gives the lines of words
    of measures that have nothing else, by their ids; ``ending_percent`` is the size of endings'
    numbers as a share of what they have; ``as_outlines`` says that chords are drawn, not written.
    """

    ghosts: Set[str]
    harmonics: Set[str]
    triangles: Set[str]
    slides: Mapping[str, str]
    words: Mapping[str, Sequence[str]]
    ending_percent: int = 100
    as_outlines: bool = True


def finish_page(page: Element, lacking: Lacking) -> None:
    """Put into a page of the engraver what it lacks, and take out what only spaced it."""
    box = music_box(page)
    # A reader's own Times would not have the signs of chord symbols.
    box.set("font-family", f"{TEXT_FONT}, serif")
    systems = [group for group in music_margin(box) if "system" in kinds(group)]
    _remove_fillers(systems)
    room = _heading_room(box)
    tab: dict[str, _Number] = {}
    slides: list[Element] = []
    headings: list[Element] = []
    symbols: list[Element] = []
    for system in systems:
        drawn = groups_by_kind(system)
        _finish_measures(drawn, lacking)
        _raise_headings(drawn)
        headings += drawn.get("reh", ())
        symbols += drawn.get("harm", ())
        for heading in drawn.get("reh", ()):
            if _is_named(heading):
                _narrow(heading, room)
        _part_headings(drawn.get("reh", ()), room)
        for bracket in drawn.get("voltaBracket", ()):
            _bare_ending(bracket, lacking.ending_percent)
        _draw_triangles(drawn.get("note", ()), lacking.triangles)
        tab |= {number.note: number for number in _tab_numbers(drawn.get("note", ()))}
        slides += drawn.get("gliss", ())
    _clear_top(box, headings)
    for heading in headings:
        draw_tempo_note(heading)
    for symbol in symbols:
        set_chord_name(symbol, as_outline=lacking.as_outlines)
    for note in lacking.ghosts & tab.keys():
        tab[note].span.text = "x"
    for note in lacking.harmonics & tab.keys():
        tab[note].span.text = f"<{tab[note].fret}>"
    for slide in slides:
        _redraw_slide(slide, tab, lacking.slides)


def music_box(page: Element) -> Element:
    """Return the inner drawing of a page, which has the music's own units."""
    box = page.find(INNER)
    assert box is not None, "the engraver draws a page into a box"
    return box


def music_margin(box: Element) -> Element:
    """Return the group that all systems of a page stand in, moved by its margins."""
    margin = next((group for group in box.iter(GROUP) if "page-margin" in kinds(group)), None)
    assert margin is not None, "the engraver draws a page's music within its margin"
    return margin


def page_size(box: Element) -> tuple[float, float]:
    """Return width and height of a page in the music's units."""
    _, _, width, height = numbers(box.get("viewBox", ""))
    return width, height


def left_margin(box: Element) -> float:
    """Return where the systems of a page begin, in the music's units."""
    return numbers(music_margin(box).get("transform", ""))[0]


# --- over the staff ---------------------------------------------------------------------------


def _remove_fillers(systems: Sequence[Element]) -> None:
    """Take out the bars that only fill short lines up."""
    for system in systems:
        system[:] = [part for part in system if not part.get("id", "").startswith(FILLER)]


def _heading_room(box: Element) -> float:
    """Return how far to the right a section's name may reach."""
    return page_size(box)[0] - left_margin(box) - RIGHT_EDGE


def _is_named(heading: Element) -> bool:
    return heading.get("id", "").startswith(HEADING)


def _raise_headings(drawn: Mapping[str, Sequence[Element]]) -> None:
    """Put the headings of a line over its chord symbols and its number, names at its left end.

    A section's name stands at the left edge of its line, over clef and bar number, so that names
    are found in one column (common practice, no source).
    """
    headings = [
        (each, text) for each in drawn.get("reh", ()) if (text := first(each, TEXT)) is not None
    ]
    if not headings:
        return
    edge = first(drawn["staff"][0], PATH)
    for heading, text in headings:
        if _is_named(heading) and edge is not None:
            text.set("x", f"{numbers(edge.get('d', ''))[0]:g}")
    symbols = drawn.get("harm", ())
    under = [
        float(text.get("y", 0))
        for group in (*symbols, *drawn.get("mNum", ()))
        if (text := first(group, TEXT)) is not None
    ]
    size = next((size_of(span) for group in symbols for span in sized(group)), 0.0)
    if not size:
        return
    lowest = min(under) - LINE_SHARE * size
    for _, text in headings:
        text.set("y", f"{min(float(text.get('y', 0)), lowest):g}")


def _narrow(heading: Element, room: float) -> None:
    """Set the texts of a heading smaller where together they are too wide."""
    texts = [(span, size_of(span)) for span in sized(heading)]
    width = BOLD * sum(text_mm(span.text or "", size) for span, size in texts)
    if width > room:
        for span, size in texts:
            span.set("font-size", f"{size * room / width:.0f}px")


def _part_headings(headings: Sequence[Element], room: float) -> None:
    """Set words that would leave the page smaller, and those that would meet a line higher.

    verovio leaves half a line between them, and knows no right edge.
    """
    placed: list[tuple[float, float, float, float]] = []
    texts = [
        (each, text) for each in headings if (text := first(each, TEXT)) is not None and len(text)
    ]
    for heading, text in sorted(texts, key=lambda pair: float(pair[1].get("x", 0))):
        left, base = float(text.get("x", 0)), float(text.get("y", 0))
        width = _reading_width(heading)
        if any(part.get("text-anchor") == "end" for part in heading.iter()):
            left -= width
        elif left + width > room:
            share = max(SMALLEST_SHARE, (room - left) / width)
            for span in sized(heading):
                span.set("font-size", f"{size_of(span) * share:.0f}px")
            width *= share
            left = max(0.0, min(left, room - width))
            text.set("x", f"{left:g}")
        size = max(map(size_of, sized(heading)), default=0.0)
        for start, end, height, other in sorted(placed, key=lambda place: -place[2]):
            line = LINE_SHARE * max(size, other)
            if start < left + width and left < end and abs(height - base) < line:
                base = height - line
        text.set("y", f"{base:g}")
        placed.append((left, left + width, base, size))


def _clear_top(box: Element, headings: Sequence[Element]) -> None:
    """Move a page's music down where what was raised would stand over its top edge."""
    margin = music_margin(box)
    left, top = numbers(margin.get("transform", ""))
    raised = [
        float(text.get("y", 0)) - max(map(size_of, sized(heading)), default=0.0)
        for heading in headings
        if (text := first(heading, TEXT)) is not None
    ]
    over = -top - min(raised, default=0.0)
    if over > 0:
        margin.set("transform", f"translate({left:g}, {top + over:.0f})")


def _reading_width(heading: Element) -> float:
    """Return about how wide a heading is."""
    texts = [(span.text or "", size_of(span)) for span in sized(heading)]
    return READING_SHARE * sum(text_mm(words, size) for words, size in texts)


def _bare_ending(bracket: Element, percent: int) -> None:
    """Set the size of an ending's number; take off the brackets that it has at a line's head."""
    for span in sized(bracket):
        span.text = (span.text or "").strip("()")
        span.set("font-size", f"{size_of(span) * percent / 100:g}px")


def _draw_triangles(notes: Sequence[Element], triangles: Set[str]) -> None:
    """Put triangles in the place of the heads that verovio has drawn instead."""
    for note in notes if triangles else ():
        head = first(note, USE) if note.get("id", "") in triangles else None
        if head is not None:
            head.tag = POLYGON
            del head.attrib[HREF]
            head.set("points", TRIANGLE)


# --- in the place of notes --------------------------------------------------------------------


def _finish_measures(drawn: Mapping[str, Sequence[Element]], lacking: Lacking) -> None:
    """Put into the measures of a line what stands there in the place of notes."""
    for measure in drawn.get("measure", ()):
        if lines := lacking.words.get(measure.get("id", "")):
            _write_words(measure, lines, OWN_FONT if lacking.as_outlines else 1.0)
    if "mRpt2" in drawn:
        _join_pairs(drawn["measure"])


def _write_words(measure: Element, lines: Sequence[str], wider: float) -> None:
    """Put words into a measure of spaces, in the place of its staff lines and its number.

    ``wider`` is by how much a reader's font may be wider than that of print.
    """
    measure[:] = [part for part in measure if "mNum" not in kinds(part)]
    staves = [part for part in measure if "staff" in kinds(part)]
    paths = [path for staff in staves for path in staff if path.tag == PATH]
    edges = [numbers(path.get("d", "")) for path in paths]
    right = max(edge[2] for edge in edges)
    top, bottom = min(edge[1] for edge in edges), max(edge[1] for edge in edges)
    left = _head_end(staves, min(edge[0] for edge in edges))
    for path, (start, height, _, _) in zip(paths, edges, strict=True):
        path.set("d", f"M{start:g} {height:g} L{left:g} {height:g}")
    left += WORDS_GAP
    sizes = [WORDS_SHARE * TEXT_SIZE, *(TEXT_SIZE for _ in lines[1:])]
    share = min(1.0, (right - left) / (wider * words_width(lines, sizes)))
    height = LINE_SHARE * share * sum(sizes)
    base = (top + bottom - height) / 2
    group = SubElement(measure, GROUP, {"class": "words"})
    for line, size in zip(lines, sizes, strict=True):
        base += LINE_SHARE * share * size
        weight = {"font-weight": "bold"} if line is lines[0] else {"font-style": "italic"}
        text = SubElement(group, TEXT, {"x": f"{left:g}", "y": f"{base:g}", "font-size": "0px"})
        span = SubElement(text, SPAN, {"font-size": f"{share * size:.0f}px", **weight})
        span.text = line


def words_width(lines: Sequence[str], sizes: Sequence[float]) -> float:
    """Return the room that words in the place of notes want, the first line of them in bold."""
    widths = [text_mm(line, size) for line, size in zip(lines, sizes, strict=True)]
    return NARROW_SHARE * max(BOLD * widths[0], *widths)


def _join_pairs(measures: Sequence[Element]) -> None:
    """Put each sign for two bars onto the line between them, and its number over the top staff.

    verovio draws one into each of the two, with a bar line of its own.
    """
    is_first = True
    for measure in measures:
        signs = [group for group in measure.iter(GROUP) if "mRpt2" in kinds(group)]
        line = next((part for part in measure if "barLine" in kinds(part)), None)
        path = None if line is None else first(line, PATH)
        if not signs or path is None:
            is_first = True
            continue
        for number, sign in enumerate(signs):
            own = first(sign, PATH)
            assert own is not None, "the engraver draws its own line through the sign"
            shift = numbers(path.get("d", ""))[0] - numbers(own.get("d", ""))[0]
            glyphs = list(sign.iter(USE))[: 2 if number == 0 else 1]
            sign[:] = glyphs if is_first else []
            for glyph in glyphs:
                x, y, *scales = numbers(glyph.get("transform", ""))
                scale = ", ".join(f"{each:g}" for each in scales)
                glyph.set("transform", f"translate({x + shift:g}, {y:g}) scale({scale})")
        is_first = not is_first


def _head_end(staves: Sequence[Element], start: float) -> float:
    """Return where the clef, key and meter at the head of a line end, else where it starts."""
    places = [
        numbers(use.get("transform", ""))[0]
        for staff in staves
        for group in staff.iter(GROUP)
        if set(kinds(group)) & {"clef", "keySig", "meterSig"}
        for use in group.iter(USE)
    ]
    return max(places) + TEXT_SIZE if places else start


# --- on the tab -------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Number:
    """A number of the tab: the id of its note, its text, and where it stands."""

    note: str
    span: Element
    x: float
    y: float
    size: float
    fret: str

    @property
    def half_width(self) -> float:
        """From its middle to where a slide may begin."""
        return self.size * (_GAP + DIGIT_WIDTH / 2 * len(self.fret))

    @property
    def middle(self) -> float:
        """The height of its middle."""
        return self.y - MIDDLE * self.size


def _tab_numbers(notes: Sequence[Element]) -> Iterator[_Number]:
    """Yield the numbers among the notes of a line."""
    for note in notes:
        name = note.get("id", "")
        if not name.startswith(TAB):
            continue
        text = first(note, TEXT)
        span = next(sized(note), None)
        if text is not None and span is not None:
            x, y = float(text.get("x", 0)), float(text.get("y", 0))
            yield _Number(name.removeprefix(TAB), span, x, y, size_of(span), span.text or "")


def _redraw_slide(slide: Element, tab: Mapping[str, _Number], ends: Mapping[str, str]) -> None:
    """Draw a slide of the tab from number to number."""
    start = slide.get("id", "").removeprefix(SLIDE)
    left = tab.get(start.removeprefix(TAB)) if start.startswith(TAB) else None
    right = tab.get(ends.get(left.note, "")) if left else None
    path = first(slide, PATH)
    if left and right and path is not None and (line := _slide_line(left, right)):
        path.set("d", line)


def _slide_line(left: _Number, right: _Number) -> str:
    """Return the line between two numbers; empty where they stand on two lines of the page."""
    x1, x2 = left.x + left.half_width, right.x - right.half_width
    y1, y2 = left.middle, right.middle
    if x2 <= x1 or abs(y2 - y1) > 40 * left.size:
        return ""
    if y1 == y2:
        rise = SLANT * left.size * (1 if int(right.fret) > int(left.fret) else -1)
        y1, y2 = y1 + rise, y2 - rise
    return f"M{x1:.0f} {y1:.0f} L{x2:.0f} {y2:.0f}"
