"""A bass alone by ear: rendered parts come back, and what is unsure is said and not invented."""

import math
from collections.abc import Sequence
from fractions import Fraction
from functools import cache
from pathlib import Path
from random import Random

import numpy
import pytest
import soundfile
from msgspec.structs import replace

from groove.chart.parse import parse_chart
from groove.errors import GrooveError, RecordingError
from groove.events import Note, Part, Performance, Touch
from groove.harmony.analysis import Analysis
from groove.io.heard_lines import read_heard_line
from groove.io.library import load_library
from groove.notebook import render_audio
from groove.pipeline import PerformOptions, analyse_song, perform_analysis
from groove.study.heard_line import MAYBE_STOPPED, NO_PITCH, WEAK, GivenBars, HeardLine, heard_line
from groove.study.heard_strokes import HeardStroke, told_apart
from groove.study.hearing_report import hearing_data, hearing_lines
from groove.study.result import Study, study_line
from groove.take.working_rate import WORKING_RATE_HZ
from groove.timing import TempoChange, TempoMap
from tests.mir_judge import transcription as judge

LIBRARY = load_library(None)
RATE_HZ = 44_100
LATE_SEC = 1.7
SONG = """title: Copper Kettle Lane
tempo: 96
key: G
feel: {feel}
verse:
| G | Em7 | C | D7 |
| G | Bm7 | Am7 D7 | G |
chorus:
| C | G/B | Am7 | D7sus4 |
form: verse, chorus
"""


@cache
def analysed(feel: str, song: str = SONG) -> Analysis:
    return analyse_song(parse_chart(song.format(feel=feel)))


@cache
def bass_alone(
    feel: str, seed: int = 1, *, tight: bool = False, song: str = SONG
) -> tuple[Analysis, Performance]:
    analysis = analysed(feel, song)
    options = PerformOptions(seed=seed, tight=tight)
    performance = perform_analysis(analysis, LIBRARY, options)
    return analysis, replace(performance, notes=performance.part_notes(Part.BASS))


def played_sec(performance: Performance, note: Note) -> float:
    return performance.tempo_map.tick_to_sec(note.onset_tick)


def studied(line: HeardLine) -> Study:
    return study_line(
        line.notes, line.frames, LIBRARY.bass, title="x", part="x", hearing=line.hearing
    )


@pytest.fixture(scope="module", params=["sixteenths", "walking"])
def recorded(
    request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory
) -> tuple[Path, Analysis, Performance]:
    """A humanised bass stem that begins late in its file: mono WAV, and stereo FLAC.

    The first is at the rate that takes are listened to at, the other at a CD's, and of the verse
    alone: it has as many notes.
    """
    is_walking = request.param == "walking"
    song = SONG if is_walking else SONG.replace(", chorus", "")
    analysis, performance = bass_alone(request.param, song=song)
    # Program 34: the font's upright bass, which walking asks for, is four half tones flat.
    performance = replace(performance, programs=((Part.BASS, 33),))
    suffix, rate_hz = (".wav", WORKING_RATE_HZ) if is_walking else (".flac", RATE_HZ)
    sound = render_audio(performance, sample_rate=rate_hz).mix
    silence = numpy.zeros((round(LATE_SEC * rate_hz), 2), numpy.float32)
    file = tmp_path_factory.mktemp("bass") / f"take{suffix}"
    whole = numpy.concatenate([silence, sound])
    soundfile.write(file, whole.mean(axis=1) if suffix == ".wav" else whole, rate_hz)
    return file, analysis, performance


def judged(line: HeardLine, performance: Performance) -> tuple[float, float]:
    """Return F1 of the plain notes at 50 ms and a quarter tone, and the share an octave off."""
    quarter = 60 / line.hearing.tempo_bpm
    found = [note for note in line.notes if not note.is_ghost]
    due = [n for n in performance.part_notes(Part.BASS) if n.touch is not Touch.GHOST]

    def rows(secs: Sequence[float]) -> numpy.ndarray:
        return numpy.array([(sec, sec + 0.1) for sec in secs])

    def hertz(pitches: Sequence[int]) -> numpy.ndarray:
        return numpy.array([440 * 2 ** ((pitch - 69) / 12) for pitch in pitches])

    truth = rows([played_sec(performance, note) + LATE_SEC for note in due])
    heard = rows(
        [line.hearing.first_bar_sec + float(note.start_quarters) * quarter for note in found]
    )
    _, _, score, _ = judge.precision_recall_f1_overlap(
        truth,
        hertz([note.pitch for note in due]),
        heard,
        hertz([note.pitch for note in found]),
        onset_tolerance=0.05,
        offset_ratio=None,
    )
    apart = [
        abs(found[there].pitch - due[here].pitch)
        for here, there in judge.match_note_onsets(truth, heard, onset_tolerance=0.05)
    ]
    assert len(apart) >= 40
    return score, sum(each in (12, 24) for each in apart) / len(apart)


