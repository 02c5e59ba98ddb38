"""Which files a chart becomes, whichever command writes them: from ``-o`` and ``--as`` to paths."""

import os
from collections.abc import Collection, Iterable, Iterator, Sequence
from functools import cached_property
from pathlib import Path

from msgspec import Struct

from groove.cli.values import LONGEST_SHOWN
from groove.errors import OptionError, joined_hints, nearest_hint
from groove.events import Part
from groove.io.charts import STANDARD_INPUT, chart_file, chart_stem, every_tune
from groove.io.files import FileNumber, file_number, file_place

MIDI_SUFFIXES = (".mid", ".midi")
AUDIO_SUFFIXES = (".wav", ".flac", ".ogg", ".mp3")
STDIN_STEM = "chart"


class Kinds(Struct, frozen=True, kw_only=True):
    """The files that a command can write.

    ``suffixes`` are those that a name may end in; the first is written where none was asked for.
    Without an output the file stands beside its chart, or is printed where ``printed`` is set.
    ``instead`` is what else would do where a suffix is not known.
    """

    suffixes: tuple[str, ...]
    printed: bool = False
    instead: str = ""


class Outputs:
    """The files that one call writes: none is written twice, nor over a file that the call reads.

    Files are compared as files, not as names.
    """

    def __init__(
        self,
        charts: Sequence[str],
        *,
        patterns: Path | None = None,
        soundfont: str | None = None,
        line: str | None = None,
    ) -> None:
        """``patterns``, ``soundfont`` and ``line`` are what the options of the call name."""
        self._charts = charts
        self._patterns = patterns
        self._soundfont = soundfont
        self._line = line
        self._claimed: dict[FileNumber | str, tuple[Path, str]] = {}

    @cached_property
    def _read(self) -> dict[FileNumber, str]:
        from groove.io.inputs import files_read

        found = files_read(self._charts, self._patterns, self._soundfont, os.environ, self._line)
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
    """One chart, the files it becomes, and the folders to make for them: those named as such.

    Without a file it is printed.
    """

    chart: str
    files: tuple[Path, ...] = ()
    folders: tuple[Path, ...] = ()

    @property
    def file(self) -> Path | None:
        """The one file of a command that writes one, None where it is printed."""
        return self.files[0] if self.files else None


def plan_jobs(
    charts: Sequence[str],
    outputs: Iterable[str | None],
    kinds: Kinds,
    *,
    asked: Sequence[str] = (),
    claimed: Outputs,
    stems: Collection[Part] = (),
) -> list[Job]:
    """Return the files of every chart, each with those of its stems claimed.

    ``outputs`` may hold None for an option that was not given; ``asked`` are the kinds for a
    folder, or for beside the chart.  Raises OptionError for a suffix that is not known, for one
    file named for several charts, and for a file that would be written twice or over one that is
    read.
    """
    given = [output for output in outputs if output is not None]
    folders = tuple(Path(output) for output in given if names_folder(output))
    charts = every_tune(charts) if folders else charts
    suffixes = [_kind_suffix(kind, kinds) for kind in asked] or [kinds.suffixes[0]]
    named = [_named_file(output, charts, kinds) for output in given if not names_folder(output)]
    if named and asked:
        raise OptionError("--as goes with a folder", hint=f"the suffix of {named[0]} decides")
    jobs = []
    for chart in charts:
        homes = folders if given or kinds.printed else (home(chart),)
        files = (*named, *_usual_files(chart, homes, suffixes))
        jobs.append(Job(chart=chart, files=files, folders=folders))
    for job in jobs:
        for file in job.files:
            for written in (file, *(stem_path(file, part) for part in stems)):
                claimed.claim(written, chart=job.chart)
    return jobs


def stem_path(file: Path, part: Part) -> Path:
    """Return the name of one part's file beside the whole one's: ``song-bass.wav``."""
    return file.with_name(f"{file.stem}-{part}{file.suffix}")


def home(chart: str) -> Path:
    """Return the folder that a chart lies in, the current one for standard input."""
    return Path() if chart == STANDARD_INPUT else Path(chart).parent


def _usual_files(chart: str, folders: Sequence[Path], suffixes: Sequence[str]) -> Iterator[Path]:
    """Yield the files of a chart in each folder, named after it."""
    stem = STDIN_STEM if chart == STANDARD_INPUT else chart_stem(chart)
    for folder in folders:
        for suffix in suffixes:
            yield folder / f"{stem}{suffix}"


def _named_file(output: str, charts: Sequence[str], kinds: Kinds) -> Path:
    if len(charts) > 1:
        raise _several_charts(output, charts)
    file = Path(output)
    if file.suffix.casefold() not in kinds.suffixes:
        raise _unknown_suffix(file.suffix.casefold(), kinds, output)
    require_folder(file)
    return file


def _kind_suffix(kind: str, kinds: Kinds) -> str:
    """Return the suffix of a kind of file: ``.mid`` of ``mid``."""
    suffix = "." + kind.removeprefix(".").casefold()
    if suffix not in kinds.suffixes:
        raise _unknown_suffix(suffix, kinds)
    return suffix


def _several_charts(output: str, charts: Sequence[str]) -> OptionError:
    """Return the error for one file and several charts, or words that were taken for charts."""
    for chart in charts:
        if chart != STANDARD_INPUT and not Path(chart_file(chart)).exists():
            return OptionError(
                f"there is no chart called {chart!r}",
                hint='a value of several words stands in quotes, e.g. --feel "one drop"',
            )
    return OptionError(
        f"one file, {output}, for {len(charts)} charts", hint="expected a folder: -o songs/"
    )


def names_folder(output: str) -> bool:
    """Return whether an output names a folder: one that is there, or by the slash at its end."""
    return output.endswith(("/", "\\")) or Path(output).is_dir()


def require_folder(file: Path) -> None:
    """Refuse, before any work is done, a file in a folder that is not there."""
    if not file.parent.is_dir():
        raise OptionError(
            f"cannot write {file}: there is no folder {file.parent}",
            hint=f"make the folder first, or check its name; -o {file.parent}/ makes it",
        )


def _unknown_suffix(suffix: str, kinds: Kinds, output: str = "") -> OptionError:
    """Return the error for a suffix that a command does not write, with the nearest."""
    near = nearest_hint(suffix, kinds.suffixes)
    one_of = "one of: " if len(kinds.suffixes) > 1 else ""
    names = ", ".join(kinds.suffixes)
    expected = f"expected {one_of}{names}, or a folder with a / at its end"
    return OptionError(
        f"cannot write a {suffix[:LONGEST_SHOWN] or 'file without a suffix'}"
        + (f": {output}" if output else ""),
        hint=joined_hints(near, expected, kinds.instead),
    )
