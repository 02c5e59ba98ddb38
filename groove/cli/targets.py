"""Which files a chart is rendered to: from ``-o`` and ``--as`` to paths."""

from collections.abc import Iterable, Sequence
from pathlib import Path

from msgspec import Struct

from groove.errors import OptionError, nearest_hint
from groove.io.charts import STANDARD_INPUT, chart_file, chart_stem, every_tune

MIDI_SUFFIXES = (".mid", ".midi")
AUDIO_SUFFIXES = (".wav", ".flac", ".ogg", ".mp3")
SUFFIXES = (*MIDI_SUFFIXES, *AUDIO_SUFFIXES)
STDIN_STEM = "chart"


class Job(Struct, frozen=True, kw_only=True):
    """One chart, the files it becomes, and the folders to make for them: those named as such."""

    chart: str
    files: tuple[Path, ...]
    folders: tuple[Path, ...]


def plan_jobs(charts: Sequence[str], outputs: Sequence[str], kinds: Sequence[str]) -> list[Job]:
    """Return the files of every chart.

    Without an output the MIDI file stands beside the chart.  Raises OptionError for a suffix that
    is not known, for one file named for several charts, and for a file that would be written twice
    or over a chart.
    """
    folders = tuple(Path(output) for output in outputs if is_folder(output))
    charts = every_tune(charts) if folders else charts
    jobs = [
        Job(chart=chart, files=chart_files(chart, charts, outputs, kinds), folders=folders)
        for chart in charts
    ]
    refuse_doubles(charts, ((job.chart, file) for job in jobs for file in job.files))
    return jobs


def refuse_doubles(charts: Sequence[str], files: Iterable[tuple[str, Path]]) -> None:
    """Refuse a file that would be written twice, or over a chart; each comes with its chart."""
    taken: dict[Path, str] = {Path(chart_file(chart)).absolute(): "a chart" for chart in charts}
    for chart, file in files:
        where = file.absolute()
        if where in taken:
            raise OptionError(
                f"{file} would be written over {taken[where]}",
                hint="give another name, or another folder",
            )
        taken[where] = f"that of {chart}"


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
        check_target(Path(output), charts)
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


def check_target(file: Path, charts: Sequence[str]) -> None:
    """Refuse, before any work is done, a file over a chart or in a folder that is not there."""
    refuse_doubles(charts, [("", file)])
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
