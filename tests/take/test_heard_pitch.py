"""Pitches of tones that are made by their formula: the truth is the frequency they are made of."""

import numpy
import pytest

from groove.take.heard_pitch import heard_pitch
from groove.take.working_rate import WORKING_RATE_HZ
from tests.take.bass_sounds import Samples

LOW_B_HZ, LOW_E_HZ, LOW_A_HZ, HIGH_E_FLAT_HZ, HIGH_G_HZ = 30.868, 41.203, 55.0, 311.127, 391.995
"""MIDI 23, 28, 33, 63 and 67 in equal temperament with A4 at 440 Hz (ISO 16)."""


def tone(hertz: float, shares: tuple[float, ...] = (1.0, 0.5, 0.3), sec: float = 0.4) -> Samples:
    """Return a tone of some harmonics with these amplitudes."""
    times = numpy.arange(round(sec * WORKING_RATE_HZ)) / WORKING_RATE_HZ
    whole = numpy.zeros(len(times))
    for number, share in enumerate(shares, 1):
        whole += share * numpy.sin(2 * numpy.pi * hertz * number * times + number)
    out: Samples = (0.2 * whole).astype(numpy.float32)
    return out


@pytest.mark.parametrize(
    ("hertz", "pitch"),
    [(LOW_B_HZ, 23), (LOW_E_HZ, 28), (LOW_A_HZ, 33), (HIGH_E_FLAT_HZ, 63), (HIGH_G_HZ, 67)],
)
def test_tones_from_a_low_b_to_the_last_fret(hertz: float, pitch: int) -> None:
    """A five-string's B, the E and A strings, and the 24th fret of the G string, to 10 cents."""
    found, confidence = heard_pitch(tone(hertz), 0.0, 0.4)
    assert found == pytest.approx(pitch, abs=0.1)
    assert confidence > 0.9


def test_a_strong_octave_is_no_octave() -> None:
    """An A whose second harmonic has twice the amplitude of its first is still an A.

    By hand, at half of its period: the difference is 2 (the first harmonic turned over), its mean
    up to there 1 + 4, so the dip is 0.4 deep, over YIN's threshold of 0.10 to 0.15 (de Cheveigne
    and Kawahara 2002, from memory).
    """
    found, _ = heard_pitch(tone(LOW_A_HZ, (1.0, 2.0)), 0.0, 0.4)
    assert found == pytest.approx(33, abs=0.1)


def test_the_noise_of_an_attack_is_passed_over() -> None:
    """The first 10 ms are noise, ten times as loud as the tone."""
    samples = tone(LOW_A_HZ)
    burst = round(0.010 * WORKING_RATE_HZ)
    samples[:burst] += 2 * numpy.random.default_rng(1).standard_normal(burst).astype(numpy.float32)
    found, confidence = heard_pitch(samples, 0.0, 0.4)
    assert found == pytest.approx(33, abs=0.1)
    assert confidence > 0.9


def test_a_noisy_pitch_is_less_sure() -> None:
    """White noise 3 dB under the tone, a quarter of it below 2.7 kHz where the pitch is looked for.

    By hand: at the period the difference is that of the noise alone, 1/8 of the tone's, beside the
    mean of both, 1 + 1/8: 1/9 is not explained.
    """
    samples = tone(LOW_A_HZ, (1.0,))
    rng = numpy.random.default_rng(3)
    noisy = samples + 0.1 * rng.standard_normal(len(samples)).astype(numpy.float32)
    found, confidence = heard_pitch(noisy, 0.0, 0.4)
    assert found == pytest.approx(33, abs=0.5)
    assert confidence == pytest.approx(8 / 9, abs=0.05)


def test_noise_silence_and_what_is_too_short_have_none() -> None:
    noise = 0.1 * numpy.random.default_rng(2).standard_normal(WORKING_RATE_HZ)
    assert heard_pitch(noise.astype(numpy.float32), 0.0, 0.9) == (None, 0.0)
    assert heard_pitch(numpy.zeros(WORKING_RATE_HZ, numpy.float32), 0.0, 0.9) == (None, 0.0)
    assert heard_pitch(tone(LOW_A_HZ), 0.0, 0.05) == (None, 0.0)


def test_a_pitch_is_of_its_own_note_and_not_of_the_next() -> None:
    """An A of 80 ms with an E after it: where the next one begins, it ends."""
    both = numpy.concatenate([tone(LOW_A_HZ, sec=0.08), tone(LOW_E_HZ, sec=0.4)])
    assert heard_pitch(both, 0.0, 0.08)[0] == pytest.approx(33, abs=0.3)
    assert heard_pitch(both, 0.08, 0.48)[0] == pytest.approx(28, abs=0.1)
