"""``groove page``: the practice page, one HTML file that plays."""

import os
from collections.abc import Callable, Sequence
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer
from msgspec import Struct

from groove.cli.console import CAUTION, say
from groove.cli.jobs import Result, each_job
from groove.cli.options import (
    Charts,
    HandOptions,
    Played,
    Soundfont,
    WatchingAnswer,
    output_option,
)
from groove.cli.targets import Job, Kinds, Outputs, plan_jobs
from groove.cli.watching import Round, follow
from groove.errors import OptionError

if TYPE_CHECKING:
    from groove.cells.model import Library
    from groove.chart.model import Song
    from groove.events import Performance
    from groove.harmony.analysis import Analysis
    from groove.io.practice_page import PracticePage
    from groove.neck.options import NeckOptions
    from groove.page.record import PageRecord
    from groove.pipeline import PerformOptions

_KINDS = Kinds(suffixes=(".html", ".htm"))
_RECORD_INSIDE = "the record is inside the page: for your own practice, do not pass it on"
_RECORD_BESIDE = "the page knows the bars of the record: open your own copy there, under More"


class RecordBeside(Struct, frozen=True, kw_only=True):
    """The player's own copy of the song, beside the band."""

    record: Annotated[
        str | None,
        typer.Option(metavar="AUDIO", help="Your own copy of the song, to play by its bars."),
    ] = None
    record_beside: Annotated[
        bool,
        typer.Option("--record-beside", help="Leave the record out: the page opens it from disk."),
    ] = False


def page(
    charts: Charts,
    *,
    output: Annotated[
        str | None,
        output_option("Where to, or FOLDER/.", metavar="FILE.html"),
    ] = None,
    played: Played,
    hand: HandOptions,
    beside: RecordBeside,
    soundfont: Soundfont = None,
    answer: WatchingAnswer,
) -> None:
    """Make a page to practise with: it plays, loops and slows down."""
    _check_record(beside, charts)
    maker = _page_maker(played, hand, beside, soundfont, answer)
    written: list[Job] = []

    def work(job: Job, now: Round) -> Result:
        made = maker.made(job)
        size = _write_page(job, made, now.announce)
        written.append(job)
        return _page_data(job, made, size, maker.font) if answer.json else ""

    def make(now: Round) -> int:
        jobs = now.chosen(_plan_pages(charts, output, answer, soundfont))
        code = each_job(jobs, partial(work, now=now), as_json=answer.json)
        if written and not now.cause:
            say(CAUTION)
            if beside.record:
                say(_RECORD_BESIDE if beside.record_beside else _RECORD_INSIDE)
        return code

    raise typer.Exit(
        follow(make, charts, answer, soundfont=soundfont, record=beside.record, is_heard=True)
    )


def _page_maker(
    played: Played,
    hand: HandOptions,
    beside: RecordBeside,
    soundfont: str | None,
    answer: WatchingAnswer,
) -> "_PageMaker":
    """Return what makes the pages that are asked for, by the player's configuration too."""
    from groove.cli.performing import neck_options, perform_options
    from groove.io.config import read_config
    from groove.io.soundfont import choose_soundfont

    config = read_config()
    return _PageMaker(
        options=perform_options(config, played.choices(), hand.choices()),
        player=neck_options(config, hand),
        font=choose_soundfont(soundfont, os.environ, config.soundfont).path,
        beside=beside,
        answer=answer,
    )


