"""``groove render``: MIDI, audio and stems from charts."""

import sys
from collections.abc import Mapping, Sequence
from functools import partial
from pathlib import Path
from typing import Annotated, Any

import typer
from msgspec import Struct

from groove.cli.as_rendered import Rendered
from groove.cli.console import CAUTION, put_json, say
from groove.cli.jobs import Result, each_job
from groove.cli.options import (
    Charts,
    Choices,
    Loop,
    Played,
    Soundfont,
    TuningOption,
    WatchingAnswer,
    kinds_option,
    output_option,
    tuning_choices,
)
from groove.cli.performing import perform_options
from groove.cli.targets import AUDIO_SUFFIXES, MIDI_SUFFIXES, Job, Kinds, Outputs, plan_jobs
from groove.cli.values import parse_names, wanted_parts
from groove.cli.watching import Round, follow
from groove.errors import OptionError
from groove.events import Part, Performance
from groove.io.config import read_config
from groove.pipeline import PerformOptions

MOST_JOBS = 64
_KINDS = Kinds(suffixes=(*MIDI_SUFFIXES, *AUDIO_SUFFIXES))


class Files(Struct, frozen=True, kw_only=True):
    """Which files are written, and of which parts."""

    output: Annotated[
        list[str] | None,
        output_option("Where to: .mid .wav .flac .ogg .mp3, or FOLDER/."),
    ] = None
    as_: Annotated[
        str | None,
        kinds_option("Kinds of files for a folder, e.g. mid,wav."),
    ] = None
    without: Annotated[
        str | None, typer.Option(metavar="PARTS", help="Leave these parts out, e.g. bass.")
    ] = None
    only: Annotated[
        str | None, typer.Option(metavar="PARTS", help="Only these parts, e.g. drums,keys.")
    ] = None
    stems: Annotated[bool, typer.Option("--stems", help="One more file per part.")] = False


class Band(Struct, frozen=True, kw_only=True):
    """How the band plays, and for which bass."""

    count_in: Annotated[
        bool | None,
        typer.Option(
            "--count-in/--no-count-in", help="The song's count-in first; by default in audio only."
        ),
    ] = None
    click: Annotated[bool, typer.Option("--click", help="A click on every beat.")] = False
    tight: Annotated[bool, typer.Option("--tight", help="Play exactly on the grid.")] = False
    like: Annotated[
        str | None,
        typer.Option(
            metavar="RECORD", help="On this record's time, from its beginning: your own copy."
        ),
    ] = None
    tuning: TuningOption = None

    def choices(self) -> Choices:
        """Return what is asked of the performance."""
        return {"click": self.click, "tight": self.tight, **tuning_choices(self.tuning)}


class SoundOptions(Struct, frozen=True, kw_only=True):
    """What audio is made with, and how loud."""

    soundfont: Soundfont = None
    loudness: Annotated[
        float, typer.Option(metavar="LUFS", min=-40, max=-6, help="Loudness of the whole mix.")
    ] = -16.0
    ceiling: Annotated[
        float, typer.Option(metavar="DBTP", min=-20, max=0, help="The highest true peak.")
    ] = -1.0
    limit: Annotated[
        bool,
        typer.Option("--limit", help="Turn down the loudest moments to reach that loudness."),
    ] = False
    loop: Annotated[
        bool,
        typer.Option("--loop", help="End on the bar line, the ring of the end in the beginning."),
    ] = False
    bits: Annotated[
        str | None,
        typer.Option(metavar="16|24|float", help="Samples of .wav and .flac; 16 bits by default."),
    ] = None
    rate: Annotated[
        str | None,
        typer.Option(metavar="44100|48000", help="Samples a second; 44100 by default."),
    ] = None


class Batch(WatchingAnswer, frozen=True, kw_only=True):
    """How many charts are rendered, and how the command answers."""

    jobs: Annotated[
        int,
        typer.Option(metavar="N", min=1, max=MOST_JOBS, help="Charts to render at the same time."),
    ] = 1


class RenderOptions(Struct, frozen=True, kw_only=True):
    """What every chart of one call is rendered with; plain values, so that processes share it."""

    perform: PerformOptions
    like: str | None
    words: str
    parts: frozenset[Part]
    stems: bool
    count_in: bool | None
    sound: SoundOptions
    patterns: Path | None
    line: str | None
    show_progress: bool = False

    def stem_parts(self, performance: Performance) -> tuple[Part, ...]:
        """Return the parts that get a file of their own."""
        if not self.stems:
            return ()
        return tuple(part for part in performance.parts if part in self.parts)


