"""``groove study``: somebody's bass part, taken apart into cells."""

from pathlib import Path
from typing import Annotated

import typer
from msgspec import Struct

from groove.cli.console import put, put_json
from groove.cli.jobs import write_file
from groove.cli.options import Patterns, output_option
from groove.cli.targets import AUDIO_SUFFIXES, Kinds, Outputs, plan_jobs
from groove.cli.values import refused
from groove.errors import OptionError

_KINDS = Kinds(suffixes=(".html", ".txt"), printed=True)


class StudyFiles(Struct, frozen=True, kw_only=True):
    """What is made of the line."""

    output: Annotated[
        str | None,
        output_option("Where to: .html (with pictures of the cells), .txt; else printed."),
    ] = None
    cells: Annotated[
        Path | None,
        typer.Option(metavar="FOLDER", help="Write its cells into FOLDER/bass, for --patterns."),
    ] = None
    riffs: Annotated[
        bool, typer.Option("--riffs", help="Print its cells as riffs for a chart.")
    ] = False
    as_chart: Annotated[
        bool,
        typer.Option("--as-chart", help="Print the chart that was drafted, without --chart only."),
    ] = False
    into_chart: Annotated[
        bool,
        typer.Option("--into-chart", help="Print the chart with the line as tab under its bars."),
    ] = False

    @property
    def texts(self) -> list[str]:
        """The options that print another text than the report."""
        asked = {
            "--riffs": self.riffs,
            "--as-chart": self.as_chart,
            "--into-chart": self.into_chart,
        }
        return [name for name, is_asked in asked.items() if is_asked]


class LineSource(Struct, frozen=True, kw_only=True):
    """Where the line is in its file, and what it is held to."""

    chart: Annotated[
        str | None, typer.Option(metavar="CHART", help="The chart that the part plays.")
    ] = None
    like: Annotated[
        str | None,
        typer.Option(
            metavar="RECORD", help="FILE begins with this record, and has its bars: your own copy."
        ),
    ] = None
    part: Annotated[
        str, typer.Option(metavar="N", help="Which part of FILE: its number, or its name.")
    ] = ""


def study(
    file: Annotated[
        str, typer.Argument(metavar="FILE", help="MIDI, MusicXML, or a bass recorded alone.")
    ],
    files: StudyFiles,
    source: LineSource,
    other: Annotated[
        str | None,
        typer.Argument(metavar="[OTHER]", help="Another line, to say what differs, bar by bar."),
    ] = None,
    patterns: Patterns = None,
    json: Annotated[bool, typer.Option("--json", help="Print the study as JSON.")] = False,
) -> None:
    """Take a bass part apart: its notes in their chords, its cells, what they are near to."""
    from groove.cli.studying import StudyRequest, comparison_made, study_made

    chart, like = source.chart, source.like
    _refuse(files, chart, other)
    if like:
        _refuse_like(like, file, chart, other)
    read = [name for name in (file, other, chart, like) if name]
    claimed = Outputs(read, patterns=patterns)
    [job] = plan_jobs([file], [files.output], _KINDS, claimed=claimed)
    is_page = job.file is not None and job.file.suffix.casefold() == ".html"
    if is_page and files.texts:
        raise OptionError(
            f"{files.texts[0]} makes a text, {job.file} is a page", hint="expected a .txt file"
        )
    asked = StudyRequest(
        file=file, chart=chart, like=like, part=source.part, patterns=patterns, is_page=is_page
    )
    data, text = comparison_made(asked, other) if other else study_made(asked, files, claimed)
    if json:
        put_json({"format": 1, "file": file, "chart": chart, **data})
    elif job.file is None:
        put(text)
    if job.file:
        write_file(job, text.encode())


def _refuse(files: StudyFiles, chart: str | None, other: str | None) -> None:
    """Refuse what cannot be asked together, before any work is done."""
    if files.as_chart and chart:
        raise OptionError("--as-chart beside --chart", hint="the chart is given already")
    if len(files.texts) > 1:
        both = " beside ".join(files.texts[:2])
        raise OptionError(both, hint="expected one of the two, for each is a text of its own")
    of_one = [*files.texts, *(["--cells"] if files.cells else [])]
    if other and of_one:
        raise OptionError(
            f"{of_one[0]} beside {other}", hint=f"expected one line: leave out {other}"
        )
    if files.cells and not _may_be_folder(files.cells):
        raise refused("--cells", str(files.cells), "a folder, e.g. --cells my-patterns")


def _refuse_like(like: str, file: str, chart: str | None, other: str | None) -> None:
    """Refuse a record's bars for what has none to take from it."""
    if other:
        raise OptionError(f"--like beside {other}", hint=f"expected one line: leave out {other}")
    if not chart:
        raise OptionError(
            f"--like {like} without --chart", hint="the chart is what a record is held to"
        )
    if Path(file).suffix.casefold() not in AUDIO_SUFFIXES:
        raise OptionError("--like is for a recording", hint=f"{file} has bars of its own")


def _may_be_folder(folder: Path) -> bool:
    """Return whether a folder is there or can be made: the nearest one that is there is no file."""
    try:
        there = next(place for place in (folder, *folder.parents) if place.exists())
    except OSError:
        return False
    return there.is_dir()
