"""The practice page of a song: sounds, sheets and card gathered into one HTML file."""

import sys
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from groove.events import Part, Performance
from groove.harmony.analysis import Analysis
from groove.io.samples import SampleSet, sample_set
from groove.io.systems import NARROW, WIDE, engraved_systems
from groove.neck.instrument import Tuning
from groove.page.data import grid_sorted, page_data
from groove.page.document import Assets, Contents, practice_document
from groove.page.moved import card_pages, page_moves
from groove.page.moved_line import moved_lines
from groove.page.record import PageRecord
from groove.page.systems import EngravedPart
from groove.sheet.build import build_score
from groove.text.card import key_text
from groove.text.counts import clock_text, counted
from groove.text.part_facts import part_facts
from groove.text.traps import tempo_text

MODULES = (
    "timing.js",
    "dom.js",
    "words.js",
    "shown.js",
    "rows.js",
    "player.js",
    "stretch.js",
    "recordplayer.js",
    "mixer.js",
    "fitted.js",
    "press.js",
    "form.js",
    "ahead.js",
    "tabline.js",
    "sheet.js",
    "neck.js",
    "lead.js",
    "log.js",
    "saved.js",
    "memory.js",
    "recordmap.js",
    "recordfile.js",
    "source.js",
    "recordstrip.js",
    "recordpanel.js",
    "panels.js",
    "sound.js",
    "awake.js",
    "told.js",
    "moves.js",
    "kept.js",
    "why.js",
    "tempo.js",
    "keyboard.js",
    "controls.js",
    "key.js",
    "newest.js",
    "hearing.js",
    "pairing.js",
    "judging.js",
    "passes.js",
    "microphone.js",
    "earmarks.js",
    "earpanel.js",
    "ear.js",
    "page.js",
    "main.js",
)
"""Scripts of the page, each after those that it imports at once."""
MOST_BARS_AT_TWO_WIDTHS = 1_000
"""A longer part is engraved for a phone alone, which a laptop shows as well: it takes half of the
time, and no song that is practised is as long."""
_TURN_SEC = 0.0005
_FOLDER = Path(__file__).resolve().parents[1] / "page"


@dataclass(frozen=True, slots=True, kw_only=True)
class PracticePage:
    """The page, who made its sound, and the drawing beside it where it looks for a newer one."""

    html: str
    synthesizer: str
    notice: str
    newest: str = ""

    def __repr__(self) -> str:
        """Return how large it is."""
        return f"<PracticePage {len(self.html) / 1e6:.1f} MB by {self.synthesizer}>"


@cache
def _page_assets() -> Assets:
    def read(name: str) -> str:
        return (_FOLDER / name).read_text(encoding="utf-8")

    return Assets(body=read("page.html"), style=read("page.css"), modules=tuple(map(read, MODULES)))


def practice_page(
    performance: Performance,
    analysis: Analysis,
    *,
    font: Path,
    tuning: Tuning,
    record: PageRecord | None = None,
    watched_as: str = "",
) -> PracticePage:
    """Return the practice page of a performance whose bass has its places.

    ``record`` is played beside the band.  ``watched_as`` is the file's own name where the page is
    to look for a newer one of itself.
    Raises SoundError where no sound can be made, OutputError where a library is missing.
    """
    moves = page_moves(len(performance.bars))
    with _turns_by_the_stroke(), ThreadPoolExecutor(max_workers=1) as other:
        # Synthesizer and encoders are not Python's: they play while the sheets are drawn.
        played = other.submit(sample_set, performance, font=font)
        bass = grid_sorted(performance.part_notes(Part.BASS))
        moved = moved_lines(bass, performance.tempo_map, tuning, moves)
        cards = tuple(card_pages(analysis, tuning, part_facts(performance, tuning), moves))
        # The engraver lets no other thread run, so it comes when the encoders need none of Python.
        sheets = _page_sheets(performance, analysis, tuning)
        sounds = played.result()
    data = page_data(performance, analysis.key, tuning, moves)
    contents = Contents(
        title=performance.title,
        key=key_text(analysis),
        facts=_head_facts(performance, analysis),
        counted_bars=performance.count_in.bars,
        data={**data, "sounds": _sound_data(sounds)},
        sounds={row.part: row.mp3 for row in sounds.rows},
        sheets=sheets,
        cards=cards,
        moved=moved,
        record=record,
        watched_as=watched_as,
    )
    return _written_page(contents, sounds)


def _written_page(contents: Contents, sounds: SampleSet) -> PracticePage:
    document = practice_document(contents, _page_assets())
    return PracticePage(
        html=document.html,
        synthesizer=sounds.synthesizer,
        notice=sounds.notice,
        newest=document.newest.drawing() if document.newest else "",
    )


def _head_facts(performance: Performance, analysis: Analysis) -> str:
    """Return tempo, bars and minutes, as they stand at the head of the page.

    The bars are the chart's own, and those that are played where that is another number.
    """
    written = len({bar.ref.written_bar for bar in performance.bars} - {0})
    played = analysis.form.bar_count
    counts = [counted(written, "bar"), *([f"{played} as played"] if played != written else [])]
    tempo = tempo_text(analysis.song.tempo, analysis.song.meter)
    return f"{tempo}   ·   {', '.join((*counts, clock_text(analysis.starts_sec[-1])))}"


@contextmanager
def _turns_by_the_stroke() -> Iterator[None]:
    """Let Python's threads take short turns.

    The synthesizer is told of some hundreds of strokes one by one, and would wait for each as long
    as it takes to play it: a song's sounds took four seconds beside the sheets, and take one.
    """
    usual = sys.getswitchinterval()
    sys.setswitchinterval(_TURN_SEC)
    try:
        yield
    finally:
        sys.setswitchinterval(usual)


def _page_sheets(
    performance: Performance, analysis: Analysis, tuning: Tuning
) -> dict[str, EngravedPart]:
    """Return the bass part engraved at the page's two widths; nothing where there is no bass.

    A very long one is narrow alone.
    """
    if not performance.part_notes(Part.BASS):
        return {}
    score = build_score(performance, analysis.song, tuning=tuning, written_out=True)
    widths = {"wide": WIDE, "narrow": NARROW}
    if len(score.measures) > MOST_BARS_AT_TWO_WIDTHS:
        del widths["wide"]
    return {name: engraved_systems(performance, score, width) for name, width in widths.items()}


def _sound_data(sounds: SampleSet) -> dict[str, object]:
    """Return where the sounds lie in their rows."""
    return {
        row.part: {
            "gain": round(row.gain, 5),
            "samples": [
                [
                    s.pitch,
                    s.velocity,
                    round(s.offset_sec, 6),
                    round(s.length_sec, 6),
                    round(s.left, 3),
                    round(s.right, 3),
                ]
                for s in row.sounds
            ],
        }
        for row in sounds.rows
    }
