"""The files of one song of a set, as bytes; imported only where a set is made.

Whoever makes them needs the song, its cells and a soundfont where it sounds: so a process beside
this one writes them itself, and one on another machine hands them back.
"""

import os
from collections.abc import Iterator
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING

from msgspec import Struct
from msgspec.structs import replace

from groove.cells.model import Library
from groove.chart.model import Song
from groove.chart.tempo_map import at_another_tempo
from groove.chart.written_for import WrittenFor
from groove.cli.as_rendered import Rendered
from groove.cli.card import card_file
from groove.cli.options import Arranged, Loop, Moved, Played, tuning_choices
from groove.cli.performing import perform_options
from groove.cli.values import parse_tempo
from groove.cut import only_parts, with_count_in
from groove.errors import RecordingError
from groove.events import Part, Performance
from groove.gig.running_order import SongRecord
from groove.gig.set_list import SetSong
from groove.harmony.analysis import Analysis
from groove.io.charts import read_song
from groove.io.config import read_config
from groove.io.gig_folder import GigFolder
from groove.io.library import load_library
from groove.io.midi import midi_bytes
from groove.io.soundfont import SoundfontChoice, choose_soundfont
from groove.neck.fingering import finger_performance
from groove.pipeline import PerformOptions, analyse_song, perform_analysis, song_tuning
from groove.text.notices import notice_text
from groove.text.summary import performance_data

if TYPE_CHECKING:
    from groove.page.record import PageRecord

PRINTED = ("sheet", "card")
"""Kinds that a gig book is made of, the first that there is."""

RECORD_EXPECTED = (
    "expected your own copy of the song, in the key and form that the set has; groove align tells "
    "how it plays them"
)

FILE_ENDINGS = ("", "-without-bass", *(f"-{kind}" for kind in PRINTED))
"""What stands after a song's name in the names of its files, before their suffixes."""


class GigMaker(Struct, frozen=True, kw_only=True):
    """Where a set goes and what is made of it; plain values, so that processes share it."""

    set_list: str
    folder: Path
    kinds: tuple[str, ...]
    tuning: str | None
    written_for: WrittenFor | None
    soundfont: str | None
    patterns: Path | None

    @property
    def set_name(self) -> str:
        """What its records call the set list: the file's name alone, for the list may move."""
        return Path(self.set_list).name

    @property
    def audio_kinds(self) -> tuple[str, ...]:
        """The kinds of sound files."""
        return tuple(kind for kind in self.kinds if kind not in ("mid", "page", *PRINTED))

    def perform(self) -> PerformOptions:
        """Return how every song is played.  Raises OptionError for a tuning that there is not."""
        return perform_options(read_config(), tuning_choices(self.tuning))

    def font(self) -> SoundfontChoice | None:
        """Return the soundfont, None where nothing sounds.  Raises SoundError."""
        if not (self.soundfont or self.audio_kinds or "page" in self.kinds):
            return None
        return choose_soundfont(self.soundfont, os.environ, read_config().soundfont)


class SongJob(Struct, frozen=True, kw_only=True):
    """A song to be made: its chart's file, what its own files are called, what is asked for.

    ``record`` is the file of the player's own copy, None where none is listened to.
    """

    chart: str
    stem: str
    perform: PerformOptions
    asked: SetSong
    record: str | None
    fingerprint: str


class MadeSong(Struct, frozen=True, kw_only=True):
    """The files of a song by name, and what is told of it; ``record`` has no files yet."""

    record: SongRecord
    files: tuple[tuple[str, bytes], ...]


def make_song(job: SongJob, maker: GigMaker) -> SongRecord:
    """Write the files of one song and its record, last.  Raises GrooveError."""
    made = made_song(job, song_of(job), load_library(maker.patterns), maker)
    return keep_song(GigFolder(maker.folder), job.stem, made)


def keep_song(folder: GigFolder, stem: str, made: MadeSong) -> SongRecord:
    """Write the files of a song that was made, then its record.  Raises GigFolderError."""
    files = {name: folder.write(name, data) for name, data in made.files}
    record = replace(made.record, files=files)
    folder.keep(stem, record)
    return record


def song_of(job: SongJob) -> Song:
    """Return the song at the set's tempo, which card and sheet then tell as the chart's own.

    Raises GrooveError for a chart that cannot be read.
    """
    song = read_song(job.chart)
    bpm, percent = parse_tempo(job.asked.tempo, "tempo")
    if bpm is None and percent is None:
        return song
    return at_another_tempo(song, bpm / song.tempo.bpm if bpm else (percent or 100) / Fraction(100))


def made_song(job: SongJob, song: Song, library: Library, maker: GigMaker) -> MadeSong:
    """Return the files of one song.  Raises GrooveError."""
    analysis = analyse_song(song, job.perform)
    played = perform_analysis(analysis, library, job.perform)
    files = tuple(_song_files(job, maker, analysis, played, library))
    facts = performance_data(analysis.song, played)
    record = SongRecord(
        fingerprint=job.fingerprint,
        title=played.title,
        key=played.bars[0].key.pretty,
        tempo=f"{facts['tempo_symbol']} = {facts['tempo_bpm']:g}",
        sec=played.length_sec,
        files={},
        notices=tuple(_notices(analysis, job.record)),
        set_list=maker.set_name,
    )
    return MadeSong(record=record, files=files)


