"""The notes that work over each chord, in words and as a map of the neck.

◎ a root, ● another chord tone, ○ another note of the scale; the highest string on top.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from itertools import zip_longest

from msgspec import Struct

from groove.bar_place import BarRef
from groove.cells.model import Style
from groove.events import Note, Touch
from groove.harmony.analysis import Analysis
from groove.harmony.palette import Palette, chord_palette, song_style
from groove.harmony.tones import Tones, chord_tones_in
from groove.neck.instrument import STANDARD, Tuning
from groove.text.counts import numbered_bars
from groove.text.moves import lettered, pretty
from groove.theory.chords import Chord
from groove.theory.keys import Key, near_key
from groove.theory.pitch import SpelledPitch

ROOT, CHORD_TONE, SCALE_NOTE = "◎", "●", "○"
_LEGEND = f"{ROOT} root   {CHORD_TONE} chord tone   {SCALE_NOTE} scale note"
POSITION_FRETS = 4


def _note_mark(tones: Tones, scale: frozenset[int], pitch_class: int) -> str:
    """Return the sign of a pitch class: a root's, a chord tone's, a scale note's, or nothing."""
    if pitch_class == tones.chord.root.pitch_class:
        return ROOT
    if pitch_class in tones.chord.pitch_classes:
        return CHORD_TONE
    return SCALE_NOTE if pitch_class in scale else ""


def neck_map_text(
    tones: Tones,
    scale: Iterable[SpelledPitch],
    *,
    position: int = 0,
    tuning: Tuning = STANDARD,
) -> str:
    """Return the neck from a position on (its lowest fret, 0 with the open strings).

    It has the chord's tones and the notes of a scale.
    """
    frets = range(position, position + POSITION_FRETS + 1)
    marks = {n: _note_mark(tones, frozenset(p.pitch_class for p in scale), n) for n in range(12)}
    rows = [_string_row(marks, string, frets, tuning) for string in tuning.strings]
    numbers = "    " + " ".join(f"{fret:^3}" for fret in frets)
    return "\n".join([*rows, numbers.rstrip()]) + "\n"


def _string_row(marks: Mapping[int, str], string: int, frets: range, tuning: Tuning) -> str:
    cells = []
    for fret in frets:
        mark = marks[tuning.pitch_at(string, fret) % 12]
        cells.append(f"{mark:{' ' if fret == 0 else '-'}^3}")
    joined = cells[0] + ("║" if frets.start == 0 else "|") + "|".join(cells[1:])
    return f"{tuning.string_name(string):<3}" + (" " if frets.start == 0 else "|") + joined + "|"


class _Meeting(Struct, frozen=True):
    """A chord where it is played: what works there, its bar, the chord that it leads to."""

    tones: Tones
    palette: Palette
    key: Key
    bar: BarRef
    after: Chord | None


def working_notes_text(
    harmony: Analysis,
    *,
    position: int = 0,
    tuning: Tuning = STANDARD,
    style: Style | None = None,
    line: Sequence[Note] = (),
) -> str:
    """Return, for every different chord once, what works over it, where it leads, where it lies.

    Chords that part in their bass alone are told together, as are those over one scale of a key.
    ``style`` is that of the song's feel; ``line`` is its bass part, the first example.
    """
    found: dict[object, list[_Meeting]] = {}
    for meeting in _meetings(harmony, song_style(harmony, style)):
        chord = meeting.tones.chord
        scales = tuple(scale.name for scale in meeting.palette.scales)
        same = (chord.root, chord.degrees, scales, meeting.key.scale)
        found.setdefault(same, []).append(meeting)
    blocks = [
        _meetings_text(group, line)
        + neck_map_text(
            group[0].tones, group[0].palette.scales[0].notes, position=position, tuning=tuning
        )
        for group in found.values()
    ]
    return "\n".join([*blocks, _LEGEND + "\n"]) if blocks else "no chords\n"


def _meetings(harmony: Analysis, style: Style) -> Iterator[_Meeting]:
    """Yield every chord of the song as played."""
    sounding = [placed for placed in harmony.changes if placed.span.chord]
    for placed, after in zip_longest(sounding, sounding[1:]):
        chord, following = placed.span.chord, after.span.chord if after else None
        if chord is None:
            continue
        goal = following if following != chord else None
        tones = chord_tones_in(chord, placed.key, goal)
        palette = chord_palette(chord, placed.key, style)
        yield _Meeting(tones, palette, placed.key, placed.bar.ref, goal)


def _meetings_text(group: Sequence[_Meeting], line: Sequence[Note]) -> str:
    """Return the notes that work over one chord: its tones, an example, scales, each way on."""
    tones, palette = group[0].tones, group[0].palette
    first, *others = dict.fromkeys(_name(meeting.tones.chord) for meeting in group)
    also = f" (also {', '.join(others)})" if others else ""
    lines = [f"{first}{also}: {names(tones.chord_tones)}   {_group_bars(group)}"]
    example = _example_text(group, line)
    if example:
        lines.append(f"  in the song: {example}")
    for number, scale in enumerate(palette.scales):
        why = f" ({scale.reason})" if scale.reason else ""
        lines.append(f"  {'or' if number else 'scale'}: {scale.name}: {names(scale.notes)}{why}")
    shown = (("safe", palette.safe), ("colour", palette.colour), ("avoid", palette.avoid))
    lines += [f"  {name}: {names(notes)}" for name, notes in shown if notes]
    approaches = dict.fromkeys(_approach_text(m.tones, m.after) for m in group if m.after)
    return "\n".join([*lines, *approaches]) + "\n"


def _example_text(group: Sequence[_Meeting], line: Sequence[Note]) -> str:
    """Return what the bass plays over a chord the first time, ghosts and held notes left out."""
    for meeting in group:
        chord = meeting.tones.chord
        played = [
            note.pitch
            for note in line
            if note.origin.bar == meeting.bar
            and note.origin.chord == chord
            and note.touch is not Touch.GHOST
        ]
        if played:
            own = [*meeting.tones.chord_tones, chord.bass_note, *meeting.tones.scale_notes]
            spelled = {pitch.pitch_class: pitch for pitch in reversed(own)}
            signs = meeting.key.signature_fifths
            notes = (spelled.get(p % 12) or near_key(p % 12, signs) for p in played)
            return f"{names(notes)}   bar {meeting.bar.written_bar}"
    return ""


def _name(chord: Chord) -> str:
    """Return a chord in letters, also where the chart has numbers."""
    plain = lettered(chord)
    return pretty(plain.symbol if plain else chord.symbol)


def _approach_text(tones: Tones, after: Chord) -> str:
    """Return the way into the next chord: its approaches, then how guide tones go."""
    guides = [
        f"{guide.note.pretty} " + (f"goes to {guide.goal.pretty}" if guide.step else "stays")
        for guide in tones.guide_tones
    ]
    shown = f"; guide tone{'s' if len(guides) > 1 else ''} {', '.join(guides)}" if guides else ""
    return f"  into {_name(after)}: by {names(tones.approaches)}{shown}"


def _group_bars(group: Sequence[_Meeting]) -> str:
    """Return the written bars in which chords stand: ``bars 1, 5``."""
    return numbered_bars(sorted({meeting.bar.written_bar for meeting in group}))


def names(pitches: Iterable[SpelledPitch]) -> str:
    """Return notes by name."""
    return " ".join(pitch.pretty for pitch in pitches)
