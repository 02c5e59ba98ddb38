"""What is known of a song, told in the terminal: key, form, progressions, names, moves."""

from collections import Counter
from collections.abc import Iterable, Iterator
from itertools import groupby, pairwise

from groove.chart.form import PlayedBar
from groove.chart.model import Directions
from groove.chart.words import direction_words
from groove.harmony.analysis import Analysis, Progression
from groove.harmony.changes import Function, home_pull
from groove.harmony.modulation import ModulationMeans
from groove.harmony.sections import (
    Occurrence,
    bar_call,
    bar_pushes,
    find_echo,
    played_differences,
    thins_out,
)
from groove.text.counts import clock_text, counted
from groove.text.moves import (
    bars_words,
    description_note,
    description_words,
    echo_words,
    key_words,
    modulation_words,
    naming_words,
    pretty,
    pull_words,
    reading_words,
    root_move_text,
    symbols_of,
)
from groove.theory.chords import Chord
from groove.theory.keys import Key
from groove.theory.pitch import SpelledPitch


def harmony_text(harmony: Analysis) -> str:
    """Return key, form, progressions with their names and moves, and resolutions, as text.

    A move on the neck is told once a song.
    """
    parts = ["\n".join(_key_lines(harmony)), _form_text(harmony)]
    known_moves: set[int] = set()
    for progression in harmony.progressions:
        parts.append(_progression_text(harmony, progression, known_moves))
    pulls = _pull_lines(harmony)
    if pulls:
        parts.append("\n".join(pulls))
    return "\n\n".join(parts) + "\n"


def _key_lines(harmony: Analysis) -> Iterator[str]:
    """Yield the key as told, what contradicts it, and where it changes."""
    yield f"Key: {home_key_words(harmony)}"
    if harmony.key_given and harmony.contradiction:
        verb = "are" if harmony.reading.is_ambiguous else "say"
        yield f"  the chords alone {verb} {reading_words(harmony.reading)}"
    yield from (f"  {words}" for words in away_key_words(harmony))


def home_key_words(harmony: Analysis) -> str:
    """Return the song's key, and whether the chart says it or how sure its chords are of it."""
    if harmony.key_given:
        return f"{key_words(harmony.key_given)}, as the chart says"
    return reading_words(harmony.reading)


def away_key_words(harmony: Analysis) -> Iterator[str]:
    """Yield where the song leaves its key: to which, in which section, from which bar, and how."""
    for (occurrence, key), means in away_keys(harmony):
        bar = occurrence.bars[0].ref.played_bar
        yield f"{key_words(key)} in {occurrence.name}, from bar {bar}, {modulation_words(means)}"


def away_keys(harmony: Analysis) -> list[tuple[tuple[Occurrence, Key], ModulationMeans]]:
    """Return where the song leaves its key, to which key and how, each section once."""
    found: dict[tuple[str, Key], tuple[tuple[Occurrence, Key], ModulationMeans]] = {}
    home = harmony.section_keys[0].tonic.pitch_class
    for (occurrence, key), means in zip(
        harmony.modulations, harmony.means_of_modulation, strict=True
    ):
        if key.tonic.pitch_class != home:
            found.setdefault((occurrence.name, key), ((occurrence, key), means))
    return list(found.values())


def _form_text(harmony: Analysis) -> str:
    """Return the form: length, what is played when, and what follows what."""
    form = harmony.form
    count = len(form.firsts)
    lines = [
        f"Form: {form.bar_count} bars, {clock_text(harmony.starts_sec[-1])}, "
        f"{counted(count, 'different progression')}"
    ]
    for occurrence in form.occurrences:
        lines.append(f"  {_occurrence_text(harmony, occurrence)}")
    lines += _follower_lines(harmony)
    return "\n".join(lines)


def _occurrence_text(harmony: Analysis, occurrence: Occurrence) -> str:
    """Return one line of the form: ``verse 3: 8 bars, as verse 1, last two bars differ``."""
    form = harmony.form
    first = form.first(occurrence)
    count = len(occurrence.bars)
    line = f"{form.label(occurrence)}: {counted(count, 'bar')}"
    if first is not occurrence:
        line += f", as {form.label(first)}" + difference_text(occurrence, first)
    return line + (", thin" if thins_out(occurrence.bars) else "")


def difference_text(occurrence: Occurrence, first: Occurrence, *, with_chords: bool = True) -> str:
    """Return where an occurrence parts from the first one of its progression, and how."""
    differs = played_differences(occurrence, first)

    def told(numbers: list[int]) -> str:
        before = {d.other_bar: first.bars[d.bar - 1] for d in differs if d.bar}
        bars = (_played_words(occurrence.bars[n - 1], before.get(n)) for n in numbers)
        return ": " + " | ".join(bars) if with_chords else ""

    words = ""
    changed = sorted(d.other_bar for d in differs if d.bar and d.other_bar)
    added = [d.other_bar for d in differs if not d.bar and d.other_bar]
    left_out = [d.bar for d in differs if d.bar and not d.other_bar]
    if changed:
        verb = "differs" if len(changed) == 1 else "differ"
        words += f", {bars_words(changed, len(occurrence.bars))} {verb}{told(changed)}"
    if added:
        words += f", {bars_words(added, len(occurrence.bars))} added{told(added)}"
    if left_out:
        words += f", without its {bars_words(left_out, len(first.bars))}"
    return words


