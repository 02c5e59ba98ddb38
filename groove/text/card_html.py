"""The cue card as one HTML file: no script, nothing fetched, everything from the chart escaped.

It prints on one sheet; a test card has its answers on a second one.
"""

from html import escape

from groove.text.card import (
    HIDDEN,
    ROW_BARS,
    TRAPS_HEAD,
    Card,
    CardBar,
    CardProgression,
    shown_traps,
)
from groove.text.html_report import html_document

_STYLE = """
body { font: 16px/1.35 system-ui, sans-serif; color: #111; background: #fff; margin: 1rem auto;
  max-width: 46rem; padding: 0 1rem; }
h1 { font-size: 1.6rem; margin: 0 0 .4rem; } h2 { font-size: 1.05rem; margin: .9rem 0 .2rem; }
dl { display: grid; grid-template-columns: max-content 1fr; gap: .1rem .8rem; margin: 0; }
dt { font-weight: 600; } dd { margin: 0; }
table { border-collapse: collapse; width: 100%; table-layout: fixed; }
td { border-left: 2px solid #111; border-right: 2px solid #111; padding: .15rem .5rem; }
td b, td i { display: block; overflow-wrap: anywhere; } td i { color: #444; min-height: 1.2em; }
p, ul, pre { margin: .25rem 0; } pre { font: .8rem/1.2 ui-monospace, monospace; }
@media print { body { margin: 0; font-size: 12px; } section + section { break-before: page; } }
"""


def card_html(card: Card) -> str:
    """Return the card as the text of an HTML document."""
    pages = [page_html(card, "")]
    if card.hidden:
        pages.append(page_html(card.answers, " (answers)"))
    return html_document(card.title, "\n".join(pages), _STYLE)


def page_html(card: Card, after_title: str) -> str:
    """Return one page of the card."""
    facts = (*card.facts, ("Form", card.form))
    rows = "".join(f"<dt>{escape(name)}</dt><dd>{escape(text)}</dd>" for name, text in facts)
    parts = [f"<section>\n<h1>{escape(card.title)}{after_title}</h1>\n<dl>{rows}</dl>"]
    parts += [_progression_html(p, hidden=card.hidden) for p in card.progressions]
    if shown_traps(card):
        items = "".join(f"<li>{escape(trap)}</li>" for trap in shown_traps(card))
        parts.append(f"<h2>{TRAPS_HEAD}</h2>\n<ul>{items}</ul>")
    if card.hook and not card.hidden:
        tab = escape("\n".join(card.hook))
        parts.append(f"<h2>{escape(card.hook_name)}</h2>\n<pre>{tab}</pre>")
    return "\n".join([*parts, "</section>"])


def _progression_html(progression: CardProgression, *, hidden: bool) -> str:
    """Return one progression as a table of four bars a row."""
    head = " ".join(filter(None, (progression.sections, progression.times)))
    rows = [
        "<tr>" + "".join(_bar_html(bar, hidden=hidden) for bar in row) + "</tr>"
        for row in (
            progression.bars[start : start + ROW_BARS]
            for start in range(0, len(progression.bars), ROW_BARS)
        )
    ]
    lines = "" if hidden else "".join(f"<p>{escape(text)}</p>" for text in progression.lines)
    return f"<h2>{escape(head)}</h2>\n<table>{''.join(rows)}</table>{lines}"


def _bar_html(bar: CardBar, *, hidden: bool) -> str:
    """Return one bar as a cell."""
    chords, numerals = (HIDDEN, "") if hidden else (bar.chords, bar.numerals)
    return f"<td><b>{escape(chords)}</b><i>{escape(numerals)}</i></td>"
