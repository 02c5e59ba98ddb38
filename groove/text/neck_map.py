"""The notes that work over each chord, in words and as a map of the neck.

◎ a root, ● another chord tone, ○ another note of the scale; the highest string on top.
"""

from collections.abc import Iterable, Iterator, Sequence
from itertools import zip_longest

from msgspec import Struct

from groove.harmony.analysis import Analysis
from groove.harmony.tones import Tones, chord_tones_in
from groove.neck.instrument import STANDARD, Tuning
from groove.text.moves import pretty
from groove.theory.chords import Chord
from groove.theory.pitch import SpelledPitch

ROOT, CHORD_TONE, SCALE_NOTE = "◎", "●", "○"
_LEGEND = f"{ROOT} root   {CHORD_TONE} chord tone   {SCALE_NOTE} scale note"
POSITION_FRETS = 4


def _note_mark(tones: Tones, pitch_class: int) -> str:
    """Return the sign of a pitch class: a root's, a chord tone's, a scale note's, or nothing."""
    if pitch_class == tones.chord.root.pitch_class:
        return ROOT
    if pitch_class in tones.chord.pitch_classes:
        return CHORD_TONE
    return SCALE_NOTE if pitch_class in {p.pitch_class for p in tones.scale_notes} else ""


def neck_map_text(tones: Tones, *, position: int = 0, tuning: Tuning = STANDARD) -> str:
    """Return the neck from a position on (its lowest fret, 0 with the open strings)."""
    frets = range(position, position + POSITION_FRETS + 1)
    rows = [_string_row(tones, string, frets, tuning) for string in tuning.strings]
    numbers = "    " + " ".join(f"{fret:^3}" for fret in frets)
    return "\n".join([*rows, numbers.rstrip()]) + "\n"


def _string_row(tones: Tones, string: int, frets: range, tuning: Tuning) -> str:
    """Return one string of the map."""
    cells = []
    for fret in frets:
        mark = _note_mark(tones, tuning.pitch_at(string, fret) % 12)
        cells.append(f"{mark:{' ' if fret == 0 else '-'}^3}")
    joined = cells[0] + ("║" if frets.start == 0 else "|") + "|".join(cells[1:])
    return f"{tuning.string_name(string):<3}" + (" " if frets.start == 0 else "|") + joined + "|"


class _Meeting(Struct, frozen=True):
    """A chord where it is played: its notes there, its written bar, the chord that it leads to."""

    tones: Tones
    written_bar: int
    after: Chord | None


def working_notes_text(harmony: Analysis, *, position: int = 0, tuning: Tuning = STANDARD) -> str:
    """Return, for every different chord once, what works over it, where it leads, where it lies.

    Chords that part in their bass alone are told together, as are those over one scale of a key.
    """
    found: dict[object, list[_Meeting]] = {}
    for meeting in _meetings(harmony):
        tones = meeting.tones
        same = (tones.chord.root, tones.chord.degrees, tones.scale.name, tones.key_scale)
        found.setdefault(same, []).append(meeting)
    blocks = [
        _meetings_text(group) + neck_map_text(group[0].tones, position=position, tuning=tuning)
        for group in found.values()
    ]
    return "\n".join([*blocks, _LEGEND + "\n"]) if blocks else "no chords\n"


def _meetings(harmony: Analysis) -> Iterator[_Meeting]:
    """Yield every chord of the song as played."""
    sounding = [placed for placed in harmony.changes if placed.span.chord]
    for placed, after in zip_longest(sounding, sounding[1:]):
        chord, following = placed.span.chord, after.span.chord if after else None
        if chord is None:
            continue
        goal = following if following != chord else None
        tones = chord_tones_in(chord, placed.key, goal)
        yield _Meeting(tones, placed.bar.ref.written_bar, goal)


def _meetings_text(group: Sequence[_Meeting]) -> str:
    """Return the notes that work over one chord: its tones, key, scale, and each way on."""
    tones = group[0].tones
    first, *others = dict.fromkeys(pretty(meeting.tones.chord.symbol) for meeting in group)
    also = f" (also {', '.join(others)})" if others else ""
    lines = [
        f"{first}{also}: {names(tones.chord_tones)}   {_bars_text(group)}",
        f"  key: {names(tones.key_scale)}",
        f"  scale: {tones.chord.root.pretty} {tones.scale.name}: {names(tones.scale_notes)}",
    ]
    if tones.careful:
        lines.append(f"  with care: {names(tones.careful)}")
    ways = dict.fromkeys(_way_text(m.tones, m.after) for m in group if m.after)
    return "\n".join([*lines, *ways]) + "\n"


def _way_text(tones: Tones, after: Chord) -> str:
    """Return the way into the next chord: its approaches, then how guide tones go."""
    guides = [
        f"{guide.note.pretty} " + (f"goes to {guide.goal.pretty}" if guide.step else "stays")
        for guide in tones.guide_tones
    ]
    told = f"; guide tone{'s' if len(guides) > 1 else ''} {', '.join(guides)}" if guides else ""
    return f"  into {pretty(after.symbol)}: by {names(tones.approaches)}{told}"


def _bars_text(group: Sequence[_Meeting]) -> str:
    """Return the written bars in which chords stand: ``bars 1, 5``."""
    bars = sorted({meeting.written_bar for meeting in group})
    return ("bar " if len(bars) == 1 else "bars ") + ", ".join(map(str, bars))


def names(pitches: Iterable[SpelledPitch]) -> str:
    """Return notes by name."""
    return " ".join(pitch.pretty for pitch in pitches)
