"""Engraved sheets: a part drawn by verovio, set on pages by typst.

The only module that speaks to verovio; everything is made in memory.
"""

from collections.abc import Iterable, Mapping
from typing import Any
from xml.etree.ElementTree import Element

from groove.chart.model import Song
from groove.errors import OutputError
from groove.events import Performance, Touch
from groove.harmony.analysis import Analysis
from groove.io.lengths import check_bars
from groove.io.pdf import pdf_bytes
from groove.io.png import png_pages
from groove.neck.instrument import STANDARD, Tuning
from groove.sheet.build import build_score
from groove.sheet.drawing import drawing_text, read_drawing
from groove.sheet.facts import NO_FACTS, SheetFacts, sheet_facts
from groove.sheet.finishing import WORDS_ID, Lacking, finish_page
from groove.sheet.lead import lead_pages
from groove.sheet.mei import TAB_TEXT_PERCENT, mei_text
from groove.sheet.options import DEFAULT_SHEET, SheetOptions, Staves
from groove.sheet.paging import PageSize, lets_turn, paged
from groove.sheet.print_pages import FORM_LINE_MM, content_mm, head_lines, page_source
from groove.sheet.score import Score
from groove.sheet.signs import Notehead
from groove.text.part_facts import feel_words

MUSIC_FONT = "Leipzig"
SCALE_PERCENT = 40
FIXED_SEED = 1
LEFT_MARGIN = 60
TOP_MARGIN = 25
"""Room for the number of a page's first bar, which stands above its staff."""
SCREEN_STAFF_UNITS, PAPER_STAFF_UNITS = 6, 4
"""The least distance of two staves of a line, in half staff spaces: closer where pages are full."""
TALLEST = 60_000
"""The greatest height of a page that the engraver takes, in tenths of a millimetre."""
ONE_PAGE = {"pageHeight": TALLEST, "adjustPageHeight": True}
"""For all lines on one page, which is cut into pages: see ``groove.sheet.paging``."""
DRAWN_UNITS = 10
"""The engraver's own units in a tenth of a millimetre."""
_INSTALL_HINT = "pip install verovio"


def sheet_svg(
    performance: Performance,
    song: Song,
    options: SheetOptions = DEFAULT_SHEET,
    *,
    tuning: Tuning = STANDARD,
    analysis: Analysis | None = None,
) -> tuple[str, ...]:
    """Return the pages of a sheet as SVG, each with its own title where it is the first.

    Notes carry the ids of the performance; a chord chart's numerals come from ``analysis`` where
    the song is analysed already.  Raises OutputError where verovio is missing.
    """
    score = scored(performance, song, options, tuning, on_paper=True)
    facts = _facts(performance, score, options)
    if options.chart:
        return lead_pages(song, options, analysis=analysis, facts=facts)
    return engraved(score, options, for_print=False, facts=facts)


def sheet_pdf(
    performance: Performance,
    song: Song,
    options: SheetOptions = DEFAULT_SHEET,
    *,
    tuning: Tuning = STANDARD,
    analysis: Analysis | None = None,
) -> bytes:
    """Return a sheet as PDF.  Raises OutputError where verovio or typst is missing."""
    source, files = _printed(performance, song, options, tuning, analysis)
    return pdf_bytes(source, files)


def sheet_png(
    performance: Performance,
    song: Song,
    options: SheetOptions = DEFAULT_SHEET,
    *,
    tuning: Tuning = STANDARD,
    analysis: Analysis | None = None,
    pixels_per_inch: float = 144,
) -> tuple[bytes, ...]:
    """Return the pages of a sheet as PNG."""
    source, files = _printed(performance, song, options, tuning, analysis)
    return png_pages(source, files, pixels_per_inch=pixels_per_inch)


def scored(
    performance: Performance,
    song: Song,
    options: SheetOptions,
    tuning: Tuning,
    *,
    on_paper: bool = False,
) -> Score:
    """Return the part that the options ask for, as it is written: on paper, or for a file."""
    return build_score(
        performance,
        song,
        part=options.part,
        tuning=tuning,
        written_out=options.written_out,
        on_paper=on_paper,
        letters=options.letters,
        # A tab alone has no line for slashes.
        jumps=options.jumps,
        sim=options.sim and options.staves is not Staves.TAB,
    )


def _printed(
    performance: Performance,
    song: Song,
    options: SheetOptions,
    tuning: Tuning,
    analysis: Analysis | None,
) -> tuple[str, dict[str, bytes]]:
    """Return the markup of the pages and the pictures that it names."""
    score = scored(performance, song, options, tuning, on_paper=True)
    facts = _facts(performance, score, options).line
    if options.chart:
        # The chord chart has the form under its last line.
        form: tuple[str, ...] = ()
        pages = lead_pages(song, options, for_print=True, analysis=analysis)
    else:
        form = head_lines(score.form, facts, options.paper)
        pages = engraved(score, options, for_print=True, head_mm=FORM_LINE_MM * len(form))
    names = [f"page-{number}.svg" for number in range(1, len(pages) + 1)]
    files = {name: page.encode() for name, page in zip(names, pages, strict=True)}
    return page_source(song.title, facts, form, names, options), files


def _facts(performance: Performance, score: Score, options: SheetOptions) -> SheetFacts:
    """Return what stands under the title."""
    feel = feel_words((bar.ref, bar.feel) for bar in performance.bars)
    key = _key_words(performance, options)
    return sheet_facts(score, key=key, feel=feel, is_chart=options.chart)


