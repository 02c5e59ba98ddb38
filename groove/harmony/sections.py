"""The form: how many progressions a song really has, and which sections share one.

Sections are compared bar by bar by an alignment, never by name.  Costs: a bar with the same chords
0; the same roots at the same places with other colours or slash notes 1/2; any other bar 1; a bar
put in or left out 1 (the edit distance of V. I. Levenshtein, 1966, with these costs).  Two sections
share a progression where the cheapest alignment costs at most a quarter of the longer one's bars
and fewer than half of the bars differ.
"""

from collections import Counter
from collections.abc import Iterable, Sequence
from fractions import Fraction
from functools import lru_cache
from itertools import groupby, pairwise

from msgspec import Struct

from groove.bar_place import BandWord
from groove.chart.form import PlayedBar
from groove.chart.model import BeatPoint, Loudness
from groove.chart.push import Push
from groove.theory.chords import Chord

SAME_ROOTS_COST = 1
"""Costs are counted in halves of a bar, so that they stay whole numbers."""
OTHER_COST = 2
LARGEST_SHARE = Fraction(1, 4)
_SHORTEST_PHRASE = 4
"""How many bars a phrase has at least."""
_ENDING_BARS = 2
SOFT = (Loudness.PP, Loudness.P)

BarContent = tuple[tuple[Fraction, Fraction, Chord | None], ...]
"""What sounds in a bar: start and length in quarters, and the chord."""
BarCall = tuple[BandWord | None, tuple[BeatPoint, ...], tuple[BeatPoint, ...], bool]
"""What stops the band in a bar or gathers it: stop or hold, its hits, its kicks, a last hit."""
BarCode = tuple[int, int]
"""A bar's content and its roots, each as a number."""


class Difference(Struct, frozen=True):
    """Where two sections part: bars of the one and of the other (from 1), None where left out."""

    bar: int | None
    other_bar: int | None


class Occurrence(Struct, frozen=True):
    """A section as it is played once.

    ``bars`` are the played bars; ``progression`` counts from 0; ``differs`` is where it parts from
    the first occurrence of its progression, the bars there being ``Difference.other_bar``.
    """

    name: str
    number: int
    bars: tuple[PlayedBar, ...]
    progression: int
    differs: tuple[Difference, ...] = ()


class SongForm(Struct, frozen=True):
    """All occurrences in order; ``firsts`` has the index of each progression's first one."""

    occurrences: tuple[Occurrence, ...]
    firsts: tuple[int, ...]

    @property
    def bar_count(self) -> int:
        """How many bars are played, a pickup left out."""
        return sum(len(occurrence.bars) for occurrence in self.occurrences)

    def first(self, occurrence: Occurrence) -> Occurrence:
        """Return the occurrence that first played this one's progression."""
        return self.occurrences[self.firsts[occurrence.progression]]

    def label(self, occurrence: Occurrence) -> str:
        """Return a name that tells occurrences apart: ``verse 2`` where verse is played again."""
        same = sum(other.name == occurrence.name for other in self.occurrences)
        return f"{occurrence.name} {occurrence.number}" if same > 1 else occurrence.name

    def followers(self) -> Counter[tuple[str, str]]:
        """Return how often each section follows each."""
        return Counter((a.name, b.name) for a, b in pairwise(self.occurrences))


def bar_chords(bar: PlayedBar) -> BarContent:
    """Return what sounds in a bar, names and places left out."""
    return tuple((s.start_quarters, s.length_quarters, s.chord) for s in bar.chords)


def bar_pushes(bar: PlayedBar) -> tuple[Push | None, ...]:
    """Return how early each chord of a bar arrives."""
    return tuple(span.push for span in bar.chords)


def bar_call(bar: PlayedBar) -> BarCall:
    """Return what stops the band in a bar or gathers it."""
    stated = bar.directions
    return bar.word, stated.hits, stated.kicks, stated.has_hit


