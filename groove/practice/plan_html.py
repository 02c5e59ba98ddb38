"""A plan as one HTML file to print, or to keep open: no script, nothing is fetched."""

from collections.abc import Mapping, Sequence
from html import escape
from pathlib import PurePath
from urllib.parse import quote

from groove.practice.plan_text import (
    LEFT_OUT_HEAD,
    PlanRow,
    click_text,
    left_out_words,
    plan_rows,
    total_text,
)
from groove.practice.practice_plan import PracticePlan
from groove.text.counts import clock_text
from groove.text.html_report import html_document

_STYLE = (
    "body{font:16px/1.4 system-ui,sans-serif;max-width:46rem;margin:1rem auto;padding:0 1rem;"
    "color:#111;background:#fff}table{border-collapse:collapse;width:100%}"
    "td,th{border-bottom:1px solid #767676;padding:.3rem .5rem;text-align:left;vertical-align:top}"
    "td:first-child,td:last-child{text-align:right;font-variant-numeric:tabular-nums}"
    "h2{font-size:1.05rem;margin:1rem 0 .2rem}"
)


TrackFiles = Mapping[int, Sequence[str]]
"""The names of each track's own files, by its number in the plan, where it has some."""


def plan_html(plan: PracticePlan, *, caution: str, files: TrackFiles) -> str:
    """Return the document; ``caution`` stands at its end, links to ``files`` at each exercise."""
    rows = "".join(_row_html(row, files) for row in plan_rows(plan))
    told = "<br>".join(filter(None, (escape(total_text(plan)), escape(click_text(plan)))))
    head = "<tr><th>No.</th><th>What</th><th>How</th><th>Time</th></tr>"
    body = (
        f"<h1>{escape(plan.title)}</h1><p>{told}</p>\n<table>{head}{rows}</table>\n"
        f"{_left_out_html(left_out_words(plan))}<p>{escape(caution)}</p>"
    )
    return html_document(f"{plan.title}: practice plan", body, _STYLE)


def _row_html(row: PlanRow, files: TrackFiles) -> str:
    what = escape(", ".join(filter(None, (row.name, row.reason))))
    number = str(row.number) if row.number else ""
    links = "".join(
        f' <a href="{quote(name)}">{track:02}{PurePath(name).suffix}</a>'
        for track in row.tracks
        for name in files.get(track, ())
    )
    how, length = escape(row.how) + (f"<br>{links}" if links else ""), clock_text(row.sec)
    return f"<tr><td>{number}</td><td>{what}</td><td>{how}</td><td>{length}</td></tr>\n"


def _left_out_html(left_out: Sequence[tuple[str, str]]) -> str:
    if not left_out:
        return ""
    items = "".join(f"<li>{escape(name)}: {length}</li>" for name, length in left_out)
    return f"<h2>{LEFT_OUT_HEAD.capitalize()}</h2><ul>{items}</ul>\n"
