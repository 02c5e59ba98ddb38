"""Settings of a song and of a section: one reader a name, in one table."""

import re
from collections.abc import Callable, Mapping
from enum import StrEnum
from fractions import Fraction
from typing import TypeVar

from groove.chart.lines import Line
from groove.chart.model import (
    Dynamics,
    Fills,
    FormEntry,
    Loudness,
    Named,
    Notation,
    Settings,
    Tempo,
    Vary,
)
from groove.chart.pickup import Pickup, PickupUnit
from groove.errors import ChartError, OptionError, nearest_hint
from groove.events import NO_COUNT_IN, CountGiver, CountIn
from groove.naming import OUT_WORDS, named_among
from groove.neck.instrument import Tuning, parse_tuning
from groove.theory.general_midi import BASS_TONES
from groove.theory.keys import Key, parse_key
from groove.timing import (
    FASTEST_QPM,
    METER_COUNTS,
    METER_UNITS,
    SLOWEST_QPM,
    STRAIGHT,
    Meter,
    Swing,
    parse_swing,
)

TIMES = re.compile(r"(.*?)\s*[x×]\s?([0-9]{1,9})")
"""A section of the form and how often it is played: ``verse x2``."""

FORM_SIGNS = re.compile(r"(?:^|\s)[-–—>→+&/|]+(?=\s|$)|;")
"""What stands between sections in charts of others."""
BARE_TIMES = re.compile(r"[x×]([0-9]{1,2})|([0-9]{1,2})[x×]")
LONGEST_MENDED = 200

TRANSPOSE_SEMITONES = range(-24, 25)
LARGEST_SEED = 2**31 - 1
MOST_COUNTED_BARS = 4
_LONGEST_NAME = 120
LONGEST_TITLE = 200
MOST_STEPS = 20_000
MOST_TIMES = 99

_Choice = TypeVar("_Choice", bound=StrEnum)


def _refuse(line: Line, expected: str, nearest: str = "") -> ChartError:
    """Return the error for a value that cannot be read."""
    found = line.value if len(line.value) <= 40 else line.value[:37] + "…"
    return ChartError(
        f"cannot read {line.name.casefold()} {found!r}",
        place=line.value_place(),
        hint=f"expected {expected}" + (f"; {nearest}" if nearest else ""),
    )


def _read_pickup(line: Line) -> Pickup | None:
    """Return a pickup, ``2`` (beats) or ``3 eighths``, its chords left aside; None for 0."""
    length, bar, _ = line.value.casefold().partition("|")
    match = re.fullmatch(r"([0-9]{1,2})(?:\s+(beat|eighth|sixteenth)s?)?\s*", length)
    count = int(match[1]) if match else 0
    if not match or count not in range(METER_COUNTS.stop) or (bar and not count):
        raise _refuse(
            line, "beats, eighths or sixteenths before bar 1, as 2, 3 eighths or 1 | A7 |"
        )
    unit = PickupUnit(f"{match[2] or 'beat'}s")
    return Pickup(count, unit) if count else None


def _read_count_in(line: Line) -> CountIn:
    """Return how a song is counted in: ``2 hat``, ``2 bars``, ``bass``, ``nobody``."""
    text = " ".join(line.value.casefold().replace(",", " ").split())
    if text in (*OUT_WORDS, "nobody", "no", "0"):
        return NO_COUNT_IN
    givers = "|".join(CountGiver)
    match = re.fullmatch(rf"(?:([1-{MOST_COUNTED_BARS}])(?: bars?)?)? ?(?:of )?({givers})?", text)
    if not match or not text or match[2] == CountGiver.NOBODY:
        raise _refuse(
            line,
            f"1 to {MOST_COUNTED_BARS} bars and who gives them, as 2 sticks, 1 hat or bass; "
            "or nobody",
        )
    return CountIn(int(match[1] or 1), CountGiver(match[2] or CountGiver.STICKS))


def _read_choice(line: Line, choices: type[_Choice]) -> _Choice:
    """Return one of a fixed set of words."""
    folded = line.value.casefold()
    for choice in choices:
        if choice.value == folded:
            return choice
    raise _refuse(line, "one of: " + ", ".join(choices), nearest_hint(folded[:40], choices))


def _read_whole(line: Line, low: int, high: int) -> int:
    if re.fullmatch(r"[+-]?[0-9]{1,10}", line.value) and low <= int(line.value) <= high:
        return int(line.value)
    raise _refuse(line, f"a whole number from {low} to {high}")


