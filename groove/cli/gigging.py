"""The files of a set, song by song; imported only when a set is made."""

import sys
from collections.abc import Callable, Iterable, Iterator, Sequence
from functools import partial
from pathlib import Path

from msgspec import Struct
from msgspec.structs import replace

from groove.cli.gig_songs import FILE_ENDINGS, PRINTED, GigMaker, SongJob, make_song
from groove.cli.jobs import attempted, longest_first, lost_job
from groove.cli.sounding import progress_bar
from groove.cli.values import parse_tempo, parse_wanted_key
from groove.errors import GrooveError, OptionError
from groove.gig.gig_book import BookSong, book_source, pdf_page_count
from groove.gig.index_page import index_html
from groove.gig.running_order import RunningOrder, SongRecord, order_data, running_order
from groove.gig.set_list import SetList, SetSong, parse_set_list
from groove.io.charts import chart_stem
from groove.io.gig_folder import (
    Dropped,
    GigFolder,
    GigFolderError,
    chart_of,
    file_digest,
    fingerprint,
    read_set_text,
    set_mark,
)
from groove.io.library import load_library
from groove.io.pdf import pdf_bytes
from groove.io.soundfont import SoundfontChoice
from groove.pipeline import PerformOptions

INDEX, BOOK = "index.html", "gig-book.pdf"
_BOOK_RECORD = "gig-book"
_OWN_STEMS = frozenset({"index", _BOOK_RECORD})


class MadeSet(Struct, frozen=True, kw_only=True):
    """What came of a set: how many songs are ``new`` and how many were ``kept``."""

    order: RunningOrder
    new: int
    kept: int
    files: tuple[str, ...]
    notices: tuple[str, ...]
    failures: tuple[GrooveError, ...]
    dropped: Dropped


SongOutcome = SongRecord | GrooveError
Making = Callable[[Sequence[SongJob], GigMaker], Iterable[SongOutcome]]
"""What has songs made and their files written: it gives what came of each, in order."""


def make_set(maker: GigMaker, make: Making) -> MadeSet:
    """Make what has changed of a set, its index and its book; ``make`` has the songs made.

    Raises OptionError for a set that cannot be read, GigFolderError where the folder takes no
    files; a song that fails stops only itself.
    """
    load_library(maker.patterns)  # what is wrong there is no song's fault
    jobs_of = partial(_song_jobs, maker=maker, font=maker.font(), base=maker.perform())
    found = parse_set_list(read_set_text(maker.set_list), source=maker.set_list)
    jobs = jobs_of(found)
    folder = GigFolder(maker.folder)
    folder.prepare()
    wanted = {job.stem: job for job in jobs}
    kept = {stem: record for stem, job in wanted.items() if (record := _kept(folder, job, maker))}
    waiting = [job for stem, job in wanted.items() if stem not in kept]
    made = dict(
        zip([job.stem for job in waiting], _shown(make(waiting, maker), len(waiting)), strict=True)
    )
    outcomes: dict[str, SongOutcome] = {**kept, **made}
    failures = [one for one in made.values() if isinstance(one, GrooveError)]
    rows = [_row_content(outcomes[job.stem]) for job in jobs]
    order = running_order(found.title or Path(maker.set_list).stem, found, rows)
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
        dropped=folder.drop_others([*wanted, _BOOK_RECORD], maker.set_name),
    )


def _row_content(outcome: SongOutcome) -> SongRecord | str:
    """Return what a song's row tells: of an error its first line, which has the place."""
    if isinstance(outcome, GrooveError):
        return outcome.report().partition("\n")[0]
    return outcome


def _kept(folder: GigFolder, job: SongJob, maker: GigMaker) -> SongRecord | None:
    """Return the record of a song that stands there as it would be made now, as this set's own."""
    record = folder.record(job.stem)
    if record is None or record.fingerprint != job.fingerprint:
        return None
    if record.set_list != maker.set_name:
        record = replace(record, set_list=maker.set_name)
        folder.keep(job.stem, record)
    return record


