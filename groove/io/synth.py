"""A performance becomes samples: the mix, and a stem for each part, from one pass.

Samples are float32 of shape (frames, 2), full scale 1.0, before any levelling.  The mix is the
sum of its stems, so a track without the bass is the sum that leaves that stem out, and a player
hears in it exactly what the full mix has less the bass.
"""

import dataclasses
import shutil
import sys
from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass
from importlib.util import find_spec
from pathlib import Path
from typing import TYPE_CHECKING

from msgspec.structs import replace

from groove.articulation import Controller, Gesture, gestures, slurs
from groove.errors import SoundError
from groove.events import KIT_PARTS, Note, Part, Performance
from groove.io.fallback_synth import fallback_version, render_tones
from groove.io.fluid_synth import (
    BLOCK_FRAMES,
    Action,
    ChannelPreset,
    Strike,
    fluidsynth_version,
    render_groups,
    sample_memory,
)
from groove.io.soundfont import KIT_BANK, read_presets, require_presets
from groove.mixing import PART_MIX
from groove.timing import TempoMap

if TYPE_CHECKING:
    from groove.arrays import Samples

SAMPLE_RATE_HZ = 44_100
TAIL_SEC = 2.0
"""How long the last notes may ring (common practice, no source)."""

_FADE_SEC = 0.1
_PROBE_SEC = 1.0
_SUM_FRAMES = 16_384
MOST_SOUND_SEC = 3600.0
"""A longer performance is refused: an hour with stems already fills 5 GB of memory."""


@dataclass(frozen=True, kw_only=True, eq=False)
class RenderedAudio:
    """What a synthesizer made of a performance.

    ``mix`` and each of ``stems`` have shape (frames, 2); ``stems`` is empty if none were asked
    for.  ``synthesizer`` names who rendered; ``notice`` is empty, or says that it was not the
    usual one and what would bring that.  ``sample_rate`` may differ from the one asked for.
    ``strikes_on_blocks`` says that every onset stands on a multiple of ``BLOCK_FRAMES``.
    """

    sample_rate: int
    mix: "Samples"
    stems: "Mapping[Part, Samples]"
    synthesizer: str
    notice: str = ""
    strikes_on_blocks: bool = True

    def parts_mix(self, parts: Collection[Part]) -> "Samples":
        """Return the sum of the stems of these parts, or silence if none of them plays."""
        chosen = [stem for part, stem in self.stems.items() if part in parts]
        return _sum(chosen) if chosen else self.mix * 0

    def piece(self, start: int, end: int | None = None) -> "RenderedAudio":
        """Return the frames from ``start`` up to ``end``, or to the last."""
        stems = {part: stem[start:end] for part, stem in self.stems.items()}
        return dataclasses.replace(self, mix=self.mix[start:end], stems=stems)

    def shaped(self, curve: "Samples") -> "RenderedAudio":
        """Return it with every frame multiplied by its own number; ``curve`` has shape (frames,).

        Stems still add up to the mix.
        """
        column = curve[:, None]
        stems = {part: stem * column for part, stem in self.stems.items()}
        return dataclasses.replace(self, mix=self.mix * column, stems=stems)

    def __repr__(self) -> str:
        """Return how long it is and who made it, not every sample."""
        seconds = len(self.mix) / self.sample_rate
        return f"<RenderedAudio {seconds:.1f} s at {self.sample_rate} Hz by {self.synthesizer}>"


@dataclass(frozen=True, slots=True, kw_only=True)
class SynthesizerStatus:
    """One synthesizer on this machine: its version, or None and the command that brings it."""

    name: str
    version: str | None
    cure: str


def synthesizers() -> tuple[SynthesizerStatus, ...]:
    """Return what can render here, the first choice first."""
    return (
        SynthesizerStatus(name="FluidSynth", version=fluidsynth_version(), cure=_fluidsynth_cure()),
        SynthesizerStatus(
            name="midirenderer", version=fallback_version(), cure="pip install midirenderer"
        ),
    )


