"""Takes drawn at random from everything the maker can do: to fit on, and to judge by.

The same seed, the same take.  Sounds, rooms, noise, drums and the player are all drawn; players
with drums are up to 40 ms early or late against them, so that nothing learns that the bass is
where the drums are.
"""

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from random import Random

import numpy

from groove.take.working_rate import WORKING_RATE_HZ, at_working_rate
from tests.take.bass_sounds import SAMPLE_RATE_HZ, FontSound, Samples, Sound, StringSound
from tests.take.made_takes import MadeTake, PlayerSettings, RoomSettings, made_take

PROGRAMS = (32, 33, 33, 34, 34, 35, 36, 37, 38, 39)
IN_TUNE = PROGRAMS[1:]
"""Without 32, of which the default font has notes nine half tones apart from their keys."""
KINDS = ("dry", *5 * ("room",), "noise", "noisy", *2 * ("drums",), *3 * ("all",))
FLOORS_DB = (None, None, -70.0, -60.0, -45.0)
LATEST_MS = 40.0


def any_player(seed: int) -> PlayerSettings:
    """Return a player: steady or not, with or without drift and slips."""
    rng = Random(f"p{seed}")
    return PlayerSettings(
        seed=seed,
        jitter_ms=rng.choice((3, 8, 15)),
        drift_bpm_per_min=rng.choice((0, 0, 3, -3)),
        missed_share=rng.choice((0, 0.03, 0.06)),
        extra_share=rng.choice((0, 0.03, 0.05)),
        wrong_share=rng.choice((0, 0.03)),
    )


def any_sound(
    rng: Random, fonts: Sequence[Path | None], programs: Sequence[int] = PROGRAMS
) -> Sound:
    """Return a string, or a bass of one of these fonts (None is the default one)."""
    if rng.random() < 0.55:
        return StringSound(
            pick=rng.uniform(0.04, 0.3),
            pickup=rng.uniform(0.05, 0.25),
            brightness=rng.uniform(0.15, 0.95),
            ring_sec=rng.uniform(2, 9),
            pluck_ms=rng.uniform(0.3, 3.5),
            click=rng.uniform(0, 0.5),
        )
    font = rng.choice(fonts)
    return FontSound(program=rng.choice(programs), font=font)


def any_room(rng: Random) -> RoomSettings:
    """Return how a take is recorded, of all kinds and mixtures."""
    kind = rng.choice(KINDS)
    room = RoomSettings(seed=rng.randrange(1, 10**9))
    if kind == "dry":
        hum_db = rng.choice((None, rng.uniform(-30, -15)))
        floor_db = rng.choice(FLOORS_DB)
        swing_db = rng.choice((0, 12))
        return replace(room, hum_db=hum_db, noise_db=floor_db, level_swing_db=swing_db)
    if kind == "room":
        room = replace(room, room_sec=rng.uniform(0.2, 0.9), room_db=rng.uniform(-20, -8))
        room = replace(room, noise_db=rng.choice(FLOORS_DB))
        return replace(room, level_swing_db=rng.choice((0, 0, 10)))
    if kind == "noise":
        room = replace(room, noise_db=rng.uniform(-40, -25), room_sec=rng.choice((None, None, 0.4)))
        return replace(room, hum_db=rng.choice((None, None, -25)))
    if kind == "noisy":
        return replace(room, noise_db=rng.uniform(-26, -16))
    if kind == "drums":
        return replace(room, drums_db=rng.uniform(-26, -15), noise_db=rng.choice(FLOORS_DB))
    room = replace(room, drums_db=rng.uniform(-26, -16), noise_db=rng.uniform(-38, -24))
    room = replace(room, hum_db=rng.uniform(-32, -20), room_sec=rng.uniform(0.2, 0.6))
    return replace(room, room_db=rng.uniform(-18, -9), level_swing_db=rng.choice((4, 8, 12)))


def any_take(seed: int, fonts: Sequence[Path | None] = (None,)) -> tuple[Samples, MadeTake]:
    """Return a take at the working rate as some microphone heard it, and the take it was."""
    rng = Random(f"train {seed}")
    room, sound = any_room(rng), any_sound(rng, fonts)
    player = any_player(seed + 50_000)
    if room.drums_db is not None:
        player = replace(player, late_ms=rng.uniform(-LATEST_MS, LATEST_MS))
    take = made_take(seed + 50_000, sound, room, player=player, bars=7)
    samples = numpy.concatenate(list(at_working_rate([take.samples], SAMPLE_RATE_HZ)))
    return (_through_a_box(samples, rng) if rng.random() < 0.6 else samples), take


def _through_a_box(samples: Samples, rng: Random) -> Samples:
    """Return samples through a drawn speaker or microphone: a filter of least delay."""
    if rng.random() < 0.4:
        return samples
    size = 1 << (len(samples) - 1).bit_length()
    hertz = numpy.fft.rfftfreq(size, 1 / WORKING_RATE_HZ)
    gain = numpy.ones(len(hertz))
    if rng.random() < 0.5:
        cutoff = rng.uniform(1500, 6000)
        gain /= numpy.sqrt(1 + (hertz / cutoff) ** (2 * rng.choice((1, 2))))
    if rng.random() < 0.4:
        cutoff = rng.uniform(40, 160)
        gain *= (hertz / cutoff) ** 2 / numpy.sqrt(1 + (hertz / cutoff) ** 4)
    if rng.random() < 0.4:
        centre = rng.uniform(200, 3000)
        gain *= 1 + rng.uniform(-0.6, 2) * numpy.exp(-(numpy.log2((hertz + 1) / centre) ** 2))
    # The phase that belongs to the least delay, by the cepstrum.
    cepstrum = numpy.fft.irfft(numpy.log(gain + 1e-4), size)
    fold = numpy.zeros(size)
    fold[0] = fold[size // 2] = 1
    fold[1 : size // 2] = 2
    response = numpy.exp(numpy.fft.rfft(cepstrum * fold))
    heard = numpy.fft.irfft(numpy.fft.rfft(samples, size) * response, size)
    out: Samples = heard[: len(samples)].astype(numpy.float32)
    return out
