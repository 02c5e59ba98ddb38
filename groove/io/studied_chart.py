"""A studied line under the bars of a chart, as ``--line`` lays a line there."""

from collections.abc import Callable, Sequence
from itertools import takewhile

from msgspec.structs import replace

from groove.chart.parse import parse_chart
from groove.chart.write import write_chart
from groove.io.foreign_line import report_pickup_notes, with_line
from groove.io.gate import Gate
from groove.neck.line_places import LineBar
from groove.text.notices import notice_texts


def charted_line(
    text: str, bars: Sequence[LineBar], source: str, say: Callable[[str], None]
) -> str:
    """Return the text of a chart with a line as tab under its bars; what is changed is said.

    ``bars`` are all that are played, a pickup too.  The comments at the chart's head stay.  Raises
    ChartError where the line differs so often from time to time that no chart can say it.
    """
    song = parse_chart(text, source=source)
    gate = Gate(source)
    if song.pickup:
        report_pickup_notes(bars[0], gate)
        bars = bars[1:]
    laid = with_line(replace(song, notices=()), bars, None, gate)
    for notice in notice_texts((*gate.notices(), *laid.notices)):
        say(notice)
    head = takewhile(lambda line: line.startswith("#"), text.splitlines())
    return "\n".join([*head, write_chart(laid)])
