"""Pages for print: finished music as pictures on pages of typst, with a head and page numbers."""

from collections.abc import Sequence
from math import ceil

from groove.sheet.drawing import Drawing
from groove.sheet.form_words import form_lines
from groove.sheet.lead_signs import READING_SHARE, text_mm
from groove.sheet.options import Paper, SheetOptions
from groove.sheet.outlines import HALF_NOTE

PAPER_MARGIN_MM = 12.0
PHONE_MARGIN_MM = 4.0
HEAD_MM = 14.0
FOOT_MM = 6.0
FACTS_MM = 3.5
"""The size of the facts under the title: ten points."""
FORM_POINTS, FORM_LINE_MM = 9, 4.4
"""The size of the form at the head, and the height of its line."""
TEXT_FONT = "Libertinus Serif"
"""The text font that comes with typst."""


def margin_mm(paper: Paper) -> float:
    """Return the margin round a page: a phone spares no room for it."""
    return PHONE_MARGIN_MM if paper.is_endless else PAPER_MARGIN_MM


def content_mm(paper: Paper) -> tuple[float, float]:
    """Return width and height of the music on a page."""
    margin = margin_mm(paper)
    return paper.width_mm - 2 * margin, paper.height_mm - 2 * margin - HEAD_MM - FOOT_MM


def page_source(
    title: str, facts: str, form: Sequence[str], pictures: Sequence[str], options: SheetOptions
) -> str:
    """Return the typst markup of a sheet: the title and its facts, a picture a page.

    ``form`` are lines between them and the music; ``pictures`` are names of files; every page says
    which of how many it is.
    """
    paper = options.paper
    width, height = content_mm(paper)
    margin = margin_mm(paper)
    # A phone's page ends where the music does.
    page_height = "auto" if paper.is_endless else f"{paper.height_mm}mm"
    label = _typst_text(title)
    head = _first_head(title, facts, margin)
    lines = [
        f"#set document(title: {label})",
        f"#set page(width: {paper.width_mm}mm, height: {page_height}, margin: (x: "
        f"{margin}mm, top: {margin + HEAD_MM}mm, bottom: {margin + FOOT_MM}mm),",
        f"  header: context {{ if counter(page).get().first() == 1 {{ {head} }}"
        f" else {{ align(top)[#v({margin}mm) #text(10pt, {label}) #h(1fr) "
        f"#text(9pt, {_typst_text(facts)})] }} }},",
        "  header-ascent: 0mm,",
        "  footer: context align(center, text(9pt)[page #counter(page).display() of "
        "#counter(page).final().first()]))",
        f'#set text(font: "{TEXT_FONT}", size: 10pt)',
        half_note_rule(),
        "#set par(spacing: 0pt)",
    ]
    images = []
    for number, name in enumerate(pictures):
        room = height - (0 if number else FORM_LINE_MM * len(form))
        tall = "" if paper.is_endless else f'height: {room}mm, fit: "contain"'
        images.append(f'#image("{name}", width: {width}mm, {tall})')
    lines += [
        f"#block(height: {FORM_LINE_MM}mm, width: 100%, above: 0pt, below: 0pt, "
        f"align(center, text({FORM_POINTS}pt, {_typst_text(line)})))"
        for line in form
    ]
    return "\n".join(lines) + "\n" + "\n#pagebreak()\n".join(images) + "\n"


def head_lines(form: Sequence[str], facts: str, paper: Paper) -> tuple[str, ...]:
    """Return the lines between a part's facts and its music: the form, under room for long facts.

    The head has room for one line of facts; further ones take a line each.
    """
    width, _ = content_mm(paper)
    more = ceil(READING_SHARE * text_mm(facts, FACTS_MM) / width) - 1
    return (*[""] * max(0, more), *form_lines(form, width))


def half_note_rule() -> str:
    """Return how a half note is set, which the text font lacks, of one sign or of head and stem."""
    drawing = Drawing((0, -720, 330, 740))
    drawing.letters(0, 0, HALF_NOTE, 1000)
    svg = _typst_text(drawing.svg())
    return (
        f'#show regex("{HALF_NOTE}|𝅗𝅥"): box(baseline: 2%, image(bytes({svg}), format: "svg", '
        'height: 0.74em, alt: "half note"))'
    )


def _first_head(title: str, facts: str, margin: float) -> str:
    return (
        f"align(top + center)[#v({margin}mm) "
        f'#text(19pt, weight: "bold", {_typst_text(title)})'
        f" #v(2.5mm) #text(10pt, {_typst_text(facts)})]"
    )


def _typst_text(text: str) -> str:
    """Return a text as a string of typst."""
    escaped = text.replace("\\", "\\\\").replace('"', '\\"').replace("\n", " ")
    return f'"{escaped}"'
