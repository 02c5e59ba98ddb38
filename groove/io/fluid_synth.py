"""The FluidSynth library: events at sample positions in, float samples of each group out.

The low level of pyfluidsynth, because its own helpers lose time and place: samples are written
straight into the result up to each event.  FluidSynth starts notes on blocks of 64 samples
(``fluid_synth_get_internal_bufsize``), so positions are rounded to blocks here: an onset is then
at most half a block (0.73 ms at 44.1 kHz) early or late, and on average neither.

Reverb and chorus are off: with them the groups would not add up to the mix.
"""

import contextlib
import ctypes
import io
import math
import mmap
import os
from collections import deque
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from enum import IntEnum
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from groove.articulation import set_range
from groove.errors import SoundError
from groove.io.streams import stderr_closed

if TYPE_CHECKING:
    from groove.arrays import Samples

BLOCK_FRAMES = 64

_LEVEL, _PAN = 7, 10  # MIDI 1.0 controllers: channel volume, pan
_LOG_LEVELS = range(5)  # panic, error, warning, information, debug
_INT_SETTINGS = {
    b"synth.reverb.active": 0,
    b"synth.chorus.active": 0,
    b"synth.cpu-cores": 1,
    b"synth.lock-memory": 0,
    b"synth.threadsafe-api": 0,
}


@dataclass(frozen=True, slots=True, kw_only=True)
class ChannelPreset:
    """What one channel plays: a preset of the font, its level and pan (controllers 7 and 10)."""

    bank: int
    program: int
    level: int
    pan: int


class Action(IntEnum):
    """What an event does, in the order of events at one frame."""

    END = 0
    BEND = 1
    CONTROL = 2
    ONSET = 3


@dataclass(frozen=True, slots=True, order=True)
class Strike:
    """One event at a frame that is a multiple of ``BLOCK_FRAMES``.

    ``number`` is a pitch or a controller, ``value`` a velocity, a bend (0-16383) or a controller's
    value.  The order of the fields is the order of events: at one frame notes end before others
    start.
    """

    frame: int
    action: Action
    channel: int
    number: int
    value: int


@dataclass(frozen=True, slots=True)
class _LoadedSynth:
    """The library, its last log lines, and the callback that must live as long as it does."""

    module: Any
    write_frames: Any
    log_lines: deque[str]
    log_callback: Any


def fluidsynth_version() -> str | None:
    """Return the version of the FluidSynth library, or None where it cannot be loaded."""
    try:
        handle = _library().module._fl
    except ImportError:
        return None
    text = ctypes.CFUNCTYPE(ctypes.c_char_p)(("fluid_version_str", handle))()
    return text.decode("ascii", "replace") if text else "of unknown version"


@cache
def _library() -> _LoadedSynth:
    """Load the library once; raise ``ImportError`` where that is impossible."""
    try:
        # The package prints where it found the library when the variable CI is set.
        with contextlib.redirect_stdout(io.StringIO()):
            import fluidsynth
        return _with_log(fluidsynth)
    except (OSError, AttributeError) as error:  # not for this machine, or far too old
        raise ImportError(str(error)) from error


def _with_log(module: Any) -> _LoadedSynth:
    c_int, c_void_p = ctypes.c_int, ctypes.c_void_p
    log_lines: deque[str] = deque(maxlen=20)
    callback_type = ctypes.CFUNCTYPE(None, c_int, ctypes.c_char_p, c_void_p)

    def keep(_level: int, text: bytes, _data: object) -> None:
        log_lines.append(text.decode("utf-8", "replace").strip())

    callback = callback_type(keep)
    set_log = ctypes.CFUNCTYPE(c_void_p, c_int, callback_type, c_void_p)(
        ("fluid_set_log_function", module._fl)
    )
    for level in _LOG_LEVELS:
        set_log(level, callback, None)
    write = ctypes.CFUNCTYPE(c_int, c_void_p, c_int, c_void_p, c_void_p, c_void_p, c_void_p)(
        ("fluid_synth_nwrite_float", module._fl)
    )
    return _LoadedSynth(module, write, log_lines, callback)


def render_groups(
    strikes: Sequence[Strike],
    voices: Sequence[ChannelPreset],
    *,
    font: Path,
    sample_rate: int,
    frames: int,
    groups: int,
    progress: Callable[[float], None] | None = None,
) -> "Samples":
    """Return float samples of shape (groups, 2, frames): channel i sounds in group i mod groups.

    ``voices[i]`` is what channel i plays, ``strikes`` are sorted, ``frames`` is a multiple of
    ``BLOCK_FRAMES``.  One group is the whole mix and the fastest; as many groups as channels are
    the stems, which add up to it.  ``progress`` is told the share done, 0 to 1.  Raises
    ``ImportError`` without the library, ``SoundError`` if the font cannot be played.
    """
    library = _library()
    samples = sample_memory(groups, 2, frames)
    with _open_synth(library, font, voices, sample_rate, groups) as synth:
        _write_all(library, synth, strikes, samples, progress or (lambda _share: None))
    return samples


