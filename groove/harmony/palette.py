"""What a player reaches for over a chord, by style: scales, safe notes, colour, notes to avoid.

Common practice, no source.  Over blues and rock the pentatonics and the blues scale of the song's
tonic come first, in pop the key's own pentatonic; a mode is told where the chord asks for one, by a
note that the key has not, and over jazz always.  A note outside the key comes with its reason.
Safe notes are the chord's own, notes to avoid lie a half step above one of them, colours are what
the scales have besides; a blue note is colour wherever its scale is offered.
"""

from collections.abc import Iterable
from functools import lru_cache

from msgspec import Struct

from groove.cells.model import Style
from groove.harmony.analysis import Analysis
from groove.harmony.evidence import ChordClass, kind_of
from groove.harmony.named import BLUES_FORMS
from groove.harmony.tones import chord_tones_in
from groove.theory.chords import Chord, has_minor_third
from groove.theory.keys import Key
from groove.theory.pitch import SpelledPitch
from groove.theory.scales import SCALES, Scale

_BLUES_NAMES = frozenset(form.name for form in BLUES_FORMS)
_JAZZ_SHARE, _ROCK_SHARE = 0.6, 0.25
_SEVENTHS = (ChordClass.DOMINANT, ChordClass.MAJOR_SEVENTH, ChordClass.MINOR_SEVENTH)


class RootedScale(Struct, frozen=True):
    """A scale from a root, its notes as they are told, and why it has some outside of the key."""

    root: SpelledPitch
    scale: Scale
    notes: tuple[SpelledPitch, ...]
    reason: str = ""

    @property
    def name(self) -> str:
        """The root and the name: ``A blues scale``."""
        word = " scale" if self.scale.name == "blues" else ""
        return f"{self.root.pretty} {self.scale.name}{word}"


class Palette(Struct, frozen=True):
    """What works over one chord: scales, the likeliest first, and notes by how they sound."""

    scales: tuple[RootedScale, ...]
    safe: tuple[SpelledPitch, ...]
    colour: tuple[SpelledPitch, ...]
    avoid: tuple[SpelledPitch, ...]


def song_style(harmony: Analysis, of_feel: Style | None = None) -> Style:
    """Return the style of a song's notes: a blues by its form, else by its feel, else its chords.

    Mostly sevenths are jazz, a quarter of fifths rock.
    """
    if any(found.name in _BLUES_NAMES for named in harmony.named for found in named):
        return Style.BLUES
    if of_feel:
        return of_feel
    spans = [placed.span for placed in harmony.changes if placed.span.chord]
    total = float(sum(span.length_quarters for span in spans)) or 1.0
    heard: dict[ChordClass, float] = {}
    for span in spans:
        assert span.chord
        kind = kind_of(span.chord)
        heard[kind] = heard.get(kind, 0.0) + float(span.length_quarters) / total
    if sum(heard.get(kind, 0.0) for kind in _SEVENTHS) >= _JAZZ_SHARE:
        return Style.JAZZ
    return Style.ROCK if heard.get(ChordClass.OPEN, 0.0) >= _ROCK_SHARE else Style.POP


@lru_cache(maxsize=2048)
def chord_palette(chord: Chord, key: Key, style: Style) -> Palette:
    """Return what works over a chord in a key, by style."""
    scales = _scales(chord, key, style)
    tones = chord_tones_in(chord, key, None).chord_tones
    own = chord.all_pitch_classes
    others: dict[int, SpelledPitch] = {}
    for scale in scales:
        for note in scale.notes:
            if note.pitch_class not in own:
                others.setdefault(note.pitch_class, note)
    rising = sorted(others.values(), key=lambda n: (n.pitch_class - chord.root.pitch_class) % 12)
    blue = _blue_notes(scales, key)
    clashing = {
        note
        for note in rising
        if (note.pitch_class - 1) % 12 in chord.pitch_classes and note.pitch_class not in blue
    }
    slash = () if chord.bass_note.pitch_class in chord.pitch_classes else (chord.bass_note,)
    return Palette(
        scales=scales,
        safe=(*slash, *tones),
        colour=tuple(note for note in rising if note not in clashing),
        avoid=tuple(note for note in rising if note in clashing),
    )


def _blue_notes(scales: Iterable[RootedScale], key: Key) -> set[int]:
    """Return the pitch classes of the blues scales among some that are outside the key."""
    notes = (
        note.pitch_class for each in scales if each.scale.name == "blues" for note in each.notes
    )
    return set(notes) - set(key.pitch_classes)


def _scales(chord: Chord, key: Key, style: Style) -> tuple[RootedScale, ...]:
    """Return the scales over a chord, the likeliest first."""
    mode = _mode(chord, key)
    if style is Style.JAZZ:
        return (mode,)
    pentatonics = _pentatonics(chord, key, style)
    is_blues_chord = style is Style.BLUES and kind_of(chord) is ChordClass.DOMINANT
    if is_blues_chord or _is_inside(chord, key):
        return pentatonics
    return (mode, *pentatonics)


def _mode(chord: Chord, key: Key) -> RootedScale:
    """Return the scale that a chord has in its key, and why it leaves the key where it does."""
    tones = chord_tones_in(chord, key, None)
    outside = [note for note in tones.scale_notes if note.pitch_class not in key.pitch_classes]
    own = [note for note in outside if note.pitch_class in chord.pitch_classes]
    rest = [note for note in outside if note not in own]
    reasons = []
    if own:
        reasons.append(f"{_listed(own)} of the chord")
    if rest:
        reasons.append(f"{_listed(rest)} to go with it")
    return RootedScale(chord.root, tones.scale, tones.scale_notes, ", ".join(reasons))


def _listed(notes: Iterable[SpelledPitch]) -> str:
    return " ".join(note.pretty for note in notes)


def _pentatonics(chord: Chord, key: Key, style: Style) -> tuple[RootedScale, ...]:
    """Return the pentatonics and the blues scale of a style over a chord.

    In a blues the scale of the tonic and the pentatonic of a chord of the key or of a dominant, in
    rock the key's pentatonic and the tonic's blues scale, elsewhere the key's pentatonic alone.
    """
    home = "minor pentatonic" if key.is_minor else "major pentatonic"
    of_key = _rooted(key.tonic, home, key)
    if style is Style.POP:
        return (of_key,)
    blues = _rooted(key.tonic, "blues", key)
    if style is Style.ROCK:
        return (of_key, blues)
    if kind_of(chord) is not ChordClass.DOMINANT and not _is_inside(chord, key):
        return (blues,)
    own = "minor pentatonic" if has_minor_third(chord) else "major pentatonic"
    return (blues, _rooted(chord.root, own, key))


def _is_inside(chord: Chord, key: Key) -> bool:
    """Return whether a key has all notes of a chord, its bass too."""
    return chord.all_pitch_classes <= set(key.pitch_classes)


def _rooted(root: SpelledPitch, name: str, key: Key) -> RootedScale:
    """Return a scale by name; what of a blues scale is outside the key are its blue notes."""
    scale = SCALES[name]
    notes = scale.notes(root)
    outside = [note for note in notes if note.pitch_class not in key.pitch_classes]
    if not outside:
        return RootedScale(root, scale, notes)
    why = "blue notes" if name == "blues" else "of the chord's own scale"
    return RootedScale(root, scale, notes, f"{_listed(outside)} {why}")
