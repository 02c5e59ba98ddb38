"""``groove tab``: the bass part as text tab."""

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Annotated

import typer

from groove.cli.console import each_chart, say
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
from groove.cli.targets import Outputs, require_folder, several_charts
from groove.errors import OptionError

NARROWEST, WIDEST = 40, 1000
TEXT_SUFFIX = ".txt"


def tab(
    charts: Charts,
    output: Annotated[
        str | None, typer.Option("-o", "--output", metavar="FILE", help="A text file: .txt.")
    ] = None,
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
    from groove.cli.performing import (
        neck_options,
        perform_options,
        play_chart,
        tell_notices,
    )
    from groove.cut import piece
    from groove.io.config import read_config
    from groove.io.files import write_whole
    from groove.neck.fingering import finger_performance
    from groove.neck.report import neck_data
    from groove.pipeline import song_tuning
    from groove.text.notices import notice_texts
    from groove.text.tab import tab_text

    target = text_target(output, charts)
    if target:
        Outputs(charts, patterns=patterns).claim(target)
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
        analysis, performance = play_chart(name, whole, patterns)
        strings = song_tuning(analysis.song, whole)
        placed, line = finger_performance(performance, tuning=strings, options=hand)
        cut = piece(placed, asked.sections, asked.bars)
        tell_notices(cut)
        if json:
            chosen = {bar.ref.played_bar for bar in cut.bars}
            data = neck_data(line, performance.bars)
            for rows in ("notes", "shifts"):
                data[rows] = [row for row in data[rows] if row["played_bar"] in chosen]
            notices = notice_texts(performance.notices)
            return {"format": 1, "chart": name, "notices": notices, **data}
        text = tab_text(
            cut,
            tuning=strings,
            width=width,
            show_fingers=fingers,
            show_pluck=pluck,
        )
        if target is None:
            return text
        write_whole(target, text.encode())
        say(f"wrote {target}")
        return ""

    raise typer.Exit(each_chart(charts, work, as_json=json))


def text_target(output: str | None, charts: Sequence[str]) -> Path | None:
    """Return the file that the tab goes to, None for the terminal."""
    if output is None:
        return None
    if len(charts) > 1:
        raise several_charts(output, charts)
    if Path(output).suffix.casefold() != TEXT_SUFFIX:
        hint = f"expected a name ending in {TEXT_SUFFIX}; groove sheet --only tab makes a page"
        raise OptionError(f"tab is text and cannot be written to {output}", hint=hint)
    require_folder(Path(output))
    return Path(output)
