"""Single bass notes whose first sample is known: a plucked string, and the notes of a soundfont.

The string is that of K. Karplus and A. Strong, "Digital Synthesis of Plucked-String and Drum
Timbres", Computer Music Journal 7(2), 1983, with the pick position of D. Jaffe and J. Smith,
"Extensions of the Karplus-Strong Plucked-String Algorithm", same volume (titles from memory).
A soundfont's note is rendered alone; what sounds before its attack is cut, so that a note added
at a sample has its attack there.
"""

from dataclasses import dataclass
from functools import cache
from pathlib import Path

import numpy
from numpy.typing import NDArray

from groove.io.soundfont import choose_soundfont

Samples = NDArray[numpy.float32]

SAMPLE_RATE_HZ = 44_100
LONGEST_SEC = 2.0
ATTACK_SHARE = 1 / 20
"""A soundfont's attack is where this share of the note's first peak is reached, as in the page's
sounds (common practice, no source)."""

_PEAK_SEC = 0.25
_PLUCK_LEVEL = 0.3


@dataclass(frozen=True, kw_only=True)
class StringSound:
    """How a string is made and plucked.

    ``pick`` and ``pickup`` are places as shares of the string from the bridge, ``brightness`` (0
    to 1) is how little of the overtones each turn takes away, ``ring_sec`` how long the
    fundamental of an open E needs for 60 dB, ``pluck_ms`` the rise of the pluck, ``click`` the
    share of noise in it.
    """

    pick: float = 0.15
    pickup: float = 0.12
    brightness: float = 0.6
    ring_sec: float = 6.0
    pluck_ms: float = 1.2
    click: float = 0.15


@dataclass(frozen=True, kw_only=True)
class FontSound:
    """A program (0-based General MIDI) of a soundfont."""

    program: int = 33
    font: Path | None = None


Sound = StringSound | FontSound


@cache
def plain_note(sound: Sound, pitch: int, velocity: int) -> Samples:
    """Return a note that rings for ``LONGEST_SEC``; sample 0 is its attack.  Do not write to it."""
    if isinstance(sound, FontSound):
        return _font_note(sound, pitch, velocity)
    excitation = _pluck(sound, pitch, velocity)
    return _string(sound, pitch, excitation, LONGEST_SEC, ring_sec=sound.ring_sec)


@cache
def ghost_note(sound: Sound, pitch: int, velocity: int) -> Samples:
    """Return a muted stroke: a thud of some 60 ms in which the pitch is hardly heard."""
    if isinstance(sound, FontSound):
        return faded(_font_note(sound, pitch, velocity), 0.035, 0.03)
    rng = numpy.random.default_rng(pitch * 131 + velocity)
    excitation = _pluck(sound, pitch, velocity)
    body = _string(sound, pitch, excitation, 0.25, ring_sec=0.18)
    frames = numpy.arange(len(body)) / SAMPLE_RATE_HZ
    thud = _lowpassed(rng.standard_normal(len(body)).astype(numpy.float32), 700.0, 2)
    thud *= (1 - numpy.exp(-frames / 0.0007)) * numpy.exp(-frames / 0.018)
    level = 0.35 * abs(body).max() / max(abs(thud).max(), 1e-9)
    return faded((body + level * thud).astype(numpy.float32), 0.12, 0.1)


@cache
def slurred_note(sound: Sound, pitch: int, velocity: int) -> Samples:
    """Return a note that no finger plucks, as of a hammer-on: dull, a little softer, 4 ms to rise.

    Its onset is where the rise begins.
    """
    whole = plain_note(sound, pitch, max(1, round(velocity * 0.8)))
    dull = _lowpassed(whole, 700.0 if isinstance(sound, StringSound) else 1000.0, 1)
    rise = round(0.004 * SAMPLE_RATE_HZ)
    dull[:rise] *= numpy.linspace(0, 1, rise, dtype=numpy.float32)
    return dull


def faded(note: Samples, length_sec: float, fade_sec: float) -> Samples:
    """Return a note that is held for a time and then damped."""
    held = round(length_sec * SAMPLE_RATE_HZ)
    fade = round(fade_sec * SAMPLE_RATE_HZ)
    cut = note[: held + fade].copy()
    if len(cut) > held:
        tail = numpy.cos(numpy.linspace(0, numpy.pi / 2, fade, dtype=numpy.float32))
        cut[held:] *= tail[: len(cut) - held] ** 2
    return cut


@cache
def drum_stroke(key: int, velocity: int) -> Samples:
    """Return one stroke of the default soundfont's kit (a General MIDI key)."""
    return _rendered(None, 128, 0, key, velocity, 1.5)


