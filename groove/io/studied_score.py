"""The bass part of a MusicXML score as a line that can be studied, and the score's own bars."""

from collections.abc import Callable, Iterator, Mapping, Sequence
from fractions import Fraction
from math import ceil
from xml.etree.ElementTree import Element

from msgspec import Struct
from msgspec.structs import replace

from groove.arrange.levels import level_velocity
from groove.chart.form import PlayedBar, unroll
from groove.chart.model import Song
from groove.chart.riffs import GHOST_LEVEL, place_level
from groove.chart.tempo_map import song_tempo_map
from groove.errors import OptionError
from groove.io.charts import LARGEST_SCORE_BYTES, read_limited
from groove.io.foreign import ForeignSong, read_foreign
from groove.io.gate import Gate, Where
from groove.io.musicxml import add_line, read_bars
from groove.io.musicxml_file import ScoreTree, read_tree
from groove.io.musicxml_line import LineReader
from groove.io.musicxml_parts import (
    ScorePart,
    is_sure,
    likely_bass,
    others_of,
    score_parts,
    wanted_part,
)
from groove.io.own_chart import own_song
from groove.neck.line_places import LineBar, LineNote
from groove.study.draft import heard_symbol
from groove.study.heard_chords import Beat, PartNote, chords_within, found_chords
from groove.study.studied_line import SoundedNote
from groove.text.notices import notice_texts
from groove.theory.keys import parse_key
from groove.timing import TempoMap, quarters_to_ticks

HEARD = "there are no chord symbols: the chords are those that the parts play, to be checked by ear"
NO_LOUDNESS = "a score does not say how loud its notes are, so the beat does"
_Sure = Mapping[int, Sequence[tuple[Fraction, float]]]


class ScoreLine(Struct, frozen=True, kw_only=True):
    """The bass part of a score: which one and why, its notes, and the score as a chart.

    ``starts`` are the played bars, in quarters; ``sure`` has, in quarters too, from where on chords
    are how sure, and is empty where they are the score's own.
    """

    part: str
    notes: tuple[SoundedNote, ...]
    song: Song
    starts: tuple[Fraction, ...]
    sure: tuple[tuple[Fraction, float], ...]


def read_score_line(name: str, wanted: str, say: Callable[[str], None]) -> ScoreLine:
    """Return the bass part of a MusicXML file, or its part of a number or name; what is told, said.

    Where the score has no chord symbols they are heard in what all parts play.  Raises OptionError
    for a score without that part, without notes or without a part like a bass, and ChartError for
    what cannot be read.
    """
    tree = read_tree(read_limited(name, LARGEST_SCORE_BYTES), name)
    facts = _bass(tree, wanted, say)
    foreign = read_bars(tree)
    add_line(foreign, facts.element, tree.gate)
    sure = {} if foreign.has_symbols else _put_heard_chords(foreign, tree.root, facts.element)
    read = read_foreign(foreign, tree.gate)
    for notice in notice_texts(tree.gate.notices()):
        say(notice)
    if sure:
        say(f"{name}: {HEARD}")
    song, _ = own_song(tree.root, read.song, name)
    bars = unroll(read.song)
    return ScoreLine(
        part=f"part {facts.words}: {facts.why}; {NO_LOUDNESS}",
        notes=tuple(_sounded(read.lines, bars, song_tempo_map(read.song, bars, scale=Fraction(1)))),
        song=replace(song, title=read.song.title),
        starts=tuple(bar.start_quarters for bar in bars),
        sure=tuple(_sure_places(read.song, bars, sure)),
    )


def _bass(tree: ScoreTree, wanted: str, say: Callable[[str], None]) -> ScorePart:
    """Return the part that is studied; where another would do as well, that is told."""
    source = tree.gate.source
    parts = [facts for facts in score_parts(tree.root, tree.gate) if facts.mean_pitch]
    if not parts:
        raise OptionError(f"{source} has no notes", hint="expected a score with a bass part")
    if wanted:
        return wanted_part(parts, wanted, source, "--part")
    taken = likely_bass(parts)
    if taken is None and len(parts) > 1:
        names = ", ".join(facts.words for facts in parts[:12])
        raise OptionError(
            f"{source} has no part that is plainly a bass", hint=f"--part N takes one of: {names}"
        )
    taken = taken or parts[0]
    if not is_sure(taken, parts):
        others = others_of(taken, parts)
        say(f"the bass line is that of part {taken.words}; --part N takes another: {others}")
    return taken


