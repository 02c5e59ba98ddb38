"""``--watch``: files are made again when what they were made of changes, until Ctrl-C.

Ctrl-C ends a watch as it ends any other call, with 130 and its line (``groove.cli.interrupts``).
"""

import os
from collections.abc import Callable, Iterator, Sequence
from datetime import datetime
from pathlib import Path

from msgspec import Struct

from groove.cli.console import say
from groove.cli.options import WatchingAnswer
from groove.cli.targets import Job
from groove.errors import GrooveError, OptionError
from groove.io.charts import STANDARD_INPUT, chart_file, missing_hint

_EXPECTED = "expected a chart's file, e.g. song.txt"


class Round(Struct, frozen=True, kw_only=True):
    """One time that files are made: at first of all charts, then of those that a change concerns.

    ``cause`` is what changed, in words, nothing at first; ``concerned`` are the charts' files, None
    for all.
    """

    cause: str = ""
    concerned: frozenset[Path] | None = None

    def chosen(self, jobs: Sequence[Job]) -> list[Job]:
        """Return the jobs that are to be done."""
        concerned = self.concerned
        return [job for job in jobs if concerned is None or _file(job.chart) in concerned]

    def announce(self, text: str = "") -> None:
        """Say what was written; from the second round on with the time of day and the cause."""
        if self.cause:
            text = f"{datetime.now():%H:%M:%S}  " + ": ".join(filter(None, (self.cause, text)))
        if text:
            say(text)


def follow(
    make: Callable[[Round], int],
    charts: Sequence[str],
    answer: WatchingAnswer,
    *,
    soundfont: str | None = None,
    record: str | None = None,
    is_heard: bool = False,
) -> int:
    """Make the files of charts and return the exit code; with ``--watch``, never end by itself.

    ``soundfont`` is what the option names; it is watched where sound is made.  ``record`` is the
    player's own copy that is listened to.  What goes wrong is told, and the next save awaited.
    Raises OptionError for what cannot be watched, and what the
    first round raises.
    """
    if not answer.watch:
        return make(Round())
    _refuse_unwatched(charts, answer)
    from groove.io.inputs import font_paths
    from groove.io.library import own_pattern_paths
    from groove.io.lined import line_file
    from groove.io.watch import FileWatch

    own = {_file(chart) for chart in charts}
    fonts = list(font_paths(soundfont, os.environ)) if is_heard else []

    def files() -> Iterator[Path]:
        yield from own
        if midi := line_file(answer.line):
            yield midi
        if record:
            yield Path(record)
        yield from fonts
        if answer.patterns:
            yield from own_pattern_paths(answer.patterns)

    watch = FileWatch(files)
    make(Round())
    say(f"watching {', '.join(sorted(map(str, own)))}; Ctrl-C ends it")
    for changed in watch.changes():
        _make_again(make, changed, own)
    raise AssertionError("a watch has no end")


def _make_again(make: Callable[[Round], int], changed: frozenset[Path], own: set[Path]) -> None:
    """Make what a change concerns: a cell or a soundfont all charts, a chart itself alone."""
    cause = f"{', '.join(sorted(map(str, changed)))} changed"
    again = Round(cause=cause, concerned=changed if changed <= own else None)
    try:
        code = make(again)
    except GrooveError as error:
        say(error.report())
        code = error.exit_code
    if code:
        again.announce("not made, save it again")


def _refuse_unwatched(charts: Sequence[str], answer: WatchingAnswer) -> None:
    if answer.json:
        raise OptionError(
            "--watch cannot go with --json", hint="--json is one object a chart: leave one out"
        )
    for chart in charts:
        if chart == STANDARD_INPUT:
            raise OptionError("--watch cannot watch standard input", hint=_EXPECTED)
        file = _file(chart)
        if not file.is_file():
            hint = missing_hint(str(file), _EXPECTED)
            raise OptionError(f"cannot watch {file}: no such file", hint=hint)


def _file(chart: str) -> Path:
    return Path(chart_file(chart))
