"""Takes as they come from the world: each gives a report that says the same, or one clear error.

What is done to a recording is known, so what may change of its report is too: nothing by more than
half a millisecond, the bound that was asked for.
"""

import tracemalloc
from collections.abc import Iterator
from pathlib import Path

import numpy
import pytest
import soundfile

from groove.io.heard_takes import heard_take, read_recorded_take
from groove.take.cymbals import StrokeListener
from groove.take.judgement import TakeReport, judged_take
from groove.take.onsets import WEAKEST, detect_onsets
from groove.take.working_rate import WORKING_RATE_HZ
from tests.cli.command import Command
from tests.take.bass_sounds import SAMPLE_RATE_HZ, Samples, plain_note
from tests.take.made_reference import reference_of
from tests.take.made_takes import STRINGS, MadeTake, PlayerSettings, made_take
from tests.take.test_invariance import resampled

MOST_MS = 0.5


@pytest.fixture(scope="module")
def take() -> MadeTake:
    player = PlayerSettings(seed=31, jitter_ms=8, missed_share=0.04)
    return made_take(31, STRINGS[1], player=player, bars=4, tempo_bpm=100)


def report_of(
    take: MadeTake,
    folder: Path,
    samples: Samples,
    rate_hz: int = SAMPLE_RATE_HZ,
    form: str = "PCM_24",
) -> TakeReport:
    """Return the report of a take as it stands in a file."""
    path = folder / "take.wav"
    soundfile.write(path, samples, rate_hz, subtype=form)
    reference = reference_of(take)
    return judged_take(reference, heard_take(read_recorded_take(str(path)), reference))


@pytest.fixture(scope="module")
def plain(take: MadeTake, tmp_path_factory: pytest.TempPathFactory) -> TakeReport:
    return report_of(take, tmp_path_factory.mktemp("plain"), take.samples)


def assert_same(found: TakeReport, plain: TakeReport, moved_sec: float = 0.0) -> None:
    """Check that a report says the same, but for where in the file it all lies."""
    assert found.alignment.pairs == plain.alignment.pairs
    assert (found.missed, found.wrong, found.extra) == (plain.missed, plain.wrong, plain.extra)
    assert len(plain.alignment.pairs) > 30
    apart = found.figures.offset_sec - plain.figures.offset_sec
    assert 1000 * apart == pytest.approx(1000 * moved_sec, abs=MOST_MS)
    assert found.figures.deviations_ms == pytest.approx(plain.figures.deviations_ms, abs=MOST_MS)
    assert found.figures.sd_ms == pytest.approx(plain.figures.sd_ms, abs=MOST_MS)


@pytest.mark.parametrize("rate_hz", [22_050, 48_000])
def test_another_rate_says_the_same(
    take: MadeTake, plain: TakeReport, tmp_path: Path, rate_hz: int
) -> None:
    whole = take.samples[: len(take.samples) // SAMPLE_RATE_HZ * SAMPLE_RATE_HZ]
    assert_same(report_of(take, tmp_path, resampled(whole, rate_hz), rate_hz), plain)


def test_softer_and_on_two_channels_says_the_same(
    take: MadeTake, plain: TakeReport, tmp_path: Path
) -> None:
    """One side louder than the other: their mean is the take at three quarters of its level."""
    both = numpy.stack([take.samples, 0.5 * take.samples], axis=1)
    assert_same(report_of(take, tmp_path, both), plain)


def test_a_shift_moves_the_offset_alone(take: MadeTake, plain: TakeReport, tmp_path: Path) -> None:
    """By whole hops of the detector, so that not even they lie otherwise."""
    frames = 2 * 128 * 200
    shifted = numpy.concatenate([numpy.zeros(frames, numpy.float32), take.samples])
    assert_same(report_of(take, tmp_path, shifted), plain, frames / SAMPLE_RATE_HZ)


def test_eight_bits_and_clipping_still_give_a_report(
    take: MadeTake, plain: TakeReport, tmp_path: Path
) -> None:
    top = 0.3 * float(abs(take.samples).max())
    clipped = numpy.clip(take.samples, -top, top)
    for samples, form in ((take.samples, "PCM_U8"), (clipped, "PCM_16")):
        found = report_of(take, tmp_path, samples, form=form)
        assert found.figures.sd_ms == pytest.approx(plain.figures.sd_ms, abs=2)
        assert len(set(found.missed) ^ set(plain.missed)) <= 2


def long_take(seconds: int) -> Iterator[Samples]:
    """Yield a note every second."""
    note = plain_note(STRINGS[0], 40, 96)[::2][:WORKING_RATE_HZ]
    for _ in range(seconds):
        yield note


def test_memory_does_not_grow_with_the_length() -> None:
    """100 seconds need hardly more than 50: levels above 7 kHz and what was found."""
    peaks = []
    for seconds in (50, 100):
        strokes = StrokeListener()
        tracemalloc.start()
        onsets = detect_onsets(strokes.passed(long_take(seconds)), WORKING_RATE_HZ, least=WEAKEST)
        peaks.append(tracemalloc.get_traced_memory()[1])
        tracemalloc.stop()
        assert len(onsets) >= seconds - 2
    assert peaks[1] < 1.15 * peaks[0]


def test_a_text_that_is_named_as_sound_is_one_error(groove: Command) -> None:
    groove.write("song.txt", "title: A\ntempo: 90\nfeel: soul\nverse:\n| G | C |\n")
    groove.write("take.wav", "my notes\n" * 40)
    soundfile.write(groove.folder / "silent.wav", numpy.zeros(SAMPLE_RATE_HZ), SAMPLE_RATE_HZ)
    for name, told in (
        ("take.wav", "take.wav is no sound that can be read: "),
        ("silent.wav", "silent.wav is silent: "),
    ):
        said = groove("take", "song.txt", name, "-o", "report.html")
        assert (said.code, said.out) == (2, "")
        assert said.err.startswith(told)
        assert "report.html" not in groove.files()