def _played_words(bar: PlayedBar, before: PlayedBar | None) -> str:
    """Return a bar's chords, and what of pushes and stops parts it from the bar ``before``."""
    words = []
    if before and bar_call(bar) != bar_call(before):
        words += list(call_words(bar)) or [f"no {word}" for word in call_words(before)]
    if before and any(bar_pushes(before)) and not any(bar_pushes(bar)):
        words.append("not pushed")
    return ", ".join([symbols_of(bar), *words])


def call_words(bar: PlayedBar) -> Iterator[str]:
    """Yield what stops the band in a bar or gathers it, in the chart's words."""
    word, hits, kicks, has_hit = bar_call(bar)
    if word:
        yield word.value
    yield from direction_words(Directions(hits=hits, kicks=kicks, has_hit=has_hit))


def _follower_lines(harmony: Analysis) -> list[str]:
    """Return what comes after each section, and how often."""
    after: dict[str, Counter[str]] = {}
    for (name, following), times in harmony.form.followers().items():
        after.setdefault(name, Counter())[following] += times
    return [
        f"  after {name}: "
        + ", ".join(f"{other}" + (f" ({n} times)" if n > 1 else "") for other, n in found.items())
        for name, found in after.items()
    ]


def _root_spelling(progression: Progression) -> dict[int, SpelledPitch]:
    return {
        placed.span.chord.root.pitch_class: placed.span.chord.root
        for row in progression.changes
        for placed in row
        if placed.span.chord
    }


def root_words(progression: Progression) -> str:
    """Return how the roots of one loop of a progression move, empty without chords."""
    description = progression.loop_description
    if description is None:
        return ""
    # A section that is a loop repeats, whatever is in it.
    is_loop = progression.loop_bars < len(progression.changes)
    note = "" if is_loop else description_note(description)
    words = f"roots {description_words(description, _root_spelling(progression))}"
    return words + (f" ({note})" if note else "")


def bass_words(progression: Progression) -> str:
    """Return what the bass plays over one loop, where slash chords part it from the roots."""
    rows = progression.changes[: progression.loop_bars]
    chords = [placed.span.chord for row in rows for placed in row if placed.span.chord]
    if not _has_slash_chords(chords):
        return ""
    notes = [note for note, _ in groupby(chord.bass_note.pretty for chord in chords)]
    return "bass " + " ".join(notes)


def _has_slash_chords(chords: Iterable[Chord]) -> bool:
    """Return whether the bass leaves the roots."""
    return any(chord.bass_note.pitch_class != chord.root.pitch_class for chord in chords)


def odd_bar_words(progression: Progression) -> str:
    """Return the phrase that a section repeats but for odd bars; empty where it does not."""
    bars = progression.first.bars
    echo = find_echo(bars)
    return echo_words(echo, [symbols_of(bars[n - 1]) for n in echo.odd_bars]) if echo else ""


def names_of(harmony: Analysis, progression: Progression) -> list[str]:
    """Return what is named in a progression, each name once with its bars."""
    return naming_words(harmony.named[progression.number], len(progression.changes))


def _progression_text(harmony: Analysis, progression: Progression, known_moves: set[int]) -> str:
    """Return one progression: its bars, numerals, names, moves, and new ones on the neck."""
    sections = ", ".join(harmony.form.label(o) for o in progression.occurrences)
    rows = progression.changes[: progression.shown_bars]
    chords = " | ".join(symbols_of(row[0].bar) for row in rows)
    numerals = " | ".join(" ".join(pretty(placed.change.numeral) for placed in row) for row in rows)
    lines = [f"Progression {progression.number + 1}: {sections}", f"  {chords}", f"  {numerals}"]
    words = [*names_of(harmony, progression), odd_bar_words(progression)]
    words += [root_words(progression), bass_words(progression)]
    lines += [f"  {text}" for text in words if text]
    lines += [f"    {text}" for text in _move_texts(progression, known_moves)]
    return "\n".join(lines)


def _move_texts(progression: Progression, known_moves: set[int]) -> list[str]:
    """Return the bass's moves on the neck that are new in a song, and add them to the known.

    They are the bass's where slash chords part it from the roots, and say so.
    """
    chords = [p.span.chord for row in progression.changes for p in row if p.span.chord]
    who = "bass " if _has_slash_chords(chords) else ""
    lines = []
    for before, after in pairwise(chords):
        old, new = before.bass_note, after.bass_note
        move = (new.pitch_class - old.pitch_class) % 12
        if move and move not in known_moves:
            known_moves.add(move)
            lines.append(f"{who}{old.pretty} to {new.pretty}: {root_move_text(move)}")
    return lines


def _pull_lines(harmony: Analysis) -> list[str]:
    """Return how the song's dominants resolve, each pair of chords once."""
    chords = [placed for placed in harmony.changes if placed.span.chord]
    found: dict[str, None] = {}
    for placed, following in pairwise(chords):
        pulls = placed.change.function in (Function.DOMINANT, Function.SECONDARY)
        if not pulls or placed.span.chord is None or following.span.chord is None:
            continue
        pull = home_pull(placed.span.chord, following.span.chord)
        if pull:
            found[pull_words(pull, placed.change)] = None
    return list(found)
