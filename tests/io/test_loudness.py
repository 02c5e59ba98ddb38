"""Loudness and true peak against EBU Tech 3341, ITU-R BS.1770 and two independent libraries."""

import io
import tomllib
import warnings
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from groove.io.audio import audio_bytes
from groove.io.loudness import (
    integrated_loudness_lufs,
    k_weighting,
    level_gain,
    true_peak_dbtp,
)
from groove.io.soundfont import choose_soundfont
from groove.io.synth import RenderedAudio, audio_samples
from tests.hand_performance import band, midi

Samples = NDArray[np.float32]

TABLE = Path(__file__).parents[2] / "shared" / "tables" / "ebu_tech_3341.toml"
RATES = (44_100, 48_000)


@pytest.fixture(scope="module")
def table() -> dict[str, Any]:
    return tomllib.loads(TABLE.read_text(encoding="utf-8"))


def stereo(mono: NDArray[np.float64]) -> Samples:
    return np.stack([mono, mono], axis=1).astype(np.float32)


def steps_of_sine(steps: list[dict[str, float]], rate: int, frequency_hz: float) -> Samples:
    pieces = [
        np.full(round(step["length_sec"] * rate), 10 ** (step["level_dbfs"] / 20)) for step in steps
    ]
    level = np.concatenate(pieces)
    return stereo(level * np.sin(2 * np.pi * frequency_hz / rate * np.arange(len(level))))


def noise(seconds: float, rate: int, *, seed: int = 7) -> Samples:
    """Brownish noise in bursts: some blocks under each gate, low and high frequencies."""
    rng = np.random.default_rng(seed)
    frames = int(seconds * rate)
    white = rng.standard_normal((frames, 2))
    slow = np.cumsum(white, axis=0)
    slow -= slow.mean(axis=0)
    swell = np.sin(np.arange(frames) / rate * 2.1)[:, None] ** 8
    samples: Samples = (swell * (0.02 * white + 0.1 * slow / np.abs(slow).max())).astype(np.float32)
    return samples


def test_integrated_loudness_of_ebu_cases(table: dict[str, Any]) -> None:
    """EBU Tech 3341 v4, Table 1, cases 1-5, whole; the shortest at both rates that we render at.

    The longest are of the gates, which see no rate: these are measured at 16 kHz.
    """
    recipe = table["integrated"]
    compared = []
    for case in recipe["case"]:
        for rate in {1: RATES, 2: RATES[:1]}.get(case["number"], (16_000,)):
            samples = steps_of_sine(case["steps"], rate, recipe["frequency_hz"])
            measured = integrated_loudness_lufs(samples, rate)
            assert measured is not None
            assert abs(measured - case["expected_lufs"]) <= recipe["tolerance_lu"], case
            compared.append(case["number"])
    assert compared == [1, 1, 2, 3, 4, 5]


def test_true_peak_of_ebu_cases(table: dict[str, Any]) -> None:
    """EBU Tech 3341 v4, Table 1, cases 15-19."""
    recipe = table["true_peak"]
    compared = []
    for case in recipe["case"]:
        for rate in RATES:
            angle = 2 * np.pi * np.arange(rate) / case["samples_per_period"]
            sine = case["amplitude"] * np.sin(angle + np.deg2rad(case["phase_deg"]))
            fade = np.minimum(1, np.arange(rate) / (recipe["fade_sec"] * rate))
            measured = true_peak_dbtp(stereo(sine * fade * fade[::-1]))
            assert measured is not None
            error_db = measured - case["expected_dbtp"]
            assert -recipe["tolerance_under_db"] <= error_db <= recipe["tolerance_over_db"], case
            compared.append(case["number"])
    assert compared == [n for n in (15, 16, 17, 18, 19) for _ in RATES]


def test_filter_is_the_printed_one_at_48_khz() -> None:
    """ITU-R BS.1770-4, Tables 1 and 2."""
    printed = (
        (
            (1.53512485958697, -2.69169618940638, 1.19839281085285),
            (1.0, -1.69065929318241, 0.73248077421585),
        ),
        ((1.0, -2.0, 1.0), (1.0, -1.99004745483398, 0.99007225036621)),
    )
    ours = np.array(k_weighting(48_000))
    assert ours.size == 12
    np.testing.assert_allclose(ours, np.array(printed), rtol=0, atol=1e-8)


def test_one_channel_at_full_scale_calibrates_the_scale() -> None:
    """ITU-R BS.1770-4: a 0 dBFS sine of 997 Hz in one front channel reads -3.01 LKFS."""
    rate = 48_000
    samples = np.zeros((10 * rate, 2), np.float32)
    samples[:, 0] = np.sin(2 * np.pi * 997 / rate * np.arange(len(samples)))
    assert integrated_loudness_lufs(samples, rate) == pytest.approx(-3.01, abs=0.01)


@pytest.mark.parametrize("rate", [*RATES, 32_000])
def test_loudness_agrees_with_pyloudnorm(rate: int) -> None:
    """Judge: pyloudnorm with its exact ITU filter, in the time domain."""
    import pyloudnorm

    meter = pyloudnorm.Meter(rate, filter_class="DeMan")
    seconds = (0.4, 1.0, 2.9, 6.0)
    for length in seconds:
        samples = noise(length, rate)
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # it takes means of nothing where no block passes
            judged = meter.integrated_loudness(samples.astype(np.float64))
        assert integrated_loudness_lufs(samples, rate) == pytest.approx(judged, abs=0.0005), length


