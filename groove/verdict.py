"""What may be said of a player's time: limits, least numbers of notes, words; nothing but data.

The report of a take and the practice page judge by this one table; ``verdict_data`` is what a page
carries of it.  A deviation is positive where a note comes late.  Sources: STL-QPSR 33(4), 1992,
97-108 (the lenient just noticeable displacement: 10 ms or 5 % of the interval); *Just Noticeable
Difference Thresholds of Asynchrony and Non-isochrony in a Multi-Instrumental Groove-based Context*
(OSF jsg94: a bass shifted by 31-35 ms, swing by 24-34 ms); S. Fujii et al., Music Perception
28(5), 2011 (professional drummers about 10 ms early); B. H. Repp, Psychonomic Bulletin & Review
12(6), 2005 (musicians 10-30 ms ahead of a click; from memory); CHARM Mazurka Project, *tempojnd*
(60 to 62.0 bpm over five clicks); mir_eval (onsets are matched within 50 ms).
"""

from collections.abc import Mapping
from enum import StrEnum
from math import log, sqrt
from statistics import NormalDist
from typing import Final

from msgspec import Struct


class Limit(Struct, frozen=True, kw_only=True):
    """A number that decides what is said: its value, its unit, and where it comes from."""

    value: float
    unit: str
    source: str


_JND_1992 = "STL-QPSR 33(4), 1992: 10 ms or 5 % of the interval"
_JND_BASS = "OSF jsg94: a shifted bass is heard from 31-35 ms on"
_NOTE_END = "mir_eval: the end of a note is matched within 50 ms or 20 % of its length"
_NO_SOURCE = "common practice, no source"

LIMITS: Final[Mapping[str, Limit]] = {
    "tight_ms": Limit(value=10, unit="ms", source=_JND_1992),
    "tight_share": Limit(value=0.05, unit="of the interval", source=_JND_1992),
    "heard_ms": Limit(value=35, unit="ms", source=_JND_BASS),
    "off_ms": Limit(value=50, unit="ms", source="mir_eval: onsets are matched within 50 ms"),
    "mean_ms": Limit(value=10, unit="ms", source="Fujii et al. 2011: drummers 10 ms early"),
    "usual_early_ms": Limit(value=30, unit="ms", source="Repp 2005 (from memory)"),
    "drift_percent": Limit(value=3, unit="%", source="CHARM: 60 to 62.0 bpm over five clicks"),
    "swing_ms": Limit(value=24, unit="ms", source="OSF jsg94: swing of the band, 24-26 ms"),
    "length_ms": Limit(value=50, unit="ms", source=_NOTE_END),
    "length_share": Limit(value=0.2, unit="of the length", source=_NOTE_END),
    "even_db": Limit(value=3, unit="dB", source=_NO_SOURCE),
    "uneven_db": Limit(value=5, unit="dB", source=_NO_SOURCE),
    "louder_db": Limit(value=3, unit="dB", source=_NO_SOURCE),
    "confidence": Limit(value=0.95, unit="of takes", source=_NO_SOURCE),
    "notes_for_verdict": Limit(value=16, unit="notes", source=_NO_SOURCE),
    "notes_for_drift": Limit(value=24, unit="notes", source=_NO_SOURCE),
    "beats_for_drift": Limit(value=16, unit="beats", source=_NO_SOURCE),
    "notes_for_place": Limit(value=6, unit="notes", source=_NO_SOURCE),
    "notes_for_bar": Limit(value=3, unit="notes", source=_NO_SOURCE),
    "bars_to_work_on": Limit(value=3, unit="bars", source=_NO_SOURCE),
    "heard_share": Limit(value=0.5, unit="of the notes", source=_NO_SOURCE),
    "clean_share": Limit(value=0.9, unit="of the notes", source=_NO_SOURCE),
    "work_share": Limit(value=0.6, unit="of the tempo", source=_NO_SOURCE),
    "work_step": Limit(value=0.05, unit="of the tempo", source=_NO_SOURCE),
}
"""Every limit by name."""


