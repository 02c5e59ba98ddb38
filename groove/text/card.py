"""The memory card: what a player must know of a song, on one page that fits in a gig bag.

``song_card`` gathers it as plain texts; the terminal's card is made here, the page's in
``groove.text.card_html`` and ``groove.sheet.card_pdf``, all from the same value.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from textwrap import wrap

from groove.chart.model import Song, Tempo
from groove.chart.order import song_tag
from groove.events import BandWord
from groove.harmony.analysis import Analysis, PlacedChange, Progression
from groove.harmony.sections import Occurrence
from groove.neck.instrument import STANDARD, Tuning, root_pitch
from groove.text.chart import played_form
from groove.text.harmony import (
    bass_words,
    difference_text,
    key_lines,
    root_spelling,
)
from groove.text.moves import description_words, pretty
from groove.text.words import clock_text, counted
from groove.theory.chords import Chord
from groove.theory.keys import near_key
from groove.theory.pitch import SpelledPitch
from groove.timing import Meter

PAGE_COLUMNS = 80
ROW_BARS = 4
_PHRASE_BARS = 4
HIGHEST_START_FRET = 12
HIDDEN = "____"


@dataclass(frozen=True, slots=True)
class CardBar:
    """A bar on the card: its chords and their numerals."""

    chords: str
    numerals: str


@dataclass(frozen=True, slots=True)
class CardProgression:
    """A progression on the card: who plays it, one loop of it in bars, and how the roots move."""

    sections: str
    bars: tuple[CardBar, ...]
    times: str
    moves: str


@dataclass(frozen=True, slots=True)
class Trap:
    """What trips a player, and as much of it as a test page tells: nothing that names chords."""

    text: str
    on_test: str


@dataclass(frozen=True, slots=True)
class Card:
    """The whole card, as texts in the order of the page; ``hidden`` leaves the chords out."""

    title: str
    facts: tuple[tuple[str, str], ...]
    form: str
    progressions: tuple[CardProgression, ...]
    traps: tuple[Trap, ...]
    hidden: bool = False

    @property
    def answers(self) -> "Card":
        """The same card with its chords."""
        return replace(self, hidden=False)


def song_card(
    harmony: Analysis,
    *,
    test: bool = False,
    tuning: Tuning = STANDARD,
    start: tuple[int, int] | None = None,
) -> Card:
    """Return the memory card of a song; ``test`` hides its chords, to recite them.

    ``start`` is the string (1 the highest) and the fret of the part's first note, where it has
    been fingered.
    """
    song = harmony.song
    return Card(
        title=song.title,
        facts=(
            ("Key", "; ".join(line.strip().removeprefix("Key: ") for line in key_lines(harmony))),
            ("Tempo", _tempo_text(song.tempo, song.meter)),
            ("Length", _length_text(harmony)),
            ("Start", _start_text(harmony, tuning, start)),
        ),
        form=played_form(harmony.song, "×"),
        progressions=tuple(_card_progression(harmony, p) for p in harmony.progressions),
        traps=tuple(traps(harmony)),
        hidden=test,
    )


def _tempo_text(tempo: Tempo, meter: Meter) -> str:
    """Return tempo and meter: ``♩ = 84, 4/4``."""
    moved = f" to {float(tempo.end_bpm):g}" if tempo.end_bpm else ""
    return f"{meter.tempo_symbol} = {float(tempo.bpm):g}{moved}, {meter}"


def _length_text(harmony: Analysis) -> str:
    """Return the length in bars and minutes."""
    bars = sum(len(occurrence.bars) for occurrence in harmony.form.occurrences)
    return f"{counted(bars, 'bar')}, {clock_text(harmony.starts_sec[-1])}"


def _start_text(harmony: Analysis, tuning: Tuning, start: tuple[int, int] | None) -> str:
    """Return the first note and its place: as fingered, else the first root's lowest one."""
    first = next((p.span.chord for p in harmony.changes if p.span.chord), None)
    if start:
        return _place_text(_start_name(tuning.pitch_at(*start), harmony, first), tuning, start)
    if first is None:
        return "no chord"
    places = tuning.places(root_pitch(first.bass_note.pitch_class, tuning), HIGHEST_START_FRET)
    if not places:
        return first.bass_note.pretty
    return _place_text(first.bass_note, tuning, min(places, key=lambda place: place[1]))


def _start_name(pitch: int, harmony: Analysis, chord: Chord | None) -> SpelledPitch:
    """Return a pitch's name, as the chord under it spells it, else as the key does."""
    tones = (chord.bass_note, *chord.tones) if chord else ()
    of_key = near_key(pitch % 12, harmony.section_keys[0].signature_fifths)
    return next((tone for tone in tones if tone.pitch_class == pitch % 12), of_key)


def _place_text(name: SpelledPitch, tuning: Tuning, place: tuple[int, int]) -> str:
    """Return a note and where it lies: ``C: A string, fret 3``."""
    string, fret = place
    where = "open" if fret == 0 else f"fret {fret}"
    return f"{name.pretty}: {tuning.string_words(string)}, {where}"


def _card_progression(harmony: Analysis, progression: Progression) -> CardProgression:
    """Return one progression as the card has it."""
    names = dict.fromkeys(occurrence.name for occurrence in progression.occurrences)
    loop = progression.loop_bars
    whole = len(progression.changes) // loop
    times = f"×{whole}" if whole > 1 else ""
    description = progression.description
    moves = description_words(description, root_spelling(progression)) if description else ""
    return CardProgression(
        sections=", ".join(names),
        bars=tuple(_card_bar(row) for row in progression.changes[:loop]),
        times=times,
        moves="; ".join(filter(None, (moves, bass_words(progression)))),
    )


