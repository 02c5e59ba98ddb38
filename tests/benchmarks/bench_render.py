"""Charts to MIDI: a whole process against an interpreter that imports the same libraries, text to
performance in milliseconds, and many charts in one process against mido's own time.

    python -m tests.benchmarks.bench_render [--smoke]
"""

import io
import os
import subprocess
import sys
import time
from collections.abc import Callable
from functools import partial
from itertools import count
from pathlib import Path
from tempfile import TemporaryDirectory

import mido

from groove.io.library import load_library
from groove.io.midi import midi_bytes
from groove.pipeline import PerformOptions, perform_chart

ROOT = Path(__file__).resolve().parents[2]
PROCESS_LIMIT, MANY_LIMIT, TEXT_LIMIT_MS = 2.2, 1.0, 60.0
BARS = "| D | A/C# | Bm7 | G |\n| D | A/C# | Em7 A7 | G |\n"
CHART = (
    "title: Bench\ntempo: 90\nkey: D\nfeel: sixteenths\n"
    f"verse:\n{BARS}chorus:\n{BARS}form: verse x7, chorus x8\n"
)


def best_sec(work: Callable[[], object], rounds: int) -> float:
    """Return the shortest of some runs in seconds."""
    times = []
    for _ in range(rounds):
        start = time.perf_counter()
        work()
        times.append(time.perf_counter() - start)
    return min(times)


def run_python(*arguments: str, bytecode: str) -> None:
    """Run an interpreter of our own to its end.

    An installed package has its bytecode; a checkout may be told to keep none, which would time
    the compiler instead.
    """
    kept = {name: value for name, value in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"}
    environment = {**kept, "PYTHONPYCACHEPREFIX": bytecode}
    subprocess.run([sys.executable, *arguments], check=True, capture_output=True, env=environment)


def whole_process(rounds: int) -> float:
    """Return the time of a render process over that of the bare libraries, run in turns."""
    with TemporaryDirectory() as folder:
        run = partial(run_python, bytecode=folder)
        chart = Path(folder) / "bench.txt"
        chart.write_text(CHART, encoding="utf-8")
        ours, bare = [], []
        for _ in range(rounds):
            out = str(Path(folder) / "bench.mid")
            ours.append(
                best_sec(lambda: run("-m", "groove", "render", str(chart), "-o", out), 1)  # noqa: B023
            )
            bare.append(best_sec(lambda: run("-c", "import typer, rich, mido"), 1))
    return min(ours) / min(bare)


def text_to_performance_ms(rounds: int) -> float:
    """Return milliseconds a hundred bars from text to performance."""
    library = load_library()
    bars = len(perform_chart(CHART, library).bars)
    return best_sec(lambda: perform_chart(CHART, library), rounds) * 1000 / bars * 100


def many_charts(rounds: int) -> float:
    """Return our time for charts to bytes over mido's time to build and write the messages.

    Every chart has a seed of its own, so that none is given what another one drew.
    """
    library = load_library()
    seeds = count(1)

    def ours_alone() -> None:
        midi_bytes(perform_chart(CHART, library, PerformOptions(seed=next(seeds))))

    file = mido.MidiFile(file=io.BytesIO(midi_bytes(perform_chart(CHART, library))))
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

    return best_sec(ours_alone, rounds) / best_sec(mido_alone, rounds)


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
    rounds = 1 if smoke else 9
    rows = [
        ("render process / bare libraries", whole_process(rounds), PROCESS_LIMIT),
        ("many charts / mido build and write", many_charts(rounds), MANY_LIMIT),
        ("text to performance, ms a hundred bars", text_to_performance_ms(rounds), TEXT_LIMIT_MS),
    ]
    for label, value, limit in rows:
        print(f"{label:<42}{value:>8.2f}   limit {limit:g}")
    return 0 if smoke else int(any(value > limit for _, value, limit in rows))


if __name__ == "__main__":
    sys.exit(main())
