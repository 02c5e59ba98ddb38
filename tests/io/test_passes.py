"""Passes of a practice track in its sound: in time to the sample, without a jump between them.

Onsets are read from the samples: the font of the first test strikes with its loudest sample first
(see ``tests.click_font``).
"""

from collections.abc import Callable
from fractions import Fraction
from pathlib import Path

import numpy
import pytest

from groove.errors import SoundError
from groove.events import Part, Performance
from groove.io.midi import midi_bytes
from groove.io.passes import passes_audio
from groove.io.soundfont import choose_soundfont
from groove.io.synth import RenderedAudio, audio_samples
from groove.practice.exercises import chosen_loop
from groove.practice.ladder import Ladder
from groove.practice.track import DropOut, PracticeTrack, Sounding
from tests.click_font import CLICK_FRAMES, click_font
from tests.practice.practising import played_at, tracks_of

CHART = "title: Held\ntempo: 97\nfills: none\nverse:\nbass: long notes\nkeys: out\n| E | A |\n"
RATE = 44_100
BEAT_SEC = 60 / 97
TICK_SEC = BEAT_SEC / 960


def track_of(times: int, sounding: Sounding) -> PracticeTrack:
    """Return two bars at their own tempo, some times."""
    loop = chosen_loop(played_at(CHART)(Fraction(100)), ("verse",), None)
    ladder = Ladder(bottom=Fraction(100), times=times)
    (track,) = tracks_of(CHART, loop, ladder, bpm=97, sounding=sounding)
    return track


def render_with(font: Path) -> Callable[[Performance], RenderedAudio]:
    """Return what makes the sound of a pass with a soundfont."""

    def render(one: Performance) -> RenderedAudio:
        return audio_samples(
            one, font=font, part_midi=lambda p: midi_bytes(one, parts=(p,)), with_stems=False
        )

    return render


def test_passes_begin_within_a_tick_and_the_click_is_silent_in_its_bars(tmp_path: Path) -> None:
    """Twelve passes, of which the last bar has no click: 36 bars of four beats at 97 a minute."""
    font = tmp_path / "click.sf2"
    font.write_bytes(click_font())
    sounding = Sounding(parts=frozenset({Part.CLICK}), drop_out=DropOut(1, 2))
    track = track_of(12, sounding)
    made: list[Performance] = []

    def render(one: Performance) -> RenderedAudio:
        made.append(one)
        return render_with(font)(one)

    mix = passes_audio(track.passes, render).mix
    assert len(made) == 2  # the first pass, and one for all that are like the second
    loud = numpy.concatenate([numpy.zeros(500), numpy.abs(mix).max(axis=1)])
    bar = 4 * BEAT_SEC * RATE
    latency = numpy.flatnonzero(loud[500:] > 0.01)[0]  # the synthesizer's own, of every stroke
    for number in range(12):
        due = 500 + 3 * number * bar
        found = numpy.flatnonzero(loud[round(due) - 500 : round(due) + 1000] > 0.01)[0] - 500
        assert abs(found - latency) <= TICK_SEC * RATE
        silent = loud[round(due + 2 * bar) - 100 : round(due + 3 * bar) - 100]
        assert silent.max() == 0 and len(silent) > RATE
        # The bar before has its four strokes.
        sounding_bar = loud[round(due + bar) - 100 : round(due + 2 * bar) - 100] > 0.01
        starts = numpy.flatnonzero(numpy.diff(sounding_bar.astype(int)) == 1)
        assert len(starts) == 4
    assert latency < 64 and CLICK_FRAMES < BEAT_SEC * RATE / 4


def test_nothing_jumps_where_a_pass_ends() -> None:
    """Held notes end on the bar line; a jump there would be a click of its own, so the step from
    sample to sample in the last milliseconds before each seam is no larger than while they sound.
    """
    sounding = Sounding(parts=frozenset({Part.BASS}), bass_always=True)
    track = track_of(3, sounding)
    font = choose_soundfont(None, {}, None).path
    mix = passes_audio(track.passes, render_with(font)).mix
    steps = numpy.abs(numpy.diff(mix, axis=0)).max(axis=1)
    bar = 4 * BEAT_SEC * RATE
    usual = numpy.quantile(steps[round(1.5 * bar) : round(1.9 * bar)], 0.999)
    assert usual > 0
    seams = [round(3 * n * bar) for n in (1, 2)]
    assert all(steps[seam - 400 : seam - 2].max() <= usual for seam in seams)
    # What rings at the end of a pass sounds on under the next, and nothing else is there.
    alone = render_with(font)(track.passes[0]).mix
    rest = mix[seams[0] : seams[0] + RATE] - alone[:RATE]
    assert numpy.abs(rest - alone[seams[0] : seams[0] + RATE]).max() < 1e-6
    assert numpy.abs(rest).max() > 1e-5
    # The fade of a rendering's end lies two seconds after its last note: it is no jump either.
    ends = [seam + 2 * RATE for seam in seams]
    assert all(steps[end - 400 : end + 400].max() <= 2 * usual for end in ends)


def test_an_hour_in_one_track_is_refused() -> None:
    track = track_of(1, Sounding(parts=frozenset({Part.CLICK})))
    with pytest.raises(SoundError, match="minutes are too long for one track") as refused:
        passes_audio(track.passes * 500, lambda one: pytest.fail("rendered"))
    assert "a folder has a file for each tempo" in refused.value.hint
