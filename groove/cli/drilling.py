"""The practice tracks of one chart; imported only when a chart is practised."""

import os
import re
import sys
from collections.abc import Mapping, Sequence
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING

from msgspec import Struct
from msgspec.structs import replace

from groove.cells.model import Library
from groove.chart.model import Song
from groove.cli.console import CAUTION, say
from groove.cli.performing import print_reading
from groove.cli.targets import MIDI_SUFFIXES, Job, Outputs
from groove.cut import choose_bars
from groove.errors import OptionError
from groove.events import Performance
from groove.harmony.analysis import Analysis
from groove.io.files import make_folders, write_whole
from groove.io.library import load_library
from groove.io.lined import song_with_line
from groove.io.midi import midi_bytes
from groove.io.soundfont import choose_soundfont
from groove.neck.fingering import FingeredLine, finger_performance
from groove.neck.options import NeckOptions
from groove.pipeline import PerformOptions, analyse_song, perform_analysis, song_tuning
from groove.practice.exercises import (
    Exercise,
    chosen_loop,
    fill_loops,
    shift_loops,
    usual_exercises,
)
from groove.practice.ladder import Ladder
from groove.practice.plan_html import plan_html
from groove.practice.plan_text import plan_data, plan_text, track_name
from groove.practice.practice_plan import PracticePlan, exercise_tracks, fitted
from groove.practice.track import PracticeTrack, Sounding, song_alone, tracks_performance

if TYPE_CHECKING:
    from groove.record.aligned import HeardSong

Batches = Mapping[Path, Sequence[tuple[Path, list[PracticeTrack]]]]
"""For each file of a job that is music the files that it becomes, and the tracks in them."""


class DrillOptions(Struct, frozen=True, kw_only=True):
    """What every chart of one call is practised with."""

    perform: PerformOptions
    hand: NeckOptions
    ladder: Ladder
    sounding: Sounding
    sections: tuple[str, ...]
    bars: range | None
    shifts: bool
    fills: bool
    minutes: int | None
    like: str | None
    soundfont: str | None
    patterns: Path | None
    line: str | None
    as_json: bool


class _PlayedSong:
    """A song as the band plays it at each tempo that is asked for, made once each.

    ``like`` is the record whose time and form it has, None for the chart's own.
    """

    def __init__(
        self, song: Song, library: Library, options: PerformOptions, like: str | None
    ) -> None:
        self.analysis: Analysis = analyse_song(song, options)
        self._library = library
        self._options = options
        self._played: dict[Fraction, Performance] = {}
        self.tempo_bpm = song.tempo.bpm
        self._heard: HeardSong | None = None
        if like:
            from groove.cli.aligning import told_record
            from groove.record.heard_form import tempo_bpm

            own = self._by_chart(Fraction(100))
            self._heard = told_record(own, like, keeps_tempo=False)
            self.tempo_bpm = round(Fraction(tempo_bpm(self._heard, own.bars)), 1)

    def _by_chart(self, percent: Fraction) -> Performance:
        options = replace(self._options, tempo_percent=percent)
        return perform_analysis(self.analysis, self._library, options)

    def at(self, percent: Fraction) -> Performance:
        """Return the whole song at a percentage of its tempo, or of the record's."""
        if percent not in self._played:
            played = self._by_chart(percent)
            if self._heard:
                from groove.record.like_record import like_record

                played = song_alone(like_record(played, self._heard), percent)
            self._played[percent] = played
        return self._played[percent]

    def line(self, hand: NeckOptions) -> FingeredLine:
        """Return the bass line in the hands of the player, at the song's tempo."""
        tuning = song_tuning(self.analysis.song, self._options)
        return finger_performance(self.at(Fraction(100)), tuning=tuning, options=hand)[1]


def drill_chart(
    job: Job, options: DrillOptions, *, named: frozenset[Path], claimed: Outputs
) -> Mapping[str, object] | str:
    """Write the tracks and the plan of one chart; return the plan where it is printed.

    ``named`` are the files that the call names; another of the job's stands in a folder.
    """
    if options.soundfont:
        choose_soundfont(options.soundfont, {}, None)  # told before there is anything to hear
    library = load_library(options.patterns)
    song = song_with_line(job.chart, options.line, library, options.perform)
    played = _PlayedSong(song, library, options.perform, options.like)
    whole = played.at(Fraction(100))
    print_reading(played.analysis.song, whole.notices)
    plan = _plan(played, options)
    batches = _batches(plan, job, named, claimed)
    make_folders(job.folders)
    written, data = _written_tracks(plan, batches, options)
    for file in job.files:
        if file not in batches:
            beside = _files_beside(file, batches, named)
            write_whole(file, _plan_bytes(plan, file.suffix.casefold(), beside))
            written.append(file)
    _print_written(written)
    if options.as_json:
        files = [str(file) for file in written]
        return {"format": 1, "chart": job.chart, **plan_data(plan), **data, "files": files}
    has_plan = any(file not in batches for file in job.files)
    return "" if has_plan else plan_text(plan)


def _plan(played: _PlayedSong, options: DrillOptions) -> PracticePlan:
    song = played.analysis.song
    bpm = played.tempo_bpm
    empty = PracticePlan(
        title=song.title,
        song_bpm=bpm,
        tempo_symbol=song.meter.tempo_symbol,
        steps=(),
        drop_out=options.sounding.drop_out,
    )
    ladders = [
        exercise_tracks(exercise, options.ladder, bpm, played.at, options.sounding)
        for exercise in _exercises(played, options)
    ]
    return fitted(empty, ladders, options.minutes)


