"""Which files a chart is rendered to: from ``-o`` and ``--as`` to paths."""

import os
from collections.abc import Collection, Sequence
from functools import cached_property
from pathlib import Path

from msgspec import Struct

from groove.errors import OptionError, nearest_hint
from groove.events import Part
from groove.io.charts import STANDARD_INPUT, chart_file, chart_stem, every_tune
from groove.io.files import FileNumber, file_number, file_place

MIDI_SUFFIXES = (".mid", ".midi")
AUDIO_SUFFIXES = (".wav", ".flac", ".ogg", ".mp3")
SUFFIXES = (*MIDI_SUFFIXES, *AUDIO_SUFFIXES)
STDIN_STEM = "chart"


class Outputs:
    """The files that one call writes: none is written twice, nor over a file that the call reads.

    Files are compared as files, not as names.
    """

    def __init__(
        self, charts: Sequence[str], *, patterns: Path | None = None, soundfont: str | None = None
    ) -> None:
        """``patterns`` and ``soundfont`` are what the options of the call name."""
        self._charts = charts
        self._patterns = patterns
        self._soundfont = soundfont
        self._claimed: dict[FileNumber | str, tuple[Path, str]] = {}

    @cached_property
    def _read(self) -> dict[FileNumber, str]:
        from groove.io.inputs import files_read

        found = files_read(self._charts, self._patterns, self._soundfont, os.environ)
        return dict(reversed(list(found)))

    def claim(self, file: Path, *, chart: str = "") -> None:
        """Note a file that will be written, of one of several charts.

        Raises OptionError where it is written already, or is read.
        """
        place, number = file_place(file), file_number(file)
        earlier = self._claimed.get(place) or (self._claimed.get(number) if number else None)
        taken = self._read.get(number, "") if number else ""  # what is not there is not read
        if earlier:
            other, its_chart = earlier
            taken = f"that of {its_chart}" if other == file and its_chart else f"{other}"
        if taken:
            raise OptionError(
                f"{file} would be written over {taken}",
                hint="give another name, or another folder",
            )
        self._claimed[place] = file, chart
        if number:
            self._claimed[number] = file, chart


class Job(Struct, frozen=True, kw_only=True):
    """One chart, the files it becomes, and the folders to make for them: those named as such."""

    chart: str
    files: tuple[Path, ...]
    folders: tuple[Path, ...]


def plan_jobs(
    charts: Sequence[str],
    outputs: Sequence[str],
    kinds: Sequence[str],
    *,
    claimed: Outputs,
    stems: Collection[Part] = (),
) -> list[Job]:
    """Return the files of every chart, each with those of its stems claimed.

    Without an output the MIDI file stands beside the chart.  Raises OptionError for a suffix that
    is not known, for one file named for several charts, and for a file that would be written twice
    or over one that is read.
    """
    folders = tuple(Path(output) for output in outputs if is_folder(output))
    charts = every_tune(charts) if folders else charts
    jobs = [
        Job(chart=chart, files=chart_files(chart, charts, outputs, kinds), folders=folders)
        for chart in charts
    ]
    for job in jobs:
        for file in job.files:
            for written in (file, *(stem_path(file, part) for part in stems)):
                claimed.claim(written, chart=job.chart)
    return jobs


def stem_path(file: Path, part: Part) -> Path:
    """Return the name of one part's file beside the whole one's: ``song-bass.wav``."""
    return file.with_name(f"{file.stem}-{part}{file.suffix}")


def chart_files(
    chart: str, charts: Sequence[str], outputs: Sequence[str], kinds: Sequence[str]
) -> tuple[Path, ...]:
    """Return the files of one chart."""
    suffixes = [check_suffix("." + kind.removeprefix(".").casefold()) for kind in kinds]
    stem = STDIN_STEM if chart == STANDARD_INPUT else chart_stem(chart)
    if not outputs:
        home = Path() if chart == STANDARD_INPUT else Path(chart).parent
        return tuple(home / f"{stem}{suffix}" for suffix in suffixes or [".mid"])
    files: list[Path] = []
    for output in outputs:
        if is_folder(output):
            files += [Path(output) / f"{stem}{suffix}" for suffix in suffixes or [".mid"]]
            continue
        if len(charts) > 1:
            raise several_charts(output, charts)
        if kinds:
            raise OptionError("--as goes with a folder", hint=f"the suffix of {output} decides")
        check_suffix(Path(output).suffix.casefold(), output)
        require_folder(Path(output))
        files.append(Path(output))
    return tuple(files)


def several_charts(output: str, charts: Sequence[str]) -> OptionError:
    """Return the error for one file and several charts, or words that were taken for charts."""
    for chart in charts:
        if chart != STANDARD_INPUT and not Path(chart_file(chart)).exists():
            return OptionError(
                f"there is no chart called {chart!r}",
                hint="a value is one word, as --tempo 70%; --count-in and --click take none",
            )
    return OptionError(
        f"one file, {output}, for {len(charts)} charts", hint="expected a folder: -o songs/"
    )


def is_folder(output: str) -> bool:
    """Return whether an output names a folder."""
    return output.endswith(("/", "\\")) or Path(output).is_dir()


def require_folder(file: Path) -> None:
    """Refuse, before any work is done, a file in a folder that is not there."""
    if not file.parent.is_dir():
        raise OptionError(
            f"cannot write {file}: there is no folder {file.parent}",
            hint=f"make the folder first, or check its name; -o {file.parent}/ makes it",
        )


def check_suffix(suffix: str, output: str = "") -> str:
    """Return a suffix that can be written.  Raises OptionError with the nearest."""
    if suffix not in SUFFIXES:
        near = nearest_hint(suffix, SUFFIXES)
        expected = "expected one of: " + ", ".join(SUFFIXES) + ", or a folder with a / at its end"
        raise OptionError(
            f"cannot write a {suffix or 'file without a suffix'}"
            + (f": {output}" if output else ""),
            hint="; ".join(filter(None, (near, expected))),
        )
    return suffix
