"""One chart rendered to its files; imported only when a chart is rendered."""

import os
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

from groove.cli.performing import play_chart
from groove.cli.targets import MIDI_SUFFIXES, Job, stem_path
from groove.cut import with_count_in
from groove.errors import SoundError
from groove.events import Part, Performance
from groove.io.files import make_folders, write_whole
from groove.io.midi import midi_bytes
from groove.text.summary import performance_data

if TYPE_CHECKING:
    from groove.cli.render import RenderOptions


def render_job(job: Job, options: "RenderOptions") -> dict[str, object]:
    """Write the files of one chart and return its summary.

    MIDI is written first, so that it is there even where no sound can be made.
    """
    analysis, performance = play_chart(job.chart, options.perform, options.patterns, options.line)
    summary = performance_data(analysis.song, performance)
    summary["parts"] = [part for part in performance.parts if part in options.parts]
    midi = [file for file in job.files if file.suffix.casefold() in MIDI_SUFFIXES]
    audio = [file for file in job.files if file not in midi]
    if options.sound.soundfont and not audio:
        _check_soundfont(options.sound.soundfont)
    summary["replaced"] = [str(file) for file in job.files if file.exists()]
    make_folders(job.folders)
    written = _write_midi_files(performance, midi, options)
    if audio:
        try:
            summary |= _write_audio_files(performance, audio, options, written)
        except SoundError as error:
            raise _with_midi_instead(error, performance, audio[0], midi, options) from None
    summary["files"] = [str(path) for path in written]
    return summary


def _check_soundfont(named: str) -> None:
    """Refuse a soundfont that is not there, though MIDI alone needs none."""
    from groove.io.soundfont import choose_soundfont

    choose_soundfont(named, {}, None)


def _with_midi_instead(
    error: SoundError,
    performance: Performance,
    file: Path,
    midi: list[Path],
    options: "RenderOptions",
) -> SoundError:
    """Return the error of a render without sound, the MIDI written all the same."""
    if not midi and not file.with_suffix(".mid").exists():
        midi = [file.with_suffix(".mid")]
        _write_midi_files(performance, midi, options)
    kept = f"the MIDI is in {midi[0]}" if midi else ""
    return SoundError(error.message, hint="; ".join(filter(None, (error.hint, kept))))


def _write_midi_files(
    performance: Performance, files: list[Path], options: "RenderOptions"
) -> list[Path]:
    """Write MIDI files and their stems; return what was written."""
    if not files:
        return []
    led = with_count_in(performance) if options.count_in else performance
    written = []
    for file in files:
        write_whole(file, midi_bytes(led, parts=options.parts))
        written.append(file)
        for part in _stem_parts(led, options):
            write_whole(stem_path(file, part), midi_bytes(led, parts=(part,)))
            written.append(stem_path(file, part))
    return written


def _stem_parts(performance: Performance, options: "RenderOptions") -> tuple[Part, ...]:
    """Return the parts that get a file of their own."""
    if not options.stems:
        return ()
    return tuple(part for part in performance.parts if part in options.parts)


def _write_audio_files(
    performance: Performance, files: list[Path], options: "RenderOptions", written: list[Path]
) -> dict[str, object]:
    """Write audio files and their stems, levelled by one gain; return what was reached."""
    from groove.io.audio import audio_bytes
    from groove.io.config import read_config
    from groove.io.loudness import level_gain
    from groove.io.soundfont import choose_soundfont
    from groove.io.synth import audio_samples

    choice = choose_soundfont(options.sound.soundfont, os.environ, read_config().soundfont)
    led = performance if options.count_in is False else with_count_in(performance)
    everything = options.parts >= set(led.parts)
    with _progress_bar(performance.title, shown=options.show_progress) as progress:
        rendered = audio_samples(
            led,
            font=choice.path,
            part_midi=lambda part: midi_bytes(led, parts=(part,)),
            with_stems=options.stems or not everything,
            progress=progress,
        )
    gain = level_gain(
        rendered.mix,
        rendered.sample_rate,
        target_lufs=options.sound.loudness,
        ceiling_dbtp=options.sound.ceiling,
    )
    mix = rendered.mix if everything else rendered.parts_mix(options.parts)
    for file in files:
        suffix = file.suffix.casefold()
        data = audio_bytes(mix, rendered.sample_rate, suffix=suffix, factor=gain.factor)
        write_whole(file, data)
        written.append(file)
        for part in _stem_parts(led, options):
            stem = rendered.stems[part]
            data = audio_bytes(stem, rendered.sample_rate, suffix=suffix, factor=gain.factor)
            write_whole(stem_path(file, part), data)
            written.append(stem_path(file, part))
    return {
        "soundfont": str(choice.path),
        "soundfont_reason": choice.reason,
        "synthesizer": rendered.synthesizer,
        "synthesizer_notice": rendered.notice,
        "gain_db": round(gain.gain_db, 2),
        "loudness_lufs": _rounded(gain.loudness_lufs),
        "true_peak_dbtp": _rounded(gain.true_peak_dbtp),
        "ceiling_bound": gain.ceiling_bound,
    }


def _rounded(value: float | None) -> float | None:
    """Return a level with two decimals, None for silence."""
    return None if value is None else round(value, 2)


@contextmanager
def _progress_bar(title: str, *, shown: bool) -> Iterator[Callable[[float], None] | None]:
    """Show a bar on a terminal while sound is made."""
    if not shown:
        yield None
        return
    from rich.console import Console
    from rich.progress import Progress

    with Progress(console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task(title, total=1.0)
        yield lambda share: bar.update(task, completed=share)