class Grade(StrEnum):
    """How far a single note lies from its place."""

    TIGHT = "tight"
    BORDERLINE = "borderline"
    AUDIBLE = "audible"
    OFF = "clearly off"


class Steadiness(StrEnum):
    """How even a take is, in one word of a teacher."""

    STEADY = "steady"
    FAIRLY = "fairly steady"
    UNEVEN = "a little uneven"
    UNSTEADY = "not steady yet"


class Trend(StrEnum):
    """Where the tempo goes."""

    RUSHING = "rushing"
    DRAGGING = "dragging"
    HOLDING = "holding"
    UNKNOWN = "unknown"

    @property
    def moves(self) -> bool:
        """Whether the tempo surely goes up or down."""
        return self in (Trend.RUSHING, Trend.DRAGGING)


class Lean(StrEnum):
    """On which side of the beat a take lies on average."""

    AHEAD = "ahead of the beat"
    BEHIND = "behind the beat"
    ON = "on the beat"
    UNKNOWN = "unknown"


class Evenness(StrEnum):
    """How evenly loud the plain notes of a take are."""

    EVEN = "even"
    FAIRLY = "fairly even"
    UNEVEN = "uneven"


class Length(StrEnum):
    """How long notes are held, beside the part."""

    AS_LONG = "as long as in the part"
    SHORTER = "shorter than in the part"
    LONGER = "longer than in the part"
    UNKNOWN = "unknown"


class Comparison(StrEnum):
    """What a second take is beside the first."""

    STEADIER = "steadier"
    LESS_STEADY = "less steady"
    NO_DIFFERENCE = "no difference that can be told"


MEANINGS: Final[Mapping[Grade, str]] = {
    Grade.TIGHT: "within what a listener can hear",
    Grade.BORDERLINE: "most listeners would not hear it on the bass",
    Grade.AUDIBLE: "heard by many listeners",
    Grade.OFF: "clearly beside its place",
}
"""What each grade means to a listener."""

STEADY_WORDS: Final[Mapping[Steadiness, str]] = {
    Steadiness.STEADY: "Steady: no listener can hear how far single notes stray.",
    Steadiness.FAIRLY: "Fairly steady: most listeners would not hear how far single notes stray.",
    Steadiness.UNEVEN: "A little uneven: some notes stray far enough to be heard.",
    Steadiness.UNSTEADY: "Not steady yet: many notes stray far enough to be heard.",
}
"""How even a take is, in a sentence."""

PAGE_WORDS: Final[Mapping[str, str]] = {
    "head held": "What held",
    "head moved": "What moved",
    "head heard": "What was heard",
    "count": "{heard} of {notes} notes heard.",
    "count on grid": "{heard} notes heard on the grid.",
    "too few": "Too few notes for a verdict on the whole: it takes {least}.",
    "spread": "Spread {ms} ms (standard deviation).",
    "every note": "every note was heard, each at its pitch",
    "all on": "no note was named early or late",
    "tight bars": "{bars}: tight",
    "steadiest": "{bars}: your steadiest",
    "no drift": "no drift over the pass",
    "bar early": "{bars}: {ms} ms early (median)",
    "bar late": "{bars}: {ms} ms late (median)",
    "drift early": "you end {ms} ms earlier than you begin: rushing",
    "drift late": "you end {ms} ms later than you begin: dragging",
    "lean early": "ahead of the beat: {ms} ms (median of the pass)",
    "lean late": "behind the beat: {ms} ms (median of the pass)",
    "step": "from {bars} on the sound came {ms} ms {side} at once: the device, not you; it is "
    "taken out",
    "named early": "early by more than {ms} ms: {places}",
    "named late": "late by more than {ms} ms: {places}",
    "not heard": "not heard: {places}",
    "other pitch": "heard {heard}, written {written}: {places}",
    "ghosts": "{heard} of {notes} ghost notes heard",
    "extra": "possible extra notes: {count}",
    "gap": "notes not judged, as the page was busy: {count}",
    "early": "early",
    "late": "late",
    "on": "on",
    "mark not heard": "not heard",
    "mark other": "heard {heard}",
    "earlier": "earlier",
    "later": "later",
    "against own": "Measured against your own average: the microphone did not hear the count-in, "
    "so a late player cannot be told from a late recording.",
    "against sticks": "Measured against the count-in, which the microphone heard: the way out and "
    "in takes {ms} ms.",
    "in headphones": "The band was not heard by the microphone: in headphones, this is sure.",
    "aloud": "The band was heard aloud beside the bass: what is said is less sure.",
    "not known": "Without a count-in that sounds it is not known whether the band is heard aloud.",
    "bass aloud": "The page's own bass was heard aloud too: turn it off, else it is judged.",
    "unheard": "Hardly a bass was heard: plug it in, or bring the microphone nearer. Nothing is "
    "judged.",
    "clean": "Clean: at most one note in ten early, late, not heard or at another pitch.",
    "not clean": "Not clean yet: the tempo stays.",
    "next tempo": "From the next time on at {percent} %.",
    "work on it": "work on {bars}",
}
"""What the practice page says of a pass, with fields to be filled in."""

