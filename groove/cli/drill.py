"""``groove drill``: practice tracks of a song, and the plan that goes with them."""

import re
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer
from msgspec import Struct

from groove.chart.form import MOST_TIMES_OVER
from groove.cli.console import CAUTION, say
from groove.cli.jobs import Result, each_job
from groove.cli.options import (
    SECTIONS_EXPECTED,
    Answer,
    Arranged,
    BarOptions,
    Charts,
    HandOptions,
    Soundfont,
    kinds_option,
    output_option,
)
from groove.cli.targets import (
    AUDIO_SUFFIXES,
    MIDI_SUFFIXES,
    Job,
    Kinds,
    Outputs,
    names_folder,
    plan_jobs,
)
from groove.cli.values import (
    BAND,
    chosen,
    parse_bars,
    parse_names,
    parse_tempo,
    refused,
    wanted_parts,
)
from groove.cut import ClickUnit
from groove.errors import OptionError
from groove.events import Part

if TYPE_CHECKING:
    from groove.cli.drilling import DrillOptions
    from groove.practice.ladder import Ladder
    from groove.practice.track import DropOut, Sounding

MOST_MINUTES = 240
_PLAN_SUFFIXES = (".html", ".txt")
_KINDS = Kinds(suffixes=(*MIDI_SUFFIXES, *AUDIO_SUFFIXES, *_PLAN_SUFFIXES), printed=True)
BASS_TURNS = ("first", "always")
_USUAL_KINDS = ("mid", "html")
"""What a folder gets where no kinds are asked for: the tracks, and the plan beside them."""


class DrillFiles(Struct, frozen=True, kw_only=True):
    """Which files are written."""

    output: Annotated[
        list[str] | None,
        output_option("One track (.mid .wav .flac .ogg .mp3), the plan (.html .txt), or FOLDER/."),
    ] = None
    as_: Annotated[
        str | None,
        kinds_option("Kinds for a folder: a track for each tempo."),
    ] = None


class DrillBars(BarOptions, frozen=True, kw_only=True):
    """What of a song is practised."""

    shifts: Annotated[
        bool, typer.Option("--shifts", help="The fastest moves of the hand, two bars each.")
    ] = False
    fills: Annotated[
        bool, typer.Option("--fills", help="The fills and turnarounds alone, two bars each.")
    ] = False
    minutes: Annotated[
        int | None,
        typer.Option(
            metavar="N", min=1, max=MOST_MINUTES, help="As much as fits in, the hardest first."
        ),
    ] = None


class LadderOptions(Struct, frozen=True, kw_only=True):
    """From which tempo to which."""

    from_: Annotated[
        str | None, typer.Option("--from", metavar="BPM|%", help="The slowest tempo; 60%.")
    ] = None
    to: Annotated[
        str | None, typer.Option(metavar="BPM|%", help="The fastest; the song's own.")
    ] = None
    step: Annotated[
        str | None, typer.Option(metavar="BPM|%", help="How much faster each time; 10%.")
    ] = None
    times: Annotated[
        int | None,
        typer.Option(
            metavar="N", min=1, max=MOST_TIMES_OVER, help="How often at each; 4 for two bars, or 2."
        ),
    ] = None


class HeardOptions(Struct, frozen=True, kw_only=True):
    """What is heard."""

    bass: Annotated[
        str,
        typer.Option(metavar="first|always", help="The first time at each tempo, or every time."),
    ] = "first"
    without: Annotated[
        str | None, typer.Option(metavar="PARTS", help="Leave these parts out, e.g. bass.")
    ] = None
    only: Annotated[
        str | None, typer.Option(metavar="PARTS", help="Only these parts, e.g. click.")
    ] = None
    click: Annotated[
        str | None,
        typer.Option(metavar="UNIT", help="A click: beats, eighths, triplets or sixteenths."),
    ] = None
    drop_out: Annotated[
        str | None,
        typer.Option(metavar="N/M", help="No click in the last N of every M bars, e.g. 2/4."),
    ] = None
    count_in: Annotated[
        bool,
        typer.Option("--count-in/--no-count-in", help="Count in every time, or new tempi alone."),
    ] = True
    like: Annotated[
        str | None,
        typer.Option(metavar="RECORD", help="On this record's time, in its form: your own copy."),
    ] = None
    soundfont: Soundfont = None


