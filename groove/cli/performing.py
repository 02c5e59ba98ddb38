"""What every command that plays a chart shares: from a chart's name to a performance."""

from pathlib import Path
from typing import cast, get_args

from groove.chart.model import Song
from groove.cli.console import say
from groove.cli.options import (
    MOST_FRETS,
    parse_bars,
    parse_names,
    parse_tempo,
    parse_wanted_key,
    refused,
)
from groove.events import NoticeKind, Performance
from groove.harmony.analysis import Analysis
from groove.io.charts import read_song
from groove.io.config import Config
from groove.io.library import load_library
from groove.neck.instrument import LONG_SCALE_MM, STANDARD, parse_scale_length, parse_tuning
from groove.neck.options import Frame, NeckOptions, OpenStrings
from groove.pipeline import PerformOptions, analyse_song, perform_analysis
from groove.text.notices import notice_text

HEARD_ONLY = (NoticeKind.LOUDNESS, NoticeKind.MODE)
"""What is told after a render alone: a page has no loudness, and names every mode."""


def perform_options(
    config: Config,
    *,
    tempo: str | None = None,
    feel: str | None = None,
    transpose: int = 0,
    key: str | None = None,
    seed: int | None = None,
    sections: str | None = None,
    bars: str | None = None,
    times: int = 1,
    tight: bool = False,
    click: bool = False,
    tuning: str | None = None,
) -> PerformOptions:
    """Return what the options of a command ask for, as they were typed."""
    bpm, percent = parse_tempo(tempo)
    return PerformOptions(
        tempo_bpm=bpm,
        tempo_percent=percent,
        feel=feel,
        transpose=transpose,
        key=parse_wanted_key(key),
        seed=seed,
        tight=tight,
        click=click,
        sections=parse_names(sections, "--sections", "names of sections, as verse,chorus"),
        bars=parse_bars(bars),
        times=times,
        tuning=parse_tuning(tuning) if tuning else None,
        usual_tuning=parse_tuning(config.tuning) if config.tuning else STANDARD,
    )


def neck_options(
    config: Config,
    *,
    open_strings: str,
    start: int | None,
    max_fret: int | None,
    frame: int | None,
    frets: int | None,
    scale: str | None,
    thumb: bool = False,
) -> NeckOptions:
    """Return a player's choices of the neck, the player's own settings under the options."""
    scale = scale or config.scale
    if open_strings not in get_args(OpenStrings):
        raise refused("--open", open_strings, ", ".join(get_args(OpenStrings)))
    fret_count = frets or config.frets or MOST_FRETS
    highest = min(max_fret or fret_count, fret_count)
    if max_fret is not None and max_fret > fret_count:
        raise refused("--max-fret", max_fret, f"1 to {fret_count}")
    if start is not None and start > highest:
        raise refused("--start", start, f"0 to {highest}")
    return NeckOptions(
        open_strings=cast(OpenStrings, open_strings),
        start_fret=start,
        max_fret=max_fret,
        frame=cast(Frame | None, frame),
        fret_count=fret_count,
        scale_length_mm=parse_scale_length(scale) if scale else LONG_SCALE_MM,
        thumb=thumb,
    )


def tell_notices(performance: Performance) -> None:
    """Say what was decided for the player, as after a render, but what is not seen on a page."""
    for notice in performance.notices:
        if notice.kind not in HEARD_ONLY:
            say(notice_text(notice))


def tell_cut(cut: Performance, whole: Performance) -> None:
    """Say what was left out as a piece was cut."""
    for notice in cut.notices[len(whole.notices) :]:
        say(notice_text(notice))


def tell_reading(song: Song) -> None:
    """Say what was changed in a chart as it was read, where what was decided is not told."""
    for notice in song.notices:
        say(notice)


def play_chart(
    name: str, options: PerformOptions, patterns: Path | None
) -> tuple[Analysis, Performance]:
    """Return a chart's song, analysed in the key that was asked for, and what the band plays."""
    analysis = analyse_song(read_song(name), options)
    return analysis, perform_analysis(analysis, load_library(patterns), options)
