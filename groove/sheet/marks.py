"""What stands over and between the notes of a part: tempi, keys, accents, slides, words."""

from collections.abc import Collection, Hashable, Iterable, Iterator, Sequence
from itertools import pairwise

from groove.arrange.hits import hit_ticks
from groove.chart.model import NO_DIRECTIONS, BeatPoint, Directions, Song, WrittenBar
from groove.chart.words import direction_words
from groove.events import Note, Part, Performance, Touch
from groove.sheet.drum_staff import HANDS, drum_sign
from groove.sheet.signs import Joint
from groove.sheet.swung import page_meter, page_swing
from groove.sheet.voices import Cut, beat_end
from groove.text.times import ordinal

LEVELS_LOUDER = 2
"""How many levels louder than its neighbours a stroke off the beat is that gets an accent."""


def bar_tempi(performance: Performance) -> list[tuple[tuple[int, int], ...]]:
    """Return the tempo changes of each bar as (tick from the bar line, microseconds)."""
    changes = performance.tempo_map.changes
    found = []
    at = 0
    for bar in performance.bars:
        own = []
        while at < len(changes) and changes[at].tick < bar.end_tick:
            own.append((max(0, changes[at].tick - bar.start_tick), changes[at].microseconds))
            at += 1
        found.append(tuple(own))
    return found


def bar_content(
    performance: Performance,
    index: int,
    voices: Sequence[tuple[Cut, ...]],
    tempi: tuple[tuple[int, int], ...],
    told: tuple[str, ...],
    accents: Collection[str],
    *,
    has_places: bool,
) -> Hashable:
    """Return everything that a measure shows, so that equal passes can be told.

    ``told`` are the words over it, ``accents`` the ids of all accented notes; ``has_places`` tells
    bars apart too that have the same notes elsewhere on the neck.
    """
    bar = performance.bars[index]
    notes = tuple(
        tuple((*cut.content(has_places=has_places), cut.has_any(accents)) for cut in cuts)
        for cuts in voices
    )
    microseconds = performance.tempo_map.microseconds_at(bar.start_tick)
    swing = page_swing(bar, page_meter(performance, index))
    facts = (bar.meter, bar.length_ticks, bar.chords, bar.key, swing, told)
    return (*facts, notes, tempi[1:], microseconds)


def kept_signs(performance: Performance) -> list[Hashable]:
    """Return key, meter, tempo, swing and feel of each bar, which a reader keeps from before.

    A bar in which the tempo moves has none that could be kept.
    """
    found: list[Hashable] = []
    for index, (bar, tempi) in enumerate(
        zip(performance.bars, bar_tempi(performance), strict=True)
    ):
        swing = page_swing(bar, page_meter(performance, index))
        moves = index if any(tick for tick, _ in tempi) else -1
        tempo = performance.tempo_map.microseconds_at(bar.start_tick)
        found.append((bar.key, bar.meter, tempo, moves, swing, bar.feel))
    return found


def written_bars(song: Song, performance: Performance) -> Iterator[WrittenBar | None]:
    """Yield the chart's own bar of each played bar, None for a pickup."""
    written = {(s.name.casefold(), bar.number): bar for s in song.sections for bar in s.bars}
    for bar in performance.bars:
        yield written.get((bar.ref.section.casefold(), bar.ref.written_bar))


def accented(performance: Performance, song: Song, part: Part) -> frozenset[str]:
    """Return the ids of notes with an accent.

    What the whole band strikes together has one: hits, kicks, the last stroke of all; of a
    drummer what the hands do.  The bass and the keys have one where a chord is pushed, the bass
    where a stroke off the beat is stated clearly louder than both its neighbours (common practice,
    no source); how hard the hand happens to strike is no accent.
    """
    struck = [
        (name, note)
        for name, note in zip(performance.note_ids, performance.notes, strict=True)
        if note.part is part and note.touch is not Touch.GHOST
    ]
    together = frozenset(_band_ticks(performance, song))
    found = {name for name, note in struck if note.grid_tick in together}
    if part is Part.DRUMS:
        return frozenset(n for n, note in struck if n in found and _is_by_hand(note))
    found |= {name for name, note in struck if note.origin.pushed_ticks}
    return frozenset(found | (_louder(performance, struck) if part is Part.BASS else set()))


def _band_ticks(performance: Performance, song: Song) -> Iterator[int]:
    """Yield the ticks at which the chart has the whole band strike."""
    for bar, written in zip(performance.bars, written_bars(song, performance), strict=True):
        told = written.directions if written else NO_DIRECTIONS
        points = [*told.hits, *told.kicks]
        if told.has_hit and bar is performance.bars[-1]:
            points.append(BeatPoint(1))
        for tick in hit_ticks(bar.meter, points, in_triplets=bar.in_triplets):
            yield bar.start_tick + tick


