"""MIDI takes with a known truth: a part as somebody plays it, written by mido."""

from collections.abc import Callable
from io import BytesIO
from random import Random

import mido

TICKS = 480
SLOTS_A_SEC = 4 * 92 / 60

Move = Callable[[int, float], float | None]
"""From a note's number and its time in seconds to when it is played, None for not at all."""


def midi_take(part: bytes, move: Move, *, lead_sec: float = 0.0, held: float = 0.95) -> bytes:
    """Return a MIDI file at 120 quarters a minute with the notes of a part, each of them moved.

    They are held for ``held`` of their lengths.
    """
    strokes: list[tuple[float, int, int]] = []
    ends: dict[int, float] = {}
    sounding: dict[int, int] = {}
    now = 0.0
    for message in mido.MidiFile(file=BytesIO(part)):
        now += message.time
        if message.type in ("note_on", "note_off") and message.note in sounding:
            ends[sounding.pop(message.note)] = now
        if message.type == "note_on" and message.velocity:
            sounding[message.note] = len(strokes)
            strokes.append((now, message.note, message.velocity))
    events = []
    for index, (sec, pitch, velocity) in enumerate(strokes):
        moved = move(index, sec)
        if moved is not None:
            tick = round((moved + lead_sec) * 2 * TICKS)
            length = max(1, round((ends[index] - sec) * held * 2 * TICKS))
            events += [(tick, 1, pitch, velocity), (tick + length, 0, pitch, 0)]
    track = mido.MidiTrack([mido.MetaMessage("track_name", name="bass")])
    last = 0
    for tick, _, pitch, velocity in sorted(events):
        track.append(mido.Message("note_on", note=pitch, velocity=velocity, time=tick - last))
        last = tick
    data = BytesIO()
    mido.MidiFile(ticks_per_beat=TICKS, tracks=[track]).save(file=data)
    return data.getvalue()


def strays(seed: int, sd_ms: float) -> Move:
    """Return a hand that strays by some ms."""
    rng = Random(seed)
    return lambda index, sec: max(0.0, sec + rng.gauss(0, sd_ms) / 1000)


def readme_move(index: int, sec: float) -> float | None:
    """Play the README's song as its made take does.

    The hand strays by 9 ms, the last sixteenth of each beat comes 20 ms early, the chorus is
    rushed by 5 % and unsteady in its bar 7, and three notes are left out.
    """
    rng = Random(f"readme {index}")
    slot = round(sec * SLOTS_A_SEC) % 16
    bar = int(sec * SLOTS_A_SEC / 16 + 0.02)
    if index in (23, 61, 118):
        return None
    away = rng.gauss(0, 0.030 if bar == 10 else 0.009) - (0.020 if slot % 4 == 3 else 0)
    chorus, bar_sec = 8 * 16 / SLOTS_A_SEC, 16 / SLOTS_A_SEC
    rushed = min(max(0.0, sec - chorus), 4 * bar_sec)
    return sec + away - 0.045 * rushed
