"""``groove take``: a recorded take beside what was to be played, and what it says of the time."""

import shlex
from typing import TYPE_CHECKING, Annotated

import typer
from msgspec import Struct

from groove.cli.console import put, put_json
from groove.cli.options import (
    Answer,
    Loop,
    Played,
    TuningOption,
    tuning_choices,
)

if TYPE_CHECKING:
    from groove.take.judgement import TakeReport
    from groove.take.practice_next import NextStep

LATENCY_MS = 1000.0
LONGEST_FROM_SEC = 3600.0
COMMAND_COLUMNS = 74


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


def take(
    reference: Annotated[
        str, typer.Argument(metavar="REFERENCE", help="A chart, or a MIDI file with the bass.")
    ],
    file: Annotated[str, typer.Argument(metavar="FILE", help="The take: a recording, or MIDI.")],
    played: Played,
    loop: Loop,
    options: TakeOptions,
    answer: Answer,
    tuning: TuningOption = None,
) -> None:
    """Say how steady a recorded take is: early, late, rushing, dragging, not heard."""
    from groove.cli.taking import read_reference, read_take
    from groove.take.judgement import judged_take, report_data
    from groove.take.practice_next import next_step
    from groove.take.reference import grid_reference
    from groove.take.report import report_text

    choices = {**played.choices(), "tight": options.tight, **tuning_choices(tuning)}
    expected = read_reference(reference, choices, loop.choices(), answer)
    if options.free_line:
        expected = grid_reference(expected)
    heard = read_take(file, expected, options.from_)
    report = judged_take(
        expected,
        heard,
        free_tempo=options.free_tempo,
        latency_ms=options.latency,
        from_sec=options.from_,
    )
    if answer.json:
        put_json({"format": 1, "reference": reference, "take": file, **report_data(report)})
        return
    step = next_step(report)
    practise = _practise(step, report, reference, played) if step else []
    put(report_text(report, practise=practise))


def _practise(step: "NextStep", report: "TakeReport", reference: str, played: Played) -> list[str]:
    """Return what to practise next, as the command that plays it."""
    from groove.io.takes import is_midi

    bars = "all of it" if step.bars is None else f"bars {step.bars[0]}-{step.bars[1]}"
    head = f"Next: {bars} at {step.tempo_bpm(report):.0f} ({step.why})"
    if is_midi(reference):
        return [head]
    words = [reference, "-o", "next.wav", *step.options()]
    for option, value in (
        ("--feel", played.arranged.feel),
        ("--seed", played.arranged.seed),
        ("--vary", played.arranged.vary),
        ("--key", played.arranged.moved.key),
        ("--transpose", played.arranged.moved.transpose or None),
    ):
        words += [] if value is None else [option, str(value)]
    return [head, *_command_lines(["groove", "render", *words])]


def _command_lines(words: list[str]) -> list[str]:
    """Return a command in lines that a shell reads as one."""
    lines = [""]
    for word in map(shlex.quote, words):
        if lines[-1] and len(lines[-1]) + len(word) > COMMAND_COLUMNS:
            lines[-1] += " \\"
            lines.append("   ")
        lines[-1] += f" {word}"
    return [f" {line}" for line in lines]
