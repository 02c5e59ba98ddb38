"""The document around a report: one HTML file that needs nothing beside itself."""

from collections.abc import Iterable
from html import escape

_STYLE = (
    "body{font-family:system-ui,sans-serif;max-width:60rem;margin:1rem auto;padding:0 1rem;"
    "line-height:1.45}svg{width:100%;height:auto}pre{overflow-x:auto;background:#f3f3f3;"
    "padding:.6rem}h2{font-size:1.05rem;margin:1rem 0 .2rem}ul{margin:0}"
)


def html_report(title: str, body: Iterable[str], style: str = "") -> str:
    """Return a report of a title, as plain text, and parts of HTML, in the look of all reports."""
    return html_document(title, "\n".join(body), _STYLE + style)


def html_document(title: str, body: str, style: str) -> str:
    """Return a document of a title, as plain text, and a body of HTML; nothing else is loaded."""
    return (
        '<!DOCTYPE html>\n<html lang="en"><head><meta charset="utf-8">'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        '<meta http-equiv="Content-Security-Policy" '
        "content=\"default-src 'none'; style-src 'unsafe-inline'\">"
        f"<title>{escape(title)}</title><style>{style}</style></head><body>\n"
        f"{body}\n</body></html>\n"
    )


def bullet_list(points: Iterable[str]) -> str:
    """Return points of plain text as a list."""
    return f"<ul>{''.join(f'<li>{escape(point)}</li>' for point in points)}</ul>"
