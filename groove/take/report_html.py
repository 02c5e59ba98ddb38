"""A judged take as one HTML file: the plot, and the report in words."""

from collections.abc import Sequence
from html import escape

from groove.take.judgement import TakeReport
from groove.take.plot import plot_svg
from groove.take.report import report_blocks, report_cautions
from groove.text.html_report import bullet_list, html_report


def report_html(
    report: TakeReport, *, take: str, practise: Sequence[str] = (), beside: str = ""
) -> str:
    """Return the document; it needs nothing beside itself.  ``take`` is what the file is called."""
    first, *blocks = report_blocks(report, beside=beside)
    title = " ".join(filter(None, (report.reference.title, "-", take)))
    body = [f"<h1>{escape(title)}</h1>", *(f"<p>{escape(point)}</p>" for point in first.points)]
    body.append(
        f'<figure role="img" aria-label="deviation of every note over the bars, in ms" '
        f'style="margin:0">{plot_svg(report)}</figure>'
    )
    body += [f"<h2>{escape(block.head)}</h2>{bullet_list(block.points)}" for block in blocks]
    if practise:
        lines = escape("\n".join(practise[1:]))
        body.append(f"<h2>{escape(practise[0])}</h2>" + (f"<pre>{lines}</pre>" if lines else ""))
    body += [f"<p>{escape(note)}</p>" for note in report_cautions(report)]
    return html_report(title, body)
