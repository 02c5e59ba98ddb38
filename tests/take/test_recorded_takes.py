"""Recorded takes whose every onset is known, from the file to the verdict."""

from pathlib import Path

import pytest
import soundfile

from groove.errors import OptionError, RecordingError
from groove.io.heard_takes import LONGEST_MINUTES, heard_take, read_recorded_take
from groove.take.judgement import TakeReport, judged_take
from groove.take.statistics import Known
from groove.verdict import Lean
from tests.take.bass_sounds import SAMPLE_RATE_HZ
from tests.take.made_reference import reference_of
from tests.take.made_takes import CONDITIONS, STRINGS, MadeTake, PlayerSettings, made_take

BARS = 8
TEMPO = 96.0


def judged(take: MadeTake, folder: Path, latency_ms: float | None = None) -> TakeReport:
    path = folder / "take.wav"
    soundfile.write(path, take.samples, SAMPLE_RATE_HZ)
    reference = reference_of(take)
    heard = heard_take(read_recorded_take(str(path)), reference)
    return judged_take(reference, heard, latency_ms=latency_ms)


def test_a_clean_take_is_told_as_it_was_played(tmp_path: Path) -> None:
    """The truth is the generator's: every note added at its exact sample."""
    player = PlayerSettings(seed=11, jitter_ms=8, late_ms=20, missed_share=0.05, wrong_share=0.03)
    take = made_take(11, STRINGS[0], player=player, bars=BARS, tempo_bpm=TEMPO)
    found = judged(take, tmp_path, latency_ms=1000 * take.start_sec)
    truth = {note.wanted: note.onset_sec for note in take.played if note.wanted is not None}
    late = [
        1000 * (sec - take.start_sec - take.wanted[number].due_sec) for number, sec in truth.items()
    ]
    assert found.figures.known_by is Known.LATENCY
    assert found.figures.mean_ms == pytest.approx(sum(late) / len(late), abs=3)
    assert found.figures.sd_ms == pytest.approx(8, abs=4)
    assert found.lean is Lean.BEHIND
    right = sum(
        abs(found.take.notes[pair.heard].sec - truth[pair.expected]) < 0.025
        for pair in found.alignment.pairs
        if pair.expected in truth
    )
    assert right > 0.9 * len(truth)
    assert set(found.wrong) <= {
        note.wanted
        for note in take.played
        if note.wanted is not None and note.pitch != take.wanted[note.wanted].pitch
    }


def test_a_player_behind_audible_drums_is_told_so(tmp_path: Path) -> None:
    """25 ms late against the drums in the file, which nobody has told of."""
    player = PlayerSettings(seed=12, jitter_ms=8, late_ms=25)
    take = made_take(
        12, STRINGS[1], CONDITIONS["drums -20"], player=player, bars=BARS, tempo_bpm=TEMPO
    )
    found = judged(take, tmp_path)
    assert found.figures.known_by is Known.CLICK
    assert found.figures.mean_ms == pytest.approx(25, abs=4)


def test_three_hours_are_refused_by_the_head_of_the_file(tmp_path: Path) -> None:
    """A sparse file: its head tells of three hours at CD rate, and no sound of it is read.

    The head is that of *Multimedia Programming Interface and Data Specifications 1.0* (1991).
    """
    long = tmp_path / "long.wav"
    size = 3 * 3600 * 44_100 * 2
    head = b"RIFF" + (36 + size).to_bytes(4, "little") + b"WAVEfmt " + (16).to_bytes(4, "little")
    head += (1).to_bytes(2, "little") + (1).to_bytes(2, "little")
    head += (44_100).to_bytes(4, "little") + (88_200).to_bytes(4, "little")
    head += (2).to_bytes(2, "little") + (16).to_bytes(2, "little")
    with long.open("wb") as file:
        file.write(head + b"data" + size.to_bytes(4, "little"))
        file.truncate(44 + size)
    with pytest.raises(RecordingError, match="lasts 180:00") as caught:
        read_recorded_take(str(long))
    assert str(LONGEST_MINUTES) in str(caught.value.hint)


def test_takes_that_are_none_are_one_error(tmp_path: Path) -> None:
    take = made_take(13, STRINGS[0], bars=2, tempo_bpm=TEMPO)
    path = tmp_path / "other.wav"
    soundfile.write(path, take.samples, SAMPLE_RATE_HZ)
    other = reference_of(made_take(99, STRINGS[0], bars=BARS, tempo_bpm=131))
    with pytest.raises(OptionError, match="does not fit"):
        judged_take(other, heard_take(read_recorded_take(str(path)), other))
