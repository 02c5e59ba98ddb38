"""The cue card: what a player must know of a song, on one page that fits in a gig bag.

``song_card`` gathers it as plain texts; the terminal's card is made here, the page's in
``groove.text.card_html`` and ``groove.sheet.card_pdf``, all from the same value.
"""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from textwrap import wrap

from groove.chart.written_for import WrittenFor
from groove.events import CountGiver
from groove.harmony.analysis import Analysis, PlacedChange, Progression
from groove.neck.instrument import STANDARD, Tuning, root_pitch
from groove.text.chart import played_form
from groove.text.counts import clock_text, counted
from groove.text.harmony import (
    away_key_words,
    bass_words,
    home_key_words,
    names_of,
    odd_bar_words,
    root_words,
)
from groove.text.moves import key_words, pretty, times_words
from groove.text.part_facts import NO_PART, PartFacts
from groove.text.traps import Trap, card_traps, tempo_text
from groove.theory.chords import Chord
from groove.theory.keys import near_key
from groove.theory.pitch import SpelledPitch

PAGE_COLUMNS = 80
ROW_BARS = 4
HIGHEST_START_FRET = 12
HIDDEN = "____"
TRAPS_HEAD = "Watch out for"


@dataclass(frozen=True, slots=True)
class CardBar:
    """A bar on the card: its chords and their numerals."""

    chords: str
    numerals: str


@dataclass(frozen=True, slots=True)
class CardProgression:
    """A progression on the card: who plays it, one loop of it in bars, and lines to know it by.

    The lines are its names, the odd bar out, how its roots move, what the bass plays.
    """

    sections: str
    bars: tuple[CardBar, ...]
    times: str
    lines: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Card:
    """The whole card, as texts in the order of the page; ``hidden`` leaves the chords out.

    ``hook`` are the rows of two bars of tab under ``hook_name``.
    """

    title: str
    facts: tuple[tuple[str, str], ...]
    form: str
    progressions: tuple[CardProgression, ...]
    traps: tuple[Trap, ...]
    hook_name: str = ""
    hook: tuple[str, ...] = ()
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
    part: PartFacts = NO_PART,
    written_for: WrittenFor | None = None,
) -> Card:
    """Return the cue card of a song; ``test`` hides its chords, to recite them.

    ``part`` is what is known of the bass part, where it has been fingered.  ``written_for`` is
    another player, who reads the chords in another key and has no use for the bass's first note
    and hook.
    """
    written = ""
    if written_for:
        written, harmony = written_for.told(harmony.key), harmony.transposed(written_for.semitones)
        part = replace(part, hook_name="", hook=())
    song = harmony.song
    feel = part.feel or (song.settings.feel.name if song.settings.feel else "")
    facts = {
        "Written": written,
        "Key": key_text(harmony, is_moved=written_for is not None),
        "Feel": feel,
        "Tempo": tempo_text(song.tempo, song.meter),
        "Count": _count_text(harmony),
        "Length": _length_text(harmony),
        "Start": "" if written_for else _start_text(harmony, tuning, part.start),
    }
    return Card(
        title=song.title,
        facts=tuple((name, text) for name, text in facts.items() if text),
        form=played_form(harmony.song, "×"),
        progressions=tuple(_card_progression(harmony, p) for p in harmony.progressions),
        traps=tuple(card_traps(harmony)),
        hook_name=part.hook_name,
        hook=part.hook,
        hidden=test,
    )


def key_text(harmony: Analysis, *, is_moved: bool = False) -> str:
    """Return the key as told, and where it changes; of moved chords it is not the chart's word.

    What else the chords alone may say is no matter on a card.
    """
    given = harmony.key_given if is_moved else None
    home = key_words(given) if given else home_key_words(harmony)
    return "; ".join((home, *away_key_words(harmony)))


def _count_text(harmony: Analysis) -> str:
    """Return what is counted before the song: ``1 2 3 4``, and where a pickup comes in.

    The bars that the chart says, and before a pickup the rest of its bar (common practice, no
    source).
    """
    count_in = harmony.song.count_in
    if not count_in.bars:
        return "nobody counts in"
    bar = next((bar for bar in harmony.bars if not bar.is_pickup), None)
    if bar is None:
        return ""
    one_bar = " ".join(str(beat + 1) for beat in range(bar.meter.pulse_count))
    count = ", ".join([one_bar] * count_in.bars)
    if count_in.giver is not CountGiver.STICKS:
        count = f"{count_in.giver}: {count}"
    pickup = harmony.song.pickup
    if not pickup:
        return count
    left = bar.meter.bar_quarters - pickup.quarters(bar.meter)
    beats, over = divmod(left, bar.meter.pulse_quarters)
    rest = " ".join(str(beat + 1) for beat in range(int(beats) + bool(over)))
    where = f"after {int(beats) + 1}" if over else f"on {int(beats) + 1}"
    return f"{count}{', ' + rest if rest else ''}, in {where}"


def _length_text(harmony: Analysis) -> str:
    """Return the length in bars and minutes."""
    return f"{counted(harmony.form.bar_count, 'bar')}, {clock_text(harmony.starts_sec[-1])}"


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
    names = dict.fromkeys(occurrence.name for occurrence in progression.occurrences)
    loop = progression.shown_bars
    times = len(progression.changes) // loop
    named = "; ".join(names_of(harmony, progression))
    moves = (odd_bar_words(progression), root_words(progression), bass_words(progression))
    return CardProgression(
        sections=", ".join(names),
        bars=tuple(_card_bar(row) for row in progression.changes[:loop]),
        times=f"({counted(loop, 'bar')}, {times_words(times)})" if times > 1 else "",
        lines=tuple(filter(None, (named, *moves))),
    )


def _card_bar(row: Iterable[PlacedChange]) -> CardBar:
    placed = tuple(row)
    chords = " ".join(p.span.push_sign + pretty(p.span.symbol) for p in placed)
    return CardBar(chords, " ".join(pretty(p.change.numeral) for p in placed))


def card_text(card: Card) -> str:
    """Return the card for the terminal; a test card has its answers after a form feed."""
    page = _page_text(card, card.title)
    answers = f"{card.title} (answers)"
    return page + ("\f" + _page_text(card.answers, answers) if card.hidden else "")


def _page_text(card: Card, title: str) -> str:
    lines = [title, "=" * len(title)]
    for name, text in (*card.facts, ("Form", card.form)):
        lines += wrap(text, PAGE_COLUMNS, initial_indent=f"{name:<7} ", subsequent_indent=" " * 8)
    for progression in card.progressions:
        lines += ["", *_progression_lines(progression, hidden=card.hidden)]
    if shown_traps(card):
        lines += ["", f"{TRAPS_HEAD}:"]
        for trap in shown_traps(card):
            lines += wrap(trap, PAGE_COLUMNS, initial_indent="  ", subsequent_indent="    ")
    if card.hook and not card.hidden:
        lines += ["", card.hook_name, *card.hook]
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
    if not hidden:
        for text in progression.lines:
            lines += wrap(text, PAGE_COLUMNS, initial_indent="  ", subsequent_indent="    ")
    return lines
