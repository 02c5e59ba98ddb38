"""Fit the onset network to made takes, and write it as ``groove/take/onset_weights.py``.

Run with ``python -m tests.benchmarks.fit_onsets [--font FONT] …``: quarter of an hour of CPU.  The
shipped weights are fitted on the takes of ``SEEDS`` with the default font and FluidR3 (Debian's
``fluid-soundfont-gm``).  Every moment has two wanted answers: whether an onset is near (a bell of
``BELL_HOPS`` round it) and how far it is; the first is judged by cross entropy, the second by
Huber's loss.  Adam's steps (Kingma and Ba 2015, its usual constants, from memory), halved like a
cosine.  ``bench_onsets`` judges by other seeds.
"""

import argparse
import base64
from collections.abc import Iterable
from itertools import pairwise
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from groove.take.band_levels import HOP_FRAMES, Scene
from groove.take.working_rate import WORKING_RATE_HZ
from tests.take.any_takes import any_take
from tests.take.bass_sounds import ghost_note, plain_note, slurred_note

Array = NDArray[np.float32]
SEEDS = range(2000, 2800)
HIDDEN = (48, 24)
EPOCHS = 16
BATCH = 1024
FIRST_STEP, LAST_STEP = 2e-3, 1e-5
BELL_HOPS = 1.2
NEAR_HOPS = 8
FAR_SHARE = 0.3
DISTANCE_BELL_HOPS, DISTANCE_WEIGHT = 2.0, 0.3
LEAK = 0.01
BLUR = 0.05
HEAD = '''"""What the onset network weighs: a row a layer, found by ``tests.benchmarks.fit_onsets``.

Inputs, outputs, the weights as signed bytes, and the scale and bias of each output as 32-bit
floats, both in base 85.
"""

LAYERS = (
'''


def wanted(count: int, onsets: Array) -> tuple[Array, Array]:
    """Return the bell and the distance (in hops, positive ahead) of each of ``count`` hops."""
    secs = np.arange(count) * HOP_FRAMES / WORKING_RATE_HZ
    onsets = np.sort(onsets)
    after = np.searchsorted(onsets, secs).clip(1, len(onsets) - 1)
    back, ahead = onsets[after - 1] - secs, onsets[after] - secs
    hops = np.where(abs(back) < abs(ahead), back, ahead) * WORKING_RATE_HZ / HOP_FRAMES
    return np.exp(-0.5 * (hops / BELL_HOPS) ** 2).astype(np.float32), hops.astype(np.float32)


def moments(
    takes: Iterable[tuple[Array, Array]], rng: np.random.Generator
) -> tuple[Array, Array, Array, Array]:
    """Return rows, bells, distances and weights: all that is near an onset, a share of the rest."""
    parts: list[tuple[Array, ...]] = []
    for samples, onsets in takes:
        rows = Scene(samples).every_hop()
        bells, hops = wanted(len(rows), onsets)
        near = abs(hops) < NEAR_HOPS
        kept = near | (rng.random(len(rows)) < FAR_SHARE)
        weights = np.where(near, 1, 1 / FAR_SHARE).astype(np.float32)
        parts.append((rows[kept].astype(np.float16), bells[kept], hops[kept], weights[kept]))
    rows, bells, hops, weights = (np.concatenate(part) for part in zip(*parts, strict=True))
    return rows, bells, hops, weights


def leaky(values: Array) -> Array:
    out: Array = np.maximum(values, np.float32(LEAK) * values)
    return out


def forward(layers: list[Array], rows: Array) -> tuple[Array, Array, Array, Array, Array]:
    """Return what stands before and after each layer, the answers last."""
    w1, b1, w2, b2, w3, b3 = layers
    first = rows @ w1 + b1
    second = leaky(first) @ w2 + b2
    return first, leaky(first), second, leaky(second), leaky(second) @ w3 + b3


def slopes(
    layers: list[Array], rows: Array, bells: Array, hops: Array, weights: Array
) -> tuple[list[Array], float]:
    """Return the loss's slope by each weight, and the loss of the first answer."""
    first, first_out, second, second_out, answers = forward(layers, rows)
    chance = 1 / (1 + np.exp(-answers[:, 0]))
    loss = -weights * (bells * np.log(chance + 1e-7) + (1 - bells) * np.log(1 - chance + 1e-7))
    slope = np.zeros_like(answers)
    slope[:, 0] = weights * (chance - bells)
    near = np.where(abs(hops) < 4, np.exp(-0.5 * (hops / DISTANCE_BELL_HOPS) ** 2), 0)
    missed = (answers[:, 1] - hops.clip(-4, 4)).clip(-0.5, 0.5)
    slope[:, 1] = DISTANCE_WEIGHT * near * missed
    slope /= len(rows)
    second_slope = slope @ layers[4].T * np.where(second > 0, 1, LEAK).astype(np.float32)
    first_slope = second_slope @ layers[2].T * np.where(first > 0, 1, LEAK).astype(np.float32)
    found = [rows.T @ first_slope, first_slope.sum(0)]
    found += [first_out.T @ second_slope, second_slope.sum(0)]
    found += [second_out.T @ slope, slope.sum(0)]
    return found, float(loss.mean())


