"""``groove page``: the practice page, one HTML file that plays."""

import os
from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from groove.cli.console import CAUTION, say
from groove.cli.jobs import Result, each_job
from groove.cli.options import Charts, HandOptions, Played, Soundfont, WatchingAnswer
from groove.cli.targets import Job, Kinds, Outputs, plan_jobs
from groove.cli.watching import Round, follow

if TYPE_CHECKING:
    from groove.io.practice_page import PracticePage

_KINDS = Kinds(suffixes=(".html", ".htm"))


def page(
    charts: Charts,
    *,
    output: Annotated[
        str | None,
        typer.Option("-o", "--output", metavar="FILE.html", help="Where to, or FOLDER/."),
    ] = None,
    played: Played,
    hand: HandOptions,
    soundfont: Soundfont = None,
    answer: WatchingAnswer,
) -> None:
    """Make a page to practise with: it plays, loops and slows down."""
    from groove.cli.performing import neck_options, perform_options, print_reading
    from groove.io.config import read_config
    from groove.io.lengths import check_bars
    from groove.io.library import load_library
    from groove.io.lined import song_with_line
    from groove.io.practice_page import practice_page
    from groove.io.soundfont import choose_soundfont
    from groove.neck.fingering import finger_performance
    from groove.pipeline import analyse_song, perform_analysis, song_tuning

    config = read_config()
    options = perform_options(config, played.choices(), hand.choices())
    player = neck_options(config, hand)
    font = choose_soundfont(soundfont, os.environ, config.soundfont)
    written: list[Job] = []

    def work(job: Job, now: Round) -> Result:
        library = load_library(answer.patterns)
        analysis = analyse_song(song_with_line(job.chart, answer.line, library, options), options)
        check_bars("practice page", len(analysis.bars))
        performance = perform_analysis(analysis, library, options)
        print_reading(analysis.song, performance.notices)
        strings = song_tuning(analysis.song, options)
        placed, _ = finger_performance(performance, tuning=strings, options=player)
        watched_as = job.files[0].name if answer.watch else ""
        made = practice_page(
            placed, analysis, font=font.path, tuning=strings, watched_as=watched_as
        )
        size = _write_page(job, made, now.announce)
        written.append(job)
        return _page_data(job, made, size) | {"soundfont": str(font.path)} if answer.json else ""

    def make(now: Round) -> int:
        jobs = now.chosen(_plan_pages(charts, output, answer, soundfont))
        code = each_job(jobs, partial(work, now=now), as_json=answer.json)
        if written and not now.cause:
            say(CAUTION)
        return code

    raise typer.Exit(follow(make, charts, answer, soundfont=soundfont, is_heard=True))


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


def _page_data(job: Job, made: "PracticePage", size_bytes: int) -> dict[str, object]:
    """Return what is told of a page as data."""
    return {
        "format": 1,
        "chart": job.chart,
        "files": [str(file) for file in job.files],
        "bytes": size_bytes,
        "synthesizer": made.synthesizer,
    }