def _read_tempo(line: Line) -> Tempo:
    """Return a tempo, ``84`` or ``84 to 60``, in beats per minute."""
    number = r"([0-9]{1,4}(?:\.[0-9]{1,3})?)"
    match = re.fullmatch(rf"{number}(?:\s+to\s+{number})?(?:\s*bpm)?", line.value.casefold())
    if match:
        values = [Fraction(text) for text in match.groups() if text]
        if all(SLOWEST_QPM / 3 <= value <= FASTEST_QPM for value in values):
            return Tempo(values[0], values[1] if len(values) == 2 else None)
    raise _refuse(line, f"beats per minute up to {FASTEST_QPM}, as 84, or 84 to 60")


def _read_meter(line: Line) -> Meter:
    """Return a meter, ``6/8``."""
    meter = parse_meter(line.value)
    if meter is None:
        raise _refuse(line, "a meter as 4/4, 3/4, 6/8 or 12/8")
    return meter


def parse_meter(text: str) -> Meter | None:
    """Return the meter that a text spells, None where it spells none."""
    match = re.fullmatch(r"([0-9]{1,2})\s*/\s*([0-9]{1,2})", text.strip())
    if not match or int(match[1]) not in METER_COUNTS or int(match[2]) not in METER_UNITS:
        return None
    return Meter(int(match[1]), int(match[2]))


def _read_key(line: Line) -> Key:
    """Return a key, with however many accidentals it is spelled."""
    try:
        return parse_key(line.value)
    except ValueError:
        expected = "a key, e.g. D, F# minor, Bb or D dorian"
        raise _refuse(line, expected) from None


def _read_name(line: Line) -> Named:
    """Return a name that the library resolves later."""
    if len(line.value) > _LONGEST_NAME:
        raise _refuse(line, f"a name of at most {_LONGEST_NAME} letters")
    return Named(name=" ".join(line.value.split()), place=line.value_place())


def _read_title(line: Line) -> str:
    if len(line.value) > LONGEST_TITLE:
        raise _refuse(line, f"a title of at most {LONGEST_TITLE} letters")
    return line.value


def _read_dynamics(line: Line) -> Dynamics:
    """Return dynamics, ``mf`` or ``p to f``."""
    levels = "|".join(Loudness)
    match = re.fullmatch(rf"({levels})(?:\s+to\s+({levels}))?", line.value.casefold())
    if match:
        return Dynamics(Loudness(match[1]), Loudness(match[2]) if match[2] else None)
    choices = [level.value for level in Loudness]
    nearest = nearest_hint(line.value[:40], choices)
    raise _refuse(line, f"one of: {', '.join(choices)}, or two as  p to f", nearest)


def _read_tone(line: Line) -> Named:
    """Return the sound of the bass, one of the instruments that General MIDI has."""
    named = _read_name(line)
    if named.name.casefold() not in BASS_TONES:
        near = nearest_hint(line.value[:40], BASS_TONES)
        raise _refuse(line, "one of: " + ", ".join(BASS_TONES), near)
    return named


def _read_tuning(line: Line) -> Tuning:
    """Return the tuning that the chart's bass is written for, with its own message at its place."""
    named = _read_name(line)
    try:
        return parse_tuning(named.name)
    except OptionError as error:
        raise ChartError(error.message, place=named.place, hint=error.hint) from None


def _read_swing(line: Line) -> Swing:
    """Return a swing, ``58% eighths`` or ``straight``."""
    try:
        swing = parse_swing(line.value)
    except ValueError as error:
        raise _refuse(line, str(error)) from None
    return STRAIGHT if swing.percent == STRAIGHT.percent else swing


READERS: Mapping[str, Callable[[Line], object]] = {
    "tempo": _read_tempo,
    "meter": _read_meter,
    "key": _read_key,
    "feel": _read_name,
    "bass": _read_name,
    "drums": _read_name,
    "keys": _read_name,
    "fills": lambda line: _read_choice(line, Fills),
    "swing": _read_swing,
    "dynamics": _read_dynamics,
    "vary": lambda line: _read_choice(line, Vary),
    "bass tone": _read_tone,
    "transpose": lambda line: _read_whole(
        line, TRANSPOSE_SEMITONES.start, TRANSPOSE_SEMITONES.stop - 1
    ),
    "tuning": _read_tuning,
    "seed": lambda line: _read_whole(line, 0, LARGEST_SEED),
}
"""Settings that a song and a section may have, with their readers."""

SONG_READERS: Mapping[str, Callable[[Line], object]] = {
    "title": _read_title,
    "form": lambda line: line,
    "chords": lambda line: _read_choice(line, Notation),
    "pickup": _read_pickup,
    "count-in": _read_count_in,
}
"""Settings that belong to the song, wherever they stand; the form is read last."""