def _fluidsynth_cure() -> str:
    if find_spec("fluidsynth") is None:
        return "pip install pyfluidsynth"
    if sys.platform == "darwin":
        return "brew install fluid-synth"
    if sys.platform == "win32":
        return "choco install fluidsynth"
    managers = {
        "apt-get": "apt-get install libfluidsynth3",
        "dnf": "dnf install fluidsynth-libs",
        "pacman": "pacman -S fluidsynth",
    }
    return next(
        (cure for tool, cure in managers.items() if shutil.which(tool)), managers["apt-get"]
    )


def audio_samples(
    performance: Performance,
    *,
    font: Path,
    part_midi: Callable[[Part], bytes],
    sample_rate: int = SAMPLE_RATE_HZ,
    with_stems: bool = True,
    with_mix: bool = True,
    progress: Callable[[float], None] | None = None,
    seams: Sequence[int] = (),
) -> RenderedAudio:
    """Render a performance with a soundfont, and let the last notes ring for two seconds.

    ``part_midi`` gives one part as the bytes of a MIDI file; it is called only where the
    FluidSynth library is missing and the fallback renders.  Without stems the mix is made faster
    and is the same to within 1e-6; who wants the stems alone may do without the mix, which then
    need not be there.  ``progress`` is told the share done, 0 to 1.  At each of the
    ticks ``seams`` FluidSynth's blocks are counted anew, so that bars which come again stand alike.

    Raises ``SoundError`` if there is no synthesizer, the font cannot be read or lacks a part's
    sound, a part that has notes would be silent, or the song lasts over an hour.
    """
    parts = performance.parts
    voices = {part: _voice(part, dict(performance.programs)) for part in parts}
    needed = {part: (voice.bank, voice.program) for part, voice in voices.items()}
    require_presets(font, read_presets(font), needed)
    if _sounding_sec(performance) > MOST_SOUND_SEC:
        raise SoundError(
            f"{_sounding_sec(performance) / 60:.0f} minutes are too long to render as audio",
            hint=f"cut it to {MOST_SOUND_SEC / 60:.0f} minutes with --sections, --bars or --times",
        )
    if fluidsynth_version() is not None:
        blocks = _Blocks(performance.tempo_map, sample_rate, seams)
        return _with_fluidsynth(
            performance, voices, font, blocks, with_stems, progress, with_mix=with_mix
        )
    if fallback_version() is not None:
        return _with_fallback(performance, font, part_midi, progress)
    raise SoundError(
        "there is no synthesizer on this machine, so no audio can be made",
        hint=" or ".join(status.cure for status in synthesizers()),
    )


def _sounding_sec(performance: Performance) -> float:
    last_tick = max([performance.end_tick, *(note.end_tick for note in performance.notes)])
    return performance.tempo_map.tick_to_sec(last_tick)