def drill(
    charts: Charts,
    files: DrillFiles,
    bars: DrillBars,
    ladder: LadderOptions,
    heard: HeardOptions,
    arranged: Arranged,
    hand: HandOptions,
    answer: Answer,
) -> None:
    """Make practice tracks: rising tempi, loops of what is hard, and a plan with rests."""
    from groove.cli.drilling import drill_chart

    if heard.like and len(charts) > 1:
        raise OptionError("--like is of one song", hint="practise one chart at a time")
    claimed = Outputs(
        [*charts, *filter(None, [heard.like])],
        patterns=answer.patterns,
        soundfont=heard.soundfont,
        line=answer.line,
    )
    options = _drill_options(bars, ladder, heard, arranged, hand, answer)
    outputs = files.output or []
    asked = parse_names(files.as_, "--as", "kinds of files, e.g. mid,html")
    jobs = plan_jobs(charts, outputs, _KINDS, asked=asked or _usual_kinds(outputs), claimed=claimed)
    named = frozenset(map(Path, outputs))
    made: list[Job] = []

    def work(job: Job) -> Result:
        plan = drill_chart(job, options, named=named, claimed=claimed)
        made.append(job)
        return plan

    code = each_job(jobs, work, as_json=answer.json)
    if made:
        say(CAUTION)
    raise typer.Exit(code)


def _drill_options(
    bars: DrillBars,
    ladder: LadderOptions,
    heard: HeardOptions,
    arranged: Arranged,
    hand: HandOptions,
    answer: Answer,
) -> "DrillOptions":
    """Return what is asked for, by the player's configuration too."""
    from groove.cli.drilling import DrillOptions
    from groove.cli.performing import neck_options, perform_options
    from groove.io.config import read_config

    config = read_config()
    return DrillOptions(
        perform=perform_options(config, arranged.choices(), hand.choices()),
        hand=neck_options(config, hand),
        ladder=_ladder(ladder),
        sounding=_sounding(heard),
        sections=parse_names(bars.sections, "--sections", SECTIONS_EXPECTED),
        bars=parse_bars(bars.bars),
        shifts=bars.shifts,
        fills=bars.fills,
        minutes=bars.minutes,
        like=heard.like,
        soundfont=heard.soundfont,
        patterns=answer.patterns,
        line=answer.line,
        as_json=answer.json,
    )


def _usual_kinds(outputs: Sequence[str]) -> Sequence[str]:
    """Return the kinds that folders get; none where a file was named, whose suffix decides."""
    return _USUAL_KINDS if outputs and all(map(names_folder, outputs)) else ()


def _ladder(asked: LadderOptions) -> "Ladder":
    """Return the ladder that the options mean.  Raises OptionError for what none can be."""
    from groove.practice.ladder import Ladder

    bottom_bpm, bottom = parse_tempo(asked.from_, "--from")
    top_bpm, top = parse_tempo(asked.to, "--to")
    step, step_percent = parse_tempo(asked.step, "--step")
    in_bpm = bottom_bpm is not None or top_bpm is not None
    if in_bpm and (bottom or top or step_percent):
        raise OptionError(
            "a ladder is in beats a minute or in percent, not in both",
            hint="expected --from, --to and --step of one kind, e.g. 60%, 100%, 5%",
        )
    return Ladder(
        bottom=bottom_bpm or bottom,
        top=top_bpm or top,
        step=step or step_percent,
        in_bpm=in_bpm,
        times=asked.times,
    )


def _sounding(asked: HeardOptions) -> "Sounding":
    """Return what is heard.  A click that is asked for sounds, whatever else does."""
    from groove.practice.track import Sounding

    drop_out = _drop_out(asked.drop_out)
    unit = ClickUnit.BEATS
    if asked.click is not None:
        unit = ClickUnit(chosen("--click", asked.click, ClickUnit))
    parts = wanted_parts(asked.without, asked.only, (*BAND, Part.CLICK))
    if asked.click is not None or drop_out:
        parts |= {Part.CLICK}
    return Sounding(
        parts=parts,
        bass_always=chosen("--bass", asked.bass, BASS_TURNS) == "always",
        click=unit,
        drop_out=drop_out,
        counts_in=asked.count_in,
    )


def _drop_out(text: str | None) -> "DropOut | None":
    """Return the silence that ``2/4`` means."""
    if text is None:
        return None
    from groove.practice.track import LONGEST_CYCLE_BARS, DropOut

    match = re.fullmatch(r"\s*([0-9]{1,3})\s*(?:/|of)\s*([0-9]{1,3})\s*", text)
    silent, cycle = (int(match[1]), int(match[2])) if match else (0, 0)
    try:
        return DropOut(silent, cycle)
    except ValueError:
        expected = f"silent bars of how many, e.g. 2/4, of {LONGEST_CYCLE_BARS} at the most"
        raise refused("--drop-out", text, expected) from None
