"""One chart rendered to its files; imported only when a chart is rendered."""

from pathlib import Path
from typing import TYPE_CHECKING

from msgspec.structs import replace

from groove.cli.performing import play_chart
from groove.cli.targets import MIDI_SUFFIXES, Job, stem_path
from groove.cut import piece, with_click, with_count_in
from groove.errors import SoundError, joined_hints
from groove.events import ONE_BAR_OF_STICKS, Performance
from groove.harmony.analysis import Analysis
from groove.io.files import make_folders, write_whole
from groove.io.midi import midi_bytes
from groove.text.summary import performance_data

if TYPE_CHECKING:
    from groove.cli.render import RenderOptions


def render_job(job: Job, options: "RenderOptions") -> dict[str, object]:
    """Write the files of one chart and return its summary.

    MIDI is written first, so that it is there even where no sound can be made.
    """
    analysis, performance = _played(job.chart, options)
    summary = performance_data(analysis.song, performance)
    summary["parts"] = [part for part in performance.parts if part in options.parts]
    summary["left_out"] = [part for part in performance.parts if part not in options.parts]
    midi = [file for file in job.files if file.suffix.casefold() in MIDI_SUFFIXES]
    audio = [file for file in job.files if file not in midi]
    if options.sound.soundfont and not audio:
        _check_soundfont(options.sound.soundfont)
    if audio:
        from groove.cli.sounding import check_sound, write_audio_files

        check_sound(audio, options)
    summary["replaced"] = [str(file) for file in job.files if file.exists()]
    make_folders(job.folders)
    written = _write_midi_files(performance, midi, options)
    if audio:
        try:
            summary |= write_audio_files(performance, audio, options, written)
        except SoundError as error:
            raise _with_midi_instead(error, performance, audio[0], midi, options) from None
    summary["files"] = [str(path) for path in written]
    return summary


def _played(chart: str, options: "RenderOptions") -> tuple[Analysis, Performance]:
    """Return what the band plays of a chart; on a record's time where that is asked for.

    Raises what reading a chart or a record does.
    """
    if not options.like:
        return play_chart(chart, options.perform, options.patterns, options.line)
    from groove.cli.aligning import told_record
    from groove.record.like_record import like_record

    asked = options.perform
    whole = replace(asked, sections=(), bars=None, times=1, click=False)
    analysis, performance = play_chart(chart, whole, options.patterns, options.line)
    keeps_tempo = asked.tempo_bpm is not None or asked.tempo_percent is not None
    heard = told_record(performance, options.like, keeps_tempo=keeps_tempo)
    laid = like_record(performance, heard)
    cut = piece(laid, asked.sections, asked.bars, asked.times)
    return analysis, with_click(cut) if asked.click else cut


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
    return SoundError(error.message, hint=joined_hints(error.hint, kept))


def counted_in(performance: Performance, options: "RenderOptions") -> Performance:
    """Return a performance with its count-in: sticks where nobody gives it and it is asked for."""
    if options.count_in and not performance.count_in.bars:
        performance = replace(performance, count_in=ONE_BAR_OF_STICKS)
    return with_count_in(performance, options.parts)


def _write_midi_files(
    performance: Performance, files: list[Path], options: "RenderOptions"
) -> list[Path]:
    """Write MIDI files and their stems; return what was written."""
    if not files:
        return []
    led = counted_in(performance, options) if options.count_in else performance
    written = []
    for file in files:
        write_whole(file, midi_bytes(led, parts=options.parts, remark=options.words))
        written.append(file)
        for part in options.stem_parts(led):
            write_whole(stem_path(file, part), midi_bytes(led, parts=(part,), remark=options.words))
            written.append(stem_path(file, part))
    return written
