"""How well onsets are found in made takes, a row a kind of recording, beside what is asked for.

Run: ``python -m tests.benchmarks.bench_onsets [--takes N] [--first SEED] [--font FONT] [--smoke]``.
Each row has N takes (14) of eight bars, seeds from ``--first`` (70000) on, none of which the
network was fitted on; sounds are drawn as its own were, half of them plucked strings, with these
``--font`` instead of the default one.  Windows are 25 ms, 50 for ``F 50``; bias is the median error
of the pairs, ``p95`` the 95th percentile of its size; CPU seconds are of detection with pitch, a
minute of audio, the least over the takes of a row.
"""

import argparse
import os
import time
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from random import Random

import numpy

from groove.take.onsets import detect_onsets
from groove.take.working_rate import WORKING_RATE_HZ, at_working_rate
from tests.take.any_takes import IN_TUNE, any_player, any_sound
from tests.take.bass_sounds import SAMPLE_RATE_HZ
from tests.take.made_takes import CONDITIONS, MadeTake, made_take
from tests.take.scored import Score

FIRST_SEED = 70_000
SMOKE_CONDITION, SMOKE_BARS, BARS = "all", 2, 8
LIMITS = {
    "clean": (0.98, 0.88, 1.5, 8.0),
    "level": (0.98, 0.88, 1.5, 8.0),
    "room": (0.98, 0.88, 1.5, 8.0),
    "hum": (0.98, 0.88, 1.5, 8.0),
    "noise -30": (0.97, 0.82, 1.5, 10.0),
    "noise -20": (0.95, 0.75, 2.0, 15.0),
    "drums -20": (0.92, 0.70, 3.0, 18.0),
    "all": (0.92, 0.70, 3.0, 18.0),
}
"""F at 25 ms, share of ghosts found, bias and 95th percentile in ms."""


def judged_take(
    condition: str,
    seed: int,
    fonts: Sequence[Path | None] = (None,),
    *,
    bars: int = BARS,
    slips: float | None = None,
) -> MadeTake:
    """Return a take of one kind of recording, everything else drawn from the seed."""
    rng = Random(f"judged {condition} {seed}")
    room = replace(CONDITIONS[condition], seed=seed)
    sound, player = any_sound(rng, fonts, IN_TUNE), any_player(seed)
    if slips is not None:
        player = replace(player, missed_share=slips, extra_share=slips)
    if room.drums_db is not None:
        player = replace(player, late_ms=rng.uniform(-30, 30))
    return made_take(seed, sound, room, player=player, bars=bars)


def scored(
    condition: str,
    seeds: Sequence[int],
    fonts: Sequence[Path | None] = (None,),
    *,
    bars: int = BARS,
) -> tuple[Score, float]:
    """Return the score over takes of these seeds, and CPU seconds a minute."""
    score, costs = Score(), []
    for seed in seeds:
        take = judged_take(condition, seed, fonts, bars=bars)
        samples = numpy.concatenate(list(at_working_rate([take.samples], SAMPLE_RATE_HZ)))
        start = time.process_time()
        onsets = detect_onsets(samples, WORKING_RATE_HZ)
        costs.append((time.process_time() - start) / (len(samples) / WORKING_RATE_HZ) * 60)
        score.add(take, onsets)
    return score, min(costs)


def line(condition: str, score: Score, cost: float) -> str:
    """Return a row, every figure that misses its limit marked by a star."""
    least_f, least_ghosts, most_bias, most_p95 = LIMITS[condition]
    ghosts = score.ghosts_found / max(1, score.ghosts)
    cells = [
        (f"{score.f_measure:.3f}", f"{least_f:.2f}", score.f_measure >= least_f),
        (f"{ghosts:.2f}", f"{least_ghosts:.2f}", ghosts >= least_ghosts),
        (f"{score.bias_ms:.1f}", f"{most_bias}", abs(score.bias_ms) <= most_bias),
        (f"{score.p95_ms:.1f}", f"{most_p95}", score.p95_ms <= most_p95),
    ]
    told = [f"{value:>6} ({limit}){' ' if is_met else '*'}" for value, limit, is_met in cells]
    told += [f"{score.matched / max(1, score.found):7.3f}{score.matched / score.true:7.3f}"]
    told += [f"{score.wide_f_measure:7.3f}{score.slurs_found / max(1, score.slurs):7.2f}"]
    told += [f"{score.pitch_right / max(1, score.pitched):7.3f}{cost:6.2f}"]
    return f"{condition:<11}" + "".join(told)


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--takes", type=int, default=14)
    parser.add_argument("--first", type=int, default=FIRST_SEED)
    parser.add_argument("--font", type=Path, action="append", default=[])
    parser.add_argument("--smoke", action="store_true", help="two bars of one kind")
    options = parser.parse_args()
    count, bars = (1, SMOKE_BARS) if options.smoke else (options.takes, BARS)
    fonts = options.font or [None]
    print(
        f"{'':<11}{'F 25':>13}{'ghosts':>14}{'bias ms':>13}{'p95 ms':>14}"
        f"{'P':>7}{'R':>7}{'F 50':>7}{'slurs':>7}{'pitch':>7}{'CPU':>6}"
    )
    for number, condition in enumerate(CONDITIONS):
        if options.smoke and condition != SMOKE_CONDITION:
            continue
        first = options.first + 100 * number
        found = scored(condition, range(first, first + count), fonts, bars=bars)
        print(line(condition, *found), flush=True)


if __name__ == "__main__":
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    main()
