"""``groove take``: a recorded take beside what was to be played, and what it says of the time."""

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer
from msgspec import Struct

from groove.cli.as_rendered import Rendered, read_rendered
from groove.cli.console import command_lines, put, put_json
from groove.cli.jobs import write_file
from groove.cli.options import (
    Answer,
    Loop,
    Played,
    TuningOption,
    output_option,
)
from groove.cli.targets import Kinds, Outputs, plan_jobs, require_folder
from groove.errors import OptionError

if TYPE_CHECKING:
    from groove.io.take_history import PastTake
    from groove.take.judgement import TakeReport
    from groove.take.reference import TakeReference

LATENCY_MS = 1000.0
LONGEST_FROM_SEC = 3600.0
OF_THE_BAND = ("--feel", "--seed", "--vary", "--key", "--transpose", "--patterns")
"""What the band is asked for at the next practice as it was for this take."""
_KINDS = Kinds(suffixes=(".html", ".png", ".txt"), printed=True)


class TakeOptions(Struct, frozen=True, kw_only=True):
    """How a take is held against its reference."""

    latency: Annotated[
        float | None,
        typer.Option(
            metavar="MS",
            min=0,
            max=LATENCY_MS,
            help="How late your set-up records, for a file that begins on a beat of the song.",
        ),
    ] = None
    from_: Annotated[
        float | None,
        typer.Option(
            "--from",
            metavar="SECONDS",
            min=0,
            max=LONGEST_FROM_SEC,
            help="Where in the file the song begins, to within a second.",
        ),
    ] = None
    free_tempo: Annotated[
        bool, typer.Option("--free-tempo", help="Measure against your own steady tempo.")
    ] = False
    free_line: Annotated[
        bool, typer.Option("--free-line", help="Any notes will do: only their time counts.")
    ] = False
    tight: Annotated[
        bool, typer.Option("--tight", help="The band was rendered exactly on the grid.")
    ] = False
    as_rendered: Annotated[
        str | None,
        typer.Option(
            "--as-rendered",
            metavar="FILE.mid",
            help="Seed, feel and their like as in this file, which render wrote of the chart.",
        ),
    ] = None
    like: Annotated[
        str | None,
        typer.Option(
            metavar="RECORD",
            help="Measure against this record's time: your own copy of the song.",
        ),
    ] = None


class TakeFiles(Struct, frozen=True, kw_only=True):
    """What is written of a take."""

    output: Annotated[
        str | None,
        output_option("Where to: .html .png .txt; else printed."),
    ] = None
    history: Annotated[
        Path | None,
        typer.Option(
            metavar="FILE.json", help="Keep takes there; tell if it is steadier than the last."
        ),
    ] = None


def take(
    reference: Annotated[
        str, typer.Argument(metavar="REFERENCE", help="A chart, or a MIDI file with the bass.")
    ],
    file: Annotated[str, typer.Argument(metavar="FILE", help="The take: a recording, or MIDI.")],
    files: TakeFiles,
    played: Played,
    loop: Loop,
    options: TakeOptions,
    answer: Answer,
    tuning: TuningOption = None,
) -> None:
    """Say how steady a recorded take is: early, late, rushing, dragging, not heard."""
    from groove.cli.taking import read_take
    from groove.take.judgement import judged_take
    from groove.take.report_data import report_data

    asked = _as_rendered(reference, played, loop, options, answer, tuning)
    sources = [reference, file, *filter(None, (options.as_rendered, options.like))]
    claimed = Outputs(sources, patterns=asked.patterns, line=asked.line)
    past = _past_takes(files.history, claimed)
    [job] = plan_jobs([reference], [files.output], _KINDS, claimed=claimed)
    expected = _expected(reference, asked, options)
    report = judged_take(
        expected,
        read_take(file, expected, options.from_),
        free_tempo=options.free_tempo,
        latency_ms=options.latency,
        from_sec=options.from_,
    )
    beside = _compared(report, file, past, files.history)
    practise = _practise(report, reference, asked)
    if answer.json:
        data = report_data(report)
        put_json({"format": 1, "reference": reference, "take": file, **data, "beside": beside})
    elif job.file is None:
        put(_report_bytes(report, ".txt", file, practise, beside).decode())
    if job.file:
        write_file(job, _report_bytes(report, job.file.suffix.casefold(), file, practise, beside))


def _expected(reference: str, asked: Rendered, options: TakeOptions) -> "TakeReference":
    """Return what is due in a take, of a line of the player's own its grid alone."""
    from groove.cli.taking import read_reference
    from groove.take.reference import grid_reference

    expected = read_reference(reference, asked, options.like)
    return grid_reference(expected) if options.free_line else expected


def _as_rendered(
    reference: str,
    played: Played,
    loop: Loop,
    options: TakeOptions,
    answer: Answer,
    tuning: str | None,
) -> Rendered:
    """Return how the reference was rendered, by its file and by what is asked for above it."""
    if options.like is not None and options.free_tempo:
        raise OptionError(
            "--free-tempo beside --like", hint="the record's time is the one that counts"
        )
    asked = Rendered(
        played=played,
        loop=loop,
        tight=options.tight,
        tuning=tuning,
        line=answer.line,
        patterns=answer.patterns,
    )
    if options.as_rendered is None:
        return asked
    from groove.io.midi_song import is_midi

    if is_midi(reference):
        raise OptionError(
            "--as-rendered is for a chart", hint=f"{reference} is played as it stands"
        )
    return read_rendered(options.as_rendered).under(asked)


def _report_bytes(
    report: "TakeReport", suffix: str, take: str, practise: Sequence[str], beside: str
) -> bytes:
    """Return the report as the bytes of a file of one kind."""
    if suffix == ".png":
        from groove.take.plot import plot_png

        return plot_png(report)
    if suffix == ".html":
        from groove.take.report_html import report_html

        return report_html(report, take=take, practise=practise, beside=beside).encode()
    from groove.take.report import report_text

    return report_text(report, practise=practise, beside=beside).encode()


def _past_takes(history: Path | None, claimed: Outputs) -> "tuple[PastTake, ...]":
    """Return the takes that were kept, before any work is done."""
    if history is None:
        return ()
    from groove.io.take_history import read_history

    claimed.claim(history)
    require_folder(history)
    return read_history(history)


def _compared(
    report: "TakeReport", take: str, past: "tuple[PastTake, ...]", history: Path | None
) -> str:
    """Return what the take is beside the one before, empty for none, and keep it."""
    from groove.io.take_history import earlier_take, past_take, write_history
    from groove.take.report import beside_words
    from groove.verdict import compared

    own = past_take(report, take)
    if history is None or own is None:
        return ""
    write_history(history, (*past, own))
    before = earlier_take(past, own)
    if before is None:
        return ""
    comparison = compared(own.sd_ms, own.notes, before.sd_ms, before.notes)
    return beside_words(comparison, before.sd_ms)


def _practise(report: "TakeReport", reference: str, asked: Rendered) -> list[str]:
    """Return what to practise next, as the command that plays it; nothing without a verdict."""
    from groove.io.midi_song import is_midi
    from groove.take.practice_next import next_step

    step = next_step(report)
    if step is None:
        return []
    bars = "all of it" if step.bars is None else f"bars {step.bars[0]}-{step.bars[1]}"
    head = f"Next: {bars} at {step.tempo_bpm(report):.0f} ({step.why})"
    if is_midi(reference):
        return [head]
    words = [reference, "-o", "next.wav", *step.options()]
    options = asked.options()
    for name in OF_THE_BAND:
        words += [] if options[name] is None else [name, str(options[name])]
    return [head, *command_lines(["groove", "render", *words])]