def _pluck(sound: StringSound, pitch: int, velocity: int) -> Samples:
    """Return what the finger gives the string: a rounded push, some noise, duller when soft."""
    rng = numpy.random.default_rng(pitch * 1009 + velocity)
    rise = max(4, round(sound.pluck_ms * (1.6 - velocity / 127) * SAMPLE_RATE_HZ / 1000))
    push = numpy.hanning(2 * rise + 2)[1:-1].astype(numpy.float32)
    noise = rng.standard_normal(len(push)).astype(numpy.float32) * push
    # The first sample is heard: else the attack would lie where the window has risen.
    return (push + sound.click * noise) * numpy.float32(_PLUCK_LEVEL * (velocity / 100) ** 1.7)


def _string(
    sound: StringSound, pitch: int, excitation: Samples, length_sec: float, *, ring_sec: float
) -> Samples:
    """Return the turns of a string, a period at a time: each is the last one filtered."""
    frequency = 440 * 2 ** ((pitch - 69) / 12)
    period = SAMPLE_RATE_HZ / frequency
    frames = round(length_sec * SAMPLE_RATE_HZ)
    delay = int(period) - 1
    loop = _loop_filter(period - delay, sound.brightness)
    loop *= 10 ** (-3 / (frequency * ring_sec * (41.2 / frequency) ** 0.5))
    half = len(loop)
    drive = numpy.zeros(frames + half, numpy.float32)
    count = min(len(excitation), frames)
    drive[:count] += excitation[:count]
    for share, sign in ((sound.pick, -1.0),):  # the pluck comes back from the bridge upside down
        lag = max(1, round(share * period))
        drive[lag : lag + count] += sign * excitation[: max(0, min(count, frames - lag))]
    out = numpy.zeros(frames + half, numpy.float32)
    chunk = delay - half
    for start in range(0, frames, chunk):
        stop = min(start + chunk, frames)
        first, last = start - delay - half + 1, stop - delay
        if last > 0:
            past = out[max(0, first) : last]
            past = numpy.concatenate([numpy.zeros(max(0, -first), numpy.float32), past])
            out[start:stop] = numpy.convolve(past, loop, "valid")
        out[start:stop] += drive[start:stop]
    lag = max(1, round(sound.pickup * period))
    heard = out[:frames].copy()
    heard[lag:] -= 0.9 * out[: frames - lag]
    return heard


def _loop_filter(fraction: float, brightness: float) -> Samples:
    """Return the filter of one turn: a loss of overtones, and a delay of 1 to 2 samples."""
    loss = (1 - brightness) * 0.5
    smooth = numpy.array([loss / 2, 1 - loss, loss / 2])  # delays by one sample
    rest = fraction - 1
    # Lagrange's cubic through four samples, the middle interval.
    at = rest + 1
    taps = [
        numpy.prod([(at - other) / (tap - other) for other in range(4) if other != tap])
        for tap in range(4)
    ]
    return numpy.convolve(smooth, taps).astype(numpy.float32)


def _font_note(sound: FontSound, pitch: int, velocity: int) -> Samples:
    whole = _rendered(sound.font, 0, sound.program, pitch, velocity, LONGEST_SEC + 0.1)
    level = abs(whole)
    peak = level[: round(_PEAK_SEC * SAMPLE_RATE_HZ)].max()
    return whole[int(numpy.argmax(level >= ATTACK_SHARE * peak)) :]


def _rendered(
    font: Path | None, bank: int, program: int, pitch: int, velocity: int, seconds: float
) -> Samples:
    synth, font_id = _synth(font)
    synth.program_select(0, font_id, bank, program)
    synth.noteon(0, pitch, velocity)
    frames = synth.get_samples(round(seconds * SAMPLE_RATE_HZ)).reshape(-1, 2)
    synth.noteoff(0, pitch)
    synth.all_sounds_off(0)
    synth.get_samples(SAMPLE_RATE_HZ // 5)
    mono: Samples = frames.mean(axis=1).astype(numpy.float32) / 32768
    return mono


@cache
def _synth(font: Path | None):  # type: ignore[no-untyped-def]
    import fluidsynth

    synth = fluidsynth.Synth(samplerate=float(SAMPLE_RATE_HZ), gain=0.6)
    synth.setting("synth.reverb.active", 0)
    synth.setting("synth.chorus.active", 0)
    return synth, synth.sfload(str(font or choose_soundfont(None, {}, None).path))


def _lowpassed(samples: Samples, cutoff_hz: float, poles: int) -> Samples:
    """Return samples through as many one-pole filters: by their impulse response, cut at -80 dB."""
    keep = numpy.exp(-2 * numpy.pi * cutoff_hz / SAMPLE_RATE_HZ)
    length = int(numpy.log(1e-4) / numpy.log(keep)) + 1
    response = ((1 - keep) * keep ** numpy.arange(length)).astype(numpy.float32)
    for _ in range(poles):
        samples = numpy.convolve(samples, response)[: len(samples)].astype(numpy.float32)
    return samples