def played_differences(occurrence: Occurrence, first: Occurrence) -> tuple[Difference, ...]:
    """Return where an occurrence parts from its progression's first one, as a player hears it.

    That is by its chords, by how early they arrive, or by what stops the band.
    """
    bars = {d.bar for d in occurrence.differs}
    others = {d.other_bar for d in occurrence.differs}
    kept = (n for n in range(1, len(first.bars) + 1) if n not in bars)
    other_kept = (n for n in range(1, len(occurrence.bars) + 1) if n not in others)
    otherwise = [
        Difference(n, other)
        for n, other in zip(kept, other_kept, strict=True)
        if _manner(first.bars[n - 1]) != _manner(occurrence.bars[other - 1])
    ]
    return (*occurrence.differs, *otherwise)


def _manner(bar: PlayedBar) -> tuple[tuple[Push | None, ...], BarCall]:
    """Return how the chords of a bar are played."""
    return bar_pushes(bar), bar_call(bar)


class _Codes:
    """Numbers for bars, so that bars are compared once and sections quickly."""

    def __init__(self) -> None:
        self.contents: dict[BarContent, int] = {}
        self.roots: dict[tuple[tuple[Fraction, int | None], ...], int] = {}

    def code(self, content: BarContent) -> BarCode:
        """Return a bar's numbers: of all that sounds in it, and of its roots alone."""
        exact = self.contents.setdefault(content, len(self.contents))
        return exact, self.roots.setdefault(roots(content), len(self.roots))


def _bar_cost(first: BarCode, second: BarCode) -> int:
    """Return the cost of taking one bar for another, in halves of a bar."""
    if first == second:
        return 0
    return SAME_ROOTS_COST if first[1] == second[1] else OTHER_COST


def roots(content: BarContent) -> tuple[tuple[Fraction, int | None], ...]:
    """Return the roots of a bar at their places."""
    return tuple((start, chord.root.pitch_class if chord else None) for start, _, chord in content)


def _align(
    first: Sequence[BarCode], second: Sequence[BarCode], most: Fraction
) -> tuple[Difference, ...] | None:
    """Return where two rows of bars part, made one another at the least cost, in halves of a bar.

    None where that is more than ``most``: from each row of the table on it only grows.
    """
    table = [[OTHER_COST * j for j in range(len(second) + 1)]]
    for bar in first:
        above = table[-1]
        row = [above[0] + OTHER_COST]
        for j, other in enumerate(second):
            left = min(above[j + 1], row[j]) + OTHER_COST
            row.append(min(above[j] + _bar_cost(bar, other), left))
        if min(row) > most:
            return None
        table.append(row)
    return _parting(first, second, table) if table[-1][-1] <= most else None


def _parting(
    first: Sequence[BarCode], second: Sequence[BarCode], table: Sequence[Sequence[int]]
) -> tuple[Difference, ...]:
    """Return where two rows part, read backwards from a filled table."""
    found = []
    i, j = len(first), len(second)
    while i or j:
        cost = _bar_cost(first[i - 1], second[j - 1]) if i and j else None
        if cost is not None and table[i][j] == table[i - 1][j - 1] + cost:
            i, j = i - 1, j - 1
            if cost:
                found.append(Difference(i + 1, j + 1))
        elif i and table[i][j] == table[i - 1][j] + OTHER_COST:
            i -= 1
            found.append(Difference(i + 1, None))
        else:
            j -= 1
            found.append(Difference(None, j + 1))
    return tuple(reversed(found))


@lru_cache(maxsize=1024)
def _roots_counter(bars: tuple[BarCode, ...]) -> Counter[int]:
    """Return how often bars have each row of roots."""
    return Counter(root for _, root in bars)


