"""The synthesizer for machines without the FluidSynth library: the midirenderer wheel.

The only room that knows midirenderer, so that it can be dropped.  It takes a soundfont and a MIDI
file as bytes and always renders at 48 kHz, with effects of its own.
"""

import io
from importlib.metadata import PackageNotFoundError, version
from typing import TYPE_CHECKING

from groove.errors import SoundError

if TYPE_CHECKING:
    from groove.arrays import Samples


def fallback_version() -> str | None:
    """Return the version of midirenderer, or None where it cannot be imported."""
    try:
        import midirenderer  # noqa: F401
    except (ImportError, OSError):
        return None
    try:
        return version("midirenderer")
    except PackageNotFoundError:
        return "of unknown version"


def render_tones(midi: bytes, font: bytes) -> "tuple[Samples, int]":
    """Return samples of shape (frames, 2), full scale 1.0, and the sample rate in hertz.

    Raises ``SoundError`` if the renderer refuses the soundfont or the MIDI.
    """
    import midirenderer
    import soundfile

    try:
        wave = midirenderer.render_wave_from(font, midi)
    except BaseException as error:
        # A panic of the Rust code derives from BaseException; an interruption must get through.
        if isinstance(error, KeyboardInterrupt | SystemExit | MemoryError):
            raise
        raise SoundError(
            f"the fallback synthesizer cannot use this soundfont: {error}",
            hint="use a plain SF2 font, or install FluidSynth: groove setup says how",
        ) from None
    samples, sample_rate = soundfile.read(io.BytesIO(wave), dtype="float32", always_2d=True)
    return samples, sample_rate