def _total_frames(performance: Performance, sample_rate: int) -> int:
    """Return the frames of the song and its tail, in whole blocks."""
    frames = (_sounding_sec(performance) + TAIL_SEC) * sample_rate
    return (int(frames) // BLOCK_FRAMES + 1) * BLOCK_FRAMES


def _voice(part: Part, programs: Mapping[Part, int]) -> ChannelPreset:
    mix = PART_MIX[part]
    bank = KIT_BANK if part in KIT_PARTS else 0
    return ChannelPreset(bank=bank, program=programs.get(part, 0), level=mix.level, pan=mix.pan)


def _with_fluidsynth(
    performance: Performance,
    voices: Mapping[Part, ChannelPreset],
    font: Path,
    blocks: "_Blocks",
    with_stems: bool,
    progress: Callable[[float], None] | None,
    *,
    with_mix: bool,
) -> RenderedAudio:
    # Channels are counted from 0 in score order: as many groups as parts is the cheapest way to
    # stems (with MIDI's own channels 1, 2, 9 and 10 it would take five groups and half as long
    # again).  A kit sounds on any channel, because bank 128 is chosen outright.
    channels = {part: channel for channel, part in enumerate(voices)}
    ordered = list(voices.values())
    sample_rate = blocks.sample_rate
    _refuse_silent(performance, channels, ordered, font, sample_rate)
    groups = render_groups(
        _strikes(performance, channels, blocks),
        ordered,
        font=font,
        sample_rate=sample_rate,
        frames=_total_frames(performance, sample_rate),
        groups=max(1, len(voices)) if with_stems else 1,
        progress=progress,
    )
    _fade_end(groups, sample_rate)
    planes = [group.T for group in groups]
    return RenderedAudio(
        sample_rate=sample_rate,
        mix=_sum(planes) if with_mix else _silence(0),
        stems=dict(zip(channels, planes, strict=True)) if with_stems and voices else {},
        synthesizer=f"FluidSynth {fluidsynth_version()}",
    )


def _strikes(
    performance: Performance, channels: Mapping[Part, int], blocks: "_Blocks"
) -> list[Strike]:
    """Return onsets and ends on whole blocks; a note ends where its own pitch is struck again.

    One stroke sounds on through the notes that are slurred to it, bent to their pitches.
    """
    bass = performance.part_notes(Part.BASS)
    made = gestures(bass, performance.tempo_map, strikes_slurs=False)
    strikes = _gesture_strikes(made, channels, blocks) if made else []
    next_onset: dict[tuple[int, int], int] = {}
    for note in reversed(_struck(performance, bass) if made else performance.notes):
        channel = channels[note.part]
        onset = blocks.frame(note.onset_tick)
        end = max(blocks.frame(note.end_tick), onset + BLOCK_FRAMES)
        end = min(end, next_onset.get((channel, note.pitch), end))
        next_onset[channel, note.pitch] = onset
        strikes.append(Strike(onset, Action.ONSET, channel, note.pitch, note.velocity))
        strikes.append(Strike(end, Action.END, channel, note.pitch, 0))
    return sorted(strikes)


def _struck(performance: Performance, bass: Sequence[Note]) -> list[Note]:
    """Return the notes that are struck, each as long as all that is slurred to it."""
    ends: dict[int, int] = {}
    for slur in reversed(slurs(bass)):
        after = bass[slur.after]
        ends[id(bass[slur.before])] = ends.pop(id(after), after.end_tick)
    slurred = {id(bass[slur.after]) for slur in slurs(bass)}
    return [
        replace(note, length_ticks=ends.get(id(note), note.end_tick) - note.onset_tick)
        for note in performance.notes
        if id(note) not in slurred
    ]


def _gesture_strikes(
    made: Sequence[Gesture], channels: Mapping[Part, int], blocks: "_Blocks"
) -> list[Strike]:
    """Return pitch bends and controllers on whole blocks; of several in a block the last."""
    channel = channels[Part.BASS]
    last: dict[tuple[int, Controller | None], int] = {}
    for gesture in made:
        frame = blocks.frame(gesture.tick)
        last[frame, gesture.controller] = gesture.value
    return [
        Strike(frame, Action.BEND, channel, 0, value)
        if controller is None
        else Strike(frame, Action.CONTROL, channel, controller, value)
        for (frame, controller), value in last.items()
    ]


def block_frame(sec: float, sample_rate: int) -> int:
    """Return the frame nearest to a second at which FluidSynth can strike."""
    return round(sec * sample_rate / BLOCK_FRAMES) * BLOCK_FRAMES


class _Blocks:
    """Where ticks fall on the blocks, counted anew from every seam."""

    def __init__(self, tempo_map: TempoMap, sample_rate: int, seams: Sequence[int]) -> None:
        """Begin at tick 0; ``seams`` are ticks in rising order."""
        self.sample_rate = sample_rate
        self._second = tempo_map.tick_to_sec
        self._starts = [(0, 0.0, 0)]
        for tick in seams:
            self._starts.append((tick, self._second(tick), self.frame(tick)))

    def frame(self, tick: int) -> int:
        """Return the frame at which what falls on a tick is struck."""
        _, start_sec, start_frame = next(
            start for start in reversed(self._starts) if start[0] <= max(tick, 0)
        )
        return start_frame + block_frame(self._second(tick) - start_sec, self.sample_rate)


def _refuse_silent(
    performance: Performance,
    channels: Mapping[Part, int],
    voices: Sequence[ChannelPreset],
    font: Path,
    sample_rate: int,
) -> None:
    """Strike every pitch of every part once, all at the same time, and look for a silent part.

    Float samples of a part without a sound are exactly 0.0.
    """
    if not channels:
        return
    firsts = {(note.part, note.pitch): note.velocity for note in reversed(performance.notes)}
    groups = render_groups(
        sorted(
            Strike(0, Action.ONSET, channels[part], pitch, velocity)
            for (part, pitch), velocity in firsts.items()
        ),
        voices,
        font=font,
        sample_rate=sample_rate,
        frames=int(_PROBE_SEC * sample_rate) // BLOCK_FRAMES * BLOCK_FRAMES,
        groups=len(voices),
    )
    for part, channel in channels.items():
        if not groups[channel].any():
            raise _silent(part, font)


def _silent(part: Part, font: Path) -> SoundError:
    return SoundError(
        f"silent part: {part} has notes, but the soundfont {font} has no sound for any of them",
        hint=f"use a General MIDI font, or leave the part out: --without {part}",
    )


def _with_fallback(
    performance: Performance,
    font: Path,
    part_midi: Callable[[Part], bytes],
    progress: Callable[[float], None] | None,
) -> RenderedAudio:
    """Render part by part: the fallback knows no stems, and its own mix would not be their sum."""
    font_bytes = font.read_bytes()
    stems: dict[Part, Samples] = {}
    sample_rate = SAMPLE_RATE_HZ
    for part in performance.parts:
        samples, sample_rate = render_tones(part_midi(part), font_bytes)
        if not samples.any():
            raise _silent(part, font)
        stems[part] = _fitted(samples, _total_frames(performance, sample_rate), sample_rate)
        if progress:
            progress(len(stems) / len(performance.parts))
    empty = _silence(_total_frames(performance, sample_rate))
    return RenderedAudio(
        sample_rate=sample_rate,
        mix=_sum([*stems.values()]) if stems else empty,
        stems=stems,
        synthesizer=f"midirenderer {fallback_version()}",
        strikes_on_blocks=False,
        notice=f"the FluidSynth library is missing, the fallback rendered{_softened(performance)}; "
        f"{_fluidsynth_cure()} brings it",
    )


def _softened(performance: Performance) -> str:
    """Return what is told of slurs: the fallback cannot sound on from note to note."""
    is_slurred = any(note.touch.is_slurred for note in performance.part_notes(Part.BASS))
    return ", and strikes slurred notes once more, softly" if is_slurred else ""


def _silence(frames: int) -> "Samples":
    import numpy

    return numpy.zeros((frames, 2), numpy.float32)


def _fitted(samples: "Samples", frames: int, sample_rate: int) -> "Samples":
    """Return the samples cut or filled up with silence to a length, faded out at its end."""
    whole = _silence(frames)
    kept = samples[:frames]
    whole[: len(kept)] = kept
    _fade_end(whole.T, sample_rate)
    return whole


def _fade_end(planes: "Samples", sample_rate: int) -> None:
    """Fade the last tenth of a second in place, so that a ringing cymbal ends without a click."""
    import numpy

    frames = int(_FADE_SEC * sample_rate)
    planes[..., -frames:] *= numpy.linspace(1, 0, frames, dtype=numpy.float32)


def _sum(arrays: "Sequence[Samples]") -> "Samples":
    """Return the sum; of one array, the array itself.

    Planes of channels are added, as the synthesizer has written them, piece by piece, so that a
    piece stays in the processor's cache until the last array is added.
    """
    if len(arrays) == 1:
        return arrays[0]
    planes = [array.T for array in arrays]
    total = sample_memory(*planes[0].shape)
    for start in range(0, total.shape[1], _SUM_FRAMES):
        piece = slice(start, start + _SUM_FRAMES)
        for plane in planes:
            total[:, piece] += plane[:, piece]
    return total.T
