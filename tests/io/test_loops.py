"""A loop repeated by an outside tool is the song played on.

numpy.tile repeats it; the piece rendered ``--times 3`` is what it must equal.  At 97 beats a minute
four bars do not end on a block of 64 samples, on which FluidSynth strikes.
"""

from collections.abc import Sequence

import numpy
import pytest

from groove.cut import cut_bars, with_count_in
from groove.events import Part, Performance
from groove.io.loops import Pass, loop_samples, render_pass, repeated_samples
from groove.io.midi import midi_bytes
from groove.io.soundfont import choose_soundfont
from groove.io.synth import RenderedAudio, audio_samples
from groove.notebook import perform_chart

FONT = choose_soundfont(None, {}, None).path
CHART = """title: Four Bars
tempo: {tempo}
feel: sixteenths
verse:
| Em7 | A9 | Dmaj7 | Bm7 |
"""


def render(performance: Performance, seams: Sequence[int] = ()) -> RenderedAudio:
    return audio_samples(
        performance,
        font=FONT,
        part_midi=lambda part: midi_bytes(performance, parts=(part,)),
        seams=seams,
    )


@pytest.fixture(scope="module")
def made() -> tuple[Performance, Pass]:
    performance = perform_chart(CHART.format(tempo=97))
    return performance, render_pass(performance, render, led=with_count_in(performance))


@pytest.fixture(scope="module")
def loop(made: tuple[Performance, Pass]) -> RenderedAudio:
    return loop_samples(made[1])


@pytest.fixture(scope="module")
def thrice(made: tuple[Performance, Pass]) -> RenderedAudio:
    return repeated_samples(made[1], 3)


def test_three_loops_are_twelve_bars(
    made: tuple[Performance, Pass], loop: RenderedAudio, thrice: RenderedAudio
) -> None:
    """Within 0.01 at the seams, as is asked; the ring of the last stick of the count-in aside."""
    performance, one = made
    length = len(loop.mix)
    assert length == round(performance.length_sec * 44_100)
    played = thrice.mix[len(one.before.mix) :]
    tiled = numpy.tile(loop.mix, (3, 1))
    difference = numpy.abs(tiled - played[: 3 * length]).max(axis=1)
    assert difference[length:].max() < 0.01
    assert difference[:length].max() > 0.01  # nothing rings into the first pass


def test_a_loop_is_what_a_long_rendering_has_in_its_middle() -> None:
    """At 105 beats a minute a bar and its repetitions begin on blocks: nothing needs shifting."""
    performance = perform_chart(CHART.format(tempo=105).replace("| A9 | Dmaj7 | Bm7 ", ""))
    length = round(performance.length_sec * 44_100)
    assert length % 64 == 0
    loop = loop_samples(render_pass(performance, render, led=performance)).mix
    long = render(cut_bars(performance, range(1), 4)).mix
    assert numpy.abs(loop - long[2 * length : 3 * length]).max() < 0.005
    assert numpy.abs(loop - long[:length]).max() > 0.01  # nothing rings into the first pass


def test_bars_that_come_again_stand_alike(made: tuple[Performance, Pass]) -> None:
    """From a seam on, what is struck stands as far from it as from the first bar's beginning."""
    performance, one = made
    twice = cut_bars(performance, range(4), 2)
    second = round(one.frames / 64) * 64

    def difference(seams: tuple[int, ...]) -> float:
        drums = render(twice, seams).stems[Part.DRUMS]
        later = drums[second + 100_000 : second + one.frames] - drums[100_000 : one.frames]
        return float(numpy.abs(later).max())

    assert difference((performance.end_tick,)) < 0.01 < difference(())


def test_what_rings_over_has_no_stroke_of_the_next_pass(made: tuple[Performance, Pass]) -> None:
    """Five seconds after the bar line nothing of it is left, and no note struck since then."""
    _, one = made
    late = one.ringing.mix[5 * 44_100 : one.frames]
    assert len(late) > 4 * 44_100 and numpy.abs(one.ringing.mix).max() > 0.01
    assert numpy.abs(late).max() < 0.005


def test_nothing_jumps_at_the_seam(made: tuple[Performance, Pass]) -> None:
    """Without what is struck at its head, a loop goes on from its end as its ringing did."""
    _, one = made
    end = one.alone.mix[one.frames - 200 : one.frames]
    on = one.ringing.mix[:200]
    joined = numpy.concatenate([end, on]).sum(axis=1)
    steps = numpy.abs(numpy.diff(joined, 2))
    assert steps[195:205].max() <= 2 * numpy.delete(steps, slice(195, 205)).max()


def test_stems_add_up(loop: RenderedAudio, thrice: RenderedAudio) -> None:
    for sound in (loop, thrice):
        total = numpy.sum([*sound.stems.values()], axis=0)
        assert {Part.BASS, Part.DRUMS, Part.KEYS} <= set(sound.stems)
        assert numpy.abs(total - sound.mix).max() < 1e-5


def test_a_repeated_piece_has_its_count_in_and_its_end(
    made: tuple[Performance, Pass], thrice: RenderedAudio
) -> None:
    performance, one = made
    sound = thrice
    tail = len(one.alone.mix) - one.frames
    assert len(sound.mix) == len(one.before.mix) + 3 * one.frames + tail
    led = with_count_in(performance)
    assert len(one.before.mix) == pytest.approx(
        led.tempo_map.tick_to_sec(led.bars[1].start_tick) * 44_100, abs=32
    )
    assert numpy.array_equal(
        sound.mix[: len(one.before.mix)], render(led).mix[: len(one.before.mix)]
    )


def test_a_loop_shorter_than_its_ringing_is_folded_more_than_once() -> None:
    """A made pass: one click that rings on at a tenth, a loop of a hundred samples."""
    wave = numpy.full((350, 2), 0.1, numpy.float32)
    alone = RenderedAudio(sample_rate=44_100, mix=wave, stems={}, synthesizer="made")
    one = Pass(frames=100, before=alone.piece(0, 0), alone=alone, ringing=alone.piece(100))
    loop = loop_samples(one).mix[:, 0]
    assert loop.tolist() == pytest.approx([0.4] * 50 + [0.3] * 50)


def test_without_blocks_the_ringing_is_laid_as_it_is(monkeypatch: pytest.MonkeyPatch) -> None:
    """As with the fallback, which does not say where it strikes."""
    performance = perform_chart(CHART.format(tempo=120))
    calls = []

    def unsure(played: Performance, seams: Sequence[int]) -> RenderedAudio:
        calls.append(played)
        wave = numpy.ones((44_100 * 10, 2), numpy.float32)
        return RenderedAudio(
            sample_rate=44_100, mix=wave, stems={}, synthesizer="made", strikes_on_blocks=False
        )

    one = render_pass(performance, unsure, led=performance)
    assert len(calls) == 1
    assert loop_samples(one).mix[:, 0].tolist() == [2.0] * 88_200 + [1.0] * (352_800 - 88_200)
