"""``groove render``: MIDI, audio and stems from charts."""

import sys
from collections.abc import Iterable
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Annotated

import typer

from groove.cli.console import CAUTION, exit_code, put_json, report, say
from groove.cli.options import (
    Bars,
    Charts,
    Feel,
    InKey,
    Json,
    Patterns,
    Sections,
    Seed,
    Tempo,
    Times,
    Transpose,
    Tuning,
    parse_names,
    wanted_parts,
)
from groove.cli.performing import perform_options
from groove.cli.targets import Job, Outputs, plan_jobs
from groove.errors import GrooveError, OutputError
from groove.events import Part
from groove.io.config import read_config
from groove.pipeline import PerformOptions

MOST_JOBS = 64


@dataclass(frozen=True, slots=True, kw_only=True)
class RenderOptions:
    """What every chart of one call is rendered with; plain values, so that processes share it."""

    perform: PerformOptions
    parts: frozenset[Part]
    stems: bool
    count_in: bool | None
    patterns: Path | None
    soundfont: str | None
    target_lufs: float
    ceiling_dbtp: float
    show_progress: bool = False


def render(
    charts: Charts,
    output: Annotated[
        list[str] | None,
        typer.Option(
            "-o",
            "--output",
            metavar="FILE",
            help="Where to: .mid .wav .flac .ogg .mp3, or FOLDER/.",
        ),
    ] = None,
    as_: Annotated[
        str | None, typer.Option("--as", metavar="KINDS", help="Kinds for a folder, as mid,wav.")
    ] = None,
    without: Annotated[
        str | None, typer.Option(metavar="PARTS", help="Leave parts out, as bass.")
    ] = None,
    only: Annotated[
        str | None, typer.Option(metavar="PARTS", help="These parts alone, as drums,keys.")
    ] = None,
    stems: Annotated[bool, typer.Option("--stems", help="A file a part beside each file.")] = False,
    tempo: Tempo = None,
    feel: Feel = None,
    transpose: Transpose = 0,
    key: InKey = None,
    sections: Sections = None,
    bars: Bars = None,
    times: Times = 1,
    count_in: Annotated[
        bool | None,
        typer.Option(
            "--count-in/--no-count-in", help="One bar of sticks first (audio has it, MIDI not)."
        ),
    ] = None,
    click: Annotated[bool, typer.Option("--click", help="A click on every beat.")] = False,
    tight: Annotated[bool, typer.Option("--tight", help="Exactly on the grid.")] = False,
    seed: Seed = None,
    tuning: Tuning = None,
    soundfont: Annotated[
        str | None, typer.Option(metavar="FILE", help="The soundfont to play with.")
    ] = None,
    loudness: Annotated[
        float, typer.Option(metavar="LUFS", min=-40, max=-6, help="Loudness of the full mix.")
    ] = -16.0,
    ceiling: Annotated[
        float, typer.Option(metavar="DBTP", min=-20, max=0, help="True peak it may reach.")
    ] = -1.0,
    patterns: Patterns = None,
    jobs: Annotated[
        int, typer.Option(metavar="N", min=1, max=MOST_JOBS, help="Charts at the same time.")
    ] = 1,
    json: Json = False,
) -> None:
    """Render charts as MIDI and audio, with all parts or some left out."""
    options = RenderOptions(
        perform=perform_options(
            read_config(),
            tempo=tempo,
            feel=feel,
            transpose=transpose,
            key=key,
            seed=seed,
            sections=sections,
            bars=bars,
            times=times,
            tight=tight,
            click=click,
            tuning=tuning,
        ),
        parts=wanted_parts(without, only),
        stems=stems,
        count_in=count_in,
        patterns=patterns,
        soundfont=soundfont,
        target_lufs=loudness,
        ceiling_dbtp=ceiling,
        show_progress=sys.stderr.isatty() and jobs == 1,
    )
    planned = plan_jobs(
        charts,
        output or [],
        parse_names(as_, "--as", "kinds of files, as mid,wav"),
        claimed=Outputs(charts, patterns=patterns, soundfont=soundfont),
        stems=options.parts if stems else (),
    )
    raise typer.Exit(run_jobs(planned, options, jobs, as_json=json))


def run_jobs(planned: list[Job], options: RenderOptions, jobs: int, *, as_json: bool) -> int:
    """Render every chart, tell of each, and return the exit code."""
    failures: list[int] = []
    sounded = False
    work = partial(attempt, options=options)
    outcomes: Iterable[Outcome] = map(work, planned)
    if jobs > 1 and len(planned) > 1:
        from groove.cli.workers import Crew

        outcomes = Crew(work, min(jobs, len(planned)), lost=lost).results(planned)
    for job, outcome in zip(planned, outcomes, strict=True):
        failures += tell(job, outcome, as_json=as_json)
        sounded |= has_sound(outcome)
    if sounded:
        say(CAUTION)
    return exit_code(failures, len(planned))


Outcome = dict[str, object] | GrooveError


def has_sound(outcome: Outcome) -> bool:
    """Return whether audio was made."""
    return isinstance(outcome, dict) and "loudness_lufs" in outcome


def attempt(job: Job, options: RenderOptions) -> Outcome:
    """Return the summary of a rendered chart, or the error that it ended in."""
    from groove.cli.rendering import render_job

    try:
        return render_job(job, options)
    except GrooveError as error:
        return error


def lost(job: Job, code: int) -> Outcome:
    """Return the error for a chart whose process ended before its files were made."""
    how = "was ended from outside" if code < 0 else f"ended with {code}"
    hint = "was there enough memory? fewer --jobs take less"
    return OutputError(f"the process that rendered {job.chart} {how}", hint=hint)


def tell(job: Job, outcome: Outcome, *, as_json: bool) -> list[int]:
    """Print what came of a chart; return its error's exit code, if it ended in one."""
    if isinstance(outcome, GrooveError):
        report(job.chart, outcome, as_json=as_json)
        return [outcome.exit_code]
    if as_json:
        put_json(outcome)
    else:
        from groove.text.summary import render_text

        say(render_text(outcome))
    return []