ALIASES = {"loudness": "dynamics", "count in": "count-in"}
"""Old names of settings, and other spellings."""

CUE, LIKE = "cue", "as"
SETTING_NAMES = (*SONG_READERS, *READERS, *ALIASES, CUE, LIKE)


def setting_name(line: Line) -> str:
    """Return the name of a setting in small letters, an old one as it is called now."""
    name = line.name.casefold()
    return ALIASES.get(name, name)


class SettingTable:
    """Settings of one scope, as they are read; a name given twice is refused."""

    def __init__(self) -> None:
        """Begin with nothing said."""
        self.values: dict[str, object] = {}
        self.lines: dict[str, Line] = {}

    def add(self, line: Line, readers: Mapping[str, Callable[[Line], object]]) -> None:
        """Read a setting into its place.  Raises ChartError."""
        name = setting_name(line)
        if name in self.lines:
            raise ChartError(
                f"{name} is given twice, first in line {self.lines[name].number}",
                place=line.place(1 + len(line.text) - len(line.text.lstrip()), len(line.name)),
                hint="expected one line of it: strike one out",
            )
        self.values[name] = readers[name](line)
        self.lines[name] = line

    def settings(self) -> Settings:
        """Return the values that a song and a section share."""
        fields = {name.replace(" ", "_"): value for name, value in self.values.items()}
        return Settings(**fields)  # type: ignore[arg-type]


def unknown_setting(line: Line) -> ChartError:
    """Return the error for a name that is no setting."""
    return ChartError(
        f"no such setting: {line.name[:40]!r}",
        place=line.place(1 + len(line.text) - len(line.text.lstrip()), len(line.name)),
        hint="; ".join(
            filter(
                None,
                (
                    nearest_hint(line.name[:40], SETTING_NAMES),
                    "expected one of: " + ", ".join(SETTING_NAMES),
                    "a section's name stands alone on its line",
                ),
            )
        ),
    )


def read_form(line: Line, names: Mapping[str, str]) -> tuple[FormEntry, ...]:
    """Return the order of sections.  ``names`` maps folded names to names as written."""
    entries = []
    offset = 0
    for part in line.value.split(","):
        entries.append(_read_form_entry(line, part, offset, names))
        offset += len(part) + 1
        if len(entries) > MOST_STEPS:
            hint = f"expected at most {MOST_STEPS}"
            raise ChartError("the form has too many steps", place=line.value_place(), hint=hint)
    return tuple(entries)


def _read_form_entry(line: Line, part: str, offset: int, names: Mapping[str, str]) -> FormEntry:
    """Return one step of the form: a section's name, and ``x2`` for twice."""
    column = line.column + offset + len(part) - len(part.lstrip())
    place = line.place(column, max(1, len(part.strip())))
    words = " ".join(part.split())
    if not words:
        raise ChartError("found nothing between two commas", place=place, hint="expected a section")
    folded = words.casefold()
    match = None if folded in names else TIMES.fullmatch(folded)
    name, times = (match[1], int(match[2])) if match else (folded, 1)
    name = named_among(name, names)
    if name not in names:
        hint = _form_hint(words, names)
        raise ChartError(f"no such section: {words[:40]!r}", place=place, hint=hint)
    if not 1 <= times <= MOST_TIMES:
        hint = f"expected x1 to x{MOST_TIMES}"
        raise ChartError(f"cannot play a section {times} times", place=place, hint=hint)
    return FormEntry(section=names[name], times=times)


def _form_hint(words: str, names: Mapping[str, str]) -> str:
    """Return what to write for a step of the form that is no section."""
    if mended := _with_commas(words, names):
        return f"expected commas between sections, and x2 after a name: {mended}"
    near = nearest_hint(words[:60], names.values())
    expected = "expected one of: " + ", ".join(list(names.values())[:20])
    return f"{near}; {expected}" if near else expected


def _with_commas(words: str, names: Mapping[str, str]) -> str:
    """Return a step of the form as sections with commas between, nothing where it is none."""
    left = FORM_SIGNS.sub(" ", words.casefold()[:LONGEST_MENDED]).split()
    found: list[str] = []
    first_times = ""
    while left:
        if times := BARE_TIMES.fullmatch(left[0]):
            count, left = f" x{times[1] or times[2]}", left[1:]
            if found:
                found[-1] += count
            else:
                first_times = count
            continue
        ends = (end for end in range(len(left), 0, -1) if " ".join(left[:end]) in names)
        end = next(ends, 0)
        if not end:
            return ""
        found.append(names[" ".join(left[:end])] + first_times)
        first_times, left = "", left[end:]
    return ", ".join(found)