def _exercises(played: _PlayedSong, options: DrillOptions) -> list[Exercise]:
    """Return what is asked for, or what the song asks for where nothing is chosen.

    Raises OptionError for sections and bars that are not played, and where there is no shift or
    no fill.
    """
    whole = played.at(Fraction(100))
    is_chosen = bool(options.sections or options.bars)
    if not (is_chosen or options.shifts or options.fills):
        return usual_exercises(whole, played.line(options.hand))
    within: Sequence[int] = range(len(whole.bars))
    if is_chosen:
        within = choose_bars(whole, options.sections, options.bars)
    if not (options.shifts or options.fills):
        return [chosen_loop(whole, options.sections, options.bars)]
    shifts = shift_loops(whole, played.line(options.hand), within=within) if options.shifts else []
    fills = fill_loops(whole, within=within) if options.fills else []
    if not (shifts or fills):
        what = " and no ".join(
            name
            for name, is_asked in (("shift", options.shifts), ("fill", options.fills))
            if is_asked
        )
        raise OptionError(
            f"there is no {what} to practise there",
            hint="expected other bars, or leave --shifts and --fills out",
        )
    return [*shifts, *fills]


def _batches(plan: PracticePlan, job: Job, named: frozenset[Path], claimed: Outputs) -> Batches:
    """Return for each file of the job that is music the files that it becomes, and their tracks.

    A file that was named is one track; in a folder each has its own.  Raises OptionError where
    one would be written over what is read or written already.
    """
    found: dict[Path, list[tuple[Path, list[PracticeTrack]]]] = {}
    for file in job.files:
        if file.suffix.casefold() in (".html", ".txt"):
            continue
        if file in named:
            found[file] = [(file, list(plan.tracks))]
            continue
        found[file] = [
            (_track_file(file, number, track_name(plan, track)), [track])
            for number, track in enumerate(plan.tracks, start=1)
        ]
        for own, _ in found[file]:
            claimed.claim(own, chart=job.chart)
    return found


def _track_file(file: Path, number: int, name: str) -> Path:
    """Return the name of a track beside the song's: ``song-01-bars-5-6-at-55.2.mid``."""
    words = re.sub(r"[^\w.]+", "-", name.casefold()).strip("-")
    return file.with_name(f"{file.stem}-{number:02}-{words}{file.suffix}")


def _written_tracks(
    plan: PracticePlan,
    batches: Batches,
    options: DrillOptions,
) -> tuple[list[Path], Mapping[str, object]]:
    """Write the tracks, MIDI first; return the files, and what sounded."""
    every = [one for batch in batches.values() for one in batch]
    midi = [one for one in every if one[0].suffix.casefold() in MIDI_SUFFIXES]
    audio = [one for one in every if one not in midi]
    written: list[Path] = []
    for file, tracks in midi:
        write_whole(file, midi_bytes(_named(plan, tracks)))
        written.append(file)
    return written, _written_audio(plan, audio, options, written) if audio else {}


def _named(plan: PracticePlan, tracks: Sequence[PracticeTrack]) -> Performance:
    """Return tracks as one performance, with the song's title and a marker at each pass."""
    return tracks_performance(tracks, [track_name(plan, track) for track in tracks])


def _written_audio(
    plan: PracticePlan,
    audio: Sequence[tuple[Path, list[PracticeTrack]]],
    options: DrillOptions,
    written: list[Path],
) -> Mapping[str, object]:
    """Write the tracks that sound, each levelled by itself; return with which soundfont."""
    from groove.cli.render import SoundOptions
    from groove.cli.sounding import font_data, progress_bar, write_levelled
    from groove.io.config import read_config
    from groove.io.passes import passes_audio
    from groove.io.synth import RenderedAudio, audio_samples

    choice = choose_soundfont(options.soundfont, os.environ, read_config().soundfont)
    sound = SoundOptions(soundfont=options.soundfont)

    def render(one: Performance) -> RenderedAudio:
        return audio_samples(
            one,
            font=choice.path,
            part_midi=lambda part: midi_bytes(one, parts=(part,)),
            with_stems=False,
        )

    reached: Mapping[str, object] = {}
    with progress_bar(plan.title, shown=sys.stderr.isatty()) as progress:
        for number, (file, tracks) in enumerate(audio):
            rendered = passes_audio([one for track in tracks for one in track.passes], render)
            led = _named(plan, tracks)
            reached = write_levelled(rendered, rendered.mix, led, [file], sound, written)
            if progress:
                progress((number + 1) / len(audio))
    say(f"  soundfont: {choice.path} ({choice.reason})")
    if reached["synthesizer_notice"]:
        say(f"  {reached['synthesizer_notice']}")
    return font_data(choice)


def _files_beside(page: Path, batches: Batches, named: frozenset[Path]) -> Mapping[int, list[str]]:
    """Return the files in a page's own folder that are one track each, by the track's number."""
    found: dict[int, list[str]] = {}
    for file, batch in batches.items():
        if file not in named and file.parent == page.parent:
            for number, (own, _) in enumerate(batch, start=1):
                found.setdefault(number, []).append(own.name)
    return found


def _plan_bytes(plan: PracticePlan, suffix: str, beside: Mapping[int, list[str]]) -> bytes:
    """Return the plan as the bytes of a file of one kind; ``beside`` are the tracks' files."""
    is_page = suffix == ".html"
    text = plan_html(plan, caution=CAUTION, files=beside) if is_page else plan_text(plan)
    return text.encode()


def _print_written(written: Sequence[Path]) -> None:
    """Say what was written; of many files in a folder how many."""
    homes: dict[Path, list[Path]] = {}
    for file in written:
        homes.setdefault(file.parent, []).append(file)
    for home, files in homes.items():
        if len(files) > 3:
            say(f"wrote {len(files)} files into {home}")
        else:
            for file in files:
                say(f"wrote {file}")