def test_a_rendered_bass_on_its_chart_comes_back_as_it_was_played(
    recorded: tuple[Path, Analysis, Performance],
) -> None:
    # The judge is mir_eval's transcription module; the bounds are our own.
    file, analysis, performance = recorded
    line = read_heard_line(str(file), analysis, "x")
    score, octaves = judged(line, performance)
    assert score >= 0.95
    assert octaves <= 0.01
    assert line.hearing.first_bar_sec == pytest.approx(LATE_SEC, abs=0.02)
    assert line.hearing.semitones == 0
    assert len(line.frames) == len(performance.bars) >= 8
    ghosts = [n for n in performance.part_notes(Part.BASS) if n.touch is Touch.GHOST]
    assert sum(bool(note.is_ghost) for note in line.notes) == pytest.approx(len(ghosts), abs=2)


def test_a_rendered_bass_without_a_chart_has_its_tempo_meter_and_first_bar(
    recorded: tuple[Path, Analysis, Performance],
) -> None:
    file, _, performance = recorded
    line = read_heard_line(str(file), None, "x")
    hearing = line.hearing
    assert hearing.tempo_bpm == pytest.approx(96, rel=0.01)
    assert str(hearing.meter) == "4/4"
    assert hearing.first_bar_sec == pytest.approx(LATE_SEC, abs=0.03)
    assert hearing.beat_confidence > 0.9
    assert judged(line, performance)[0] >= 0.95
    song = parse_chart(line.draft, source="draft")
    assert float(song.tempo.bpm) == 96
    assert {chord.confidence <= 0.4 for frame in line.frames for chord in frame.chords} == {True}


# --- by strokes alone, without sound ---------------------------------------------------------


def strokes_of(
    performance: Performance,
    *,
    late: float = 1.0,
    faster: float = 1.0,
    semitones: float = 0.0,
    seed: int = 1,
) -> list[HeardStroke]:
    """Return what an ideal ear hears of a part; where it strays, by 3 ms."""
    rng = Random(f"ear {seed}")
    found = []
    for note in sorted(performance.part_notes(Part.BASS), key=lambda note: note.onset_tick):
        sec = played_sec(performance, note)
        end = performance.tempo_map.tick_to_sec(note.onset_tick + note.length_ticks)
        is_ghost = note.touch is Touch.GHOST
        found.append(
            HeardStroke(
                sec=late + sec / faster + rng.gauss(0, 0.003),
                end_sec=late + end / faster,
                pitch=None if is_ghost else note.pitch + semitones,
                pitch_confidence=0.0 if is_ghost else 0.9,
                strength=0.95,
                level_db=40 * math.log10(note.velocity / 127),
                is_soft=is_ghost,
            )
        )
    return found


def share_found(line: HeardLine, performance: Performance) -> float:
    """Return the share of notes whose place on the chart and pitch are right; a ghost's pitch
    is nobody's."""
    heard = {
        (round(4 * float(note.start_quarters)), None if note.is_ghost else note.pitch)
        for note in line.notes
    }
    wanted = [
        (round(note.grid_tick / 240), None if note.touch is Touch.GHOST else note.pitch)
        for note in performance.part_notes(Part.BASS)
    ]
    assert len(wanted) >= 30
    return sum(each in heard for each in wanted) / len(wanted)


@pytest.mark.parametrize(
    ("feel", "faster"),
    [
        ("straight eighths", 0.86),
        ("straight eighths", 1.15),
        ("two-beat", 0.86),
        ("two-beat", 1.15),
        ("octaves", 1.0),
    ],
)
def test_a_line_finds_its_place_on_a_chart_at_the_players_own_tempo(
    feel: str, faster: float
) -> None:
    # The truth is the part that was played; takes are looked for from 0.88 to 1.14 of the tempo.
    analysis, performance = bass_alone(feel, tight=True)
    line = heard_line(strokes_of(performance, faster=faster), 60, analysis, "x")
    assert share_found(line, performance) >= 0.97
    assert line.hearing.tempo_bpm == pytest.approx(96 * faster, rel=0.01)


@pytest.mark.parametrize("feel", ["straight eighths", "sixteenths"])
def test_a_player_whose_tempo_moves_is_followed(feel: str) -> None:
    # Faster by a sixth from the first bar to the last, evenly, by the rule for constant
    # acceleration: no steady grid has all of it.
    analysis, performance = bass_alone(feel, tight=True)
    strokes = [
        replace(stroke, sec=sec - 0.08 * sec * sec / 32, end_sec=None)
        for stroke in strokes_of(performance, late=0.5)
        if (sec := stroke.sec) < 31
    ]
    line = heard_line(strokes, 60, analysis, "x")
    assert share_found(line, performance) >= 0.97


