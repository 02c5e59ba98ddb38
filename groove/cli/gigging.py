"""The files of a set, song by song; imported only when a set is made."""

import os
import sys
from collections.abc import Iterable, Iterator, Sequence
from fractions import Fraction
from functools import partial
from pathlib import Path

from msgspec import Struct
from msgspec.structs import replace

from groove.cells.model import Library
from groove.chart.model import Song
from groove.chart.tempo_map import at_another_tempo
from groove.cli.card import card_file
from groove.cli.jobs import attempted, lost_job
from groove.cli.options import tuning_choices
from groove.cli.performing import perform_options
from groove.cli.sounding import progress_bar
from groove.cli.values import parse_tempo, parse_wanted_key
from groove.cut import only_parts, with_count_in
from groove.errors import GrooveError, OptionError
from groove.events import Part, Performance
from groove.gig.gig_book import BookSong, book_source, pdf_page_count
from groove.gig.index_page import index_html
from groove.gig.running_order import RunningOrder, SongRecord, order_data, running_order
from groove.gig.set_list import SetList, SetSong, parse_set_list
from groove.harmony.analysis import Analysis
from groove.io.charts import chart_stem, read_song
from groove.io.config import read_config
from groove.io.gig_folder import (
    GigFolder,
    GigFolderError,
    chart_of,
    fingerprint,
    read_set_text,
    set_mark,
)
from groove.io.library import load_library
from groove.io.midi import midi_bytes
from groove.io.pdf import pdf_bytes
from groove.io.soundfont import choose_soundfont
from groove.neck.fingering import finger_performance
from groove.pipeline import PerformOptions, analyse_song, perform_analysis, song_tuning
from groove.text.notices import notice_text
from groove.text.summary import performance_data

INDEX, BOOK = "index.html", "gig-book.pdf"
_BOOK_RECORD = "gig-book"
_OWN_STEMS = frozenset({"index", _BOOK_RECORD})
_PRINTED = ("sheet", "card")
"""Kinds that a gig book is made of, the first that there is."""


class GigMaker(Struct, frozen=True, kw_only=True):
    """Where a set goes and what is made of it; plain values, so that processes share it."""

    folder: Path
    kinds: tuple[str, ...]
    tuning: str | None
    soundfont: str | None
    patterns: Path | None

    @property
    def audio_kinds(self) -> tuple[str, ...]:
        """The kinds of sound files."""
        return tuple(kind for kind in self.kinds if kind not in ("mid", "page", *_PRINTED))

    def perform(self) -> PerformOptions:
        """Return how every song is played.  Raises OptionError for a tuning that there is not."""
        return perform_options(read_config(), tuning_choices(self.tuning))

    def font(self) -> Path | None:
        """Return the soundfont, None where nothing sounds.  Raises SoundError."""
        if not (self.soundfont or self.audio_kinds or "page" in self.kinds):
            return None
        return choose_soundfont(self.soundfont, os.environ, read_config().soundfont).path


class SongJob(Struct, frozen=True, kw_only=True):
    """A song to be made: its chart's file, what its own files are called, what is asked for."""

    chart: str
    stem: str
    perform: PerformOptions
    tempo: str | None
    fingerprint: str


class MadeSet(Struct, frozen=True, kw_only=True):
    """What came of a set: how many songs are ``new`` and how many were ``kept``."""

    order: RunningOrder
    new: int
    kept: int
    files: tuple[str, ...]
    notices: tuple[str, ...]
    failures: tuple[GrooveError, ...]


SongOutcome = SongRecord | GrooveError


def make_set(set_list: str, maker: GigMaker, *, at_once: int) -> MadeSet:
    """Make what has changed of a set, by ``at_once`` processes, its index and its book.

    Raises OptionError for a set that cannot be read, GigFolderError where the folder takes no
    files; a song that fails stops only itself.
    """
    load_library(maker.patterns)  # what is wrong there is no song's fault
    jobs_of = partial(_song_jobs, maker=maker, font=maker.font(), base=maker.perform())
    found = parse_set_list(read_set_text(set_list), source=set_list)
    jobs = jobs_of(found, set_list)
    folder = GigFolder(maker.folder)
    folder.prepare()
    wanted = {job.stem: job for job in jobs}
    kept = {stem: record for stem, job in wanted.items() if (record := _kept(folder, job))}
    waiting = [job for stem, job in wanted.items() if stem not in kept]
    made = dict(zip([job.stem for job in waiting], _outcomes(waiting, maker, at_once), strict=True))
    outcomes: dict[str, SongOutcome] = {**kept, **made}
    failures = [one for one in made.values() if isinstance(one, GrooveError)]
    rows = [_told(outcomes[job.stem]) for job in jobs]
    order = running_order(found.title or Path(set_list).stem, found, rows)
    book = _write_book(order, folder, maker)
    folder.write(INDEX, index_html(order, book=book).encode())
    records = [one for one in rows if isinstance(one, SongRecord)]
    names = [name for record in records for name in record.files]
    return MadeSet(
        order=order,
        new=len(made) - len(failures),
        kept=len(kept),
        files=tuple(dict.fromkeys([INDEX, *([book] if book else []), *names])),
        notices=tuple(f"{one.title}: {text}" for one in records for text in one.notices),
        failures=tuple(failures),
    )