def _card_bar(row: Iterable[PlacedChange]) -> CardBar:
    """Return one bar as the card has it."""
    placed = tuple(row)
    chords = " ".join(p.span.push_sign + pretty(p.span.symbol) for p in placed)
    return CardBar(chords, " ".join(pretty(p.change.numeral) for p in placed))


def traps(harmony: Analysis) -> list[Trap]:
    """Return what trips a player: differences, odd lengths, meters, tempi, keys, pushes, stops."""
    found: dict[Trap, None] = {}
    for occurrence in harmony.form.occurrences:
        if occurrence.differs:
            found[_difference_trap(harmony, occurrence)] = None
    plain = dict.fromkeys([*_length_traps(harmony), *_meter_traps(harmony)])
    plain |= dict.fromkeys(_tempo_traps(harmony.song))
    return [
        *_pickup_traps(harmony.song),
        *found,
        *map(_plain_trap, plain),
        *_bar_traps(harmony),
    ]


def _pickup_traps(song: Song) -> Iterator[Trap]:
    """Yield the pickup, where there is one."""
    if song.pickup:
        head = "a pickup of "
        yield Trap(head + pretty(song.pickup_words), head + song.pickup.words)


def _plain_trap(text: str) -> Trap:
    """Return a trap that names no chord, told on every page."""
    return Trap(text, text)


def _difference_trap(harmony: Analysis, occurrence: Occurrence) -> Trap:
    """Return where a section parts from the one that it is like, and by which chords."""
    first = harmony.form.first(occurrence)
    head = f"{harmony.form.label(occurrence)}: as {harmony.form.label(first)}"
    return Trap(
        head + difference_text(occurrence, first),
        head + difference_text(occurrence, first, with_chords=False),
    )


def _length_traps(harmony: Analysis) -> Iterator[str]:
    """Yield the sections of no whole number of phrases, and those that move to another key.

    A tag is told with the form: its bars count once.
    """
    tag = song_tag(harmony.song)
    for index, occurrence in enumerate(harmony.form.occurrences, start=1):
        count = len(occurrence.bars)
        if tag and index == len(harmony.form.occurrences):
            count -= tag.bars * (tag.times - 1)
        if count % _PHRASE_BARS:
            yield f"{occurrence.name} has {counted(count, 'bar')}"
    for occurrence, key in harmony.modulations:
        yield f"{harmony.form.label(occurrence)} moves to {key.pretty}"


def _meter_traps(harmony: Analysis) -> list[str]:
    """Return where the meter changes."""
    found: dict[str, None] = {}
    meter = harmony.song.meter
    for bar in harmony.bars:
        if not bar.is_pickup and bar.meter != meter:
            where = f"{bar.ref.section}, bar {bar.ref.bar_in_section}"
            found[f"{bar.meter} in {where}"] = None
            meter = bar.meter
        elif not bar.is_pickup:
            meter = bar.meter
    return list(found)


def _tempo_traps(song: Song) -> list[str]:
    """Return the sections that have a tempo of their own."""
    found = []
    for section in song.sections:
        tempo = section.settings.tempo
        if tempo:
            meter = section.settings.meter or song.meter
            found.append(f"{section.name} at {_tempo_text(tempo, meter)}")
    return found


def _bar_traps(harmony: Analysis) -> list[Trap]:
    """Return the sections with pushes, stops and holds."""
    found: dict[Trap, None] = {}
    for bar in harmony.bars:
        where = f"in {bar.ref.section}, bar {bar.ref.bar_in_section}"
        if bar.word is BandWord.STOP:
            found[_plain_trap(f"stop {where}")] = None
        elif bar.word is BandWord.HOLD:
            found[_plain_trap(f"hold {where}")] = None
        for span in bar.chords:
            if span.push:
                found[Trap(f"push into {pretty(span.symbol)} {where}", "")] = None
    return list(found)


def card_text(card: Card) -> str:
    """Return the card for the terminal; a test card has its answers after a form feed."""
    page = _page_text(card, card.title)
    answers = f"{card.title} (answers)"
    return page + ("\f" + _page_text(card.answers, answers) if card.hidden else "")


def _page_text(card: Card, title: str) -> str:
    """Return one page of the card."""
    lines = [title, "=" * len(title)]
    lines += [f"{name:<7} {text}" for name, text in card.facts]
    lines.append(f"{'Form':<7} {card.form}")
    for progression in card.progressions:
        lines += ["", *_progression_lines(progression, hidden=card.hidden)]
    if card.traps:
        lines += ["", "Mind:", *(f"  {trap}" for trap in shown_traps(card))]
    return "\n".join(lines) + "\n"


def shown_traps(card: Card) -> tuple[str, ...]:
    """Return the traps as a page tells them, a test page without chords."""
    shown = (trap.on_test if card.hidden else trap.text for trap in card.traps)
    return tuple(filter(None, shown))


def _progression_lines(progression: CardProgression, *, hidden: bool) -> list[str]:
    """Return a progression in rows of four bars, chords over numerals."""
    lines = [progression.sections + (f"  {progression.times}" if progression.times else "")]
    cells = [(HIDDEN, "") if hidden else (bar.chords, bar.numerals) for bar in progression.bars]
    width = max(len(text) for pair in cells for text in pair)
    for start in range(0, len(cells), ROW_BARS):
        row = cells[start : start + ROW_BARS]
        lines.append("  | " + " | ".join(f"{chords:<{width}}" for chords, _ in row) + " |")
        if not hidden:
            joined = "   ".join(f"{numerals:<{width}}" for _, numerals in row)
            lines.append(f"    {joined}".rstrip())
    if progression.moves and not hidden:
        lines += wrap(
            progression.moves, PAGE_COLUMNS, initial_indent="  ", subsequent_indent="    "
        )
    return lines
