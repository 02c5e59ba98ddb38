"""How much of a line comes again, pooled for each feel over at least two hundred bars.

Bounds and rules are common practice, no source.
"""

from itertools import pairwise
from typing import NamedTuple

import pytest

from groove.bar_place import SectionKind
from groove.cells.model import LineKind
from groove.events import Role
from tests.arrange.growing_songs import LEAST_BARS, come_again, notes_by_bar, songs, unvaried
from tests.arrange.songs import LIBRARY, struck

FIFTH, OCTAVE = 7, 12
HOME = (Role.ROOT, Role.SLASH, Role.OCTAVE)


def feels_of(*kinds: LineKind) -> list[str]:
    """Return the feels whose line is of a kind."""
    return sorted(name for name, feel in LIBRARY.feels.items() if feel.line in kinds)


def shares(feel: str) -> tuple[float, float]:
    """Return how many bars that come again have the first time's notes, and its rhythm."""
    pairs = [pair for song in songs(feel) for pair in come_again(song)]
    assert len(pairs) >= LEAST_BARS
    same = sum(first == own for _, first, own in pairs)
    rhythm = sum([t for t, _ in first] == [t for t, _ in own] for _, first, own in pairs)
    return same / len(pairs), rhythm / len(pairs)


@pytest.mark.parametrize("feel", feels_of(LineKind.HOOK))
def test_a_hook_comes_again_with_touches_and_its_rhythm_stays(feel: str) -> None:
    same, rhythm = shares(feel)
    assert 0.55 <= same <= 0.92
    assert rhythm >= 0.7


@pytest.mark.parametrize("feel", feels_of(LineKind.NEW))
def test_a_walk_is_new_each_time(feel: str) -> None:
    assert shares(feel)[0] <= 0.35


@pytest.mark.parametrize("feel", feels_of(LineKind.BLUES))
def test_a_blues_keeps_its_figure_for_a_chorus_and_has_a_new_one_for_the_next(feel: str) -> None:
    assert 0.4 <= shares(feel)[0] <= 0.75
    compared = 0
    for song in songs(feel):
        solos = [bar for bar in song.bars if bar.ref.section == "solo" and bar.place.time > 1]
        again = {bar.ref.played_bar: first == own for bar, first, own in come_again(song)}
        # Bars of a solo never have the notes of the first one, but in the two of the turnaround.
        same = [again[bar.ref.played_bar] for bar in solos if bar.ref.played_bar in again]
        compared += len(same)
        assert sum(same) <= len(same) / 4
    assert compared > 30


@pytest.mark.parametrize("feel", sorted(LIBRARY.feels))
def test_without_variation_every_time_is_the_first(feel: str) -> None:
    """All but the end of a section that leads elsewhere: its fill and its turnaround do too."""
    compared, differ = 0, []
    song = unvaried(feel)
    following = {b.ref.played_bar: a for b, a in zip(song.bars, song.bars[1:], strict=False)}
    first_after: dict[tuple[str, int], str] = {}
    for bar in song.bars[:-1]:
        after = following[bar.ref.played_bar].ref
        first_after.setdefault((bar.ref.section, bar.ref.bar_in_section), after.section)
    for bar, first, own in come_again(song):
        place = (bar.ref.section, bar.ref.bar_in_section)
        leads_elsewhere = first_after[place] != following[bar.ref.played_bar].ref.section
        # At a section's head a chord may be held or come early from another bar before it.
        if not leads_elsewhere and bar.place.bars_to_next > 2 and bar.ref.bar_in_section > 1:
            compared += 1
            differ += [bar.ref] if first != own else []
    assert compared >= 20
    assert differ == []