def _told(outcome: SongOutcome) -> SongRecord | str:
    return outcome.message if isinstance(outcome, GrooveError) else outcome


def _kept(folder: GigFolder, job: SongJob) -> SongRecord | None:
    """Return the record of a song that stands there as it would be made now."""
    record = folder.record(job.stem)
    return record if record and record.fingerprint == job.fingerprint else None


def _song_jobs(
    set_list: SetList, source: str, *, maker: GigMaker, font: Path | None, base: PerformOptions
) -> list[SongJob]:
    """Return what is to be made of every song; the same song twice is one.

    Raises OptionError for a key or a tempo that there is not.
    """
    stems: dict[SetSong, str] = {}
    jobs = []
    for song in set_list.songs:
        chart = chart_of(song.chart, Path(source).parent)
        if song not in stems:
            stems[song] = _free_stem(chart_stem(chart), stems.values())
        asked = [maker.kinds, maker.tuning, song.key, song.tempo, song.feel]
        jobs.append(
            SongJob(
                chart=chart,
                stem=stems[song],
                perform=_with_overrides(base, song, source),
                tempo=song.tempo,
                fingerprint=fingerprint(chart, maker.patterns, font, asked),
            )
        )
    return jobs


def _free_stem(stem: str, taken: Iterable[str]) -> str:
    """Return what the files of a song are called, told apart from those of others."""
    used = {name.casefold() for name in taken} | _OWN_STEMS
    number, found = 1, stem
    while found.casefold() in used:
        number += 1
        found = f"{stem}-{number}"
    return found


def _with_overrides(base: PerformOptions, song: SetSong, source: str) -> PerformOptions:
    """Return how a song is played.  Raises OptionError with the set's name and the chart's."""
    try:
        parse_tempo(song.tempo, "tempo")
        key = parse_wanted_key(song.key)
    except OptionError as error:
        message = f"{source}: {song.chart}: {error.message.removeprefix('--')}"
        raise OptionError(message, hint=error.hint) from None
    return replace(base, key=key, feel=song.feel)


def _outcomes(jobs: Sequence[SongJob], maker: GigMaker, at_once: int) -> Iterator[SongOutcome]:
    """Yield what came of every song, in order, with a bar on a terminal.

    Raises GigFolderError where the folder takes no files: that is no song's fault.
    """
    work = partial(attempted, work=partial(make_song, maker=maker))
    found: Iterator[SongOutcome] = map(work, jobs)
    if at_once > 1 and len(jobs) > 1:
        from groove.cli.workers import Crew

        found = Crew(work, min(at_once, len(jobs)), lost=lost_job).results(jobs)
    with progress_bar("set", shown=sys.stderr.isatty() and bool(jobs)) as progress:
        for number, outcome in enumerate(found, start=1):
            if isinstance(outcome, GigFolderError):
                raise outcome
            if progress:
                progress(number / len(jobs))
            yield outcome


def make_song(job: SongJob, maker: GigMaker) -> SongRecord:
    """Write the files of one song and its record, last.  Raises GrooveError."""
    folder = GigFolder(maker.folder)
    library = load_library(maker.patterns)
    analysis = analyse_song(_song_of(job), job.perform)
    played = perform_analysis(analysis, library, job.perform)
    files: dict[str, str] = {}
    for name, data in _song_files(job, maker, analysis, played, library):
        files[name] = folder.write(name, data)
    facts = performance_data(analysis.song, played)
    record = SongRecord(
        fingerprint=job.fingerprint,
        title=played.title,
        key=played.bars[0].key.pretty,
        tempo=f"{facts['tempo_symbol']} = {facts['tempo_bpm']:g}",
        sec=played.length_sec,
        files=files,
        notices=tuple(notice_text(notice) for notice in analysis.song.notices),
    )
    folder.keep(job.stem, record)
    return record


