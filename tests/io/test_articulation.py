"""Slurs, slides, bends and vibrato in files and in sound.

Messages are judged by the *MIDI 1.0 Detailed Specification* (pitch bend: 14 bits, 8192 the centre,
full value the range of registered parameter 0, in semitones; controllers 1, 6, 38, 68, 100, 101),
read back by mido; sound by its pitch, found by autocorrelation with numpy.
"""

import io
from typing import NamedTuple

import mido
import numpy
import pytest

from groove.cells.model import Library
from groove.events import Part, Performance
from groove.io.midi import midi_bytes
from groove.io.soundfont import choose_soundfont
from groove.io.synth import audio_samples
from groove.pipeline import PerformOptions, perform_chart
from tests.arrange.tabs import tab_rows

HEAD = "tempo: 60\nkey: D\nfills: none\ndrums: out\nkeys: out\nverse:\n"
SLURS = {"D": {0: "5=======", 4: "h7=======", 8: "p5=======", 12: "5======="}}
BENDS = {"A": {0: "7b9========", 8: "7~========", 13: "5="}}
SLIDES = {"A": {0: "5=======", 4: "/9=======", 8: "\\5======", 12: "/7====="}}
PLAIN = {"A": {0: "5=======", 4: "x", 8: "<12>===="}}
A_SECOND = 960
FONT = choose_soundfont(None, {}, None).path


class Heard(NamedTuple):
    """A start of a note, and what holds at it: bend in semitones, legato, modulation."""

    tick: int
    pitch: int
    bend: float
    legato: int
    modulation: int


def played(library: Library, *bars: dict[str, dict[int, str]], head: str = "") -> Performance:
    """Return what is played of bars of tab at 60 quarters a minute, 960 ticks a second."""
    line = "|" + " D |" * len(bars)
    text = f"{head}{HEAD}{line}\n{tab_rows(*bars)}\n"
    return perform_chart(text, library, PerformOptions(tight=True))


def track_of(performance: Performance) -> mido.MidiTrack:
    """Return the bass's track."""
    data = midi_bytes(performance, parts=(Part.BASS,))
    return mido.MidiFile(file=io.BytesIO(data)).tracks[1]


def messages(performance: Performance) -> tuple[list[Heard], list[tuple[int, float]]]:
    """Return the starts of notes and all bends as a receiver would have them, by tick."""
    now, bend, span = 0, 0.0, 2.0
    controllers = dict.fromkeys((1, 6, 68, 100, 101), 127)
    controllers.update({1: 0, 68: 0})
    starts, bends = [], []
    for message in track_of(performance):
        now += message.time
        if message.type == "control_change":
            controllers[message.control] = message.value
            if message.control == 6 and (controllers[100], controllers[101]) == (0, 0):
                span = message.value
        elif message.type == "pitchwheel":
            bend = message.pitch / 8192 * span
            bends.append((now, bend))
        elif message.type == "note_on" and message.velocity:
            starts.append(Heard(now, message.note, bend, controllers[68], controllers[1]))
    return starts, bends


def at(bends: list[tuple[int, float]], tick: int) -> float:
    """Return the bend that holds at a tick, with all that stands there."""
    return [semitones for when, semitones in bends if when <= tick][-1]


def test_the_range_is_told_before_anything_sounds(library: Library) -> None:
    """Registered parameter 0 is chosen, given its range, and let go (127, 127)."""
    told = []
    for message in track_of(played(library, BENDS)):
        if message.type == "note_on":
            break
        if message.type == "control_change" and message.control in (6, 38, 100, 101):
            told.append((message.control, message.value))
    assert told[:2] == [(101, 0), (100, 0)] and told[-2:] == [(101, 127), (100, 127)]
    assert told[2:4] == [(6, 24), (38, 0)]


def test_a_line_without_bends_says_nothing_of_them(library: Library) -> None:
    kinds = {m.type for m in track_of(played(library, PLAIN))}
    assert "pitchwheel" not in kinds and "note_on" in kinds


def test_a_slurred_note_is_softer_legato_and_overlaps(library: Library) -> None:
    """Controller 68 is down at the start of a slurred note, and the note before still sounds."""
    performance = played(library, SLURS)
    starts, _ = messages(performance)
    assert [(s.pitch, s.legato) for s in starts] == [(43, 0), (45, 127), (43, 127), (43, 0)]
    assert [s.tick for s in starts] == [0, A_SECOND, 2 * A_SECOND, 3 * A_SECOND]
    now, sounding, counts = 0, 0, []
    for message in track_of(performance):
        now += message.time
        if message.type == "note_on" and message.velocity:
            counts.append(sounding)
        sounding += {"note_on": 1, "note_off": -1}.get(message.type, 0)
    assert counts == [0, 1, 1, 0] and sounding == 0
    velocities = [m.velocity for m in track_of(performance) if m.type == "note_on"]
    assert max(velocities[1:3]) < min(velocities[0], velocities[3])


