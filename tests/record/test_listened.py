"""What is heard of a recording, held against sounds that are known by how they are made."""

import numpy
import pytest

from groove.record.heard_tones import TONE_STEP_SEC, chroma
from groove.record.listened import listen
from groove.record.rises import RISE_STEP_SEC
from groove.take.working_rate import WORKING_RATE_HZ
from tests.record.made_records import Samples


def chord(pitches: tuple[int, ...], cents: float, seconds: float = 4.0) -> Samples:
    """Return tones of three partials, by the definition of equal temperament at a' = 440 Hz."""
    time = numpy.arange(int(seconds * WORKING_RATE_HZ)) / WORKING_RATE_HZ
    hz = [440 * 2 ** ((pitch - 69 + cents / 100) / 12) for pitch in pitches]
    tones = [numpy.sin(2 * numpy.pi * n * each * time) / n**2 for each in hz for n in (1, 2, 3)]
    whole: Samples = (0.1 * numpy.sum(tones, axis=0)).astype(numpy.float32)
    return whole


@pytest.mark.parametrize("cents", [-40.0, -11.0, 0.0, 27.0, 49.0])
def test_the_tuning_of_a_chord(cents: float) -> None:
    found = listen([chord((57, 61, 64, 69), cents)]).tuning_cents
    assert (found - cents + 50) % 100 - 50 == pytest.approx(0, abs=2)


def test_the_classes_of_a_bass_note_and_a_chord() -> None:
    heard = listen([chord((33, 60, 64, 67), 30)])
    low, high = chroma(heard.tones, heard.tuning_cents)
    middle = len(low) // 2
    assert int(low[middle].argmax()) == 33 % 12
    assert set(numpy.argsort(high[middle])[-3:] % 12) == {0, 4, 7}


def test_a_stroke_is_seen_where_it_is() -> None:
    samples = numpy.zeros(2 * WORKING_RATE_HZ, numpy.float32)
    at = int(1.2 * WORKING_RATE_HZ)
    samples[at : at + 2000] = chord((60,), 0.0, 1.0)[:2000]
    seen = listen([samples]).rises.sum(axis=1).argmax() * RISE_STEP_SEC
    assert seen == pytest.approx(1.2, abs=0.02)


def test_blocks_of_any_size_are_heard_alike() -> None:
    samples = chord((45, 64), 5.0, 3.0)
    whole = listen([samples])
    parts = listen(numpy.split(samples, [7, 1000, 1001, 30_000, 50_001]))
    # A product of matrices is summed in another order where it has other rows.
    assert numpy.allclose(whole.tones, parts.tones, atol=1e-3)
    assert numpy.allclose(whole.rises, parts.rises, atol=1e-2)
    assert whole.length_sec == parts.length_sec == pytest.approx(3.0)
    assert len(whole.tones) == pytest.approx(3.0 / TONE_STEP_SEC, abs=2)