class _PageMaker(Struct, frozen=True, kw_only=True):
    """Makes the page of each chart: how the band plays, whose hand, and with which sounds."""

    options: "PerformOptions"
    player: "NeckOptions"
    font: Path
    beside: RecordBeside
    answer: WatchingAnswer

    def made(self, job: Job) -> "PracticePage":
        """Return the page of a chart, and print what was changed as the chart was read."""
        from groove.cli.performing import print_reading
        from groove.io.library import load_library
        from groove.io.lined import song_with_line
        from groove.io.practice_page import practice_page
        from groove.neck.fingering import finger_performance
        from groove.pipeline import song_tuning

        library = load_library(self.answer.patterns)
        song = song_with_line(job.chart, self.answer.line, library, self.options)
        analysis, performance, record = self._played(song, library)
        print_reading(analysis.song, performance.notices)
        strings = song_tuning(analysis.song, self.options)
        placed, _ = finger_performance(performance, tuning=strings, options=self.player)
        return practice_page(
            placed,
            analysis,
            font=self.font,
            tuning=strings,
            record=record,
            watched_as=job.files[0].name if self.answer.watch else "",
        )

    def _played(
        self, song: "Song", library: "Library"
    ) -> "tuple[Analysis, Performance, PageRecord | None]":
        """Return what is played, and the record beside it: in its form, which is said."""
        analysis, performance = self._by_the_band(song, library)
        if not self.beside.record:
            return analysis, performance, None
        from groove.io.page_record import hold_record, page_record, song_as_heard

        name, is_inside = self.beside.record, not self.beside.record_beside
        held = hold_record(name, performance, font=self.font, is_inside=is_inside)
        as_heard = song_as_heard(song, held)
        if as_heard:
            analysis, performance = self._by_the_band(as_heard, library)
        record = page_record(held, performance.bars, is_inside=is_inside)
        if as_heard:
            say(f"{name} has another form than the chart, and the page has it: form: {held.form}")
        return analysis, performance, record

    def _by_the_band(self, song: "Song", library: "Library") -> "tuple[Analysis, Performance]":
        from groove.io.lengths import check_bars
        from groove.pipeline import analyse_song, perform_analysis

        analysis = analyse_song(song, self.options)
        check_bars("practice page", len(analysis.bars))
        return analysis, perform_analysis(analysis, library, self.options)


def _check_record(beside: RecordBeside, charts: Sequence[str]) -> None:
    """Raise OptionError where a record has no song of its own to stand beside."""
    if beside.record_beside and not beside.record:
        raise OptionError("--record-beside is of no record", hint="name it: --record our-song.mp3")
    if beside.record and len(charts) > 1:
        raise OptionError("--record is of one song", hint="make the page of one chart at a time")


def _plan_pages(
    charts: list[str], output: str | None, answer: WatchingAnswer, soundfont: str | None
) -> list[Job]:
    """Return the page of every chart, with what lies beside it where it is watched claimed too."""
    claimed = Outputs(charts, patterns=answer.patterns, soundfont=soundfont, line=answer.line)
    jobs = plan_jobs(charts, [output], _KINDS, claimed=claimed)
    if answer.watch:
        for job in jobs:
            claimed.claim(_newest_file(job), chart=job.chart)
    return jobs


def _newest_file(job: Job) -> Path:
    """Return what lies beside a page that looks for a newer one of itself."""
    from groove.page.newest import mark_name

    return job.files[0].with_name(mark_name(job.files[0].name))


def _write_page(job: Job, made: "PracticePage", announce: Callable[[str], None]) -> int:
    """Write a page, tell of it, and return its size in bytes."""
    from groove.io.files import make_folders, write_until_stopped, write_whole

    data = made.html.encode()
    make_folders(job.folders)
    if made.notice:
        say(made.notice)
    for file in job.files:
        write_whole(file, data)
        announce(f"wrote {file} ({len(data) / 1e6:.1f} MB, {made.synthesizer})")
    if made.newest:
        write_until_stopped(_newest_file(job), made.newest.encode())
    return len(data)


def _page_data(job: Job, made: "PracticePage", size_bytes: int, font: Path) -> dict[str, object]:
    return {
        "format": 1,
        "chart": job.chart,
        "files": [str(file) for file in job.files],
        "bytes": size_bytes,
        "synthesizer": made.synthesizer,
        "soundfont": str(font),
    }
