"""Fit the key finder's table to the made-up songs, and write it as ``groove/harmony/key_table.py``.

Run with ``python -m tests.benchmarks.fit_key``.  Three tenths of each weight are a frequency: the
logarithm of how much more of a thing is heard at its distance from the true tonic than from any
tonic, times one weight a view.  The rest is a logistic regression over the 24 keys with a ridge.
Both are fitted on ``made_songs("tune", …)``; nothing of ``made_songs("test", …)`` is seen.
"""

from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import minimize

from groove.harmony.evidence import DOMINANT_GOAL, ChordClass, Moment, View, evidence, kind_of
from groove.theory.keys import Mode
from tests.harmony.progressions import MadeSong, made_songs

Array = NDArray[np.float64]
SONGS = 8000
REGRESSION_SHARE = 0.7
RIDGE = 12.0
FLOOR = 0.003
COLUMNS = {
    View.SHARE: tuple(map(str, ChordClass)),
    View.KNOWN: tuple(map(str, ChordClass)),
    View.BASS: ("",),
    View.MOVES: tuple(map(str, range(12))),
    View.ARRIVALS: tuple(map(str, range(12))),
    View.RESOLUTIONS: (*"Mmdo", DOMINANT_GOAL),
}
ROWS = [(view, column) for view in View for column in COLUMNS.get(view, tuple("Mmdo"))]
FIELDS = {(view, column): 12 * n for n, (view, column) in enumerate(ROWS)}
WIDTH = 12 * len(ROWS)
HEAD = '''"""What each thing heard counts towards a key, as log odds.

Written by ``python -m tests.benchmarks.fit_key``.

A row is a view and what stands beside the root (a kind, a colour, or the root before a move, in
semitones above the tonic); its twelve numbers are for roots 0 to 11 semitones above the tonic.
Fitted to songs made up from functional grammars: no table of this size is printed anywhere.
"""

'''


def moments_of(song: MadeSong) -> list[Moment]:
    """Return the chords of a made song as they are heard."""
    return [
        Moment(
            chord.root.pitch_class,
            chord.bass_note.pitch_class,
            kind_of(chord),
            4 / len(bar),
            number,
            section,
            place == 0,
        )
        for section, (_, bars) in enumerate(song.sections)
        for number, bar in enumerate(bars)
        for place, chord in enumerate(bar)
    ]


def features(song: MadeSong) -> NDArray[np.float32]:
    """Return what is heard, counted from each of the twelve tonics."""
    found = np.zeros((12, WIDTH), np.float32)
    for view, amounts in evidence(moments_of(song)).items():
        for (root, beside), amount in amounts.items():
            for tonic in range(12):
                column = str((beside - tonic) % 12) if isinstance(beside, int) else str(beside)
                found[tonic, FIELDS[view, column] + (root - tonic) % 12] += amount
    return found


def softmax(scores: Array) -> Array:
    """Return shares that sum to one in each row."""
    powers = np.exp(scores - scores.max(1, keepdims=True))
    shares: Array = powers / powers.sum(1, keepdims=True)
    return shares


def regression(heard: NDArray[np.float32], tonics: Array, modes: Array) -> Array:
    """Return the weights of the logistic regression, one row a mode."""
    labels = (modes * 12 + tonics).astype(int)
    each = np.arange(len(labels))

    def loss(flat: Array) -> tuple[float, Array]:
        weights = flat.reshape(2, WIDTH)
        shares = softmax(np.concatenate([heard @ row for row in weights], 1).astype(float))
        value = -np.log(shares[each, labels] + 1e-12).sum() + RIDGE * (weights**2).sum() / 2
        shares[each, labels] -= 1
        halves = (shares[:, :12], shares[:, 12:])
        slope = np.stack([np.tensordot(half.astype(np.float32), heard, 2) for half in halves])
        return float(value), np.asarray(slope + RIDGE * weights, float).ravel()

    done = minimize(
        loss, np.zeros(2 * WIDTH), jac=True, method="L-BFGS-B", options={"maxiter": 150}
    )
    return np.asarray(done.x).reshape(2, WIDTH)


def frequencies(heard: NDArray[np.float32], tonics: Array, modes: Array) -> Array:
    """Return log frequency ratios, each view scaled by the weight that fits best."""
    logs = np.zeros((2, WIDTH))
    for mode in (0, 1):
        own = heard[modes == mode]
        at_home = own[np.arange(len(own)), tonics[modes == mode].astype(int)].mean(0)
        logs[mode] = np.log((at_home + FLOOR) / (own.mean((0, 1)) + FLOOR))
    views = np.repeat([list(View).index(view) for view, _ in ROWS], 12)
    parts = [
        np.stack([heard[:, :, views == v] @ row[views == v] for v in range(len(View))], -1)
        for row in logs
    ]
    labels = (modes * 12 + tonics).astype(int)

    def loss(flat: Array) -> float:
        scales = np.maximum(flat[:-1].reshape(2, -1), 0)
        scores = [parts[0] @ scales[0], parts[1] @ scales[1] + flat[-1]]
        shares = softmax(np.concatenate(scores, 1))
        fit = -np.log(shares[np.arange(len(labels)), labels] + 1e-12).sum()
        return float(fit + 0.1 * (flat**2).sum())

    done = minimize(loss, np.ones(2 * len(View) + 1), method="L-BFGS-B", options={"maxiter": 60})
    return np.asarray(logs * np.maximum(done.x[:-1].reshape(2, -1), 0)[:, views])


def table_text(weights: Array) -> str:
    """Return the table as the text of a module."""
    lines = [HEAD]
    for mode, row in zip((Mode.MAJOR, Mode.MINOR), weights, strict=True):
        lines.append(f'{mode.name}_TABLE = """\n')
        for view, column in ROWS:
            start = FIELDS[view, column]
            numbers = " ".join(f"{value:5.1f}" for value in row[start : start + 12])
            label = f"{view}:{column.replace(' ', '-')}"
            lines.append(f"{label:<20} {numbers}\n")
        lines.append('"""\n\n')
    return "".join(lines).rstrip("\n") + "\n"


def main() -> None:
    songs = made_songs("tune", SONGS)
    heard = np.stack([features(song) for song in songs])
    tonics = np.array([float(song.tonic) for song in songs])
    modes = np.array([float(song.mode is Mode.MINOR) for song in songs])
    weights = REGRESSION_SHARE * regression(heard, tonics, modes)
    weights += (1 - REGRESSION_SHARE) * frequencies(heard, tonics, modes)
    path = Path(__file__).parents[2] / "groove" / "harmony" / "key_table.py"
    path.write_text(table_text(weights), encoding="utf-8")
    print(f"{path}: {weights.size} weights from {len(songs)} songs")


if __name__ == "__main__":
    main()