def fitted(rows: Array, bells: Array, hops: Array, weights: Array, epochs: int) -> list[Array]:
    """Return weights and biases of the three layers, for rows as a ``Scene`` gives them."""
    rng = np.random.default_rng(0)
    even = rows.astype(np.float32)
    middle, spread = even[::20].mean(0), even[::20].std(0) + np.float32(0.1)
    even -= middle
    even /= spread
    blur = np.float32(BLUR) * rng.standard_normal((2 * BATCH, rows.shape[1]), dtype=np.float32)
    sizes = (rows.shape[1], *HIDDEN, 2)
    layers: list[Array] = []
    for inputs, outputs in pairwise(sizes):
        drawn = rng.standard_normal((inputs, outputs)) * inputs**-0.5
        layers += [drawn.astype(np.float32), np.zeros(outputs, np.float32)]
    layers[5][0] = -2.0
    mean = [np.zeros_like(layer) for layer in layers]
    square = [np.zeros_like(layer) for layer in layers]
    steps = epochs * (len(rows) // BATCH)
    step = 0
    for epoch in range(epochs):
        order, losses = rng.permutation(len(rows)), []
        for start in range(0, len(rows) - BATCH + 1, BATCH):
            part = order[start : start + BATCH]
            first = rng.integers(BATCH)
            seen = even[part] + blur[first : first + BATCH]
            found, loss = slopes(layers, seen, bells[part], hops[part], weights[part])
            losses.append(loss)
            step += 1
            size = LAST_STEP + FIRST_STEP * 0.5 * (1 + np.cos(np.pi * step / steps))
            for layer, slope, push, power in zip(layers, found, mean, square, strict=True):
                push += 0.1 * (slope - push)
                power += 0.001 * (slope * slope - power)
                unbiased = np.sqrt(power / (1 - 0.999**step)) + 1e-8
                layer -= (size * (push / (1 - 0.9**step)) / unbiased).astype(np.float32)
        print(f"epoch {epoch + 1} of {epochs}: loss {np.mean(losses):.4f}", flush=True)
    layers[1] = layers[1] - (middle / spread) @ layers[0]
    layers[0] = layers[0] / spread[:, None]
    return layers


def weights_text(layers: list[Array]) -> str:
    """Return the module that holds the weights, each column rounded to 127 steps."""
    lines = []
    for weights, bias in zip(layers[::2], layers[1::2], strict=True):
        scale = abs(weights).max(axis=0) / 127
        steps = np.rint(weights / scale).astype(np.int8).tobytes()
        scales = np.stack([scale, bias]).astype("<f4").tobytes()
        lines += ["    (", f"        {weights.shape[0]},", f"        {weights.shape[1]},"]
        lines += [*packed_lines(steps), *packed_lines(scales), "    ),"]
    return HEAD + "\n".join(lines) + "\n)\n"


def packed_lines(data: bytes) -> list[str]:
    """Return bytes as a text in base 85 on lines of 80 signs (none of them needs an escape)."""
    text = base64.b85encode(data).decode("ascii")
    pieces = [text[at : at + 80] for at in range(0, len(text), 80)]
    if len(pieces) == 1:
        return [f'        "{text}",']
    return ["        (", *(f'            "{piece}"' for piece in pieces), "        ),"]


def made(seeds: Iterable[int], fonts: list[Path | None]) -> Iterable[tuple[Array, Array]]:
    """Yield samples and onsets of the takes to fit on, forgetting sounds that grow many."""
    for seed in seeds:
        samples, take = any_take(seed, fonts)
        yield samples, np.array([note.onset_sec for note in take.played], np.float32)
        for sounds in (plain_note, ghost_note, slurred_note):
            if sounds.cache_info().currsize > 1500:
                sounds.cache_clear()


def main() -> None:
    """Fit and write."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--font", type=Path, action="append", default=[], help="one more font")
    fonts = [None, *parser.parse_args().font]
    rows, bells, hops, weights = moments(made(SEEDS, fonts), np.random.default_rng(0))
    layers = fitted(rows, bells, hops, weights, EPOCHS)
    path = Path(__file__).parents[2] / "groove" / "take" / "onset_weights.py"
    path.write_text(weights_text(layers), encoding="utf-8")


if __name__ == "__main__":
    main()
