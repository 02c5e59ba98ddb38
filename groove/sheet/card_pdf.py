"""The cue card in typst's markup, for ``groove.io.pdf``: A5, shrunk until it fits on one page.

Everything from the chart goes in as a string literal, never as markup.
"""

from groove.sheet.print_pages import half_note_rule
from groove.text.card import (
    HIDDEN,
    ROW_BARS,
    TRAPS_HEAD,
    Card,
    CardBar,
    CardProgression,
    shown_traps,
)

HEAD = """#set document(title: {title})
#set page(paper: "a5", margin: 11mm)
#set text(font: ("Libertinus Serif", "DejaVu Sans Mono"), size: 10.5pt, lang: "en")
#set par(leading: 0.5em, spacing: 0.7em)
#let fitted(body) = layout(size => {{
  let shrunk(step) = calc.pow(0.94, step)
  let taken(step) = measure(block(width: size.width / shrunk(step), body)).height * shrunk(step)
  let fits(step) = taken(step) <= size.height
  let step = 0
  let share = size.height / taken(0)
  if share < 1 {{
    // Text that is shrunk takes less in both directions: near the root of what it must give up.
    step = calc.clamp(int(calc.ln(share) / calc.ln(0.94) / 2), 1, 40)
    if fits(step) {{
      while step > 1 and fits(step - 1) {{ step -= 1 }}
    }} else {{
      while step < 40 and not fits(step) {{ step += 1 }}
    }}
  }}
  let factor = shrunk(step)
  scale(factor * 100%, origin: top + left, reflow: true, block(width: size.width / factor, body))
}})
"""


def typst_string(text: str) -> str:
    """Return a text as a string literal of typst, whatever is in it."""
    shown = text.replace("𝄫", "♭♭").replace("𝄪", "♯♯")  # no font that comes with typst has them
    escaped = shown.replace("\\", "\\\\").replace('"', '\\"')
    plain = "".join(mark if mark.isprintable() else " " for mark in escaped)
    return f'"{plain}"'


def card_typst(card: Card) -> str:
    """Return the card as the source of a document, one page, or two for a test card."""
    pages = [_page_typst(card, "")]
    if card.hidden:
        pages.append(_page_typst(card.answers, " (answers)"))
    head = HEAD.format(title=typst_string(card.title)) + half_note_rule() + "\n"
    return head + "\n#pagebreak()\n".join(pages)


def _page_typst(card: Card, after_title: str) -> str:
    title = typst_string(card.title + after_title)
    facts = (*card.facts, ("Form", card.form))
    cells = ", ".join(f"strong({typst_string(n)}), {typst_string(text)}" for n, text in facts)
    parts = [
        f"#text(size: 1.5em, weight: 700, {title})\n",
        f"#grid(columns: (auto, 1fr), column-gutter: 1em, row-gutter: 0.5em, {cells})",
        *(_progression_typst(p, hidden=card.hidden) for p in card.progressions),
    ]
    if shown_traps(card):
        items = ", ".join(typst_string(trap) for trap in shown_traps(card))
        parts.append(f"#v(0.5em)\n#strong({typst_string(TRAPS_HEAD)})\n#list({items})")
    if card.hook and not card.hidden:
        rows = " \\ ".join(f"#raw({typst_string(row)})" for row in card.hook)
        parts.append(f"#v(0.5em)\n#strong({typst_string(card.hook_name)})\n\n#block[{rows}]")
    body = "\n".join(parts)
    return f"#fitted[\n{body}\n]\n"


def _progression_typst(progression: CardProgression, *, hidden: bool) -> str:
    """Return one progression as a table of four bars a row."""
    head = " ".join(filter(None, (progression.sections, progression.times)))
    cells = ", ".join(_bar_typst(bar, hidden=hidden) for bar in progression.bars)
    columns = ", ".join(["1fr"] * ROW_BARS)
    table = (
        f"#table(columns: ({columns}), inset: (x: 0.5em, y: 0.3em), "
        f"stroke: (x: 0.8pt, y: none), {cells})"
    )
    lines = "".join(f"\n\n#text(size: 0.9em, {typst_string(text)})" for text in progression.lines)
    return f"#v(0.5em)\n#strong({typst_string(head)})\n{table}" + ("" if hidden else lines)


def _bar_typst(bar: CardBar, *, hidden: bool) -> str:
    """Return one bar as a cell: chords over numerals."""
    chords, numerals = (HIDDEN, " ") if hidden else (bar.chords, bar.numerals)
    below = f"text(size: 0.85em, fill: luma(70), {typst_string(numerals)})"
    return f"[#strong({typst_string(chords)}) \\ #{below}]"
