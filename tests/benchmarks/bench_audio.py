"""What audio costs, as ratios to FluidSynth's own command line on the same core.

Run: ``python -m tests.benchmarks.bench_audio [--smoke]``.  It needs the command ``fluidsynth``.
Effects are off in both, the soundfont and the seconds of MIDI are the same, and every figure is
the best of some rounds in fresh processes, taken in turn.  ``--smoke`` renders a few seconds once,
to show that the script runs; its ratios mean nothing.
"""

import argparse
import json
import os
import shutil
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from subprocess import DEVNULL, run

from groove.io.audio import audio_bytes
from groove.io.files import write_whole
from groove.io.loudness import level_gain
from groove.io.soundfont import choose_soundfont
from groove.io.synth import audio_samples
from tests.hand_performance import band, midi

ROOT = Path(__file__).parents[2]
LIMITS = {"synthesis": 1.0, "mix and stems / mix": 1.4, "whole process": 2.5}


def synthesis_sec(quarters: int, *, with_stems: bool) -> float:
    """Seconds from a performance to float samples, soundfont loaded and checked within."""
    song = band(quarters)
    font = choose_soundfont(None, {}, None).path
    start = time.perf_counter()
    audio_samples(song, font=font, part_midi=lambda part: midi(song, [part]), with_stems=with_stems)
    return time.perf_counter() - start


def write_wav(quarters: int, path: Path) -> None:
    """All that a process does to write a levelled file, from the performance on."""
    song = band(quarters)
    font = choose_soundfont(None, {}, None).path
    audio = audio_samples(
        song, font=font, part_midi=lambda part: midi(song, [part]), with_stems=False
    )
    gain = level_gain(audio.mix, audio.sample_rate)
    data = audio_bytes(audio.mix, audio.sample_rate, suffix=".wav", factor=gain.factor)
    write_whole(path, data)


def in_fresh_process(call: str) -> float:
    """Run a call of this module alone in a process; return its result, or its wall seconds."""
    code = f"import json; from tests.benchmarks.bench_audio import *; print(json.dumps({call}))"
    start = time.perf_counter()
    done = run([sys.executable, "-c", code], capture_output=True, text=True, check=True, cwd=ROOT)
    wall_sec = time.perf_counter() - start
    result = json.loads(done.stdout)
    return wall_sec if result is None else float(result)


def command_line_sec(midi_path: Path, wav_path: Path) -> float:
    """Wall seconds of FluidSynth's own fast file renderer."""
    font = choose_soundfont(None, {}, None).path
    command = ["fluidsynth", "-ni", "-R", "0", "-C", "0", "-r", "44100", "-F", str(wav_path)]
    start = time.perf_counter()
    run([*command, str(font), str(midi_path)], check=True, stdout=DEVNULL, stderr=DEVNULL)
    return time.perf_counter() - start


def measured(quarters: int, rounds: int, folder: Path) -> dict[str, float]:
    """Return the best seconds of each way, all ways taking turns in every round."""
    midi_path, wav_path = folder / "song.mid", folder / "song.wav"
    song = band(quarters)
    midi_path.write_bytes(midi(song, song.parts))
    ways: dict[str, Callable[[], float]] = {
        "fluidsynth": lambda: command_line_sec(midi_path, wav_path),
        "mix": lambda: in_fresh_process(f"synthesis_sec({quarters}, with_stems=False)"),
        "mix and stems": lambda: in_fresh_process(f"synthesis_sec({quarters}, with_stems=True)"),
        "process": lambda: in_fresh_process(f"write_wav({quarters}, Path({str(wav_path)!r}))"),
    }
    seconds: dict[str, list[float]] = {name: [] for name in ways}
    for _ in range(rounds):
        for name, way in ways.items():
            seconds[name].append(way())
    return {name: min(values) for name, values in seconds.items()}


def table(best: dict[str, float]) -> str:
    """Return the ratios beside their limits, one a line."""
    ratios = {
        "synthesis": best["mix"] / best["fluidsynth"],
        "mix and stems / mix": best["mix and stems"] / best["mix"],
        "whole process": best["process"] / best["fluidsynth"],
    }
    lines = [f"{name:<22}{value:8.2f} s" for name, value in best.items()]
    lines += [f"{name:<22}{ratios[name]:8.2f}   limit {limit}" for name, limit in LIMITS.items()]
    return "\n".join(lines)


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--smoke", action="store_true", help="a few seconds of music, one round")
    smoke = parser.parse_args().smoke
    if shutil.which("fluidsynth") is None:
        raise SystemExit("the command fluidsynth is missing: apt-get install fluidsynth")
    if hasattr(os, "sched_setaffinity"):
        os.sched_setaffinity(0, {min(os.sched_getaffinity(0))})  # children inherit the one core
    with tempfile.TemporaryDirectory() as folder:
        best = measured(8 if smoke else 480, 1 if smoke else 5, Path(folder))
    print(table(best))


if __name__ == "__main__":
    main()
