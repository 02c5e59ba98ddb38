"""``groove show``: the chart in the terminal."""

from collections.abc import Mapping
from typing import Annotated

import typer

from groove.cli.console import each_chart, say
from groove.cli.options import Charts, InKey, Json, Patterns, Transpose, parse_wanted_key


def show(
    charts: Charts,
    numerals: Annotated[
        bool, typer.Option("--numerals", help="Roman numerals under the bars.")
    ] = False,
    numbers: Annotated[bool, typer.Option("--numbers", help="Numbers under the bars.")] = False,
    harmony: Annotated[
        bool, typer.Option("--harmony", help="Key, form, progressions and moves in words.")
    ] = False,
    notes: Annotated[
        bool, typer.Option("--notes", help="The notes that work over every chord, on the neck.")
    ] = False,
    position: Annotated[
        int, typer.Option(metavar="FRET", min=0, max=19, help="Where --notes shows the neck.")
    ] = 0,
    transpose: Transpose = 0,
    key: InKey = None,
    chart: Annotated[bool, typer.Option("--chart", help="Write it out as a chart file.")] = False,
    patterns: Patterns = None,
    json: Json = False,
) -> None:
    """Show a chart: bars under section names, the form, how long it is."""
    from groove.arrange.plan import unknown_names
    from groove.io.library import load_library

    wanted_key = parse_wanted_key(key)
    library = load_library(patterns)

    def work(name: str) -> Mapping[str, object] | str:
        from groove.chart.write import write_chart
        from groove.harmony.summary import harmony_summary
        from groove.io.charts import read_song
        from groove.pipeline import PerformOptions, analyse_song, song_tuning
        from groove.text.chart import bar_names, chart_data, chart_text
        from groove.text.harmony import harmony_text
        from groove.text.neck_map import working_notes_text

        asked = PerformOptions(transpose=transpose, key=wanted_key)
        known = analyse_song(read_song(name), asked)
        song = known.song
        strings = song_tuning(song)
        for notice in (*song.notices, *unknown_names(song, library)):
            say(notice)
        if chart:
            text = write_chart(song)
            return {"format": 1, "chart": name, "text": text} if json else text
        length_sec = known.starts_sec[-1]
        if json:
            return chart_data(song, known.bars, length_sec, harmony_summary(known))
        blocks = []
        if numerals or numbers or not (harmony or notes):
            names = bar_names(known.changes, numbers=numbers) if numerals or numbers else {}
            blocks.append(chart_text(song, known.bars, length_sec, names))
        if harmony:
            blocks.append(harmony_text(known))
        if notes:
            blocks.append(working_notes_text(known, position=position, tuning=strings))
        return "\n".join(blocks)

    raise typer.Exit(each_chart(charts, work, as_json=json))
