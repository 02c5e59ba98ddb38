"""``groove align``: where the bars of a chart stand in a record."""

from typing import Annotated

import typer
from msgspec import Struct

from groove.cli.console import put, put_json
from groove.cli.options import Answer, Played

LATEST_FIRST_SEC = 36_000.0


class RecordOptions(Struct, frozen=True, kw_only=True):
    """What the player knows of the record."""

    first: Annotated[
        float | None,
        typer.Option(
            metavar="SECONDS",
            min=0,
            max=LATEST_FIRST_SEC,
            help="Where in the record bar 1 begins (the pickup, if there is one).",
        ),
    ] = None


def align(
    chart: Annotated[str, typer.Argument(metavar="CHART", help="The song, as it is played.")],
    file: Annotated[str, typer.Argument(metavar="FILE", help="The record: your own copy of it.")],
    played: Played,
    options: RecordOptions,
    answer: Answer,
) -> None:
    """Say where each bar of a chart stands in a record, and how sure that is."""
    from groove.cli.aligning import play_beside, record_beside
    from groove.record.record_report import align_data, align_text
    from groove.text.chart import played_form

    song, performance = play_beside(chart, played, answer)
    heard, lines = record_beside(
        performance, file, first_sec=options.first, keeps_tempo=played.tempo is not None
    )
    given = played_form(song, "x")
    if answer.json:
        data = align_data(heard, performance.bars, lines, given=given)
        put_json({"format": 1, "chart": chart, "record": file, **data})
    else:
        title = f"{performance.title or chart} in {file}"
        put(align_text(heard, performance.bars, lines, title=title, given=given))