def _match(
    first: tuple[BarCode, ...], second: tuple[BarCode, ...]
) -> tuple[Difference, ...] | None:
    """Return where two sections part if they share a progression, None if they do not."""
    if first == second:
        return ()
    longest = max(len(first), len(second))
    most = OTHER_COST * LARGEST_SHARE * longest
    # Every bar of the longer section that has no bar like it in the other costs a whole one.
    alike = sum((_roots_counter(first) & _roots_counter(second)).values())
    if OTHER_COST * (longest - alike) > most:
        return None
    differs = _align(first, second, most)
    return differs if differs is not None and 2 * len(differs) < longest else None


def _song_sections(bars: Iterable[PlayedBar]) -> list[tuple[PlayedBar, ...]]:
    """Return the played bars of each occurrence of a section, a pickup left out."""
    sounding = (bar for bar in bars if not bar.is_pickup)
    grouped = groupby(sounding, key=lambda bar: bar.ref.played_bar - bar.ref.bar_in_section)
    return [tuple(group) for _, group in grouped]


def find_form(bars: Iterable[PlayedBar]) -> SongForm:
    """Return the form of a song from its played bars."""
    codes = _Codes()
    occurrences: list[Occurrence] = []
    firsts: list[int] = []
    contents: list[tuple[BarCode, ...]] = []
    known: dict[tuple[BarCode, ...], tuple[int, tuple[Difference, ...]]] = {}
    for group in _song_sections(bars):
        content = tuple(codes.code(bar_chords(bar)) for bar in group)
        if content not in known:
            known[content] = place(content, contents)
        progression, differs = known[content]
        if progression == len(contents):
            contents.append(content)
            firsts.append(len(occurrences))
        ref = group[0].ref
        occurrences.append(Occurrence(ref.section, ref.occurrence, group, progression, differs))
    return SongForm(tuple(occurrences), tuple(firsts))


def place(
    content: tuple[BarCode, ...], contents: Sequence[tuple[BarCode, ...]]
) -> tuple[int, tuple[Difference, ...]]:
    """Return the progression that bars play, and where they part from it; a new one at the end."""
    found = [
        (len(differs), number, differs)
        for number, other in enumerate(contents)
        if (differs := _match(other, content)) is not None
    ]
    if not found:
        return len(contents), ()
    _, number, differs = min(found, key=lambda item: item[:2])
    return number, differs


class Echo(Struct, frozen=True):
    """A phrase of a section that comes again, but for a few odd bars (from 1)."""

    phrase_bars: int
    times: int
    odd_bars: tuple[int, ...]


def find_echo(bars: Sequence[PlayedBar]) -> Echo | None:
    """Return the shortest phrase that a section repeats but for one bar or the ending each time.

    None where there is none, or where it repeats whole.  A phrase has four bars or more, and its
    bars are those of its first time; an ending is its last two (common practice, no source).
    """
    contents = [bar_chords(bar) for bar in bars]
    for length in range(_SHORTEST_PHRASE, len(bars) // 2 + 1):
        if len(bars) % length:
            continue
        odd = [n for n, content in enumerate(contents) if content != contents[n % length]]
        if not odd:
            return None
        again = Counter(n // length for n in odd)
        endings = length >= 2 * _SHORTEST_PHRASE and all(
            n % length >= length - _ENDING_BARS for n in odd
        )
        if max(again.values()) == 1 or endings:
            return Echo(length, len(bars) // length, tuple(n + 1 for n in odd))
    return None


def thins_out(bars: Sequence[PlayedBar]) -> bool:
    """Return whether the band thins out in a section: a part is out, it is soft or told so."""
    settings = bars[0].settings
    parts = (settings.bass, settings.drums, settings.keys)
    left_out = any(part is not None and part.is_out for part in parts)
    thinned = all(bar.is_thin for bar in bars)
    stopped = sum(bar.word in (BandWord.HOLD, BandWord.STOP) for bar in bars) * 2 > len(bars)
    return (
        left_out
        or thinned
        or stopped
        or (settings.dynamics is not None and settings.dynamics.level in SOFT)
    )
