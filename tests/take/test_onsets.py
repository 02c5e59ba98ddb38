"""Onsets of made takes, against the samples at which their notes were added."""

import numpy
import pytest

from groove.take.onsets import detect_onsets, look_again
from tests.mir_judge import onset
from tests.take.bass_sounds import SAMPLE_RATE_HZ
from tests.take.made_takes import CONDITIONS, SOUNDS, MadeTake, made_take


@pytest.fixture(scope="module")
def clean_take() -> MadeTake:
    return made_take(3, SOUNDS[0], CONDITIONS["clean"], bars=4)


def test_onsets_lie_where_notes_were_added(clean_take: MadeTake) -> None:
    truth = numpy.array([note.onset_sec for note in clean_take.played])
    found = numpy.array([o.sec for o in detect_onsets(clean_take.samples, SAMPLE_RATE_HZ)])
    assert onset.f_measure(truth, found, window=0.025)[0] > 0.85


def test_blocks_and_the_whole_are_the_same(clean_take: MadeTake) -> None:
    blocks = numpy.array_split(clean_take.samples, 13)
    assert detect_onsets(blocks, SAMPLE_RATE_HZ) == detect_onsets(
        clean_take.samples, SAMPLE_RATE_HZ
    )


def test_looking_again_makes_nothing_up(clean_take: MadeTake) -> None:
    """Before the first note there is silence: nothing rises there."""
    assert look_again(clean_take.samples, SAMPLE_RATE_HZ, [(0.2, 0.6)]) == []
    first = clean_take.played[0].onset_sec
    (found,) = look_again(clean_take.samples, SAMPLE_RATE_HZ, [(first - 0.05, first + 0.05)])
    assert abs(found.sec - first) < 0.025