NEVER_SAID: Final = ("missed", "wrong", "bad", "mistake", "error", "failed", "sloppy", "poor")
"""Words that stand in no report for a player: what is not in a recording was not heard."""

CAUTIONS: Final = (
    "behind the beat may be style: many players and songs lie there on purpose",
    "what was not heard may have been played too softly for the recording",
    "what is called possible may be a noise of the hand or of the room",
    "short or long notes may be style: many lines want them so",
)
"""What a report never leaves out where it says the like."""


def limit(name: str) -> float:
    """Return the value of a limit."""
    return LIMITS[name].value


def tight_limit_ms(interval_ms: float) -> float:
    """Return how far a note may lie from its place and be tight; the interval is to its neighbour.

    Reference: 10 ms or 5 % of the interval, whichever is more, but never what is heard on a bass.
    """
    return min(limit("heard_ms"), max(limit("tight_ms"), limit("tight_share") * interval_ms))


def grade(deviation_ms: float, interval_ms: float) -> Grade:
    """Return how far one note lies from its place, as a listener takes it."""
    size = abs(deviation_ms)
    if size <= tight_limit_ms(interval_ms):
        return Grade.TIGHT
    if size <= limit("heard_ms"):
        return Grade.BORDERLINE
    return Grade.AUDIBLE if size <= limit("off_ms") else Grade.OFF


def steadiness(sd_ms: float, interval_ms: float, notes: int) -> Steadiness | None:
    """Return how even a take is, None for too few notes.

    Fairly steady is where 95 of 100 notes lie within what is heard on a bass (two standard
    deviations), a little uneven where 68 do (one).
    """
    if notes < limit("notes_for_verdict"):
        return None
    if sd_ms <= tight_limit_ms(interval_ms):
        return Steadiness.STEADY
    if 2 * sd_ms <= limit("heard_ms"):
        return Steadiness.FAIRLY
    return Steadiness.UNEVEN if sd_ms <= limit("heard_ms") else Steadiness.UNSTEADY


def lean(mean_ms: float, standard_error_ms: float, notes: int) -> Lean:
    """Return on which side of the beat a take lies; it must be sure, and enough to be heard.

    ``standard_error_ms`` is SD / sqrt(n) for notes that stray each for itself, more where they
    stray together.
    """
    if notes < limit("notes_for_verdict"):
        return Lean.UNKNOWN
    if abs(mean_ms) <= limit("mean_ms") or abs(mean_ms) <= 2 * standard_error_ms:
        return Lean.ON
    return Lean.AHEAD if mean_ms < 0 else Lean.BEHIND


def widest_by_chance_ms(sd_ms: float, notes: int, places: int) -> float:
    """Return how far the widest of some places strays, at most, where all of them stray alike.

    ``notes`` is how many one has; straying is the root of the mean square.  That of n notes is a
    chi-square, its cube root nearly normal (E. B. Wilson and M. M. Hilferty, PNAS 17(12), 1931,
    from memory); of many places one is wide by chance.
    """
    z = NormalDist().inv_cdf(1 - (1 - limit("confidence")) / places)
    part = 2 / (9 * notes)
    return float(sd_ms * (1 - part + z * part**0.5) ** 1.5)


