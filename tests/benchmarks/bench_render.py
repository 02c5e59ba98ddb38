"""Charts to MIDI: a whole process against an interpreter that imports the same libraries, text to
performance in milliseconds, many charts in one process against mido's own time, and by two
processes against one.

What is compared is CPU time, the least of several runs in turns, so that other work on the machine
hardly shows.  Two processes are timed by the clock, which tells on a machine that does nothing
else; beside them stands what two loops of plain Python gain there, the most that can be had.

    python -m tests.benchmarks.bench_render [--smoke]
"""

import io
import os
import resource
import subprocess
import sys
import time
from collections.abc import Callable
from itertools import count
from pathlib import Path
from tempfile import TemporaryDirectory

import mido

from groove.cli.garbage import collect_rarely
from groove.io.library import load_library
from groove.io.midi import midi_bytes
from groove.pipeline import PerformOptions, perform_chart

ROOT = Path(__file__).resolve().parents[2]
PROCESS_LIMIT, MANY_LIMIT, TEXT_LIMIT_MS, JOBS_LIMIT = 2.2, 1.0, 60.0, 1.8
CHARTS, SMOKE_CHARTS = 120, 2
BARS = "| D | A/C# | Bm7 | G |\n| D | A/C# | Em7 A7 | G |\n"
HEAD = "title: Bench\ntempo: 90\nkey: D\nfeel: sixteenths\n"
CHART = f"{HEAD}verse:\n{BARS}chorus:\n{BARS}form: verse x7, chorus x8\n"
SMOKE_CHART = f"{HEAD}verse:\n{BARS}"


def cpu_sec(work: Callable[[], object]) -> float:
    """Return the CPU time that some work takes, with that of the processes it ran to their end."""
    before = spent_sec()
    work()
    return spent_sec() - before


def spent_sec() -> float:
    """Return the CPU time of this process and of those that it ran."""
    usages = [resource.getrusage(who) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)]
    return sum(usage.ru_utime + usage.ru_stime for usage in usages)


def in_turns(works: list[Callable[[], object]], rounds: int) -> list[float]:
    """Return the least CPU time of every work in seconds, all done in turns."""
    times = [[cpu_sec(work) for work in works] for _ in range(rounds)]
    return [min(column) for column in zip(*times, strict=True)]


def keep_bytecode(folder: Path) -> None:
    """Have interpreters keep their bytecode in a folder.

    An installed package has its bytecode; a checkout may be told to keep none, which would time
    the compiler instead.
    """
    os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
    os.environ["PYTHONPYCACHEPREFIX"] = str(folder / "bytecode")


def run_python(folder: Path, *arguments: str) -> None:
    """Run an interpreter of our own in a folder to its end."""
    subprocess.run(
        [sys.executable, *arguments],
        cwd=folder,
        check=True,
        capture_output=True,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
    )


def whole_process(folder: Path, chart: str, rounds: int) -> float:
    """Return the time of a render process over that of the bare libraries."""
    (folder / "bench.txt").write_text(chart, encoding="utf-8")

    def ours() -> None:
        run_python(folder, "-m", "groove", "render", "bench.txt", "-o", "bench.mid")

    def bare() -> None:
        run_python(folder, "-c", "import typer, rich, mido")

    if rounds > 1:
        ours()  # once, for the bytecode
    spent, least = in_turns([ours, bare], rounds)
    return spent / least


def two_jobs(folder: Path, chart: str, charts: int) -> float:
    """Return how many times as fast charts become MIDI by two processes as by one."""
    names = [f"bench-{number}.txt" for number in range(charts)]
    for number, name in enumerate(names):
        (folder / name).write_text(f"seed: {number}\n{chart}", encoding="utf-8")

    def clock_sec(jobs: int) -> float:
        start = time.perf_counter()
        run_python(folder, "-m", "groove", "render", *names, "-o", "out/", "--jobs", str(jobs))
        return time.perf_counter() - start

    return clock_sec(1) / clock_sec(2)


def two_loops(folder: Path, times: int) -> float:
    """Return how many times as fast two loops of plain Python run side by side as in turn."""
    loop = f"seen = {{}}\nfor n in range({times}): seen[n & 4095] = n * n"

    def clock_sec(at_once: int) -> float:
        start = time.perf_counter()
        running = [subprocess.Popen([sys.executable, "-c", loop]) for _ in range(at_once)]
        for process in running:
            process.wait()
        return time.perf_counter() - start

    return 2 * clock_sec(1) / clock_sec(2)


def text_to_performance_ms(chart: str, rounds: int) -> float:
    """Return milliseconds a hundred bars from text to performance."""
    library = load_library()
    bars = len(perform_chart(chart, library).bars)
    (least,) = in_turns([lambda: perform_chart(chart, library)], rounds)
    return least * 1000 / bars * 100


def many_charts(chart: str, rounds: int) -> float:
    """Return our time for charts to bytes over mido's time to build and write the messages.

    Every chart has a seed of its own, so that none is given what another one drew.
    """
    library = load_library()
    seeds = count(1)

    def ours_alone() -> None:
        midi_bytes(perform_chart(chart, library, PerformOptions(seed=next(seeds))))

    file = mido.MidiFile(file=io.BytesIO(midi_bytes(perform_chart(chart, library))))
    specs = [[(m.type, m.dict()) for m in track] for track in file.tracks]

    def mido_alone() -> None:
        again = mido.MidiFile(type=1, ticks_per_beat=960)
        for track in specs:
            built = mido.MidiTrack()
            for kind, fields in track:
                fields = {k: v for k, v in fields.items() if k != "type"}
                meta = kind in META_KINDS
                built.append((mido.MetaMessage if meta else mido.Message)(kind, **fields))
            again.tracks.append(built)
        again.save(file=io.BytesIO())

    ours, least = in_turns([ours_alone, mido_alone], rounds)
    return ours / least


META_KINDS = {
    "track_name",
    "set_tempo",
    "time_signature",
    "key_signature",
    "marker",
    "end_of_track",
}


def main() -> int:
    """Print the table; return 1 where a limit is passed (never in smoke mode)."""
    smoke = "--smoke" in sys.argv
    rounds, chart = (1, SMOKE_CHART) if smoke else (15, CHART)
    collect_rarely()  # as the command does
    with TemporaryDirectory() as name:
        folder = Path(name)
        if not smoke:
            keep_bytecode(folder)
        process = whole_process(folder, chart, rounds)
        most = two_loops(folder, 100_000 if smoke else 20_000_000)
        jobs = two_jobs(folder, chart, SMOKE_CHARTS if smoke else CHARTS)
    rows = [
        ("render process / bare libraries", process, PROCESS_LIMIT),
        ("many charts / mido build and write", many_charts(chart, rounds), MANY_LIMIT),
        (
            "text to performance, ms a hundred bars",
            text_to_performance_ms(chart, rounds),
            TEXT_LIMIT_MS,
        ),
    ]
    for label, value, limit in rows:
        print(f"{label:<42}{value:>8.2f}   limit {limit:g}")
    print(f"{'--jobs 2, times as fast as one job':<42}{jobs:>8.2f}   at least {JOBS_LIMIT:g}")
    print(f"{'two loops of Python, the same':<42}{most:>8.2f}")
    if smoke:
        return 0
    return int(jobs < JOBS_LIMIT or any(value > limit for _, value, limit in rows))


if __name__ == "__main__":
    sys.exit(main())
