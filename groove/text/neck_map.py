"""The notes that work over a chord as a map of the neck, in text.

◎ a root, ● another chord tone, ○ another note of the scale; the highest string on top.
"""

from groove.harmony.analysis import SongHarmony
from groove.harmony.tones import Tones, chord_tones_in
from groove.neck.instrument import STANDARD, Tuning
from groove.text.harmony import tones_text

ROOT, CHORD_TONE, SCALE_NOTE = "◎", "●", "○"
LEGEND = f"{ROOT} root   {CHORD_TONE} chord tone   {SCALE_NOTE} scale note"
POSITION_FRETS = 4


def note_mark(tones: Tones, pitch_class: int) -> str:
    """Return the sign of a pitch class: a root's, a chord tone's, a scale note's, or nothing."""
    if pitch_class == tones.chord.root.pitch_class:
        return ROOT
    if pitch_class in tones.chord.pitch_classes:
        return CHORD_TONE
    return SCALE_NOTE if pitch_class in {p.pitch_class for p in tones.scale_notes} else ""


def neck_map_text(tones: Tones, *, position: int = 0, tuning: Tuning = STANDARD) -> str:
    """Return the neck from a position on (its lowest fret, 0 with the open strings)."""
    frets = range(position, position + POSITION_FRETS + 1)
    rows = [string_row(tones, string, frets, tuning) for string in tuning.strings]
    numbers = "    " + " ".join(f"{fret:^3}" for fret in frets)
    return "\n".join([*rows, numbers.rstrip(), LEGEND]) + "\n"


def string_row(tones: Tones, string: int, frets: range, tuning: Tuning) -> str:
    """Return one string of the map."""
    cells = []
    for fret in frets:
        mark = note_mark(tones, tuning.pitch_at(string, fret) % 12)
        cells.append(f"{mark:{' ' if fret == 0 else '-'}^3}")
    joined = cells[0] + ("║" if frets.start == 0 else "|") + "|".join(cells[1:])
    return f"{tuning.string_name(string):<3}" + (" " if frets.start == 0 else "|") + joined + "|"


def working_notes_text(
    harmony: SongHarmony, *, position: int = 0, tuning: Tuning = STANDARD
) -> str:
    """Return, for every chord before every chord that follows it, what works and where it lies."""
    sounding = [placed for placed in harmony.changes if placed.span.chord]
    blocks: dict[str, None] = {}
    for placed, after in zip(sounding, [*sounding[1:], None], strict=True):
        chord, following = placed.span.chord, after.span.chord if after else None
        if chord is None or chord == following:
            continue
        tones = chord_tones_in(chord, placed.key, following)
        blocks[tones_text(tones) + neck_map_text(tones, position=position, tuning=tuning)] = None
    return "\n".join(blocks) or "no chords\n"