def _song_of(job: SongJob) -> Song:
    """Return the song at the set's tempo, which card and sheet then tell as the chart's own."""
    song = read_song(job.chart)
    bpm, percent = parse_tempo(job.tempo, "tempo")
    if bpm is None and percent is None:
        return song
    return at_another_tempo(song, bpm / song.tempo.bpm if bpm else (percent or 100) / Fraction(100))


def _song_files(
    job: SongJob, maker: GigMaker, analysis: Analysis, played: Performance, library: Library
) -> Iterator[tuple[str, bytes]]:
    """Yield the name and the bytes of every file of a song: what all can make first."""
    if "mid" in maker.kinds:
        others = set(Part) - {Part.BASS}
        yield f"{job.stem}.mid", midi_bytes(played)
        yield f"{job.stem}-without-bass.mid", midi_bytes(only_parts(played, others))
    if any(kind in maker.kinds for kind in _PRINTED):
        yield from _printed_files(job, maker, analysis, library)
    if "page" in maker.kinds:
        yield f"{job.stem}.html", _page_file(maker, analysis, played, job.perform)
    if maker.audio_kinds:
        yield from _audio_files(job, maker, played)


def _printed_files(
    job: SongJob, maker: GigMaker, analysis: Analysis, library: Library
) -> Iterator[tuple[str, bytes]]:
    """Yield the sheet and the card, of a part that is played and fingered once for both."""
    from groove.io.sheets import Sheet
    from groove.sheet.options import DEFAULT_SHEET
    from groove.text.card import song_card
    from groove.text.part_facts import part_facts

    tight = perform_analysis(analysis, library, replace(job.perform, tight=True))
    tuning = song_tuning(analysis.song, job.perform)
    placed, _ = finger_performance(tight, tuning=tuning)
    if "sheet" in maker.kinds:
        sheet = Sheet(analysis=analysis, performance=placed, options=DEFAULT_SHEET, tuning=tuning)
        yield f"{job.stem}-sheet.pdf", sheet.pdf()
    if "card" in maker.kinds:
        card = song_card(analysis, tuning=tuning, part=part_facts(placed, tuning))
        yield f"{job.stem}-card.pdf", card_file(card, ".pdf")


def _page_file(
    maker: GigMaker, analysis: Analysis, played: Performance, options: PerformOptions
) -> bytes:
    """Return the practice page of a song."""
    from groove.io.practice_page import practice_page

    font = maker.font()
    assert font is not None
    tuning = song_tuning(analysis.song, options)
    placed, _ = finger_performance(played, tuning=tuning)
    return practice_page(placed, analysis, font=font, tuning=tuning).html.encode()


def _audio_files(job: SongJob, maker: GigMaker, played: Performance) -> Iterator[tuple[str, bytes]]:
    """Yield the sound of a song with the bass and without it, by one gain, counted in."""
    from groove.cli.render import SoundOptions
    from groove.cli.sounding import levelled_files
    from groove.io.synth import audio_samples

    font = maker.font()
    assert font is not None
    without_bass = set(Part) - {Part.BASS}
    led = with_count_in(played, without_bass)  # one count for both files
    rendered = audio_samples(led, font=font, part_midi=lambda part: midi_bytes(led, parts=(part,)))
    others = rendered.parts_mix(without_bass)
    mixes = {job.stem: rendered.mix, f"{job.stem}-without-bass": others}
    suffixes = [f".{kind}" for kind in maker.audio_kinds]
    yield from levelled_files(rendered, mixes, led, suffixes, SoundOptions())


def _write_book(order: RunningOrder, folder: GigFolder, maker: GigMaker) -> str:
    """Write the gig book where it is not what it would be now; return its name, empty for none."""
    kind = next((kind for kind in _PRINTED if kind in maker.kinds), None)
    if kind is None:
        return ""
    records = [row.record for row in order.rows if row.number]
    mark = set_mark([one.fingerprint if one else "" for one in records], order_data(order))
    kept = folder.record(_BOOK_RECORD)
    if kept and kept.fingerprint == mark:
        return BOOK
    files: dict[str, bytes] = {}
    songs: list[BookSong | None] = []
    for record in records:
        name = next((n for n in record.files if n.endswith(f"-{kind}.pdf")), "") if record else ""
        if name:
            files[name] = folder.read(name)
        songs.append(BookSong(name, pdf_page_count(files[name])) if name else None)
    digest = folder.write(BOOK, pdf_bytes(book_source(order, songs), files))
    record = SongRecord(
        fingerprint=mark, title=order.title, key="", tempo="", sec=0, files={BOOK: digest}
    )
    folder.keep(_BOOK_RECORD, record)
    return BOOK
