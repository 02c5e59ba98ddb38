"""Which files a call reads, so that none of them is written over."""

import sys
from collections.abc import Iterator, Mapping, Sequence
from contextlib import suppress
from pathlib import Path

from groove.errors import SoundError
from groove.io.charts import STANDARD_INPUT, chart_file
from groove.io.config import config_path, read_config
from groove.io.files import FileNumber, file_number
from groove.io.library import pattern_paths
from groove.io.lined import line_file
from groove.io.soundfont import choose_soundfont


def files_read(
    charts: Sequence[str],
    patterns: Path | None,
    soundfont: str | None,
    environment: Mapping[str, str],
    line: str | None = None,
) -> Iterator[tuple[FileNumber, str]]:
    """Yield every file that a call may read, where it is there, and what it is, in words.

    ``patterns`` and ``soundfont`` are what the options name, ``environment`` the variables that
    may name a soundfont.
    """
    midi = line_file(line)
    own = [(midi, "a bass line")] if midi else []
    for path, what in [*_paths_read(charts, patterns, soundfont, environment), *own]:
        number = file_number(path)
        if number is not None:
            yield number, what


def _paths_read(
    charts: Sequence[str],
    patterns: Path | None,
    soundfont: str | None,
    environment: Mapping[str, str],
) -> Iterator[tuple[Path | int, str]]:
    for chart in charts:
        if chart != STANDARD_INPUT:
            yield Path(chart_file(chart)), "a chart"
        elif sys.stdin is not None:
            with suppress(OSError, ValueError):  # not a file
                yield sys.stdin.fileno(), "a chart"
    yield config_path(), "the configuration"
    for font in font_paths(soundfont, environment):
        yield font, "the soundfont"
    for path in pattern_paths(patterns):
        yield path, "a file of patterns"


def font_paths(soundfont: str | None, environment: Mapping[str, str]) -> Iterator[Path]:
    """Yield the soundfont that sound is made with, where there is one."""
    with suppress(SoundError):  # told where sound is made
        yield choose_soundfont(soundfont, environment, read_config().soundfont).path
