"""What verovio cannot draw: a pass over a finished page.

On the tab, the cross of a ghost, and slides from number to number: a note is found by the id of its
number; the lines that verovio draws for a slide there begin and end as on a staff with heads, and
are drawn anew.  Over the staff, what stands over the chord symbols: verovio lifts the symbols of a
line to one height after it has put the rest in its place.
"""

import re
from collections.abc import Mapping, Set

from groove.sheet.lead_signs import text_mm

TAB_NUMBER = re.compile(
    r'<g id="tab-(?P<id>[a-z]+-\d+-\d+)" class="note"[^>]*>\s*'
    r'<text x="(?P<x>[\d.]+)" y="(?P<y>[\d.]+)"[^>]*>\s*'
    r'<tspan font-size="(?P<size>[\d.]+)px"[^>]*>(?P<number>\d+)</'
)
TAB_SLIDE = re.compile(r'(<g id="slide-tab-([a-z]+-\d+-\d+)" class="gliss">\s*<path d=")[^"]*"')
SYSTEM = 'class="system">'
HEADING_CLASS = 'class="reh"'
NAMED = re.compile(r'(<g id="heading-\d+" class="reh">\s*<text x=")([-\d.]+)')
"""A heading with a section's name, which stands at the left edge of its line."""
STAFF_LEFT = re.compile(r'class="staff">\s*<path d="M([-\d.]+) ')
FILLER_BAR = re.compile(r'\n( *)<g id="filler-[-\d]+" class="measure">.*?\n\1</g>', re.S)
NAMED_WHOLE = re.compile(r'<g id="heading-\d+" class="reh">.*?</g>', re.S)
SIZED_TEXT = re.compile(r'(<tspan font-size=")([\d.]+)(px">)([^<]*)(?=<)')
PAGE = re.compile(r'class="definition-scale"[^>]* viewBox="0 0 (\d+) ')
MARGIN = re.compile(r'class="page-margin" transform="translate\((\d+), ')
UNDER = re.compile(r'class="(?:harm|mNum[ a-z]*)">\s*<text(?: x="[-\d.]+")? y="([\d.]+)"')
"""What a heading stands over: chord symbols, and the number of the line's first bar."""
HEADING = re.compile(r'(class="reh">\s*<text x="[-\d.]+" y=")([\d.]+)')
TEXT_SIZE = re.compile(r'class="harm">.*?<tspan font-size="([\d.]+)px">', re.S)
ENDING_NUMBER = re.compile(r'<tspan font-size="([\d.]+)px">\((\d[\d, ]*\.)\)<')
"""An ending's number in the brackets that verovio puts round it."""
RIGHT_EDGE = 100
"""What stays free at the right end of a page, in the engraver's units."""
BOLD = 1.2
"""How much wider bold letters are at most, in the fonts that a reader's machine may have."""
LINE_SHARE = 1.2
"""The distance of two lines of text as a share of its size."""
DIGIT_WIDTH = 0.5
"""A digit's width as a share of its size (Times, Adobe AFM)."""
MIDDLE = 0.35
"""How far the middle of a digit stands over its baseline, as a share of its size."""
SLANT = 0.28
"""How far the end of a slide along one string stands off its line, as a share of the size."""
GAP = 0.15


def with_headings_raised(svg: str) -> str:
    """Return a page on which every heading stands over the chord symbols of its line.

    A section's name stands at the left edge of its line, over clef and bar number, so that names
    are found in one column (common practice, no source).
    """
    return SYSTEM.join(raised(system) for system in svg.split(SYSTEM))


def with_headings_within(svg: str) -> str:
    """Return a page on which every section's name ends within the page, smaller where it must."""
    page, margin = PAGE.search(svg), MARGIN.search(svg)
    if not page or not margin:
        return svg
    room = float(page[1]) - float(margin[1]) - RIGHT_EDGE
    return NAMED_WHOLE.sub(lambda found: narrowed(found[0], room), svg)


def narrowed(heading: str, room: float) -> str:
    """Return a heading with its texts in a smaller size where together they are too wide."""
    texts = SIZED_TEXT.finditer(heading)
    width = BOLD * sum(text_mm(text[4], float(text[2])) for text in texts)
    if width <= room:
        return heading
    share = room / width
    return SIZED_TEXT.sub(
        lambda text: f"{text[1]}{float(text[2]) * share:.0f}{text[3]}{text[4]}", heading
    )


def without_fillers(svg: str) -> str:
    """Return a page without the bars that only fill its short lines up."""
    return FILLER_BAR.sub("", svg) if 'id="filler-' in svg else svg


def raised(system: str) -> str:
    """Return a line of music with its headings over chord symbols and number, names at its left."""
    if HEADING_CLASS not in system:
        return system
    left = STAFF_LEFT.search(system)
    if left:
        system = NAMED.sub(lambda found: f"{found[1]}{left[1]}", system)
    under, size = UNDER.findall(system), TEXT_SIZE.search(system)
    if not under or not size:
        return system
    lowest = min(map(float, under)) - LINE_SHARE * float(size[1])
    return HEADING.sub(lambda found: f"{found[1]}{min(float(found[2]), lowest):g}", system)


def with_plain_endings(svg: str, percent: int) -> str:
    """Return a page with the numbers of endings bare, and in a share of the size they have."""
    return ENDING_NUMBER.sub(
        lambda found: f'<tspan font-size="{float(found[1]) * percent / 100:g}px">{found[2]}<', svg
    )


def with_tab_signs(svg: str, ghosts: Set[str], slides: Mapping[str, str]) -> str:
    """Return a page with the tab numbers of ghosts as x, and slides from number to number.

    ``slides`` gives the id of the note that each slide comes to by that of the note it leaves.
    """
    marked = TAB_NUMBER.sub(lambda found: crossed(found, ghosts), svg) if ghosts else svg
    if not slides:
        return marked
    numbers = {found["id"]: found for found in TAB_NUMBER.finditer(svg)}

    def slide(found: re.Match[str]) -> str:
        left, right = numbers.get(found[2]), numbers.get(slides.get(found[2], ""))
        path = slide_path(left, right) if left and right else ""
        return f'{found[1]}{path}"' if path else found[0]

    return TAB_SLIDE.sub(slide, marked)


def crossed(found: re.Match[str], ghosts: Set[str]) -> str:
    """Return a number as it is, or an x in its place."""
    if found["id"] not in ghosts:
        return found[0]
    first, last = (at - found.start() for at in found.span("number"))
    return f"{found[0][:first]}x{found[0][last:]}"


def slide_path(left: re.Match[str], right: re.Match[str]) -> str:
    """Return the line between two numbers; empty where they stand on two lines of the page."""
    size = float(left["size"])
    x1 = float(left["x"]) + size * (GAP + DIGIT_WIDTH / 2 * len(left["number"]))
    x2 = float(right["x"]) - size * (GAP + DIGIT_WIDTH / 2 * len(right["number"]))
    y1, y2 = (float(found["y"]) - MIDDLE * size for found in (left, right))
    if x2 <= x1 or abs(y2 - y1) > 40 * size:
        return ""
    if y1 == y2:
        rise = SLANT * size * (1 if int(right["number"]) > int(left["number"]) else -1)
        y1, y2 = y1 + rise, y2 - rise
    return f"M{x1:.0f} {y1:.0f} L{x2:.0f} {y2:.0f}"