def _is_by_hand(note: Note) -> bool:
    return drum_sign(note.pitch).voice == HANDS


def _louder(performance: Performance, struck: Sequence[tuple[str, Note]]) -> set[str]:
    """Return the ids of strokes off the beat that are stated louder than their neighbours."""
    starts = {bar.ref.played_bar: bar for bar in performance.bars}
    found = set()
    for (_, before), (name, note), (_, after) in zip(struck, struck[1:], struck[2:], strict=False):
        bar = starts.get(note.origin.bar.played_bar)
        louder = _level(note) - max(_level(before), _level(after)) >= LEVELS_LOUDER
        if bar and louder and beat_end(bar, note.grid_tick - 1) != note.grid_tick:
            found.add(name)
    return found


def _level(note: Note) -> int:
    """Return how loud a note is stated, 0 where nothing states it."""
    return note.origin.level or 0


JOINTS = {
    Touch.SLIDE: Joint.SLIDE,
    Touch.HAMMER_ON: Joint.HAMMER_ON,
    Touch.PULL_OFF: Joint.PULL_OFF,
}


def page_joints(
    bars: Iterable[tuple[int, Sequence[Cut]]],
) -> dict[str, tuple[str, Joint]]:
    """Return slides and slurs of a page by the id of the note that is left: to which, and how.

    ``bars`` are the bars of one voice as printed, each with its length in ticks.  One begins at
    the note printed before: none into a song's first note, none over a rest, which has lifted the
    finger, and none between two notes of one pitch.
    """
    printed = [(start + cut.start, start + cut.end, cut) for start, cut in _placed_cuts(bars)]
    found: dict[str, tuple[str, Joint]] = {}
    name, note = "", None
    for (_, stop, cut), (start, _, after) in pairwise(printed):
        if not cut.tied_in:
            name, note = cut.stroke.notes[0]
        following, struck = after.stroke.notes[0]
        kind = JOINTS.get(struck.touch) if not after.tied_in and stop == start else None
        if kind and note and struck.pitch != note.pitch:
            found[name] = following, kind
    return found


def _placed_cuts(bars: Iterable[tuple[int, Sequence[Cut]]]) -> Iterator[tuple[int, Cut]]:
    """Yield the cuts of printed bars, each with the tick on the page where its bar begins."""
    start = 0
    for length, cuts in bars:
        yield from ((start, cut) for cut in cuts)
        start += length


def band_words(song: Song, performance: Performance) -> dict[int, tuple[str, ...]]:
    """Return what the chart tells over each played bar, by index: cues, then words to the band.

    Bars are printed in the order played, so jumps and their signs are left out, and what the end
    alone has stands there alone, a tag with the time that it is; loudness and tempo have signs.
    """
    last = performance.bars[-1].ref
    tagged = 0
    found = {}
    for index, bar in enumerate(written_bars(song, performance)):
        if bar is None:
            continue
        ref = performance.bars[index].ref
        told = bar.directions
        is_end = (ref.section, ref.occurrence) == (last.section, last.occurrence)
        tagged += bool(told.tag and is_end)
        tag = (f"tag {tagged} of {told.tag}",) if told.tag and is_end else ()
        band = Directions(
            hits=told.hits,
            kicks=told.kicks,
            fill=told.fill,
            density=told.density,
            feel=told.feel,
            has_hit=told.has_hit and index == len(performance.bars) - 1,
        )
        stop = (str(bar.word),) if bar.word else ()
        found[index] = (*bar.cues, *stop, *direction_words(band), *tag)
    return found


def ramp_words(
    performance: Performance, tempi: Sequence[tuple[tuple[int, int], ...]]
) -> dict[int, str]:
    """Return the bars, by index, in which the tempo begins to move, with the trade's word."""
    found: dict[int, str] = {}
    occurrence, before, word = None, 0, ""
    for index, (bar, own) in enumerate(zip(performance.bars, tempi, strict=True)):
        if (bar.ref.section, bar.ref.occurrence) != occurrence:
            occurrence, word = (bar.ref.section, bar.ref.occurrence), ""
            before = performance.tempo_map.microseconds_at(bar.start_tick)
        for tick, microseconds in own:
            if microseconds == before:
                continue
            change = "rit." if microseconds > before else "accel."
            if change != word:
                # The first new tempo is a beat after the bar in which it moves has begun.
                found[index if tick else index - 1] = word = change
            before = microseconds
    return found


def section_words(section: str, occurrences: Sequence[int]) -> str:
    """Return a section's name with the times through the form that its measures stand for.

    The first time, alone or with others, is the name.
    """
    if occurrences[0] == 1:
        return section
    *names, last = [ordinal(number) for number in occurrences]
    times = " and ".join(filter(None, [", ".join(names), last]))
    return f"{section}, {times} time"