@pytest.mark.parametrize("semitones", [0, 2])
def test_bars_that_are_given_are_followed_through_any_change_of_tempo(semitones: int) -> None:
    # The truth is the part and the tempo map that it was played by: each second bar goes half as
    # fast again, which no steady beat has.
    analysis, performance = bass_alone("straight eighths", tight=True)
    usual = performance.tempo_map.microseconds_at(0)
    changes = [
        TempoChange(bar.start_tick, usual * 2 // 3 if index % 2 else usual)
        for index, bar in enumerate(performance.bars)
    ]
    played = replace(performance, tempo_map=TempoMap(tuple(changes)))
    strokes = strokes_of(played, late=LATE_SEC, semitones=semitones)
    lines = [*(bar.start_tick for bar in played.bars), played.end_tick]
    given = GivenBars(
        secs=tuple(LATE_SEC + played.tempo_map.tick_to_sec(tick) for tick in lines),
        quarters=tuple(Fraction(tick, 960) for tick in lines),
        semitones=semitones,
    )
    line = heard_line(strokes, 60, analysis, "x", given)
    assert share_found(line, played) >= 0.97
    assert share_found(heard_line(strokes, 60, analysis, "x"), played) < 0.6
    assert line.hearing.first_bar_sec == pytest.approx(LATE_SEC, abs=0.001)
    assert line.hearing.semitones == semitones
    assert line.hearing.place_confidence == 1
    assert line.hearing.beat_confidence > 0.9
    # Two bars away, the notes say that they lie elsewhere.
    away = replace(given, quarters=tuple(at + 8 for at in given.quarters))
    assert heard_line(strokes, 60, analysis, "x", away).hearing.place_confidence < 0.5


@pytest.mark.parametrize("semitones", [-5.0, -1.0, 0.4, 2.0])
def test_strings_tuned_down_are_heard_beside_a_chart(semitones: float) -> None:
    analysis, performance = bass_alone("straight eighths", tight=True)
    strokes = told_apart(strokes_of(performance, semitones=semitones))
    line = heard_line(strokes, 60, analysis, "x")
    assert line.hearing.semitones == round(semitones)
    assert share_found(line, performance) >= 0.97
    said = " ".join(hearing_lines(line.hearing, studied(line).bars))
    assert ("half tone" in said) == (abs(semitones) >= 1)


def test_a_recording_of_the_end_alone_lies_on_the_end() -> None:
    analysis, performance = bass_alone("straight eighths", tight=True)
    strokes = strokes_of(performance)
    later = [stroke for stroke in strokes if stroke.sec > 1 + 8 * 4 * 60 / 96 - 0.1]
    line = heard_line(later, 60, analysis, "x")
    assert [frame.section for frame in line.frames] == ["chorus"] * 4
    assert line.hearing.first_bar_sec == pytest.approx(1, abs=0.05)


def test_what_lies_outside_the_chart_is_counted_and_left_out() -> None:
    analysis, performance = bass_alone("straight eighths", tight=True)
    strokes = strokes_of(performance, late=6.0)
    before = [replace(strokes[0], sec=0.5 + beat * 60 / 96, pitch=61.0) for beat in range(4)]
    line = heard_line([*before, *strokes], 60, analysis, "x")
    assert line.hearing.beyond == 4
    assert share_found(line, performance) >= 0.97


@pytest.mark.parametrize("feel", ["straight eighths", "sixteenths", "octaves", "ska"])
def test_a_steady_beat_and_its_bars_are_found_from_strokes(feel: str) -> None:
    _, performance = bass_alone(feel, seed=4)
    line = heard_line(strokes_of(performance), 60, None, "x")
    assert line.hearing.tempo_bpm == pytest.approx(96, rel=0.01)
    assert str(line.hearing.meter) == "4/4"
    bar = (line.hearing.first_bar_sec - 1) / (4 * 60 / 96)
    assert bar == pytest.approx(round(bar), abs=0.02)


def test_a_waltz_is_in_three() -> None:
    waltz = SONG.replace("key: G", "key: G\nmeter: 3/4").replace("Am7 D7 |", "Am7 |")
    performance = perform_analysis(analysed("waltz", waltz), LIBRARY, PerformOptions(seed=2))
    line = heard_line(strokes_of(performance), 60, None, "x")
    assert str(line.hearing.meter) == "3/4"
    assert line.hearing.first_bar_sec == pytest.approx(1, abs=0.03)


# --- unsure ----------------------------------------------------------------------------------


def even_strokes(count: int = 40) -> list[HeardStroke]:
    """Eighths at 100 on the open strings of C7, an ideal ear's."""
    pitches = (36, 36, 43, 43, 40, 40, 46, 46)
    return [
        HeardStroke(
            sec=1 + 0.3 * number,
            end_sec=1.25 + 0.3 * number,
            pitch=float(pitches[number // 2 % 8]),
            pitch_confidence=0.9,
            strength=0.95,
            level_db=-20.0,
        )
        for number in range(count)
    ]


def test_what_is_unsure_is_marked_with_its_place_and_nothing_is_made_of_it() -> None:
    strokes = even_strokes()
    strokes[8] = replace(strokes[8], pitch=None, pitch_confidence=0.0)
    strokes[17] = replace(strokes[17], strength=0.5)
    stopped = replace(strokes[20], sec=strokes[20].sec + 0.15, strength=0.5, is_soft=True)
    strokes.insert(21, stopped)
    line = heard_line(told_apart(strokes), 14, None, "x")
    assert len(line.notes) == len(strokes) - 2
    assert [(each.why, each.is_left_out) for each in line.hearing.unsure] == [
        (NO_PITCH, True), (WEAK, False), (MAYBE_STOPPED, True),
    ]  # fmt: skip
    study = studied(line)
    told = hearing_data(line.hearing, study.bars)["unsure"]
    # Counted by hand: eight eighths a bar from the first stroke on.
    assert isinstance(told, list)
    assert [(each["bar"], each["beat"]) for each in told] == [(2, 1.0), (3, 1.5), (3, 3.25)]
    said = hearing_lines(line.hearing, study.bars)
    assert "unsure: 1 stroke (no pitch heard), left out: bar 2" in said


def test_a_soft_stroke_without_a_tone_is_a_ghost_and_a_long_soft_one_is_a_note() -> None:
    strokes = even_strokes()
    strokes[9] = replace(strokes[9], is_soft=True, pitch=None, pitch_confidence=0.0)
    strokes[11] = replace(strokes[11], is_soft=True, end_sec=strokes[11].sec + 0.05)
    strokes[13] = replace(strokes[13], is_soft=True)
    line = heard_line(told_apart(strokes), 14, None, "x")
    assert [at for at, note in enumerate(line.notes) if note.is_ghost] == [9, 11]
    assert line.hearing.unsure == ()


def test_strokes_of_any_time_and_pitch_are_no_bass_and_said_to_be_none() -> None:
    rng = Random("talk")
    secs = sorted(rng.uniform(0, 30) for _ in range(100))
    talk = [
        HeardStroke(
            sec=sec,
            end_sec=None,
            pitch=rng.uniform(40, 60) if rng.random() < 0.4 else None,
            pitch_confidence=rng.uniform(0.3, 0.6),
            strength=rng.uniform(0.4, 0.9),
            level_db=rng.uniform(-30, -10),
            is_soft=False,
        )
        for sec in secs
    ]
    line = heard_line(told_apart(talk), 30, None, "x")
    assert "this hardly sounds like a bass alone: what follows is unsure" in hearing_lines(
        line.hearing, studied(line).bars
    )
    assert line.hearing.tempo_confidence < 0.5
    assert line.hearing.meter_confidence < 0.5


def test_half_an_hour_of_one_bar_is_drafted() -> None:
    # 3,240 quarters at 100 are 810 bars: more than a hundred sections of eight that are all one,
    # and a form counts to 99.
    bar = even_strokes()[:8:2]
    strokes = [
        replace(bar[number % 4], sec=1 + 0.6 * number, end_sec=1.5 + 0.6 * number)
        for number in range(3_240)
    ]
    line = heard_line(strokes, 1945, None, "x")
    assert len(line.frames) == 810
    assert "form: A x99, A x2" in line.draft


def test_too_few_strokes_and_none_with_a_pitch_are_one_error() -> None:
    with pytest.raises(RecordingError, match="7 strokes were heard in 14 s"):
        heard_line(even_strokes(7), 14, None, "x")
    toneless = [replace(s, pitch=None, pitch_confidence=0.0) for s in even_strokes()]
    with pytest.raises(RecordingError, match="none of 40 strokes has a pitch"):
        heard_line(toneless, 14, None, "x")


def test_silence_and_noise_are_one_error(tmp_path: Path) -> None:
    file = tmp_path / "take.wav"
    noise = numpy.random.default_rng(1).normal(0, 0.1, 8 * RATE_HZ)
    refused = []
    for sound in (numpy.zeros(8 * RATE_HZ), noise):
        soundfile.write(file, sound, RATE_HZ)
        with pytest.raises(GrooveError) as error:
            read_heard_line(str(file), None, "x")
        refused.append(str(error.value))
    assert "silent" in refused[0]
    assert "0 strokes were heard in 8 s" in refused[1]
