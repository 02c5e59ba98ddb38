"""What ``groove study`` makes: the report of a line, its cells, charts, and two lines compared."""

import shlex
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from msgspec import Struct
from msgspec.structs import replace

from groove.cells.model import Library
from groove.cli.console import command_lines, say
from groove.cli.jobs import write_file
from groove.cli.targets import Job, Outputs
from groove.io.library import load_library
from groove.io.studied import ReadLine, read_line
from groove.io.studied_chart import charted_line
from groove.study.comparison import compare_lines
from groove.study.comparison_report import comparison_data, comparison_html, comparison_text
from groove.study.line_cells import cell_toml, riff_text
from groove.study.line_tab import line_bars, with_feel
from groove.study.result import Study, study_line
from groove.study.study_data import study_data
from groove.study.study_html import study_html
from groove.study.study_report import study_text
from groove.study.worth import worth_practising

if TYPE_CHECKING:
    from groove.cli.study import StudyFiles

DataAndText = tuple[dict[str, object], str]
"""What is told: as data, and as the text that is printed or written."""


class StudyRequest(Struct, frozen=True, kw_only=True):
    """Which line is studied over which chart; ``is_page`` says that HTML is wanted."""

    file: str
    chart: str | None
    like: str | None
    part: str
    patterns: Path | None
    is_page: bool


def study_made(asked: StudyRequest, files: "StudyFiles", claimed: Outputs) -> DataAndText:
    """Return what is told of one line; its cells are written where that is asked for."""
    given = None
    if asked.chart and asked.like:
        from groove.cli.aligning import bars_of_record

        given = bars_of_record(asked.chart, asked.like, asked.patterns)
    line = read_line(asked.file, asked.chart, say, asked.part, given)
    studied = _studied(line, load_library(asked.patterns))
    chart = with_feel(line.text, studied) if line.is_draft else line.text
    if files.cells:
        read = [asked.file, *([asked.chart] if asked.chart else [])]
        _write_cells(studied, files.cells, read, claimed)
    data = study_data(studied)
    if files.as_chart:
        return data, chart
    if files.into_chart:
        return data, charted_line(chart, list(line_bars(studied, asked.file)), asked.file, say)
    if files.riffs:
        return data, _riffs(studied)
    practise = _practise(studied, asked)
    make = study_html if asked.is_page else study_text
    return data, make(studied, practise=practise)


def comparison_made(asked: StudyRequest, other: str) -> DataAndText:
    """Return what is told of two lines beside each other, in the bars of the first one."""
    library = load_library(asked.patterns)
    one = read_line(asked.file, asked.chart, say, asked.part)
    two = read_line(other, asked.chart, say)
    both = compare_lines(
        _studied(one, library),
        _studied(replace(two, frames=one.frames), library),
    )
    make = comparison_html if asked.is_page else comparison_text
    return {"other": other, **comparison_data(both)}, make(both, (asked.file, other))


def _studied(line: ReadLine, library: Library) -> Study:
    return study_line(
        line.notes,
        line.frames,
        library.bass,
        title=line.title,
        part=line.part,
        feels=library.feels.values(),
        hearing=line.hearing,
    )


def _practise(studied: Study, asked: StudyRequest) -> list[str]:
    """Return the commands that loop what is worth practising most; none where there is no note."""
    worth = worth_practising(studied)
    if not worth:
        return []
    part = ["--part", asked.part] if asked.part else []
    drafted = shlex.join(["groove", "study", asked.file, *part])
    first = [] if asked.chart else [f"  {drafted} --as-chart > draft.txt"]
    chart = asked.chart or "draft.txt"
    words = ["groove", "render", chart, "-o", "next.wav", *worth[0].options]
    return [*first, *command_lines(words)]


def cell_names(studied: Study) -> list[str]:
    """Return a name for each cell: the song's, with hyphens, and a number."""
    words = "".join(sign if sign.isalnum() else " " for sign in studied.title.casefold()).split()
    stem = "-".join(words)[:40].strip("-") or "studied"
    return [f"{stem}-{number}" for number in range(1, len(studied.cells) + 1)]


def _riffs(studied: Study) -> str:
    """Return the cells as blocks for a chart."""
    pairs = zip(studied.cells, cell_names(studied), strict=True)
    return "\n".join(riff_text(cell, name) for cell, name in pairs)


def _write_cells(studied: Study, folder: Path, read: Sequence[str], claimed: Outputs) -> None:
    """Write each cell as a file of its own, in the folder that ``--patterns`` reads."""
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
