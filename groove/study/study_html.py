"""A studied line as one HTML file: the report in words, and a picture of each cell."""

from collections.abc import Sequence
from html import escape

from groove.study.cell_picture import cell_svg
from groove.study.line_cells import steps_row
from groove.study.result import Study
from groove.study.study_report import (
    STUDY_CAUTION,
    cell_place,
    head_points,
    legend_rows,
    movement_points,
    near_points,
    share_rows,
    shown_cells,
    size_words,
    sound_points,
    worth_points,
)
from groove.study.worth import worth_practising
from groove.text.html_report import bullet_list, html_report

_STYLE = (
    "figure{margin:.4rem 0 1rem}table{border-collapse:collapse}td,th{padding:.1rem .7rem;"
    "text-align:right}h3{font-size:1rem;margin:1rem 0 0}th:first-child{text-align:left}"
    "div{overflow-x:auto}"
)


def study_html(study: Study, *, practise: Sequence[str] = ()) -> str:
    """Return the document; ``practise`` are the commands that loop what is worth practising."""
    body = [f"<h1>{escape(study.title)}</h1>", f"<p>{escape(size_words(study))}</p>"]
    body += [bullet_list(head_points(study)), _shares(study), *_cells(study)]
    for head, lines in (
        ("Where it goes", movement_points(study)),
        ("How it is played", sound_points(study)),
    ):
        body += [f"<h2>{head}</h2>{bullet_list(lines)}"] if lines else []
    worth = worth_points(worth_practising(study))
    if worth:
        commands = escape("\n".join(line.strip() for line in practise))
        body.append(f"<h2>Worth practising</h2>{bullet_list(worth)}<pre>{commands}</pre>")
        body.append(f"<p>{escape(STUDY_CAUTION)}</p>")
    return html_report(study.title, [part for part in body if part], _STYLE)


def _shares(study: Study) -> str:
    """Return what the notes are in their chords as a table."""
    rows = share_rows(study)
    if not rows:
        return ""
    (head, columns), *others = rows
    names = "".join(f"<th>{escape(name)}</th>" for name in (head, *columns))
    lines = [
        f"<tr><th>{escape(name)}</th>{''.join(f'<td>{value}</td>' for value in values)}</tr>"
        for name, values in others
    ]
    return f"<div><table><tr>{names}</tr>{''.join(lines)}</table></div>"


def _cells(study: Study) -> list[str]:
    """Return the cells that are played most: where they come, a picture, what they are near to."""
    found = []
    for number, (cell, near) in enumerate(shown_cells(study), 1):
        label = escape(f"the slots of the cell: {steps_row(cell)}")
        figure = f'<figure role="img" aria-label="{label}">{cell_svg(cell)}</figure>'
        found.append(
            f"<h3>{number}. {escape(cell_place(cell))}</h3>{figure}"
            + bullet_list(point.strip() for point in near_points(near))
        )
    if not found:
        return []
    rows = "".join(
        f"<li>{escape(sign)}: {escape(words)}</li>" for sign, words in legend_rows(study)
    )
    told = "A block is as long as the note is held and as high as it is loud; hollow is a ghost."
    return [
        "<h2>Its cells, the most played first</h2>",
        f"<p>{told}</p>",
        *found,
        f"<ul>{rows}</ul>",
    ]
