"""``groove tab``: the bass part as text tab."""

from collections.abc import Mapping
from typing import Annotated

import typer

from groove.cli.console import each_chart
from groove.cli.options import (
    Bars,
    Charts,
    Feel,
    Frame,
    Frets,
    InKey,
    Json,
    MaxFret,
    OpenStrings,
    Patterns,
    Scale,
    Sections,
    Seed,
    Start,
    Transpose,
    Tuning,
)

NARROWEST, WIDEST = 40, 1000


def tab(
    charts: Charts,
    bars: Bars = None,
    sections: Sections = None,
    fingers: Annotated[
        bool, typer.Option("--fingers", help="The fretting hand's fingers.")
    ] = False,
    pluck: Annotated[bool, typer.Option("--pluck", help="The plucking hand: i, m, p.")] = False,
    width: Annotated[
        int, typer.Option(metavar="COLUMNS", min=NARROWEST, max=WIDEST, help="How wide.")
    ] = 80,
    tuning: Tuning = None,
    open_strings: OpenStrings = "free",
    start: Start = None,
    max_fret: MaxFret = None,
    frame: Frame = None,
    frets: Frets = None,
    scale: Scale = None,
    thumb: Annotated[bool, typer.Option("--thumb", help="Pluck with the thumb.")] = False,
    feel: Feel = None,
    transpose: Transpose = 0,
    key: InKey = None,
    seed: Seed = None,
    patterns: Patterns = None,
    json: Json = False,
) -> None:
    """Write the bass part as tab: strings, frets, ghosts, chords above, beats under."""
    from groove.cli.performing import neck_options, perform_options, play_chart, tell_notices
    from groove.cut import piece
    from groove.io.config import read_config
    from groove.neck.fingering import finger_performance
    from groove.neck.report import neck_data
    from groove.pipeline import song_tuning
    from groove.text.tab import tab_text

    config = read_config()
    whole = perform_options(
        config, feel=feel, transpose=transpose, key=key, seed=seed, tight=True, tuning=tuning
    )
    asked = perform_options(config, sections=sections, bars=bars)
    hand = neck_options(
        config,
        open_strings=open_strings,
        start=start,
        max_fret=max_fret,
        frame=frame,
        frets=frets,
        scale=scale,
        thumb=thumb,
    )

    def work(name: str) -> Mapping[str, object] | str:
        song, performance = play_chart(name, whole, patterns)
        tell_notices(performance)
        strings = song_tuning(song, whole)
        placed, line = finger_performance(performance, tuning=strings, options=hand)
        if json:
            notices = list(performance.notices)
            data = neck_data(line, performance.bars)
            return {"format": 1, "chart": name, "notices": notices, **data}
        return tab_text(
            piece(placed, asked.sections, asked.bars),
            tuning=strings,
            width=width,
            show_fingers=fingers,
            show_pluck=pluck,
        )

    raise typer.Exit(each_chart(charts, work, as_json=json))