def sample_memory(*shape: int) -> "Samples":
    """Return zeros in ordinary memory pages; raise ``SoundError`` if there is no room for them.

    numpy asks for huge pages, and the first touch of hundreds of megabytes of those takes longer
    on virtual machines than the synthesis of a stem (0.6 s against 0.13 to 0.3 s for 340 MB).
    """
    import numpy

    size = math.prod(shape) * numpy.dtype(numpy.float32).itemsize
    try:
        pages = mmap.mmap(-1, size)
    except OSError:
        raise SoundError(
            f"there is not enough memory for this audio ({size / 1e9:.1f} GB)",
            hint="cut the song with --sections, --bars or --times",
        ) from None
    return numpy.frombuffer(pages, numpy.float32).reshape(shape)


@contextlib.contextmanager
def _open_synth(
    library: _LoadedSynth,
    font: Path,
    voices: Sequence[ChannelPreset],
    sample_rate: int,
    groups: int,
) -> Iterator[int]:
    fluid = library.module
    settings = fluid.new_fluid_settings()
    try:
        fluid.fluid_settings_setnum(settings, b"synth.sample-rate", float(sample_rate))
        sizes = {b"synth.audio-groups": groups, b"synth.audio-channels": groups}
        for name, value in {**_INT_SETTINGS, **sizes}.items():
            fluid.fluid_settings_setint(settings, name, value)
        synth = fluid.new_fluid_synth(settings)
        if not synth:
            raise SoundError(f"FluidSynth does not start{_log_text(library)}")
        try:
            _load(library, synth, font, voices)
            yield synth
        finally:
            fluid.delete_fluid_synth(synth)
    finally:
        fluid.delete_fluid_settings(settings)


def _load(library: _LoadedSynth, synth: int, font: Path, voices: Sequence[ChannelPreset]) -> None:
    fluid = library.module
    library.log_lines.clear()
    with stderr_closed():  # what the loader has to say comes through the log as well
        font_id = fluid.fluid_synth_sfload(synth, os.fsencode(font), 0)
    if font_id < 0:
        raise SoundError(
            f"FluidSynth cannot load the soundfont {font}{_log_text(library)}",
            hint="use another .sf2 or .sf3 file, or leave --soundfont out for the default",
        )
    for channel, voice in enumerate(voices):
        # program_change would play program 0 in place of a missing one and call it a success.
        if fluid.fluid_synth_program_select(synth, channel, font_id, voice.bank, voice.program):
            raise SoundError(
                f"the soundfont {font} cannot play bank {voice.bank}, program {voice.program}"
                f"{_log_text(library)}",
                hint="use a General MIDI font",
            )
        fluid.fluid_synth_cc(synth, channel, _LEVEL, voice.level)
        fluid.fluid_synth_cc(synth, channel, _PAN, voice.pan)
        for gesture in set_range():
            fluid.fluid_synth_cc(synth, channel, gesture.controller, gesture.value)


def _log_text(library: _LoadedSynth) -> str:
    # The first line is the cause, the others tell what was then tried in vain.
    return f": {library.log_lines[0]}" if library.log_lines else ""


def _write_all(
    library: _LoadedSynth,
    synth: int,
    strikes: Sequence[Strike],
    samples: "Samples",
    progress: Callable[[float], None],
) -> None:
    """Write samples up to each strike, strike, and write the rest."""
    fluid = library.module
    note_on, note_off = fluid.fluid_synth_noteon, fluid.fluid_synth_noteoff
    write = _writer(library, synth, samples)
    frames = samples.shape[2]
    frame, shown_frame = 0, 0
    for strike in strikes:
        if strike.frame > frame:
            write(frame, strike.frame)
            frame = strike.frame
            if frame - shown_frame > frames // 100:
                progress(frame / frames)
                shown_frame = frame
        if strike.action is Action.ONSET:
            note_on(synth, strike.channel, strike.number, strike.value)
        elif strike.action is Action.END:
            note_off(synth, strike.channel, strike.number)
        elif strike.action is Action.BEND:
            fluid.fluid_synth_pitch_bend(synth, strike.channel, strike.value)
        else:
            fluid.fluid_synth_cc(synth, strike.channel, strike.number, strike.value)
    write(frame, frames)
    progress(1.0)


def _writer(library: _LoadedSynth, synth: int, samples: "Samples") -> Callable[[int, int], None]:
    """Return a function that writes the frames from one place up to another, into ``samples``."""
    groups = samples.shape[0]
    lefts, rights = (ctypes.c_void_p * groups)(), (ctypes.c_void_p * groups)()
    places = [
        (index, group[0].ctypes.data, group[1].ctypes.data) for index, group in enumerate(samples)
    ]
    frame_bytes = samples.itemsize
    write_frames = library.write_frames

    def write(start: int, end: int) -> None:
        offset = start * frame_bytes
        for index, left, right in places:
            lefts[index] = left + offset
            rights[index] = right + offset
        write_frames(synth, end - start, lefts, rights, None, None)

    return write
