"""The memory card: what a player must know of a song, on one page that fits in a gig bag.

``song_card`` gathers it as plain texts; the terminal's card is made here, the page's in
``groove.text.card_html`` and ``groove.sheet.card_pdf``, all from the same value.
"""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from itertools import groupby
from textwrap import wrap

from groove.chart.model import Song, Tempo
from groove.events import BandWord
from groove.harmony.analysis import Analysis, PlacedChange, Progression
from groove.neck.instrument import STANDARD, Tuning, root_pitch
from groove.text.harmony import (
    bass_words,
    difference_text,
    key_lines,
    root_spelling,
)
from groove.text.moves import pretty, telling_words
from groove.text.words import clock_text, counted
from groove.timing import Meter

PAGE_COLUMNS = 80
ROW_BARS = 4
PHRASE_BARS = 4
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
class Card:
    """The whole card, as texts in the order of the page; ``hidden`` leaves the chords out."""

    title: str
    facts: tuple[tuple[str, str], ...]
    form: str
    progressions: tuple[CardProgression, ...]
    traps: tuple[str, ...]
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
            ("Tempo", tempo_text(song.tempo, song.meter)),
            ("Length", length_text(harmony)),
            ("Start", start_text(harmony, tuning, start)),
        ),
        form=form_line(harmony),
        progressions=tuple(card_progression(harmony, p) for p in harmony.progressions),
        traps=tuple(traps(harmony)),
        hidden=test,
    )


def tempo_text(tempo: Tempo, meter: Meter) -> str:
    """Return tempo and meter: ``♩ = 84, 4/4``."""
    moved = f" to {float(tempo.end_bpm):g}" if tempo.end_bpm else ""
    return f"{meter.tempo_symbol} = {float(tempo.bpm):g}{moved}, {meter}"


def length_text(harmony: Analysis) -> str:
    """Return the length in bars and minutes."""
    bars = sum(len(occurrence.bars) for occurrence in harmony.form.occurrences)
    return f"{counted(bars, 'bar')}, {clock_text(harmony.starts_sec[-1])}"


def start_text(harmony: Analysis, tuning: Tuning, start: tuple[int, int] | None) -> str:
    """Return where the first root lies: as fingered, else its lowest place on the neck."""
    first = next((p.span.chord for p in harmony.changes if p.span.chord), None)
    if first is None:
        return "no chord"
    pitch = root_pitch(first.bass_note.pitch_class, tuning)
    places = tuning.places(pitch, HIGHEST_START_FRET)
    if not places:
        return first.bass_note.pretty
    string, fret = start or min(places, key=lambda place: place[1])
    where = "open" if fret == 0 else f"fret {fret}"
    return f"{first.bass_note.pretty}: {tuning.string_words(string)}, {where}"


def form_line(harmony: Analysis) -> str:
    """Return the form in one line, repeated sections counted: ``intro, verse ×2, chorus``."""
    names = [occurrence.name for occurrence in harmony.form.occurrences]
    runs = [(name, len(list(group))) for name, group in groupby(names)]
    return ", ".join(name + (f" ×{times}" if times > 1 else "") for name, times in runs)


def card_progression(harmony: Analysis, progression: Progression) -> CardProgression:
    """Return one progression as the card has it."""
    names = dict.fromkeys(occurrence.name for occurrence in progression.occurrences)
    loop = progression.loop_bars
    whole = len(progression.changes) // loop
    times = f"×{whole}" if whole > 1 else ""
    telling = progression.telling
    moves = telling_words(telling, root_spelling(progression)) if telling else ""
    return CardProgression(
        sections=", ".join(names),
        bars=tuple(card_bar(row) for row in progression.changes[:loop]),
        times=times,
        moves="; ".join(filter(None, (moves, bass_words(progression)))),
    )


def card_bar(row: Iterable[PlacedChange]) -> CardBar:
    """Return one bar as the card has it."""
    placed = tuple(row)
    chords = " ".join(p.span.push_sign + pretty(p.span.symbol) for p in placed)
    return CardBar(chords, " ".join(pretty(p.change.numeral) for p in placed))


def traps(harmony: Analysis) -> list[str]:
    """Return what trips a player: differences, odd lengths, meters, tempi, keys, pushes, stops."""
    found: dict[str, None] = {}
    if harmony.song.pickup:
        found[f"a pickup of {pretty(harmony.song.pickup_words)}"] = None
    for occurrence in harmony.form.occurrences:
        first = harmony.form.first(occurrence)
        if occurrence.differs:
            words = difference_text(occurrence, first)
            label = harmony.form.label(occurrence)
            found[f"{label}: as {harmony.form.label(first)}{words}"] = None
    for occurrence in harmony.form.occurrences:
        if len(occurrence.bars) % PHRASE_BARS:
            found[f"{occurrence.name} has {len(occurrence.bars)} bars"] = None
    for occurrence, key in harmony.modulations:
        found[f"{harmony.form.label(occurrence)} moves to {key.pretty}"] = None
    return [*found, *meter_traps(harmony), *tempo_traps(harmony.song), *bar_traps(harmony)]


def meter_traps(harmony: Analysis) -> list[str]:
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


def tempo_traps(song: Song) -> list[str]:
    """Return the sections that have a tempo of their own."""
    found = []
    for section in song.sections:
        tempo = section.settings.tempo
        if tempo:
            meter = section.settings.meter or song.meter
            found.append(f"{section.name} at {tempo_text(tempo, meter)}")
    return found


def bar_traps(harmony: Analysis) -> list[str]:
    """Return the sections with pushes, stops and holds."""
    found: dict[str, None] = {}
    for bar in harmony.bars:
        name, number = bar.ref.section, bar.ref.bar_in_section
        if bar.word is BandWord.STOP:
            found[f"stop in {name}, bar {number}"] = None
        elif bar.word is BandWord.HOLD:
            found[f"hold in {name}, bar {number}"] = None
        for span in bar.chords:
            if span.push:
                found[f"push into {pretty(span.symbol)} in {name}, bar {number}"] = None
    return list(found)


def card_text(card: Card) -> str:
    """Return the card for the terminal; a test card has its answers after a form feed."""
    page = page_text(card, card.title)
    answers = f"{card.title} (answers)"
    return page + ("\f" + page_text(card.answers, answers) if card.hidden else "")


def page_text(card: Card, title: str) -> str:
    """Return one page of the card."""
    lines = [title, "=" * len(title)]
    lines += [f"{name:<7} {text}" for name, text in card.facts]
    lines.append(f"{'Form':<7} {card.form}")
    for progression in card.progressions:
        lines += ["", *progression_lines(progression, hidden=card.hidden)]
    if card.traps:
        lines += ["", "Mind:", *(f"  {trap}" for trap in shown_traps(card))]
    return "\n".join(lines) + "\n"


def shown_traps(card: Card) -> tuple[str, ...]:
    """Return the traps, without those that name chords on a test page."""
    return tuple(t for t in card.traps if not (card.hidden and t.startswith("push into")))


def progression_lines(progression: CardProgression, *, hidden: bool) -> list[str]:
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