@pytest.mark.parametrize("feel", sorted(LIBRARY.feels))
def test_the_first_time_is_what_is_played_without_variation(feel: str) -> None:
    compared = 0
    grown, plain = songs(feel)[0], unvaried(feel)
    own, other = notes_by_bar(grown), notes_by_bar(plain)
    for bar in grown.bars[:-1]:
        if bar.place.time == bar.place.kind_time == 1 and bar.place.bars_to_next > 1:
            assert own[bar.ref.played_bar] == other[bar.ref.played_bar], bar
            compared += 1
    assert compared >= 16


@pytest.mark.parametrize("feel", feels_of(LineKind.HOOK))
def test_what_differs_in_a_verse_sits_in_phrase_ends(feel: str) -> None:
    """The touches of a hook, and the fills: in bars 4, 8, 12 of a verse, nowhere else."""
    seen, touched = 0, 0
    for song in songs(feel):
        for bar, first, own in come_again(song):
            # What is tied over into a section's head is the bar's before it.
            if bar.place.kind is not SectionKind.VERSE or bar.ref.bar_in_section == 1:
                continue
            seen += 1
            if first != own:
                # A fill of a whole bar has its way in at the end of the bar before.
                is_end = bar.place.bars_to_next <= (2 if bar.meter.pulse_count == 2 else 1)
                assert bar.ref.bar_in_section % LIBRARY.feels[feel].phrase_bars == 0 or is_end, bar
                touched += 1
    assert seen >= 60
    assert 0.06 <= touched / seen <= 0.25


@pytest.mark.parametrize("feel", sorted(LIBRARY.feels))
def test_the_line_seldom_leaps_into_a_new_chord_where_a_nearer_note_is_there(feel: str) -> None:
    """From a root or an octave, where roots lie far apart or the cell asks for it, it may."""
    changes = leaps = others = 0
    for song in songs(feel):
        for before, note in pairwise(struck(song)):
            if note.origin.chord and note.origin.chord != before.origin.chord:
                size = abs(note.pitch - before.pitch)
                is_leap = size > FIFTH and size != OCTAVE
                changes += 1
                leaps += is_leap
                others += is_leap and before.origin.role not in HOME
    assert changes > LEAST_BARS
    assert others <= changes * 0.05
    if LIBRARY.feels[feel].line is LineKind.BLUES:
        assert leaps <= changes * 0.08


class Weight(NamedTuple):
    """How a section is heard, a bar: notes, mean pitch by time, share of the time that sounds."""

    notes: float
    pitch: float
    sounding: float


def weight(feel: str, kind: SectionKind, *, is_last: bool) -> Weight:
    """Return the mean of the bars of a kind of section, those of last choruses or the others."""
    counts, pitches, sounding = [], [], []
    for song in songs(feel):
        line = struck(song)
        for bar in song.bars[:-1]:
            if bar.place.kind is not kind or bar.place.is_last_chorus is not is_last:
                continue
            own = [n for n in line if n.origin.bar.played_bar == bar.ref.played_bar]
            ticks = sum(note.written_ticks for note in own)
            counts.append(len(own))
            sounding.append(sum(note.length_ticks for note in own) / bar.length_ticks)
            if own:
                pitches.append(sum(note.pitch * note.written_ticks for note in own) / ticks)
    assert len(counts) >= 14
    means = [sum(values) / len(values) for values in (counts, pitches, sounding)]
    return Weight(*means)


@pytest.mark.parametrize("feel", feels_of(LineKind.HOOK))
def test_a_chorus_lifts_and_the_last_one_more(feel: str) -> None:
    """More notes or longer ones, a twentieth at least, or higher ones, by most of a half step."""
    verse = weight(feel, SectionKind.VERSE, is_last=False)
    chorus = weight(feel, SectionKind.CHORUS, is_last=False)
    last = weight(feel, SectionKind.CHORUS, is_last=True)
    for before, after in ((verse, chorus), (verse, last)):
        grows = after.notes >= 1.05 * before.notes or after.sounding >= 1.05 * before.sounding
        assert grows or after.pitch >= before.pitch + 0.75, (before, after)
    assert last.notes > verse.notes or last.pitch >= verse.pitch + 1
