"""What was decided for the player, as values; their words are made in ``groove.text.notices``."""

from enum import StrEnum

from msgspec import Struct


class NoticeKind(StrEnum):
    """What a notice tells of; its words are made in ``groove.text.notices``."""

    CONTROLS = "control characters"
    KEY_READ_AS = "key read as another"
    MODE_STAYS = "another key, the same mode"
    CHORDS_SPEAK_FOR = "chords speak for a key"
    NOW_WRITTEN = "now written otherwise"
    DOUBTFUL_TAB = "doubtful tab"
    UNPLAYED_SECTION = "unplayed section"
    UNPLAYED_RIFF = "unplayed riff"
    STRUCK_AGAIN = "struck again"
    LINE_DIFFERS = "line differs"
    LINE_CHANGED = "line changed"
    CHORDS_CHANGED = "chords changed"
    FILE = "file"
    USUAL_FEEL = "usual feel"
    STYLE = "style"
    UNSERVED_STYLE = "style of no feel in the meter"
    OTHER_FEEL = "other feel"
    FIRST_BEATS = "first beats"
    STARTS_AGAIN = "starts again"
    OTHER_CELL = "other cell"
    OWN_CELL = "own cell"
    NO_SWING = "no swing"
    LOUDNESS = "loudness"
    KEY = "key"
    MODE = "mode"
    UNHEARD = "unheard chord"
    RAISED = "octave up"
    HOLDS_NOTHING = "holds nothing"
    SLIDES_IN = "slides in"
    ABOVE_FRET = "above the highest fret"
    STRETCH = "wider than a hand"
    NO_SUCH_BARS = "no such bars"


class Notice(Struct, frozen=True, kw_only=True):
    """Something that was decided for the player: what, in which written bar, and with what.

    ``bar`` is None where it holds for more than a bar; ``values`` are names and what they stand
    for, as the kind needs them; a name that comes again is one of a row.
    """

    kind: NoticeKind
    bar: int | None = None
    values: tuple[tuple[str, str | int], ...] = ()


def make_notice(kind: NoticeKind, bar: int | None = None, **values: str | int) -> Notice:
    """Return the notice of some values by their names."""
    return Notice(kind=kind, bar=bar, values=tuple(values.items()))
