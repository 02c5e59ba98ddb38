"""``groove page``: the practice page, one HTML file that plays."""

import os
from collections.abc import Mapping
from pathlib import Path
from typing import Annotated

import typer

from groove.cli.console import CAUTION, each_chart, say
from groove.cli.options import (
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
    Seed,
    Start,
    Tempo,
    Transpose,
    Tuning,
)
from groove.cli.targets import STDIN_STEM, Outputs, is_folder, require_folder
from groove.errors import OptionError
from groove.io.charts import STANDARD_INPUT, chart_stem, every_tune

SUFFIXES = (".html", ".htm")


def page(
    charts: Charts,
    output: Annotated[
        str | None,
        typer.Option("-o", "--output", metavar="FILE.html", help="Where to, or FOLDER/."),
    ] = None,
    tempo: Tempo = None,
    feel: Feel = None,
    transpose: Transpose = 0,
    key: InKey = None,
    seed: Seed = None,
    tuning: Tuning = None,
    open_strings: OpenStrings = "free",
    start: Start = None,
    max_fret: MaxFret = None,
    frame: Frame = None,
    frets: Frets = None,
    scale: Scale = None,
    soundfont: Annotated[
        str | None, typer.Option(metavar="FILE", help="The soundfont to play with.")
    ] = None,
    patterns: Patterns = None,
    json: Json = False,
) -> None:
    """Make the practice page: plays, loops, slows down, and shows sheet and neck; offline."""
    from groove.cli.performing import neck_options, perform_options, tell_reading
    from groove.io.charts import read_song
    from groove.io.config import read_config
    from groove.io.files import make_folders, write_whole
    from groove.io.lengths import check_bars
    from groove.io.library import load_library
    from groove.io.practice_page import practice_page
    from groove.io.soundfont import choose_soundfont
    from groove.neck.fingering import finger_performance
    from groove.pipeline import analyse_song, perform_analysis, song_tuning

    files = page_files(charts, output, Outputs(charts, patterns=patterns, soundfont=soundfont))
    config = read_config()
    options = perform_options(
        config, tempo=tempo, feel=feel, transpose=transpose, key=key, seed=seed, tuning=tuning
    )
    hand = neck_options(
        config,
        open_strings=open_strings,
        start=start,
        max_fret=max_fret,
        frame=frame,
        frets=frets,
        scale=scale,
    )
    font = choose_soundfont(soundfont, os.environ, config.soundfont)

    def work(name: str) -> Mapping[str, object] | str:
        analysis = analyse_song(read_song(name), options)
        check_bars("practice page", len(analysis.bars))
        performance = perform_analysis(analysis, load_library(patterns), options)
        tell_reading(analysis.song)
        strings = song_tuning(analysis.song, options)
        placed, _ = finger_performance(performance, tuning=strings, options=hand)
        made = practice_page(placed, analysis, font=font.path, tuning=strings)
        data = made.html.encode()
        make_folders([files[name].parent])
        write_whole(files[name], data)
        if made.notice:
            say(made.notice)
        say(f"wrote {files[name]} ({len(data) / 1e6:.1f} MB, {made.synthesizer})")
        if json:
            return {
                "format": 1,
                "chart": name,
                "files": [str(files[name])],
                "bytes": len(data),
                "soundfont": str(font.path),
                "synthesizer": made.synthesizer,
            }
        return ""

    code = each_chart(files, work, as_json=json)
    say(CAUTION)
    raise typer.Exit(code)


def page_files(charts: list[str], output: str | None, outputs: Outputs) -> dict[str, Path]:
    """Return the file of every chart.  Raises OptionError for one that cannot be meant."""
    if output and not is_folder(output):
        hint = "expected one chart and a file ending in .html, or a folder with a / at its end"
        if len(charts) > 1 or Path(output).suffix.casefold() not in SUFFIXES:
            raise OptionError(f"cannot write the page to {output}", hint=hint)
        require_folder(Path(output))
        outputs.claim(Path(output))
        return {charts[0]: Path(output)}
    found: dict[str, Path] = {}
    names = every_tune(charts) if output else charts
    for chart in names:
        is_stdin = chart == STANDARD_INPUT
        stem = STDIN_STEM if is_stdin else chart_stem(chart)
        home = Path(output) if output else Path() if is_stdin else Path(chart).parent
        found[chart] = home / f"{stem}.html"
        outputs.claim(found[chart], chart=chart)
    return found
