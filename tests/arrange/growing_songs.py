"""Songs that come again: a shipped chart and made-up ones in usual forms, for any feel."""

from collections.abc import Iterator
from functools import cache
from random import Random

from groove.cells.model import LineKind
from groove.chart.model import Vary
from groove.errors import ChartError
from groove.events import Bar, Part, Performance
from groove.pipeline import PerformOptions
from tests.arrange.songs import LIBRARY, METERS, play_bass
from tests.conftest import ROOT

FORMS = (
    (
        {"verse": 8, "pre-chorus": 4, "chorus": 8},
        "verse x2, pre-chorus, chorus, verse, pre-chorus, chorus, chorus",
    ),
    ({"head": 12, "solo": 12}, "head x2, solo x3, head"),
    ({"verse": 12, "solo": 12}, "verse x2, solo, verse, solo, verse"),
    ({"a": 8, "b": 8}, "a x2, b, a, a x2, b, a"),
    ({"verse": 8, "chorus": 8}, "verse, chorus, verse, chorus, verse, chorus"),
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
        ("6/8", "pebble-road"),
        ("12/8", "slow-ferry"),
    )
}
"""A shipped chart of a meter, in verses and choruses."""
LEAST_BARS = 200
"""In how many bars that come again a feel's line is judged."""
BarNotes = tuple[tuple[int, int], ...]
"""The bass of a bar: ticks from its line and pitch of each note."""


def made_charts(feel: str) -> Iterator[str]:
    """Yield charts in a feel's own meter: a form that it is used to, a shipped one, the others."""
    meter = METERS[feel]
    made = [_made_chart(meter, sections, form) for sections, form in FORMS]
    if LIBRARY.feels[feel].line is not LineKind.HOOK:
        made[:2] = made[1::-1]
    yield made[0]
    if meter in SHIPPED:
        yield SHIPPED[meter]
    yield from made[1:]


def _made_chart(meter: str, sections: dict[str, int], form: str) -> str:
    """Return a chart of a form."""
    draw = Random(f"{meter} {form}")
    lines = [f"meter: {meter}", "tempo: 100", f"form: {form}"]
    for name, count in sections.items():
        phrases = [draw.choice(PHRASES) for _ in range(count // 4)]
        bars = [chord for phrase in phrases for chord in phrase]
        lines += [f"{name}:", "| " + " | ".join(bars) + " |"]
    return "\n".join(lines) + "\n"


@cache
def songs(feel: str) -> tuple[Performance, ...]:
    """Return what the bass plays of so many songs in a feel that enough of their bars come again.

    A push by a sixteenth, which the shipped chart has, cannot be played in a feel of triplets.
    """
    played: list[Performance] = []
    bars = 0
    for text in made_charts(feel):
        try:
            song = play_bass(text, PerformOptions(tight=True, feel=feel))
        except ChartError:
            continue
        played.append(song)
        bars += sum(1 for _ in come_again(song))
        if bars >= LEAST_BARS:
            break
    return tuple(played)


@cache
def unvaried(feel: str) -> Performance:
    """Return the first of a feel's songs, played without variation."""
    options = PerformOptions(tight=True, feel=feel, vary=Vary.NONE)
    return play_bass(next(made_charts(feel)), options)


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
