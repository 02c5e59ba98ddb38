"""How true a report is to takes whose truth is known: the whole table of what is asked for.

Run: ``python -m tests.benchmarks.bench_takes [--takes N] [--first SEED] [--font FONT] [--smoke]``.
A row is a figure, a column a kind of recording with N takes (12) of ten bars, from the sound to the
report; seeds begin at ``--first`` (80000), none of which anything was fitted on.  Precision and
recall stand one after the other; of mean, spread and drift the worst take counts, against the same
statistic of what was played; of places in the bar with four notes the 95th percentile; CPU is in
seconds a minute of audio, the least.  A star misses what is asked for.  Below: takes without sound
with bars left out or repeated, their start known to a second, and which are called ambiguous.
"""

import argparse
import os
import tempfile
import time
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from random import Random

import numpy
import soundfile

from groove.errors import OptionError
from groove.io.heard_takes import heard_take, read_recorded_take
from groove.take.alignment import align
from groove.take.judgement import TakeReport, judged_take
from groove.take.statistics import Known, take_figures
from tests.benchmarks import bench_onsets
from tests.mir_judge import onset as judge
from tests.take.bass_sounds import SAMPLE_RATE_HZ
from tests.take.made_reference import reference_of, true_alignment
from tests.take.made_takes import CONDITIONS, MadeTake
from tests.take.played import jumped, played, right_share, song_reference

FIRST_SEED = 80_000
BARS, SMOKE_BARS = 10, 4
SLIPS = 0.05
"""The share of notes that are not played, and of those that nobody asked for."""
CELLS = {
    "F at 25 ms": (0.98, 0.97, 0.95, 0.92),
    "ghosts found": (0.88, 0.82, 0.75, 0.70),
    "bias, ms": (1.5, 1.5, 2.0, 3.0),
    "error 95 %, ms": (8.0, 10.0, 15.0, 18.0),
    "not heard, P": (0.92, 0.85, 0.80, 0.80),
    "not heard, R": (0.90, 0.88, 0.85, 0.70),
    "extra, P": (0.85, None, None, None),
    "extra, R": (0.80, None, None, None),
    "mean, ms": (3.0, 3.0, 4.0, 5.0),
    "spread, ms": (2.0, 2.0, 3.0, 4.0),
    "places, ms": (3.0, 3.0, 4.0, 4.0),
    "drift, bpm/min": (0.3, 0.3, 0.4, 0.5),
    "CPU s a minute": (1.5, 1.5, 1.5, 1.5),
}
"""What is asked for: clean, level, room and hum; noise -30; noise -20; drums and all together."""
AT_LEAST = ("F at 25 ms", "ghosts found", "not heard, P", "not heard, R", "extra, P", "extra, R")
GROUPS = {"noise -30": 1, "noise -20": 2, "drums -20": 3, "all": 3}
PLACE_NOTES = 4


@dataclass(kw_only=True)
class Column:
    """What was counted in the takes of one kind."""

    counts: dict[str, int] = field(default_factory=lambda: defaultdict(int))
    values: dict[str, list[float]] = field(default_factory=lambda: defaultdict(list))

    def add(self, take: MadeTake, found: TakeReport, cpu_sec: float) -> None:
        """Count one take."""
        self._add_onsets(take, found)
        self._add_notes(take, found)
        self._add_figures(take, found)
        self.values["cpu"].append(60 * cpu_sec / (len(take.samples) / SAMPLE_RATE_HZ))

    def _add_onsets(self, take: MadeTake, found: TakeReport) -> None:
        truth = numpy.array([note.onset_sec for note in take.played])
        secs = numpy.array(found.take.secs)
        pairs = judge.util.match_events(truth, secs, 0.025)
        self.counts["true"] += len(truth)
        self.counts["found"] += len(secs)
        self.counts["matched"] += len(pairs)
        self.counts["ghosts"] += sum(note.is_ghost for note in take.played)
        self.counts["ghosts found"] += sum(take.played[pair[0]].is_ghost for pair in pairs)
        self.values["errors"] += [1000 * (secs[heard] - truth[own]) for own, heard in pairs]

    def _add_notes(self, take: MadeTake, found: TakeReport) -> None:
        struck = {note.wanted for note in take.played}
        unplayed = set(range(len(take.wanted))) - struck
        self.counts["unplayed"] += len(unplayed)
        self.counts["unheard"] += len(found.missed)
        self.counts["unheard right"] += len(unplayed & set(found.missed))
        extras = [note.onset_sec for note in take.played if note.wanted is None]
        told = [found.take.notes[index].sec for index in found.extra]
        self.counts["extras"] += len(extras)
        self.counts["told"] += len(told)
        self.counts["told right"] += len(
            judge.util.match_events(numpy.array(extras), numpy.array(told), 0.05)
            if extras and told
            else []
        )

    def _add_figures(self, take: MadeTake, found: TakeReport) -> None:
        notes, alignment = true_alignment(take, found.reference)
        start = {"start_sec": take.start_sec, "known_by": Known.LATENCY}
        truth = take_figures(found.reference, notes, alignment, **start)  # type: ignore[arg-type]
        own = found.figures
        self.values["mean"].append(abs(own.mean_ms - truth.mean_ms))
        self.values["spread"].append(abs((own.sd_ms or 99) - (truth.sd_ms or 0)))
        if truth.drift_bpm_per_min is not None:
            self.values["drift"].append(abs((own.drift_bpm_per_min or 0) - truth.drift_bpm_per_min))
        self.values["places"] += [
            abs(own.slot_bias_ms[slot].mean_ms - each.mean_ms)
            for slot, each in truth.slot_bias_ms.items()
            if each.notes >= PLACE_NOTES and slot in own.slot_bias_ms
        ]

    def cells(self) -> Mapping[str, float]:
        """Return the figures by their rows."""
        counts, values = self.counts, self.values
        return {
            "F at 25 ms": 2 * counts["matched"] / (counts["true"] + counts["found"]),
            "ghosts found": counts["ghosts found"] / max(1, counts["ghosts"]),
            "bias, ms": float(numpy.median(values["errors"])),
            "error 95 %, ms": float(numpy.percentile(numpy.abs(values["errors"]), 95)),
            "not heard, P": counts["unheard right"] / max(1, counts["unheard"]),
            "not heard, R": counts["unheard right"] / max(1, counts["unplayed"]),
            "extra, P": counts["told right"] / max(1, counts["told"]),
            "extra, R": counts["told right"] / max(1, counts["extras"]),
            "mean, ms": max(values["mean"]),
            "spread, ms": max(values["spread"]),
            "places, ms": float(numpy.percentile(values["places"], 95)),
            "drift, bpm/min": max(values["drift"], default=0.0),
            "CPU s a minute": min(values["cpu"]),
        }


