"""The sound of one chart in its files; imported only when sound is made."""

import math
import os
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from groove.cli.rendering import counted_in
from groove.cli.targets import stem_path
from groove.cli.values import chosen
from groove.cut import cut_bars
from groove.errors import OptionError
from groove.events import Part, Performance
from groove.io.audio import (
    LOSSY_SUFFIXES,
    SAMPLE_FORMATS,
    audio_bytes,
    encoded_peak_dbtp,
    held_coding,
)
from groove.io.config import read_config
from groove.io.files import write_whole
from groove.io.loops import loop_samples, render_pass, repeated_samples
from groove.io.loudness import Gain, level_gain
from groove.io.midi import midi_bytes
from groove.io.sound_tags import SoundMarker
from groove.io.soundfont import SoundfontChoice, choose_soundfont
from groove.io.synth import SAMPLE_RATE_HZ, RenderedAudio, audio_samples

if TYPE_CHECKING:
    from groove.arrays import Samples
    from groove.cli.render import RenderOptions, SoundOptions

SAMPLE_RATES_HZ = (SAMPLE_RATE_HZ, 48_000)
_CODER_DB = 0.25
"""What a coder adds to the highest peak; measured on the shipped charts: at most 0.13 dB."""
_MOST_CODINGS = 4
_TIMES_WORTH_A_PASS = 3  # a pass that can be repeated takes the time of three


def parse_sound(sound: "SoundOptions") -> tuple[int, str | None]:
    """Return samples a second and what a sample is; raise OptionError for what none can be."""
    rates = [str(rate) for rate in SAMPLE_RATES_HZ]
    rate_hz = SAMPLE_RATE_HZ if sound.rate is None else int(chosen("--rate", sound.rate, rates))
    bits = None if sound.bits is None else chosen("--bits", sound.bits, SAMPLE_FORMATS)
    return rate_hz, bits


def check_sound(files: Sequence[Path], options: "RenderOptions") -> None:
    """Raise OptionError, before anything is written, for files that cannot hold what was asked."""
    _, sample_format = parse_sound(options.sound)
    if sample_format is not None:
        for file in files:
            held_coding(file.suffix.casefold(), sample_format)
    if options.sound.loop and options.count_in:
        raise OptionError(
            "a loop has no count-in: --loop with --count-in",
            hint="leave one of them out",
        )


def write_audio_files(
    performance: Performance, files: list[Path], options: "RenderOptions", written: list[Path]
) -> dict[str, object]:
    """Write audio files and their stems, levelled by one gain; return what was reached."""
    sound = options.sound
    choice = choose_soundfont(sound.soundfont, os.environ, read_config().soundfont)
    led = _led(performance, options)
    rendered = _rendered(performance, led, options, choice)
    rendered, limited = _limited(rendered, sound)
    everything = options.parts >= set(led.parts)
    mix = rendered.mix if everything else rendered.parts_mix(options.parts)
    stems = options.stem_parts(led)
    reached = write_levelled(rendered, mix, led, files, sound, written, stems=stems)
    return {**font_data(choice), **reached, **limited}


def font_data(choice: SoundfontChoice) -> dict[str, object]:
    """Return which soundfont plays, and why, as data."""
    return {"soundfont": str(choice.path), "soundfont_reason": choice.reason}


def write_levelled(
    rendered: RenderedAudio,
    mix: "Samples",
    led: Performance,
    files: Sequence[Path],
    sound: "SoundOptions",
    written: list[Path],
    *,
    stems: Sequence[Part] = (),
) -> dict[str, object]:
    """Write a mix, and some of its stems, by the gain of the whole; return what was reached.

    ``led`` is what was rendered, with its title and markers.
    """
    gain = _gain(rendered, sound)
    encode = partial(
        audio_bytes,
        sample_rate=rendered.sample_rate,
        sample_format=parse_sound(sound)[1],
        title=led.title,
    )
    marked = partial(encode, markers=_markers(led))
    lowered: dict[str, float] = {}
    for file in files:
        suffix = file.suffix.casefold()
        data, factor = _held(partial(marked, mix, suffix=suffix), gain, suffix, sound.ceiling)
        if factor < gain.factor:
            lowered[str(file)] = round(20 * math.log10(gain.factor / factor), 2)
        write_whole(file, data)
        written.append(file)
        for part in stems:
            data = encode(rendered.stems[part], suffix=suffix, factor=factor)
            write_whole(stem_path(file, part), data)
            written.append(stem_path(file, part))
    return {**_reached(rendered, gain), "lowered_db": lowered}


def _reached(rendered: RenderedAudio, gain: Gain) -> dict[str, object]:
    """Return what made a sound, and how loud it became, as data."""
    return {
        "synthesizer": rendered.synthesizer,
        "synthesizer_notice": rendered.notice,
        "sample_rate_hz": rendered.sample_rate,
        "gain_db": round(gain.gain_db, 2),
        "loudness_lufs": _rounded(gain.loudness_lufs),
        "true_peak_dbtp": _rounded(gain.true_peak_dbtp),
        "ceiling_bound": gain.ceiling_bound,
    }