# --- notes ------------------------------------------------------------------------------------


def _sounded(
    lines: Sequence[LineBar | None], bars: Sequence[PlayedBar], tempo: TempoMap
) -> Iterator[SoundedNote]:
    """Yield the notes of bars as they are played, what is tied over a bar line as one.

    A score does not say how loud a note is: they are as loud as a chart's without levels.
    """
    found: list[tuple[LineNote, int]] = []
    for bar, line in zip(bars, lines, strict=True):
        for note in line.notes if line else ():
            start = bar.start_quarters + note.start_quarters
            level = place_level(note.start_quarters / bar.meter.beat_quarters)
            before = found[-1][0] if found else None
            if note.is_tied and before and _goes_on(before, note.pitch, start):
                length = before.length_quarters + note.length_quarters
                found[-1] = replace(before, length_quarters=length), found[-1][1]
            else:
                found.append((replace(note, start_quarters=start), level))
    for note, level in found:
        start_sec, end_sec = (
            tempo.tick_to_sec(quarters_to_ticks(at))
            for at in (note.start_quarters, note.end_quarters)
        )
        yield SoundedNote(
            start_quarters=note.start_quarters,
            end_quarters=note.end_quarters,
            length_sec=end_sec - start_sec,
            pitch=note.pitch,
            velocity=level_velocity(GHOST_LEVEL if note.is_ghost else level),
            is_ghost=note.is_ghost,
        )


def _goes_on(before: LineNote, pitch: int, start: Fraction) -> bool:
    """Return whether a note lasts up to where one of a pitch begins."""
    return (before.pitch, before.end_quarters) == (pitch, start)


# --- chords -----------------------------------------------------------------------------------


def _put_heard_chords(foreign: ForeignSong, root: Element, bass: Element) -> _Sure:
    """Put the chords that the parts play over the bars; return how sure they are, by line."""
    starts = [Fraction(0)]
    for bar in foreign.bars:
        starts.append(starts[-1] + (bar.length_quarters or bar.meter.bar_quarters))
    beats = [
        Beat(
            start_quarters=start + beat * bar.meter.beat_quarters,
            length_quarters=bar.meter.beat_quarters,
            is_bar=beat == 0,
        )
        for bar, start, end in zip(foreign.bars, starts, starts[1:], strict=False)
        for beat in range(ceil((end - start) / bar.meter.beat_quarters))
    ]
    wheres = [bar.where for bar in foreign.bars]
    chords = found_chords(list(_every_note(root, bass, wheres, starts)), beats)
    fifths = next((parse_key(bar.key).signature_fifths for bar in foreign.bars if bar.key), 0)
    found: dict[int, list[tuple[Fraction, float]]] = {}
    for bar, start, end in zip(foreign.bars, starts, starts[1:], strict=False):
        own = list(chords_within(chords, start, end))
        bar.chords = [(at, heard_symbol(chord, fifths)) for at, chord in own]
        found[bar.where.line] = [(at, chord.confidence) for at, chord in own]
    return found


def _every_note(
    root: Element, bass: Element, wheres: Sequence[Where], starts: Sequence[Fraction]
) -> Iterator[PartNote]:
    """Yield the notes of all parts, all staves and voices, as the measures stand."""
    for part in root.findall("part"):
        reader = LineReader(part, Gate(""), wheres)
        measures, tabs = reader.measures(), reader.tab_staves()
        for start, measure in zip(starts, measures, strict=False):
            for note in (each.note for each in measure if each.staff not in tabs):
                if not note.is_ghost:
                    yield PartNote(
                        start_quarters=start + note.start_quarters,
                        end_quarters=start + note.end_quarters,
                        pitch=note.pitch,
                        is_bass=part is bass,
                    )


def _sure_places(
    song: Song, bars: Sequence[PlayedBar], sure: _Sure
) -> Iterator[tuple[Fraction, float]]:
    """Yield from where on chords are how sure, in played quarters."""
    lines = {bar.number: bar.place.line for section in song.sections for bar in section.bars}
    for bar in bars:
        for at, confidence in sure.get(lines.get(bar.ref.written_bar, 0), ()):
            if at < bar.length_quarters:
                yield bar.start_quarters + at, confidence
