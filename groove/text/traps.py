"""What trips a player in a song, grouped: one line for each kind of trap with all of its places."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from itertools import pairwise

from groove.chart.model import Directions, Song, Tempo
from groove.chart.order import song_tag
from groove.chart.words import direction_words
from groove.harmony.analysis import Analysis
from groove.harmony.sections import Occurrence, played_differences
from groove.text.chart import tag_words
from groove.text.counts import counted
from groove.text.harmony import away_keys, call_words, difference_text
from groove.text.moves import pretty
from groove.timing import Meter

_PHRASE_BARS = 4
_EVEN_LENGTHS = (1, 2)
"""Lengths below a phrase that are not odd: powers of two, as the multiples of four are even."""


@dataclass(frozen=True, slots=True)
class Trap:
    """What trips a player, and as much of it as a test page tells: nothing that names chords."""

    text: str
    on_test: str


def tempo_text(tempo: Tempo, meter: Meter) -> str:
    """Return tempo and meter: ``♩ = 84, 4/4``."""
    return f"{_beat_text(tempo, meter)}, {meter}"


def _beat_text(tempo: Tempo, meter: Meter) -> str:
    """Return a tempo in the meter's beat: ``♩ = 84``, ``♩ = 84 to 60`` where it moves."""
    moved = f" to {float(tempo.end_bpm):g}" if tempo.end_bpm else ""
    return f"{meter.tempo_symbol} = {float(tempo.bpm):g}{moved}"


def card_traps(harmony: Analysis) -> list[Trap]:
    """Return what trips a player: differences, odd lengths, meters, tempi, keys, pushes, stops."""
    differences = (
        _difference_trap(harmony, occurrence)
        for occurrence in harmony.form.occurrences
        if played_differences(occurrence, harmony.form.first(occurrence))
    )
    plain = [
        *_grouped(_length_places(harmony)),
        *_grouped(_meter_places(harmony)),
        *_grouped(_tempo_places(harmony.song)),
        *_grouped(_key_places(harmony)),
        *_follower_texts(harmony),
        *_grouped(_word_places(harmony)),
    ]
    return [
        *_pickup_traps(harmony.song),
        *dict.fromkeys(differences),
        *(Trap(text, text) for text in plain),
        *(Trap(text, "") for text in _grouped(_push_places(harmony))),
    ]


def _grouped(places: Iterable[tuple[str, str]]) -> list[str]:
    """Return one line a kind: ``3/4: verse bar 4, chorus bar 8``."""
    found: dict[str, dict[str, None]] = {}
    for kind, place in places:
        found.setdefault(kind, {})[place] = None
    return [f"{kind}: {', '.join(own)}" for kind, own in found.items()]


def _pickup_traps(song: Song) -> Iterator[Trap]:
    """Yield the pickup, where there is one."""
    if song.pickup:
        head = "a pickup of "
        yield Trap(head + pretty(song.pickup_words), head + song.pickup.words)


def _difference_trap(harmony: Analysis, occurrence: Occurrence) -> Trap:
    """Return where a section parts from the one that it is like, and by which chords."""
    first = harmony.form.first(occurrence)
    head = f"{harmony.form.label(occurrence)}: as {harmony.form.label(first)}"
    return Trap(
        head + difference_text(occurrence, first),
        head + difference_text(occurrence, first, with_chords=False),
    )


def _length_places(harmony: Analysis) -> Iterator[tuple[str, str]]:
    """Yield the sections whose length is no multiple of four bars and no power of two.

    A tag is told with the form: its bars count once.
    """
    tag = song_tag(harmony.song)
    for index, occurrence in enumerate(harmony.form.occurrences, start=1):
        count = len(occurrence.bars)
        if tag and index == len(harmony.form.occurrences):
            count -= tag.bars * (tag.times - 1)
        if count % _PHRASE_BARS and count not in _EVEN_LENGTHS:
            yield "odd length", f"{occurrence.name} {counted(count, 'bar')}"


def _key_places(harmony: Analysis) -> Iterator[tuple[str, str]]:
    """Yield the sections that move to another key."""
    for (occurrence, key), _ in away_keys(harmony):
        yield "new key", f"{occurrence.name} moves to {key.pretty}"


def _meter_places(harmony: Analysis) -> Iterator[tuple[str, str]]:
    """Yield the bars in another meter than the song's; a whole section by its name."""
    for occurrence in harmony.form.occurrences:
        other = [bar for bar in occurrence.bars if bar.meter != harmony.song.meter]
        whole = len(other) == len(occurrence.bars) and len({bar.meter for bar in other}) == 1
        if whole and other:
            yield str(other[0].meter), occurrence.name
            continue
        for bar in other:
            yield str(bar.meter), f"{occurrence.name} bar {bar.ref.bar_in_section}"


def _tempo_places(song: Song) -> Iterator[tuple[str, str]]:
    """Yield the sections that have a tempo of their own."""
    for section in song.sections:
        tempo = section.settings.tempo
        if tempo:
            meter = section.settings.meter or song.meter
            yield "tempo", f"{section.name} {_beat_text(tempo, meter)}"


def _follower_texts(harmony: Analysis) -> Iterator[str]:
    """Yield what comes after a section that is not always followed by the same one, in order.

    A section that is played again at once is followed by what comes after all of it.
    """
    after: dict[str, list[str]] = {}
    for occurrence, following in pairwise(harmony.form.occurrences):
        if occurrence.name != following.name:
            after.setdefault(occurrence.name, []).append(following.name)
    for name, found in after.items():
        if len(set(found)) > 1:
            yield f"after {name}: first {', then '.join(found)}"


def _word_places(harmony: Analysis) -> Iterator[tuple[str, str]]:
    """Yield the bars in which the band stops, is gathered or changes, by the chart's word."""
    for bar in harmony.bars:
        directions = bar.directions
        changes = Directions(
            density=directions.density, feel=directions.feel, has_ritard=directions.has_ritard
        )
        for word in (*call_words(bar), *direction_words(changes)):
            yield word, f"{bar.ref.section} bar {bar.ref.bar_in_section}"
    tag = tag_words(harmony.song)
    if tag:
        yield "tag", tag


def _push_places(harmony: Analysis) -> Iterator[tuple[str, str]]:
    """Yield the pushed chords and their bars."""
    for bar in harmony.bars:
        for span in bar.chords:
            if span.push:
                where = f"{bar.ref.section} bar {bar.ref.bar_in_section}"
                yield "push", f"into {pretty(span.symbol)} {where}"
