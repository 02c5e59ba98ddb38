"""Where a played bar stands: its name, its place in the form, the word that the band has there."""

from enum import StrEnum

from msgspec import Struct


class BandWord(StrEnum):
    """What a word in brackets at a bar's head tells the band."""

    HOLD = "hold"
    STOP = "stop"


class SectionKind(StrEnum):
    """What a section is by its usual name; ``OTHER`` for a name of the player's own."""

    INTRO = "intro"
    VERSE = "verse"
    PRE_CHORUS = "pre-chorus"
    CHORUS = "chorus"
    BREAKDOWN = "breakdown"
    OTHER = "other"


class BarRef(Struct, frozen=True, kw_only=True, gc=False):
    """The name of one played bar.

    ``occurrence`` counts the times the form has come to this section, ``pass_number`` the passes
    through the repeat the bar stands in, ``bar_in_section`` the played bars since the occurrence
    began; ``written_bar`` is the bar's number in the chart as written, ``played_bar`` its number
    in the song as played.  All count from 1; a pickup bar is played bar 0 and written bar 0.
    What stands outside the form (a count-in, a wait, a line alone) is the first of its own.
    """

    section: str
    occurrence: int = 1
    pass_number: int = 1
    bar_in_section: int = 1
    written_bar: int
    played_bar: int

    @property
    def is_pickup(self) -> bool:
        """Whether this is the short bar before bar 1."""
        return self.played_bar == 0

    @property
    def is_written(self) -> bool:
        """Whether the chart has this bar by number: neither a pickup nor a count-in."""
        return self.written_bar > 0

    def __repr__(self) -> str:
        """Return the bar's name on one line."""
        numbers = f"bar {self.written_bar}, played {self.played_bar}"
        return f"<BarRef {self.section:.30} {self.occurrence}, {numbers}>"


class FormPlace(Struct, frozen=True, kw_only=True, gc=False):
    """Where in the form a bar's section stands.

    ``time`` of ``times`` counts the times that this very section is played, ``kind_time`` of
    ``kind_times`` those of all sections of its kind (of its own name where the kind is ``OTHER``),
    ``like_time`` of ``like_times`` those of the section ``like``, its own or the one of which it is
    a time with bars of its own (``verse`` for a ``verse 2`` that is written ``as: verse``).
    ``bars_to_next`` is the count of bars until the next section, or the song's end, begins (1 in
    a section's last bar); ``next_kind`` is None in the song's last section.
    """

    kind: SectionKind = SectionKind.OTHER
    time: int = 1
    times: int = 1
    kind_time: int = 1
    kind_times: int = 1
    like: str = ""
    like_time: int = 1
    like_times: int = 1
    bars_to_next: int = 1
    next_kind: SectionKind | None = None

    @property
    def is_last_time(self) -> bool:
        """Whether the section is played for the last time."""
        return self.time == self.times

    @property
    def is_last_of_kind(self) -> bool:
        """Whether no section of this kind comes after it."""
        return self.kind_time == self.kind_times

    @property
    def is_last_chorus(self) -> bool:
        """Whether it is the last of several choruses."""
        return self.kind is SectionKind.CHORUS and self.kind_times > 1 and self.is_last_of_kind
