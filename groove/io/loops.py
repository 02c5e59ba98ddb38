"""Bars that are repeated: a loop for a player, and a piece that is played some times over.

A loop ends on its bar line to the sample, and what rings after it is laid into its head: repeated,
it sounds as played through.  A synthesizer strikes on blocks of samples (``BLOCK_FRAMES``), and a
bar line seldom falls on one.  So two passes are rendered, the second a whole number of blocks after
the first, and one alone; the difference is what rings over from the first into the second, ended
where a string, a drum or a key is struck again.  That can be laid at any sample without a jump.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from groove.cut import cut_bars
from groove.events import Performance
from groove.io.fluid_synth import sample_memory
from groove.io.synth import RenderedAudio, block_frame

if TYPE_CHECKING:
    from groove.arrays import Samples

Render = Callable[[Performance, Sequence[int]], RenderedAudio]
"""Returns the sound of a performance; from each of the ticks on, frames are counted anew."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Pass:
    """One pass of some bars: ``frames`` from bar line to bar line, its sound, and its ringing.

    ``before`` is the count-in, empty where there is none; ``alone`` is the pass with what rings
    after it; ``ringing`` is what rings after its end while the next pass is played.
    """

    frames: int
    before: RenderedAudio
    alone: RenderedAudio
    ringing: RenderedAudio


def render_pass(performance: Performance, render: Render, *, led: Performance) -> Pass:
    """Return a performance as a pass that can be repeated; ``led`` is the same with its count-in.

    Where the synthesizer does not strike on blocks, what rings is not ended by later strikes.
    """
    count_tick = led.end_tick - performance.end_tick
    whole = render(led, (count_tick,))
    rate = whole.sample_rate
    count_sec = led.tempo_map.tick_to_sec(count_tick)
    sec = performance.length_sec
    frames = round(sec * rate)
    if not whole.strikes_on_blocks:
        start = round(count_sec * rate)
        alone = whole.piece(start)
        return Pass(
            frames=frames, before=whole.piece(0, start), alone=alone, ringing=alone.piece(frames)
        )
    start, second = block_frame(count_sec, rate), block_frame(sec, rate)
    alone = whole.piece(start)
    twice = cut_bars(performance, range(len(performance.bars)), 2)
    both = render(twice, (performance.end_tick,))

    def ringing(two: "Samples", one: "Samples") -> "Samples":
        rest = two.copy(order="K")
        rest[second : second + len(one)] -= one[: len(rest) - second]
        return rest[frames:]

    return Pass(
        frames=frames,
        before=whole.piece(0, start),
        alone=alone,
        ringing=_each(ringing, both, alone),
    )


def loop_samples(one: Pass) -> RenderedAudio:
    """Return the pass as a loop: exactly its bars, what rings after them laid into its head."""

    def folded(alone: "Samples", ringing: "Samples") -> "Samples":
        loop = alone[: one.frames].copy(order="K")
        for start in range(0, len(ringing), one.frames):
            over = ringing[start : start + one.frames]
            loop[: len(over)] += over
        return loop

    return _each(folded, one.alone, one.ringing)


def repeated_samples(one: Pass, times: int) -> RenderedAudio:
    """Return the pass ``times`` over, its count-in before it, and what rings after the last."""

    def laid(alone: "Samples", ringing: "Samples") -> "Samples":
        total = sample_memory(alone.shape[1], (times - 1) * one.frames + len(alone)).T
        for start in range(0, times * one.frames, one.frames):
            is_last = start == (times - 1) * one.frames
            own = alone if is_last else alone[: one.frames]
            total[start : start + len(own)] += own
            if start:
                over = ringing[: len(total) - start]
                total[start : start + len(over)] += over
        return total

    def joined(before: "Samples", after: "Samples") -> "Samples":
        import numpy

        return numpy.concatenate([before.T, after.T], axis=1).T

    return _each(joined, one.before, _each(laid, one.alone, one.ringing))


def _each(
    work: "Callable[[Samples, Samples], Samples]", first: RenderedAudio, second: RenderedAudio
) -> RenderedAudio:
    """Return the work done on the mix and on every stem; a click may stand in the first alone."""
    nothing = first.mix[:0]
    stems = {
        part: work(stem, second.stems.get(part, nothing)) for part, stem in first.stems.items()
    }
    return replace(first, mix=work(first.mix, second.mix), stems=stems)
