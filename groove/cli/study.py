"""``groove study``: somebody's bass part, taken apart into cells."""

import shlex
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer
from msgspec import Struct

from groove.cli.console import command_lines, put, put_json, say
from groove.cli.jobs import write_file
from groove.cli.options import Patterns, output_option
from groove.cli.targets import Job, Kinds, Outputs, plan_jobs
from groove.cli.values import refused
from groove.errors import OptionError

if TYPE_CHECKING:
    from groove.study.result import Study


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


def study(
    file: Annotated[
        str, typer.Argument(metavar="FILE", help="MIDI, MusicXML, or a bass recorded alone.")
    ],
    files: StudyFiles,
    chart: Annotated[
        str | None, typer.Option(metavar="CHART", help="The chart that the part plays.")
    ] = None,
    part: Annotated[
        str, typer.Option(metavar="N", help="Which part of the file: its number, or its name.")
    ] = "",
    patterns: Patterns = None,
    json: Annotated[bool, typer.Option("--json", help="Print the study as JSON.")] = False,
) -> None:
    """Take a bass part apart: its notes in their chords, its cells, what they are near to."""
    from groove.io.library import load_library
    from groove.io.studied import read_line
    from groove.study.result import study_line
    from groove.study.study_data import study_data
    from groove.study.study_html import study_html
    from groove.study.study_report import study_text

    if files.as_chart and chart:
        raise OptionError("--as-chart beside --chart", hint="the chart is given already")
    if files.cells and not _may_be_folder(files.cells):
        raise refused("--cells", str(files.cells), "a folder, e.g. --cells my-patterns")
    read = [file, *([chart] if chart else [])]
    claimed = Outputs(read, patterns=patterns)
    [job] = plan_jobs([file], [files.output], _KINDS, claimed=claimed)
    is_page = job.file is not None and job.file.suffix.casefold() == ".html"
    if is_page and (files.as_chart or files.riffs):
        name = "--as-chart" if files.as_chart else "--riffs"
        raise OptionError(f"{name} makes a text, {job.file} is a page", hint="expected a .txt file")
    library = load_library(patterns)
    line = read_line(file, chart, say, part)
    studied = study_line(
        line.notes,
        line.frames,
        library.bass,
        title=line.title,
        part=line.part,
        feels=library.feels.values(),
        hearing=line.hearing,
    )
    if files.cells:
        _write_cells(studied, files.cells, read, claimed)
    practise = _practise(studied, file, chart, part)
    if is_page:
        text = study_html(studied, practise=practise)
    elif files.as_chart:
        text = line.text
    else:
        text = _riffs(studied) if files.riffs else study_text(studied, practise=practise)
    if json:
        put_json({"format": 1, "file": file, "chart": chart, **study_data(studied)})
    elif job.file is None:
        put(text)
    if job.file:
        write_file(job, text.encode())


def _practise(studied: "Study", file: str, chart: str | None, part: str) -> list[str]:
    """Return the commands that loop what is worth practising most; none where there is no note."""
    from groove.study.worth import worth_practising

    worth = worth_practising(studied)
    if not worth:
        return []
    drafted = shlex.join(["groove", "study", file, *(["--part", part] if part else [])])
    first = [] if chart else [f"  {drafted} --as-chart > draft.txt"]
    words = ["groove", "render", chart or "draft.txt", "-o", "next.wav", *worth[0].options]
    return [*first, *command_lines(words)]


def _may_be_folder(folder: Path) -> bool:
    """Return whether a folder is there or can be made: the nearest one that is there is no file."""
    try:
        there = next(place for place in (folder, *folder.parents) if place.exists())
    except OSError:
        return False
    return there.is_dir()


def cell_names(studied: "Study") -> list[str]:
    """Return a name for each cell: the song's, with hyphens, and a number."""
    words = "".join(sign if sign.isalnum() else " " for sign in studied.title.casefold()).split()
    stem = "-".join(words)[:40].strip("-") or "studied"
    return [f"{stem}-{number}" for number in range(1, len(studied.cells) + 1)]


def _riffs(studied: "Study") -> str:
    """Return the cells as blocks for a chart."""
    from groove.study.line_cells import riff_text

    pairs = zip(studied.cells, cell_names(studied), strict=True)
    return "\n".join(riff_text(cell, name) for cell, name in pairs)


def _write_cells(studied: "Study", folder: Path, read: Sequence[str], claimed: Outputs) -> None:
    """Write each cell as a file of its own, in the folder that ``--patterns`` reads."""
    from groove.study.line_cells import cell_toml

    home = folder / "bass"
    named = list(zip(studied.cells, cell_names(studied), strict=True))
    jobs = [
        Job(chart=read[0], files=(home / f"{name}.toml",), folders=(folder, home))
        for _, name in named
    ]
    for job in jobs:
        for file in job.files:
            claimed.claim(file)
    for job, (cell, name) in zip(jobs, named, strict=True):
        write_file(job, cell_toml(cell, name).encode())
