"""Songs that come again: the shipped charts and made-up ones in six usual forms, for any feel."""

from collections.abc import Iterator
from functools import cache
from itertools import islice
from random import Random

from groove.chart.model import Vary
from groove.errors import ChartError
from groove.events import Bar, Part, Performance
from groove.pipeline import PerformOptions
from tests.arrange.songs import LIBRARY, play_bass
from tests.conftest import ROOT

FORMS = (
    ({"verse": 8, "chorus": 8}, "verse, chorus, verse, chorus, verse, chorus"),
    (
        {"intro": 4, "verse": 16, "chorus": 8, "bridge": 8},
        "intro, verse, chorus, verse, chorus, bridge, chorus",
    ),
    (
        {"verse": 8, "pre-chorus": 4, "chorus": 8},
        "verse x2, pre-chorus, chorus, verse, pre-chorus, chorus, chorus",
    ),
    ({"head": 12, "solo": 12}, "head x2, solo x3, head"),
    ({"verse": 12, "solo": 12}, "verse x2, solo, verse, solo, verse"),
    ({"a": 8, "b": 8}, "a x2, b, a, a x2, b, a"),
)
PHRASES = (
    ("Em7", "Em7", "A7", "A7"),
    ("C", "Am7", "F", "G7"),
    ("Dm7", "G7", "Cmaj7", "A7"),
    ("G", "D/F#", "Em7", "C"),
    ("A7", "D7", "A7", "E7"),
    ("Bbmaj7", "Gm7", "Cm7", "F7"),
    ("F", "Bb", "F", "C7"),
    ("Am", "F", "C", "E7"),
)
SHIPPED = {
    meter: (ROOT / "shared" / "charts" / f"{name}.txt").read_text(encoding="utf-8")
    for meter, name in (
        ("4/4", "button-drawer"),
        ("3/4", "turnip-field-waltz"),
        ("6/8", "pebble-road"),
        ("12/8", "slow-ferry"),
    )
}
"""A shipped chart of each meter; the made-up ones have more than enough bars that come again."""
BarNotes = tuple[tuple[int, int], ...]
"""The bass of a bar: ticks from its line and pitch of each note."""


def made_charts(feel: str) -> Iterator[str]:
    """Yield a chart of each form, in a feel's own meter, and a shipped one."""
    meter = LIBRARY.feels[feel].meter or "4/4"
    for sections, form in FORMS:
        draw = Random(f"{feel} {form}")
        lines = [f"feel: {feel}", f"meter: {meter}", "tempo: 100", f"form: {form}"]
        for name, count in sections.items():
            phrases = [draw.choice(PHRASES) for _ in range(count // 4)]
            bars = [chord for phrase in phrases for chord in phrase]
            lines += [f"{name}:", "| " + " | ".join(bars) + " |"]
        yield "\n".join(lines) + "\n"
    if meter in SHIPPED:
        yield SHIPPED[meter]


@cache
def songs(feel: str, vary: Vary = Vary.SOME) -> tuple[Performance, ...]:
    """Return what the bass plays of every song in a feel; without variation, of four of them."""
    options = PerformOptions(tight=True, vary=vary, feel=feel)
    played = []
    for text in islice(made_charts(feel), None if vary is not Vary.NONE else 4):
        try:
            song = play_bass(text, options)
        except ChartError:
            # A push by a sixteenth cannot be played in a feel of triplets.
            continue
        if {bar.feel for bar in song.bars} == {feel}:
            played.append(song)
    return tuple(played)


def notes_by_bar(song: Performance, part: Part = Part.BASS) -> dict[int, BarNotes]:
    """Return the notes of a part in each played bar."""
    starts = {bar.ref.played_bar: bar.start_tick for bar in song.bars}
    found: dict[int, list[tuple[int, int]]] = {number: [] for number in starts}
    for note in song.part_notes(part):
        number = note.origin.bar.played_bar
        found[number].append((note.grid_tick - starts[number], note.pitch))
    return {number: tuple(notes) for number, notes in found.items()}


def come_again(
    song: Performance, part: Part = Part.BASS
) -> Iterator[tuple[Bar, BarNotes, BarNotes]]:
    """Yield each bar that comes again: it, what the first time had, what it has itself.

    The song's last bar is its end.
    """
    notes = notes_by_bar(song, part)
    first: dict[tuple[str, int], BarNotes] = {}
    for bar in song.bars[:-1]:
        place = (bar.ref.section, bar.ref.bar_in_section)
        own = notes[bar.ref.played_bar]
        if bar.ref.occurrence == 1:
            first[place] = own
        elif place in first:
            yield bar, first[place], own