def test_a_bend_reaches_its_fret_and_is_gone_before_the_next_stroke(library: Library) -> None:
    """From fret 7 to where fret 9 sounds are two semitones."""
    starts, bends = messages(played(library, BENDS))
    assert [s.pitch for s in starts] == [40, 40, 38] and [s.bend for s in starts] == [0, 0, 0]
    assert at(bends, A_SECOND // 2) == pytest.approx(2, abs=0.01)
    assert at(bends, 1320) == pytest.approx(2, abs=0.01)
    assert min(semitones for _, semitones in bends) == 0


def test_vibrato_is_modulation_while_the_note_sounds(library: Library) -> None:
    starts, _ = messages(played(library, BENDS))
    assert [s.modulation > 0 for s in starts] == [False, True, False]


def test_a_slide_arrives_where_the_next_note_stands(library: Library) -> None:
    """Frets 5, 9, 5: four semitones up, four down; the last one comes from nowhere, from below."""
    starts, bends = messages(played(library, SLIDES))
    assert [s.pitch for s in starts] == [38, 42, 38, 40]
    assert [s.bend for s in starts[:3]] == [0, 0, 0]
    before = [semitones for tick, semitones in bends if tick == A_SECOND]
    assert before[0] == pytest.approx(4, abs=0.01) and before[-1] == 0
    down = [semitones for tick, semitones in bends if tick == 2 * A_SECOND]
    assert down[0] == pytest.approx(-4, abs=0.01) and down[-1] == 0
    rising = [semitones for tick, semitones in bends if 0 < tick <= A_SECOND]
    assert rising[:-1] == sorted(rising[:-1]) and len(rising) > 10


def sounded(library: Library, *bars: dict[str, dict[int, str]]) -> tuple["numpy.ndarray", int]:
    """Return the bass's stem and its sample rate."""
    performance = played(library, *bars)
    audio = audio_samples(performance, font=FONT, part_midi=lambda _: midi_bytes(performance))
    return audio.stems[Part.BASS].mean(axis=1).astype(float), audio.sample_rate


def cents_off(samples: "numpy.ndarray", rate: int, sec: float, pitch: int) -> float:
    """Return how far half a second of sound is from a pitch (A4 = 440 Hz), in cents."""
    wanted = 440 * 2 ** ((pitch - 69) / 12)
    window = samples[int(sec * rate) : int((sec + 0.5) * rate)]
    window = (window - window.mean()) * numpy.hanning(len(window))
    size = 4 * len(window)
    spectrum = abs(numpy.fft.rfft(window, size)) ** 2
    lags = numpy.fft.irfft(spectrum)[: len(window)]
    first, last = int(rate / wanted / 1.12), int(rate / wanted * 1.12)
    peak = first + int(numpy.argmax(lags[first:last]))
    low, top, high = lags[peak - 1 : peak + 2]
    exact = peak + (low - high) / (2 * (low - 2 * top + high))
    return float(1200 * numpy.log2(rate / exact / wanted))


HEARD = [
    (SLURS, [(0.3, 43), (1.3, 45), (2.3, 43), (3.3, 43)]),
    (BENDS, [(0.4, 42)]),
    (SLIDES, [(0.3, 38), (1.3, 42), (2.3, 38), (3.2, 40)]),
    (PLAIN, [(0.3, 38), (2.3, 45)]),
]


def test_what_is_heard_reaches_its_pitch_within_ten_cents(library: Library) -> None:
    compared = 0
    for bar, places in HEARD:
        samples, rate = sounded(library, bar)
        for sec, pitch in places:
            assert abs(cents_off(samples, rate, sec, pitch)) < 10, (bar, sec)
            compared += 1
    assert compared == 11


def test_slurs_and_slides_are_heard_as_one_stroke(library: Library) -> None:
    """A stroke makes the level leap; where only the fretting hand moves it goes on falling."""
    for bar, slurred, struck in ((SLURS, (1, 2), 3), (SLIDES, (1, 2), 0)):
        samples, rate = sounded(library, bar)

        def leap(sec: float, samples: "numpy.ndarray" = samples, rate: int = rate) -> float:
            before = samples[max(0, int((sec - 0.05) * rate)) : int(sec * rate)]
            after = samples[int((sec + 0.01) * rate) : int((sec + 0.06) * rate)]
            return float(numpy.sqrt((after**2).mean()) / max(1e-9, numpy.sqrt((before**2).mean())))

        assert [leap(sec) < 1.5 for sec in slurred] == [True, True]
        assert not struck or leap(struck) > 3


def test_a_slide_of_a_riff_is_one_stroke_too(library: Library) -> None:
    """Root D2, a slide into its fifth A2: seven half steps, and the root held until then."""
    text = f"riff glide:\n  R - s5 -\n{HEAD}  bass: glide\n| D | D |\n"
    performance = perform_chart(text, library, PerformOptions(tight=True))
    starts, bends = messages(performance)
    assert [(s.tick, s.pitch, s.legato) for s in starts[:2]] == [(0, 38, 0), (1920, 45, 127)]
    before = [semitones for tick, semitones in bends if tick == 1920]
    assert before[0] == pytest.approx(7, abs=0.01) and before[-1] == 0


def test_a_slide_from_nowhere_comes_from_below(library: Library) -> None:
    """On a string that nothing was played on: from a whole step, which is gone in a moment."""
    starts, bends = messages(played(library, {"E": {0: "5==="}, "A": {8: "/7====="}}))
    assert (starts[1].pitch, starts[1].legato) == (40, 0)
    own = [semitones for tick, semitones in bends if tick >= starts[1].tick]
    assert min(own) == pytest.approx(-2, abs=0.01) and at(bends, starts[1].tick + 200) == 0