def is_usual_lead(mean_ms: float) -> bool:
    """Return whether a take lies as little ahead of a click as most players do."""
    return -limit("usual_early_ms") <= mean_ms < 0


def trend(change_percent: float, interval: tuple[float, float], notes: int, beats: float) -> Trend:
    """Return where the tempo goes.

    ``change_percent`` is the fitted change from the first note to the last, ``interval`` the 95 %
    interval of the slope, in any unit: told is what is sure, and enough to be heard.
    """
    if notes < limit("notes_for_drift") or beats < limit("beats_for_drift"):
        return Trend.UNKNOWN
    is_sure = interval[0] > 0 or interval[1] < 0
    if not is_sure or abs(change_percent) <= limit("drift_percent"):
        return Trend.HOLDING
    return Trend.RUSHING if change_percent > 0 else Trend.DRAGGING


def evenness(sd_db: float, notes: int) -> Evenness | None:
    """Return how even plain notes are beside each other, None for too few of them.

    ``sd_db`` is their spread in level, accents that come back and a slow rise or fall left out.
    """
    if notes < limit("notes_for_verdict"):
        return None
    if sd_db <= limit("even_db"):
        return Evenness.EVEN
    return Evenness.FAIRLY if sd_db <= limit("uneven_db") else Evenness.UNEVEN


def is_louder(change_db: float, interval: tuple[float, float]) -> bool:
    """Return whether one level lies beside another, louder or softer: surely, and to be heard."""
    is_sure = interval[0] > 0 or interval[1] < 0
    return is_sure and abs(change_db) > limit("louder_db")


def length(share: float, interval: tuple[float, float], part_ms: float, notes: int) -> Length:
    """Return how long notes are held beside the part; it must be sure, and enough to be told.

    ``share`` is the player's length over the part's, 1 for the same; ``part_ms`` how long a note
    of the part lasts, as a rule.
    """
    if notes < limit("notes_for_verdict"):
        return Length.UNKNOWN
    is_sure = interval[0] > 1 or interval[1] < 1
    least = max(limit("length_share"), limit("length_ms") / part_ms)
    if not is_sure or abs(share - 1) <= least:
        return Length.AS_LONG
    return Length.SHORTER if share < 1 else Length.LONGER


def compared(
    sd_ms: float, freedom: float, earlier_sd_ms: float, earlier_freedom: float
) -> Comparison:
    """Return what a take's spread is beside that of an earlier one.

    The logarithm of a standard deviation has a standard error near 1 / sqrt(2 * freedom); told is
    what is sure at the table's confidence.
    """
    if min(sd_ms, earlier_sd_ms) <= 0 or min(freedom, earlier_freedom) < 1:
        return Comparison.NO_DIFFERENCE
    ratio = log(sd_ms / earlier_sd_ms)
    error = sqrt(1 / (2 * freedom) + 1 / (2 * earlier_freedom))
    if abs(ratio) <= sure_deviations() * error:
        return Comparison.NO_DIFFERENCE
    return Comparison.STEADIER if ratio < 0 else Comparison.LESS_STEADY


def sure_deviations() -> float:
    """Return how many standard deviations are sure on both sides, at the table's confidence."""
    return NormalDist().inv_cdf(0.5 + limit("confidence") / 2)


def verdict_data() -> dict[str, object]:
    """Return the whole table as plain data, for a page or a file."""
    return {
        "limits": {
            name: {"value": each.value, "unit": each.unit, "source": each.source}
            for name, each in LIMITS.items()
        },
        "grades": {str(grade): words for grade, words in MEANINGS.items()},
        "never_said": list(NEVER_SAID),
        "cautions": list(CAUTIONS),
        "steadiness": {str(each): words for each, words in STEADY_WORDS.items()},
        "words": dict(PAGE_WORDS),
    }