def reported(take: MadeTake, folder: Path) -> tuple[TakeReport, float]:
    """Return the report of a take that was recorded to a file, and its CPU seconds."""
    path = folder / "take.wav"
    soundfile.write(path, take.samples, SAMPLE_RATE_HZ)
    reference = reference_of(take)
    start = time.process_time()
    heard = heard_take(read_recorded_take(str(path)), reference)
    report = judged_take(reference, heard, latency_ms=1000 * take.start_sec)
    return report, time.process_time() - start


def measured(
    condition: str, seeds: Sequence[int], fonts: Sequence[Path | None], bars: int
) -> Column:
    """Return what was counted in takes of one kind."""
    column = Column()
    with tempfile.TemporaryDirectory() as folder:
        for seed in seeds:
            take = bench_onsets.judged_take(condition, seed, fonts, bars=bars, slips=SLIPS)
            try:
                report, cpu_sec = reported(take, Path(folder))
            except OptionError as error:
                print(f"{condition}, seed {seed}: {error.message}", flush=True)
                continue
            column.add(take, report, cpu_sec)
    return column


def row(name: str, columns: Mapping[str, Mapping[str, float]]) -> str:
    """Return a row of the table."""
    told = []
    for condition, cells in columns.items():
        wanted, value = CELLS[name][GROUPS.get(condition, 0)], cells[name]
        is_met = wanted is None or (value >= wanted if name in AT_LEAST else abs(value) <= wanted)
        told.append(f"{value:>11.3f}{' ' if is_met else '*'}")
    return f"{name:<16}" + "".join(told)


def print_alignments(count: int) -> None:
    """Print how many takes with jumps are aligned as they were played, the start being known."""
    for kind, bars in (("as it stands", 0), ("bars left out", -1), ("bars repeated", 1)):
        right = wrong_told = right_told = 0
        for seed in range(count):
            rng = Random(f"{kind} {seed}")
            reference = song_reference(seed % 12)
            take = played(
                reference,
                seed,
                jitter_ms=rng.choice((5, 8, 12)),
                drift=rng.choice((0, 0, 3, -3)),
                missed=rng.choice((0, 0.04)),
                extra=rng.choice((0, 0.03)),
                wrong=rng.choice((0, 0.03)),
            )
            if bars:
                take = jumped(reference, take, rng.randrange(3, 9), bars * rng.choice((1, 1, 2)))
            found = align(reference, take.take.notes, start_sec=1 + rng.uniform(-1, 1))
            is_right = right_share(found, take) > 0.9
            right += is_right
            wrong_told += not is_right and found.is_ambiguous
            right_told += is_right and found.is_ambiguous
        print(
            f"{kind:<16}{right:>4} of {count} right, {wrong_told} of {count - right} wrong ones "
            f"called ambiguous, {right_told} right ones too",
            flush=True,
        )


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--takes", type=int, default=12)
    parser.add_argument("--first", type=int, default=FIRST_SEED)
    parser.add_argument("--font", type=Path, action="append", default=[])
    parser.add_argument("--only", choices=[*CONDITIONS, "jumps"], action="append", default=[])
    parser.add_argument("--smoke", action="store_true", help="one take in one column")
    options = parser.parse_args()
    count, bars = (1, SMOKE_BARS) if options.smoke else (options.takes, BARS)
    names = ["all"] if options.smoke else (options.only or list(CONDITIONS))
    columns = {}
    for number, condition in enumerate(CONDITIONS):
        if condition in names:
            first = options.first + 100 * number
            fonts = options.font or [None]
            seeds = range(first, first + count)
            columns[condition] = measured(condition, seeds, fonts, bars).cells()
    if columns:
        print(f"{'':<16}" + "".join(f"{name:>11} " for name in columns))
        for name in CELLS:
            print(row(name, columns), flush=True)
    if options.smoke or not options.only or "jumps" in names:
        print_alignments(1 if options.smoke else 5 * count)


if __name__ == "__main__":
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    main()
