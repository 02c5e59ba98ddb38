"""``groove show``: the chart in the terminal."""

from collections.abc import Mapping
from typing import Annotated

import typer

from groove.cli.console import each_chart
from groove.cli.options import Charts, InKey, Json, Transpose, parse_wanted_key


def show(
    charts: Charts,
    numerals: Annotated[
        bool, typer.Option("--numerals", help="Roman numerals under the bars.")
    ] = False,
    numbers: Annotated[bool, typer.Option("--numbers", help="Numbers under the bars.")] = False,
    harmony: Annotated[
        bool, typer.Option("--harmony", help="Key, form, progressions and moves in words.")
    ] = False,
    transpose: Transpose = 0,
    key: InKey = None,
    chart: Annotated[bool, typer.Option("--chart", help="Write it out as a chart file.")] = False,
    json: Json = False,
) -> None:
    """Show a chart: bars under section names, the form, how long it is."""
    wanted_key = parse_wanted_key(key)

    def work(name: str) -> Mapping[str, object] | str:
        from groove.chart.write import write_chart
        from groove.harmony.analysis import know_song
        from groove.harmony.summary import harmony_summary
        from groove.io.charts import read_song
        from groove.pipeline import PerformOptions, moved_song
        from groove.text.chart import bar_names, chart_data, chart_text
        from groove.text.harmony import harmony_text

        song = moved_song(read_song(name), PerformOptions(transpose=transpose, key=wanted_key))
        if chart:
            return write_chart(song)
        known = know_song(song)
        length_sec = known.starts_sec[-1]
        if json:
            return chart_data(song, known.bars, length_sec, harmony_summary(known))
        if harmony:
            return harmony_text(known)
        names = bar_names(known.changes, numbers=numbers) if numerals or numbers else {}
        return chart_text(song, known.bars, length_sec, names)

    raise typer.Exit(each_chart(charts, work, as_json=json))
