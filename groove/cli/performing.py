"""What every command that plays a chart shares: from a chart's name to a performance."""

from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING, cast, get_args

from msgspec.structs import replace

from groove.cells.model import Library
from groove.chart.model import Song
from groove.cli.console import say
from groove.cli.options import MOST_FRETS, Choices, HandOptions
from groove.cli.values import refused
from groove.events import Performance
from groove.harmony.analysis import Analysis
from groove.io.config import Config
from groove.io.library import load_library
from groove.io.lined import song_with_line
from groove.neck.instrument import LONG_SCALE_MM, STANDARD, parse_scale_length, parse_tuning
from groove.notices import Notice, NoticeKind
from groove.pipeline import PerformOptions, analyse_song, perform_analysis
from groove.text.notices import notice_text

if TYPE_CHECKING:
    from groove.neck.options import NeckOptions

HEARD_ONLY = (NoticeKind.LOUDNESS, NoticeKind.MODE)
"""What is told after a render alone: a page has no loudness, and names every mode."""

PRINTED_EVERYWHERE = (NoticeKind.STYLE, NoticeKind.UNSERVED_STYLE, NoticeKind.OTHER_FEEL)
"""What every command tells: a player who asks for a feel or a style must know which is played."""


def perform_options(config: Config, *choices: Choices, tight: bool = False) -> PerformOptions:
    """Return what the options of a command ask for, the player's own settings under them."""
    usual = parse_tuning(config.tuning) if config.tuning else STANDARD
    options = PerformOptions(usual_tuning=usual, tight=tight)
    for fields in choices:
        options = replace(options, **fields)
    return options


def neck_options(config: Config, hand: HandOptions, *, thumb: bool = False) -> "NeckOptions":
    """Return a player's choices of the neck, the player's own settings under the options."""
    from groove.neck.options import HandSpan, NeckOptions, OpenStrings

    scale = hand.scale_length or config.scale_length
    if hand.open_strings not in get_args(OpenStrings):
        raise refused("--open", hand.open_strings, ", ".join(get_args(OpenStrings)))
    fret_count = hand.frets or config.frets or MOST_FRETS
    highest = min(hand.max_fret or fret_count, fret_count)
    if hand.max_fret is not None and hand.max_fret > fret_count:
        raise refused("--max-fret", hand.max_fret, f"1 to {fret_count}")
    if hand.start is not None and hand.start > highest:
        raise refused("--start", hand.start, f"0 to {highest}")
    return NeckOptions(
        open_strings=cast(OpenStrings, hand.open_strings),
        start_fret=hand.start,
        max_fret=hand.max_fret,
        span=cast(HandSpan | None, hand.span),
        fret_count=fret_count,
        scale_length_mm=parse_scale_length(scale) if scale else LONG_SCALE_MM,
        thumb=thumb,
    )


def print_notices(performance: Performance) -> None:
    """Say what was decided for the player, as after a render, but what is not seen on a page."""
    for notice in performance.notices:
        if notice.kind not in HEARD_ONLY:
            say(notice_text(notice))


def print_cut(cut: Performance) -> None:
    """Say what was left out as a piece was cut."""
    for notice in cut.notices:
        if notice.kind is NoticeKind.NO_SUCH_BARS:
            say(notice_text(notice))


def print_reading(song: Song, notices: Iterable[Notice] = ()) -> None:
    """Say what was changed in a chart as it was read, where what was decided is not told.

    Of ``notices``, which the band gave, only ``PRINTED_EVERYWHERE`` are told.
    """
    for notice in song.notices:
        say(notice_text(notice))
    for notice in notices:
        if notice.kind in PRINTED_EVERYWHERE:
            say(notice_text(notice))


def play_chart(
    name: str, options: PerformOptions, patterns: Path | None, line: str | None
) -> tuple[Analysis, Performance]:
    """Return a chart's song, analysed in the key that was asked for, and what the band plays.

    ``line`` is the bass line that is asked for (see ``song_with_line``).
    """
    library = load_library(patterns)
    return play_song(song_with_line(name, line, library, options), options, library)


def play_song(
    song: Song, options: PerformOptions, library: Library
) -> tuple[Analysis, Performance]:
    """Return a song that was read, analysed in the key that was asked for, and what is played."""
    analysis = analyse_song(song, options)
    return analysis, perform_analysis(analysis, library, options)
