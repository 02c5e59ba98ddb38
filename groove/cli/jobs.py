"""Many charts in one call: every one is worked on and told of, whichever of them fail."""

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from functools import partial
from typing import Protocol, TypeVar

from groove.cli.console import exit_code, put, put_json, report, say
from groove.cli.targets import Job
from groove.errors import GrooveError, OutputError
from groove.io.charts import STANDARD_INPUT

Result = Mapping[str, object] | str
"""What came of a chart: data, or a text that is printed; empty where all is said."""
Outcome = Result | GrooveError

MOST_SORTED = 16
"""How many charts for each process are looked at before the first is begun."""

Wanted = TypeVar("Wanted")
Made = TypeVar("Made")


class HasChart(Protocol):
    """Something to be made of a chart."""

    @property
    def chart(self) -> str:
        """The chart as it was named."""


def each_job(
    jobs: Sequence[Job],
    work: Callable[[Job], Result],
    *,
    as_json: bool,
    at_once: int = 1,
    announce: Callable[[Result], None] | None = None,
) -> int:
    """Do the work for every chart, tell of what it returns, and return the exit code.

    A chart that fails is reported and the others go on; one alone ends with its own code.
    ``at_once`` is how many are worked on at the same time: from 2 by processes, to which ``work``
    goes pickled.
    """
    failures: list[int] = []
    attempt = partial(attempted, work=work)
    outcomes: Iterable[Outcome] = map(attempt, jobs)
    if at_once > 1 and len(jobs) > 1:
        outcomes = _by_processes(jobs, attempt, at_once)
    for job, outcome in zip(jobs, outcomes, strict=True):
        if isinstance(outcome, GrooveError):
            # The code alone: an error holds on to all that its chart was read into.
            failures.append(outcome.exit_code)
            report(job.chart, outcome, as_json=as_json)
        else:
            (announce or _print_result)(outcome)
    return exit_code(failures, len(jobs))


def _by_processes(
    jobs: Sequence[Job], attempt: Callable[[Job], Outcome], at_once: int
) -> Iterator[Outcome]:
    """Return what comes of every chart in order; that of standard input is ours, who have it."""
    from groove.cli.workers import Crew

    shared = [job for job in jobs if job.chart != STANDARD_INPUT]
    begin = longest_first([job.chart for job in shared], at_once)
    crew = Crew(attempt, min(at_once, len(shared)), lost=lost_job)
    results = crew.results(shared, begin)
    return (attempt(job) if job.chart == STANDARD_INPUT else next(results) for job in jobs)


def _print_result(result: Result) -> None:
    if isinstance(result, Mapping):
        put_json(result)
    elif result:
        put(result)


def write_file(job: Job, data: bytes, announce: Callable[[str], None] = say) -> str:
    """Write the one file of a chart, tell so, and return that no more is to be printed."""
    from groove.io.files import make_folders, write_whole

    make_folders(job.folders)
    for file in job.files:
        write_whole(file, data)
        announce(f"wrote {file}")
    return ""


def attempted(job: Wanted, work: Callable[[Wanted], Made]) -> Made | GrooveError:
    """Return what came of a chart, or the error that it ended in."""
    try:
        return work(job)
    except GrooveError as error:
        return error


def longest_first(charts: Sequence[str], at_once: int) -> Sequence[int]:
    """Return in which order charts are begun, by their indices: the longest song first.

    So no process is left alone with a long song at the end.  With many charts for each process
    that hardly matters, and reading them all would: then the order is theirs.
    """
    if len(charts) > at_once * MOST_SORTED:
        return range(len(charts))
    lengths = [_song_sec(chart) for chart in charts]
    return sorted(range(len(charts)), key=lambda index: -lengths[index])


def _song_sec(chart: str) -> float:
    """Return about how long a song lasts, 0 where that cannot be told, and why is told later."""
    from groove.chart.form import unroll
    from groove.io.charts import read_song

    try:
        song = read_song(chart)
        return len(unroll(song)) * song.meter.pulse_count * 60 / float(song.tempo.bpm)
    except GrooveError:
        return 0.0


def lost_job(job: HasChart, code: int) -> GrooveError:
    """Return the error for a chart whose process ended before its files were made."""
    how = "was ended from outside" if code < 0 else f"ended with {code}"
    hint = "was there enough memory? fewer --jobs take less"
    return OutputError(f"the process that worked on {job.chart} {how}", hint=hint)
