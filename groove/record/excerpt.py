"""Where in a long recording a song may be: a set recorded whole, a record with a talk before it."""

from typing import TYPE_CHECKING

from groove.record.due_sound import DueSound, heard_harmony
from groove.record.heard_tones import TONE_STEP_SEC
from groove.record.listened import Listened
from groove.record.ways import ROUGH, best_shift, best_stretch, shifted, way

if TYPE_CHECKING:
    from groove.arrays import Floats

_LONG_TIMES, _LONG_SEC = 2.5, 60.0
"""A recording is long that has so many times the song, and so much more."""
_AROUND_TIMES, _AROUND_SEC = 0.6, 20.0
_PIECE_SEC, _TUNED_BY_SEC = 20.0, 30.0


def likely_parts(due: DueSound, listened: Listened) -> tuple[Listened, Listened]:
    """Return the part of a recording that is most like a song, and most like it backwards.

    Both are so long that the song fits in at a slower tempo and with more sections; a recording
    that is not long is its own part.  The second is what the first is held against: in an hour
    of other songs the best part is somewhat like any song, in either direction.
    """
    song_sec = float(due.line_secs[-1])
    if len(listened.tones) * TONE_STEP_SEC <= _LONG_TIMES * song_sec + _LONG_SEC:
        return listened, listened
    record = ROUGH.steps(_harmony_in_pieces(listened))
    semitones, path = best_shift(due, record, ROUGH)
    backwards = way(due, shifted(due.harmony, semitones)[::-1], record, ROUGH)
    size = int(ROUGH.lines(due)[-1])
    around_sec = _AROUND_TIMES * song_sec + _AROUND_SEC
    best, other = (best_stretch(each, size) for each in (path, backwards))
    likely, against = (
        listened.part(
            each.first * ROUGH.step_sec - around_sec, each.end * ROUGH.step_sec + around_sec
        )
        for each in (best, other)
    )
    return likely, against


def _harmony_in_pieces(listened: Listened) -> "Floats":
    """Return what is heard of bass and chords, each piece as loud and tuned as what is about it."""
    import numpy

    pieces = []
    cents = 0.0
    for first_sec in numpy.arange(0, len(listened.tones) * TONE_STEP_SEC, _PIECE_SEC).tolist():
        end_sec = first_sec + _PIECE_SEC
        about = listened.part(first_sec - _TUNED_BY_SEC, end_sec + _TUNED_BY_SEC).tuning_cents
        cents = about + 100 * round((cents - about) / 100)  # a quarter tone is up and down
        pieces.append(heard_harmony(listened.part(first_sec, end_sec), cents))
    return numpy.concatenate(pieces)