def _key_words(performance: Performance, options: SheetOptions) -> str:
    """Return the key that is read at the start, in words: ``D dorian``."""
    if not performance.bars:
        return ""
    key, whom = performance.bars[0].key, options.written_for
    if whom is None:
        return key.pretty
    return f"{key.moved(whom.semitones).pretty} {whom.told(key)}"


def engraved(
    score: Score,
    options: SheetOptions,
    *,
    for_print: bool,
    head_mm: float = 0.0,
    facts: SheetFacts = NO_FACTS,
) -> tuple[str, ...]:
    """Return a part drawn page by page, the first by ``head_mm`` less high.

    ``facts`` stand under the title, where the drawing has one: not ``for_print``.  Raises
    OptionError for a part that is too long.
    """
    check_bars("drawn sheet", len(score.measures))
    settings = layout(options, for_print=for_print)
    width = settings["pageWidth"] - settings["pageMarginLeft"] - settings["pageMarginRight"]
    units = width / options.paper.unit
    mei = mei_text(score, options, line_units=units, title=not for_print, facts=facts)
    percent = TAB_TEXT_PERCENT if options.staves is Staves.TAB and score.tab else 100
    tall = settings if options.paper.is_endless else settings | ONE_PAGE
    pages = drawn(mei, tall, score, ending_percent=percent, as_outlines=not for_print)
    if not options.paper.is_endless:
        turns = {f"measure-{m.number}" for m in score.measures if lets_turn(m)}
        size = PageSize(
            height=DRAWN_UNITS * settings["pageHeight"],
            foot=DRAWN_UNITS * settings["pageMarginBottom"],
            unit=DRAWN_UNITS * options.paper.unit,
            head=DRAWN_UNITS * 10 * head_mm,
        )
        pages = paged(pages, size, turns)
    return tuple(drawing_text(page) + "\n" for page in pages)


def layout(options: SheetOptions, *, for_print: bool) -> dict[str, Any]:
    """Return verovio's options for a paper; its lengths are tenths of a millimetre."""
    paper = options.paper
    width, height = content_mm(paper) if for_print else (paper.width_mm, paper.height_mm)
    margin = 0 if for_print else 40 if paper.is_endless else 120
    # The bracket and the bar numbers stand left of the staves.
    left = max(margin, LEFT_MARGIN)
    between = SCREEN_STAFF_UNITS if paper.is_endless else PAPER_STAFF_UNITS
    return {
        "breaks": "line",
        "minLastJustification": 0.0,
        "pageWidth": round(width * 10),
        "pageHeight": round(height * 10),
        "pageMarginLeft": left,
        "pageMarginRight": margin,
        "pageMarginTop": max(margin, TOP_MARGIN),
        "pageMarginBottom": margin,
        "adjustPageHeight": paper.is_endless,
        "scale": SCALE_PERCENT,
        "unit": paper.unit,
        "header": "none" if for_print else "encoded",
        "footer": "none",
        "spacingStaff": between,
        "spacingBracketGroup": between,
        "svgFormatRaw": True,
        # What it would set in its own font is drawn: see groove.sheet.lettering.
        "smuflTextFont": "none",
        "svgViewBox": True,
        "mnumInterval": 0,
        "spacingNonLinear": 0.55,
        "multiRestStyle": "block",
        "xmlIdSeed": FIXED_SEED,
        "font": MUSIC_FONT,
        "justifyVertically": False,
    }


def drawn(
    mei: str,
    settings: Mapping[str, Any],
    score: Score,
    *,
    ending_percent: int = 100,
    as_outlines: bool = True,
    wanted: Iterable[int] | None = None,
) -> tuple[Element, ...]:
    """Return the pages that verovio draws, finished: see ``groove.sheet.finishing``.

    ``ending_percent`` is the size of the endings' numbers as a share of verovio's; ``as_outlines``
    draws the names of chords, which print writes; ``wanted`` are the numbers of the pages to draw,
    from 1: all of them where it is not given.
    """
    try:
        import verovio
    except ImportError:
        raise OutputError("verovio is missing, which draws the sheet", hint=_INSTALL_HINT) from None
    verovio.enableLog(verovio.LOG_OFF)
    toolkit = verovio.toolkit()
    toolkit.setOptions(dict(settings))
    if not toolkit.loadData(mei):
        raise AssertionError("verovio cannot read our MEI")
    pages = _rendered(toolkit, wanted)
    heads = [head for _, _, head in score.heads()]
    lacking = Lacking(
        ghosts={head.id for head in heads if head.is_ghost},
        harmonics={head.id for head in heads if head.note.touch is Touch.HARMONIC},
        triangles={head.id for head in heads if head.notehead is Notehead.TRIANGLE},
        slides={joint.start: joint.end for joint in score.joints()},
        words={
            f"{WORDS_ID}{measure.number}": measure.as_before
            for measure in score.measures
            if measure.as_before
        },
        ending_percent=ending_percent,
        as_outlines=as_outlines,
    )
    for page in pages:
        finish_page(page, lacking)
    return pages


def _rendered(toolkit: Any, wanted: Iterable[int] | None = None) -> tuple[Element, ...]:
    """Return the pages as verovio has drawn them, all where none are ``wanted`` by number."""
    numbers = range(1, toolkit.getPageCount() + 1) if wanted is None else wanted
    return tuple(read_drawing(toolkit.renderToSVG(number)) for number in numbers)