def levelled_files(
    rendered: RenderedAudio,
    mixes: "Mapping[str, Samples]",
    led: Performance,
    suffixes: Sequence[str],
    sound: "SoundOptions",
) -> Iterator[tuple[str, bytes]]:
    """Yield files of mixes of one rendering, by name, all by the gain of the whole."""
    gain = _gain(rendered, sound)
    encode = partial(
        audio_bytes, sample_rate=rendered.sample_rate, title=led.title, markers=_markers(led)
    )
    for stem, mix in mixes.items():
        for suffix in suffixes:
            data, _ = _held(partial(encode, mix, suffix=suffix), gain, suffix, sound.ceiling)
            yield f"{stem}{suffix}", data


def _gain(rendered: RenderedAudio, sound: "SoundOptions") -> Gain:
    """Return the gain that brings the whole to the loudness that was asked for."""
    return level_gain(
        rendered.mix,
        rendered.sample_rate,
        target_lufs=sound.loudness,
        ceiling_dbtp=sound.ceiling,
    )


def _led(performance: Performance, options: "RenderOptions") -> Performance:
    """Return a performance with the count-in before it that audio has unless it is a loop."""
    has_count_in = options.count_in is not False and not options.sound.loop
    return counted_in(performance, options) if has_count_in else performance


def _rendered(
    performance: Performance, led: Performance, options: "RenderOptions", choice: SoundfontChoice
) -> RenderedAudio:
    """Return the sound of ``led``; a loop, and bars that come many times, are made of one pass."""
    with progress_bar(led.title, shown=options.show_progress) as progress:

        def render(played: Performance, seams: Sequence[int]) -> RenderedAudio:
            return audio_samples(
                played,
                font=choice.path,
                part_midi=lambda part: midi_bytes(played, parts=(part,)),
                sample_rate=parse_sound(options.sound)[0],
                with_stems=options.stems or not options.parts >= set(led.parts),
                progress=progress,
                seams=seams,
            )

        times = options.perform.times
        if options.sound.loop:
            return loop_samples(render_pass(performance, render, led=performance))
        if times < _TIMES_WORTH_A_PASS:
            return render(led, ())
        one = cut_bars(performance, range(len(performance.bars) // times))
        return repeated_samples(render_pass(one, render, led=_led(one, options)), times)


def _limited(
    rendered: RenderedAudio, sound: "SoundOptions"
) -> tuple[RenderedAudio, Mapping[str, object]]:
    """Return the sound with its loudest moments turned down where that is asked for and needed."""
    if not sound.limit:
        return rendered, {}
    from groove.io.limiter import limit_peaks

    limited = limit_peaks(
        rendered.mix, rendered.sample_rate, target_lufs=sound.loudness, ceiling_dbtp=sound.ceiling
    )
    if limited is None:
        return rendered, {"limited_db": 0.0, "limited_share": 0.0}
    return rendered.shaped(limited.curve), {
        "limited_db": round(limited.reduction_db, 2),
        "limited_share": round(limited.share, 3),
    }


def _markers(led: Performance) -> tuple[SoundMarker, ...]:
    """Return where the sections begin in the file."""
    at = led.tempo_map.tick_to_sec
    return tuple(SoundMarker(name=marker.text, sec=at(marker.tick)) for marker in led.markers)


def _held(
    encode: Callable[..., bytes], gain: Gain, suffix: str, ceiling_dbtp: float
) -> tuple[bytes, float]:
    """Return a file of the mix and its factor: under the ceiling as decoded, too.

    A lossy coder gives other peaks than it was given; where they pass the ceiling, the file is
    made again with less.
    """
    factor = gain.factor
    if suffix not in LOSSY_SUFFIXES or gain.true_peak_dbtp is None:
        return encode(factor=factor), factor
    room_db = ceiling_dbtp - gain.true_peak_dbtp
    factor *= 10 ** (min(0.0, room_db - _CODER_DB) / 20)
    for _ in range(_MOST_CODINGS):
        data = encode(factor=factor)
        peak = encoded_peak_dbtp(data)
        if peak is None or peak <= ceiling_dbtp:
            break
        factor *= 10 ** ((ceiling_dbtp - peak - _CODER_DB / 5) / 20)
    return data, factor


def _rounded(value: float | None) -> float | None:
    """Return a level with two decimals, None for silence."""
    return None if value is None else round(value, 2)


@contextmanager
def progress_bar(title: str, *, shown: bool) -> Iterator[Callable[[float], None] | None]:
    """Show a bar on a terminal while sound is made."""
    if not shown:
        yield None
        return
    from rich.console import Console
    from rich.progress import Progress

    with Progress(console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task(title, total=1.0)
        yield lambda share: bar.update(task, completed=share)