def render(
    charts: Charts,
    files: Files,
    played: Played,
    loop: Loop,
    band: Band,
    sound: SoundOptions,
    batch: Batch,
) -> None:
    """Render the band as MIDI or audio, with or without the bass."""
    _check_like(band, charts)
    _check_sound(sound)
    options = _render_options(files, played, loop, band, sound, batch)
    kinds = parse_names(files.as_, "--as", "kinds of files, e.g. mid,wav")
    notices: set[str] = set()

    def make(now: Round) -> int:
        claimed = Outputs(
            [*charts, *filter(None, [band.like])],
            patterns=batch.patterns,
            soundfont=sound.soundfont,
            line=batch.line,
        )
        stems = options.parts if files.stems else ()
        planned = plan_jobs(
            charts, files.output or [], _KINDS, asked=kinds, claimed=claimed, stems=stems
        )
        _check_limit(sound, planned)
        return _render_jobs(now.chosen(planned), options, batch, now, notices)

    raise typer.Exit(
        follow(make, charts, batch, soundfont=sound.soundfont, record=band.like, is_heard=True)
    )


def _render_options(
    files: Files, played: Played, loop: Loop, band: Band, sound: SoundOptions, batch: Batch
) -> RenderOptions:
    """Return what is asked for, by the player's configuration too."""
    return RenderOptions(
        perform=perform_options(read_config(), played.choices(), loop.choices(), band.choices()),
        like=band.like,
        words=Rendered(
            played=played,
            loop=loop,
            tight=band.tight,
            tuning=band.tuning,
            line=batch.line,
            patterns=batch.patterns,
        ).words(),
        parts=wanted_parts(files.without, files.only) | {Part.CLICK},
        stems=files.stems,
        count_in=False if band.like else band.count_in,
        sound=sound,
        patterns=batch.patterns,
        line=batch.line,
        show_progress=sys.stderr.isatty() and batch.jobs == 1,
    )


def _check_like(band: Band, charts: Sequence[str]) -> None:
    """Raise OptionError for what cannot be on a record's time."""
    if band.like and len(charts) > 1:
        raise OptionError("--like is of one song", hint="render one chart at a time")
    if band.like and band.count_in:
        raise OptionError(
            "--count-in beside --like", hint="the record begins as it does: leave one of them out"
        )


def _check_sound(sound: SoundOptions) -> None:
    """Raise OptionError for bits or a rate that no sound file has, before any work."""
    if sound.bits is not None or sound.rate is not None:
        from groove.cli.sounding import parse_sound

        parse_sound(sound)


def _check_limit(sound: SoundOptions, planned: Sequence[Job]) -> None:
    """Raise OptionError for a limiter where no sound is made."""
    suffixes = {file.suffix.casefold() for job in planned for file in job.files}
    if sound.limit and not suffixes & set(AUDIO_SUFFIXES):
        raise OptionError("--limit is for sound", hint="expected an output as .wav or .mp3")


def _render_jobs(
    planned: list[Job], options: RenderOptions, batch: Batch, now: Round, notices: set[str]
) -> int:
    """Render every chart, tell of each, with a caution after sound, and return the exit code.

    ``notices`` are those told in earlier rounds: what is said then is what has become new.
    """
    from groove.cli.rendering import render_job

    sounded = False

    def announce(result: Result) -> None:
        nonlocal sounded
        assert isinstance(result, Mapping)
        summary: Mapping[str, Any] = result
        sounded |= "loudness_lufs" in summary
        if batch.json:
            put_json(summary)
        elif now.cause:
            now.announce(f"wrote {', '.join(summary['files'])}")
            for notice in summary["notices"]:
                if notice not in notices:
                    say(f"  {notice}")
        else:
            from groove.text.summary import render_text

            say(render_text(summary))
        notices.update(summary["notices"])

    work = partial(render_job, options=options)
    code = each_job(planned, work, as_json=batch.json, at_once=batch.jobs, announce=announce)
    if sounded and not now.cause:
        say(CAUTION)
    return code
