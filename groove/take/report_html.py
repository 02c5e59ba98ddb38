"""A judged take as one HTML file: the plot, and the report in words."""

from collections.abc import Sequence
from html import escape

from groove.take.judgement import TakeReport
from groove.take.plot import plot_svg
from groove.take.report import report_blocks, report_cautions

_STYLE = (
    "body{font-family:system-ui,sans-serif;max-width:60rem;margin:1rem auto;padding:0 1rem;"
    "line-height:1.45}svg{width:100%;height:auto}pre{overflow-x:auto;background:#f3f3f3;"
    "padding:.6rem}h2{font-size:1.05rem;margin:1rem 0 .2rem}ul{margin:0}"
)


def report_html(
    report: TakeReport, *, take: str, practise: Sequence[str] = (), beside: str = ""
) -> str:
    """Return the document; it needs nothing beside itself.  ``take`` is what the file is called."""
    first, *blocks = report_blocks(report, beside=beside)
    title = escape(" ".join(filter(None, (report.reference.title, "-", take))))
    body = [f"<h1>{title}</h1>", *(f"<p>{escape(point)}</p>" for point in first.points)]
    body.append(
        f'<figure role="img" aria-label="deviation of every note over the bars, in ms" '
        f'style="margin:0">{plot_svg(report)}</figure>'
    )
    for block in blocks:
        points = "".join(f"<li>{escape(point)}</li>" for point in block.points)
        body.append(f"<h2>{escape(block.head)}</h2><ul>{points}</ul>")
    if practise:
        lines = escape("\n".join(practise[1:]))
        body.append(f"<h2>{escape(practise[0])}</h2>" + (f"<pre>{lines}</pre>" if lines else ""))
    body += [f"<p>{escape(note)}</p>" for note in report_cautions(report)]
    return (
        '<!DOCTYPE html>\n<html lang="en"><head><meta charset="utf-8">'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        '<meta http-equiv="Content-Security-Policy" '
        "content=\"default-src 'none'; style-src 'unsafe-inline'\">"
        f"<title>{title}</title><style>{_STYLE}</style></head><body>\n"
        + "\n".join(body)
        + "\n</body></html>\n"
    )
