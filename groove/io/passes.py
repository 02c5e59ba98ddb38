"""Passes of a practice track laid one after the other, each at its own sample.

A synthesizer strikes on blocks of samples (``BLOCK_FRAMES``), and a track of many passes would
drift against its own tempo by what each of them is rounded.  So every pass that differs is rendered
alone, from silence to silence, and added where it is due: beside each other nothing jumps, what
rings at the end of one sounds on under the next, and passes that are alike cost one rendering.
"""

import dataclasses
from collections.abc import Callable, Sequence
from itertools import accumulate

from groove.errors import SoundError
from groove.events import Performance
from groove.io.fluid_synth import sample_memory
from groove.io.synth import MOST_SOUND_SEC, RenderedAudio


def passes_audio(
    passes: Sequence[Performance], render: Callable[[Performance], RenderedAudio]
) -> RenderedAudio:
    """Return the sound of passes one after the other; it has no stems.

    ``render`` is called once for each value among them.  Raises ``SoundError`` for more than an
    hour in one track.
    """
    lengths_sec = [one.length_sec for one in passes]
    starts_sec = [0.0, *accumulate(lengths_sec)]
    if starts_sec[-1] > MOST_SOUND_SEC:
        raise SoundError(
            f"{starts_sec[-1] / 60:.0f} minutes are too long for one track",
            hint="a folder has a file for each tempo: -o drill/ --as wav",
        )
    made: dict[int, RenderedAudio] = {}
    for one in passes:
        if id(one) not in made:
            made[id(one)] = render(one)
    sounds = [made[id(one)] for one in passes]
    rate = sounds[0].sample_rate
    starts = [round(sec * rate) for sec in starts_sec[:-1]]
    frames = max(start + len(sound.mix) for start, sound in zip(starts, sounds, strict=True))
    total = sample_memory(2, frames).T
    for start, sound in zip(starts, sounds, strict=True):
        total[start : start + len(sound.mix)] += sound.mix
    return dataclasses.replace(sounds[0], mix=total, stems={})