def test_true_peak_agrees_with_a_whole_resampling() -> None:
    """Judge: scipy's Fourier resampler over the whole signal, 4 times.

    Content above 16 kHz is taken out first, where short interpolators differ from ideal ones.
    """
    from scipy.signal import butter, resample, sosfiltfilt

    low_pass = butter(8, 16_000, fs=44_100, output="sos")
    compared = 0
    for seed in range(4):
        samples = sosfiltfilt(low_pass, noise(2.0, 44_100, seed=seed), axis=0).astype(np.float32)
        judged = 20 * np.log10(np.abs(resample(samples.astype(np.float64), 4 * 88_200)).max())
        assert true_peak_dbtp(samples) == pytest.approx(judged, abs=0.05)
        compared += 1
    assert compared == 4


def test_gain_brings_the_mix_to_its_target() -> None:
    """Judge: pyloudnorm measures the mix after the gain; EBU R 128 allows 0.5 LU."""
    import pyloudnorm

    rate = 44_100
    tone = steps_of_sine([{"level_dbfs": -40.0, "length_sec": 5.0}], rate, 440)
    gain = level_gain(tone, rate, target_lufs=-16.0, ceiling_dbtp=-1.0)
    judged = pyloudnorm.Meter(rate, filter_class="DeMan").integrated_loudness(
        tone.astype(np.float64) * gain.factor
    )
    assert not gain.ceiling_bound
    assert abs(judged - -16.0) <= 0.5
    assert gain.loudness_lufs == pytest.approx(judged, abs=0.05)


@cache
def rendered_band() -> RenderedAudio:
    song = band(6)
    font = choose_soundfont(None, {}, None).path
    return audio_samples(song, font=font, part_midi=lambda part: midi(song, [part]))


@pytest.mark.parametrize(("target_lufs", "is_bound"), [(-20.0, False), (-10.0, True)])
def test_a_rendered_mix_is_levelled_in_its_file(target_lufs: float, is_bound: bool) -> None:
    """Judges: pyloudnorm and scipy's Fourier resampler, on the file as read back by soundfile."""
    import pyloudnorm
    import soundfile
    from scipy.fft import next_fast_len
    from scipy.signal import resample

    audio = rendered_band()
    gain = level_gain(audio.mix, audio.sample_rate, target_lufs=target_lufs, ceiling_dbtp=-1.0)
    data = audio_bytes(audio.mix, audio.sample_rate, suffix=".wav", factor=gain.factor)
    read, rate = soundfile.read(io.BytesIO(data))
    judged_lufs = pyloudnorm.Meter(rate, filter_class="DeMan").integrated_loudness(read)
    # The resampler takes ten times as long for a count of frames that is nearly prime.
    silence = np.zeros((next_fast_len(len(read)) - len(read), 2))
    padded = np.concatenate([read, silence])
    judged_dbtp = 20 * np.log10(np.abs(resample(padded, 4 * len(padded))).max())
    assert gain.ceiling_bound == is_bound
    assert gain.loudness_lufs == pytest.approx(judged_lufs, abs=0.05)
    assert gain.true_peak_dbtp == pytest.approx(judged_dbtp, abs=0.1)
    assert judged_dbtp <= -0.95
    assert (abs(judged_lufs - target_lufs) <= 0.5) == (not is_bound)


def test_ceiling_wins_over_the_target() -> None:
    """A quiet tone with one loud spike: no linear gain reaches -16 LUFS under -1 dBTP."""
    rate = 44_100
    tone = steps_of_sine([{"level_dbfs": -40.0, "length_sec": 5.0}], rate, 440)
    tone[rate] = 0.5
    gain = level_gain(tone, rate, target_lufs=-16.0, ceiling_dbtp=-1.0)
    assert gain.ceiling_bound
    assert gain.true_peak_dbtp == pytest.approx(-1.0, abs=1e-9)
    assert gain.loudness_lufs is not None
    assert gain.loudness_lufs < -20
    assert 20 * np.log10(np.abs(tone).max() * gain.factor) <= -1.0


@pytest.mark.parametrize("frames", [0, 1, 100, 44_100])
def test_silence_has_no_loudness_and_is_left_alone(frames: int) -> None:
    silence = np.zeros((frames, 2), np.float32)
    assert integrated_loudness_lufs(silence, 44_100) is None
    assert true_peak_dbtp(silence) is None
    gain = level_gain(silence, 44_100)
    assert (gain.gain_db, gain.loudness_lufs, gain.ceiling_bound) == (0.0, None, False)


def test_a_sound_under_the_gate_keeps_its_level() -> None:
    """BS.1770-4: blocks under -70 LUFS do not count."""
    whisper = steps_of_sine([{"level_dbfs": -75.0, "length_sec": 2.0}], 44_100, 1000)
    gain = level_gain(whisper, 44_100)
    assert gain.gain_db == 0.0
    assert gain.loudness_lufs is None


def test_a_sound_shorter_than_a_block_is_measured() -> None:
    blip = steps_of_sine([{"level_dbfs": -20.0, "length_sec": 0.1}], 44_100, 1000)
    measured = integrated_loudness_lufs(blip, 44_100)
    # A quarter of a block at -20: 10 log10(1/4) = 6.02 LU less.
    assert measured == pytest.approx(-20 - 6.02, abs=0.3)