def _notices(analysis: Analysis, record: str | None) -> Iterator[str]:
    """Yield what is told of a song that was made."""
    yield from (notice_text(notice) for notice in analysis.song.notices)
    if record:
        name = Path(record).name
        yield f"its page knows the bars of {name}: open your own copy there, under More"


def _song_files(
    job: SongJob, maker: GigMaker, analysis: Analysis, played: Performance, library: Library
) -> Iterator[tuple[str, bytes]]:
    """Yield the name and the bytes of every file of a song: what all can make first."""
    if "mid" in maker.kinds:
        words = _rendered_with(job, maker).words()
        others = set(Part) - {Part.BASS}
        yield f"{job.stem}.mid", midi_bytes(played, remark=words)
        without_bass = midi_bytes(only_parts(played, others), remark=words)
        yield f"{job.stem}-without-bass.mid", without_bass
    if any(kind in maker.kinds for kind in PRINTED):
        yield from _printed_files(job, maker, analysis, library)
    if "page" in maker.kinds:
        yield f"{job.stem}.html", _page_file(job, maker, analysis, played)
    if maker.audio_kinds:
        yield from _audio_files(job, maker, played)


def _rendered_with(job: SongJob, maker: GigMaker) -> Rendered:
    """Return what ``groove render`` would be asked for the same notes, for a take of them."""
    asked = job.asked
    arranged = Arranged(feel=asked.feel, moved=Moved(key=asked.key))
    return Rendered(
        played=Played(tempo=asked.tempo, arranged=arranged),
        loop=Loop(),
        tuning=maker.tuning,
        patterns=maker.patterns,
    )


def _printed_files(
    job: SongJob, maker: GigMaker, analysis: Analysis, library: Library
) -> Iterator[tuple[str, bytes]]:
    """Yield the sheet and the card, of a part that is played and fingered once for both."""
    from groove.io.sheets import Sheet
    from groove.sheet.options import SheetOptions
    from groove.text.card import song_card
    from groove.text.part_facts import part_facts

    tight = perform_analysis(analysis, library, replace(job.perform, tight=True))
    tuning = song_tuning(analysis.song, job.perform)
    placed, _ = finger_performance(tight, tuning=tuning)
    if "sheet" in maker.kinds:
        whom = maker.written_for
        paper = SheetOptions(chart=whom is not None, written_for=whom)
        sheet = Sheet(analysis=analysis, performance=placed, options=paper, tuning=tuning)
        yield f"{job.stem}-sheet.pdf", sheet.pdf()
    if "card" in maker.kinds:
        part = part_facts(placed, tuning)
        card = song_card(analysis, tuning=tuning, part=part, written_for=maker.written_for)
        yield f"{job.stem}-card.pdf", card_file(card, ".pdf")


def _page_file(job: SongJob, maker: GigMaker, analysis: Analysis, played: Performance) -> bytes:
    """Return the practice page of a song, which knows the bars of its record where it has one."""
    from groove.io.practice_page import practice_page

    font = maker.font()
    assert font is not None
    tuning = song_tuning(analysis.song, job.perform)
    record = _record_beside(job.record, played, font.path) if job.record else None
    placed, _ = finger_performance(played, tuning=tuning)
    made = practice_page(placed, analysis, font=font.path, tuning=tuning, record=record)
    return made.html.encode()


def _record_beside(record: str, played: Performance, font: Path) -> "PageRecord":
    """Return the bar lines of a record, without its sound: the folder of a set is handed on.

    Raises RecordingError for what cannot be read or is not the song as the set has it.
    """
    from groove.io.page_record import hold_record, page_record

    try:
        held = hold_record(record, played, font=font, is_inside=False)
        return page_record(held, played.bars, is_inside=False)
    except RecordingError as error:
        raise RecordingError(error.message, hint=RECORD_EXPECTED) from None


def _audio_files(job: SongJob, maker: GigMaker, played: Performance) -> Iterator[tuple[str, bytes]]:
    """Yield the sound of a song with the bass and without it, by one gain, counted in."""
    from groove.cli.render import SoundOptions
    from groove.cli.sounding import levelled_files
    from groove.io.synth import audio_samples

    font = maker.font()
    assert font is not None
    without_bass = set(Part) - {Part.BASS}
    led = with_count_in(played, without_bass)  # one count for both files
    rendered = audio_samples(
        led, font=font.path, part_midi=lambda part: midi_bytes(led, parts=(part,))
    )
    others = rendered.parts_mix(without_bass)
    mixes = {job.stem: rendered.mix, f"{job.stem}-without-bass": others}
    suffixes = [f".{kind}" for kind in maker.audio_kinds]
    yield from levelled_files(rendered, mixes, led, suffixes, SoundOptions())
