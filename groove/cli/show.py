"""``groove show``: the chart in the terminal."""

from collections.abc import Mapping
from fractions import Fraction
from typing import Annotated

import typer

from groove.cli.console import each_chart
from groove.cli.options import Charts, InKey, Json, Transpose, parse_wanted_key


def show(
    charts: Charts,
    transpose: Transpose = 0,
    key: InKey = None,
    chart: Annotated[bool, typer.Option("--chart", help="Write it out as a chart file.")] = False,
    json: Json = False,
) -> None:
    """Show a chart: bars under section names, the form, how long it is."""
    wanted_key = parse_wanted_key(key)

    def work(name: str) -> Mapping[str, object] | str:
        from groove.chart.form import song_tempo_map, unroll
        from groove.chart.parse import parse_chart
        from groove.chart.write import write_chart
        from groove.io.charts import read_chart_text
        from groove.pipeline import PerformOptions, moved_song
        from groove.text.chart import chart_data, chart_text
        from groove.timing import quarters_to_ticks

        song = parse_chart(read_chart_text(name), source=name)
        song = moved_song(song, PerformOptions(transpose=transpose, key=wanted_key))
        bars = unroll(song)
        tempo_map = song_tempo_map(song, bars, scale=Fraction(1))
        end = quarters_to_ticks(bars[-1].start_quarters + bars[-1].length_quarters)
        length_sec = tempo_map.tick_to_sec(end)
        if json:
            return chart_data(song, bars, tempo_map, length_sec)
        return write_chart(song) if chart else chart_text(song, bars, length_sec)

    raise typer.Exit(each_chart(charts, work, as_json=json))