def _song_jobs(
    set_list: SetList, *, maker: GigMaker, font: SoundfontChoice | None, base: PerformOptions
) -> list[SongJob]:
    """Return what is to be made of every song; the same song twice is one.

    Raises OptionError for a key or a tempo that there is not.
    """
    source = maker.set_list
    whom = maker.written_for.words if maker.written_for else ""
    stems: dict[SetSong, str] = {}
    jobs = []
    for song in set_list.songs:
        chart = chart_of(song.chart, Path(source).parent)
        if song not in stems:
            stems[song] = _free_stem(chart_stem(chart), stems.values())
        record = _record_of(song, maker)
        heard = [song.record, file_digest(Path(record))] if record else []
        asked = [maker.kinds, maker.tuning, whom, song.key, song.tempo, song.feel, heard]
        jobs.append(
            SongJob(
                chart=chart,
                stem=stems[song],
                perform=_with_overrides(base, song, source),
                asked=song,
                record=record,
                fingerprint=fingerprint(chart, maker.patterns, font.path if font else None, asked),
            )
        )
    return jobs


def _record_of(song: SetSong, maker: GigMaker) -> str | None:
    """Return the file of a song's record, from the list's own folder on, None where it is unasked.

    It is for the page alone.
    """
    if not song.record or "page" not in maker.kinds:
        return None
    return str(Path(maker.set_list).parent / song.record)


def _free_stem(stem: str, taken: Iterable[str]) -> str:
    """Return what the files of a song are called, told apart from those of others."""
    used = {name for other in taken for name in _own_names(other)} | _OWN_STEMS
    number, found = 1, stem
    while not used.isdisjoint(_own_names(found)):
        number += 1
        found = f"{stem}-{number}"
    return found


def _own_names(stem: str) -> set[str]:
    """Return the names, without suffixes, that files of a song may have."""
    return {f"{stem}{ending}".casefold() for ending in FILE_ENDINGS}


def _with_overrides(base: PerformOptions, song: SetSong, source: str) -> PerformOptions:
    """Return how a song is played.  Raises OptionError with the set's name and the chart's."""
    try:
        parse_tempo(song.tempo, "tempo")
        key = parse_wanted_key(song.key, "key")
    except OptionError as error:
        message = f"{source}: {song.chart}: {error.message}"
        raise OptionError(message, hint=error.hint) from None
    return replace(base, key=key, feel=song.feel)


def by_processes(at_once: int) -> Making:
    """Return how songs are made by this machine's processes, each of which writes its files."""

    def make(jobs: Sequence[SongJob], maker: GigMaker) -> Iterator[SongOutcome]:
        work = partial(attempted, work=partial(make_song, maker=maker))
        if at_once == 1 or len(jobs) < 2:
            return map(work, jobs)
        from groove.cli.workers import Crew

        begin = longest_first([job.chart for job in jobs], at_once)
        return Crew(work, min(at_once, len(jobs)), lost=lost_job).results(jobs, begin)

    return make


def _shown(found: Iterable[SongOutcome], count: int) -> Iterator[SongOutcome]:
    """Yield what came of every song, in order, with a bar on a terminal.

    Raises GigFolderError where the folder takes no files: that is no song's fault.
    """
    with progress_bar("set", shown=sys.stderr.isatty() and count > 0) as progress:
        for number, outcome in enumerate(found, start=1):
            if isinstance(outcome, GigFolderError):
                raise outcome
            if progress:
                progress(number / count)
            yield outcome


def _write_book(order: RunningOrder, folder: GigFolder, maker: GigMaker) -> str:
    """Write the gig book where it is not what it would be now; return its name, empty for none."""
    kind = next((kind for kind in PRINTED if kind in maker.kinds), None)
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
        fingerprint=mark,
        title=order.title,
        key="",
        tempo="",
        sec=0,
        files={BOOK: digest},
        set_list=maker.set_name,
    )
    folder.keep(_BOOK_RECORD, record)
    return BOOK
