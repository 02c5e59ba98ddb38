"""A track: some bars at one tempo, as often as a rung of the ladder asks for, counted in."""

from collections.abc import Sequence
from fractions import Fraction

from msgspec import Struct
from msgspec.structs import replace

from groove.cut import ClickUnit, cut_bars, joined, only_parts, with_click, with_count_in
from groove.events import Marker, Part, Performance
from groove.practice.exercises import Exercise, ExerciseKind
from groove.timing import TempoMap

LONGEST_CYCLE_BARS = 64


class DropOut(Struct, frozen=True):
    """A click that falls silent in the last ``silent_bars`` of every ``cycle_bars``."""

    silent_bars: int
    cycle_bars: int

    def __post_init__(self) -> None:
        """Refuse a click that never sounds, or always.  Raises ValueError."""
        if not 1 <= self.silent_bars < self.cycle_bars <= LONGEST_CYCLE_BARS:
            raise ValueError(f"silent in {self.silent_bars} of {self.cycle_bars} bars")

    def is_silent(self, bar: int) -> bool:
        """Whether it is silent in a bar; ``bar`` counts from 0 over all passes of a tempo."""
        return bar % self.cycle_bars >= self.cycle_bars - self.silent_bars


class Sounding(Struct, frozen=True, kw_only=True):
    """What a player hears while practising.

    ``parts`` are those of the band that sound at all, the click among them; ``bass_always`` keeps
    the bass in every pass, else it plays the first pass of each tempo and is gone after.
    ``counts_in`` counts in every pass, else the first of each tempo alone.
    """

    parts: frozenset[Part]
    bass_always: bool = False
    click: ClickUnit = ClickUnit.BEATS
    drop_out: DropOut | None = None
    counts_in: bool = True


class PracticeTrack(Struct, frozen=True, kw_only=True):
    """An exercise at one tempo: its passes, each with the count-in before it if it has one.

    ``percent`` is of the song's tempo; ``times`` is how often the exercise is played at it and
    ``first_pass``, from 1, which of them is the first here: a tempo that takes longer than a player
    should go on without a rest has more than one track.
    """

    exercise: Exercise
    percent: Fraction
    passes: tuple[Performance, ...]
    times: int
    first_pass: int = 1

    @property
    def sec(self) -> float:
        """How long it lasts in seconds, count-ins and all."""
        return sum(one.length_sec for one in self.passes)


def song_alone(on_record_time: Performance, percent: Fraction) -> Performance:
    """Return the bars of a song without the rests before and between them, at some other tempo.

    ``on_record_time`` is the band from a record's first sample on, ``percent`` of whose tempo it
    has then: all its bars last longer or shorter by the same share, so that it pulls as it does.
    """
    bars = [index for index, bar in enumerate(on_record_time.bars) if bar.ref.played_bar >= 0]
    cut = cut_bars(on_record_time, bars)
    changes = tuple(
        replace(change, microseconds=round(change.microseconds * 100 / percent))
        for change in cut.tempo_map.changes
    )
    return replace(cut, tempo_map=TempoMap(changes))


def make_track(
    exercise: Exercise, played: Performance, percent: Fraction, times: int, sounding: Sounding
) -> PracticeTrack:
    """Return an exercise at one tempo; ``played`` is the whole song at that tempo.

    Raises OptionError for more bars than a song may have.
    """
    cut = cut_bars(played, exercise.bars)
    passes: list[Performance] = []
    made: dict[tuple[bool, bool, tuple[int, ...]], Performance] = {}
    for number in range(times):
        has_bass = sounding.bass_always or _plays_first(exercise, number)
        silent = _silent_bars(sounding.drop_out, len(cut.bars), number)
        is_counted = sounding.counts_in or number == 0
        key = (has_bass, is_counted, silent)
        # Passes that are alike are one value, so that their sound is made once.
        if key not in made:
            made[key] = _one_pass(cut, sounding, has_bass, is_counted, silent)
        passes.append(made[key])
    return PracticeTrack(exercise=exercise, percent=percent, passes=tuple(passes), times=times)


def _plays_first(exercise: Exercise, number: int) -> bool:
    """Whether the bass shows a pass: the first, but of the whole song, which is the player's."""
    return number == 0 and exercise.kind is not ExerciseKind.SONG


def _silent_bars(drop_out: DropOut | None, bars: int, number: int) -> tuple[int, ...]:
    """Return which bars of a pass have no click; the counting goes on from pass to pass."""
    if drop_out is None:
        return ()
    return tuple(bar for bar in range(bars) if drop_out.is_silent(number * bars + bar))


def _one_pass(
    cut: Performance,
    sounding: Sounding,
    has_bass: bool,
    is_counted: bool,
    silent: Sequence[int],
) -> Performance:
    """Return one time through the bars as it sounds."""
    parts = sounding.parts if has_bass else sounding.parts - {Part.BASS}
    heard = only_parts(cut, parts)
    if Part.CLICK in sounding.parts:
        heard = with_click(heard, sounding.click, silent=silent)
    return with_count_in(heard, parts) if is_counted else heard


def tracks_performance(tracks: Sequence[PracticeTrack], names: Sequence[str]) -> Performance:
    """Return tracks one after the other as one performance, with a marker at each pass.

    ``names`` are what the tracks are called.
    """
    whole = joined([one for track in tracks for one in track.passes])
    markers: list[Marker] = []
    at_tick = 0
    for track, name in zip(tracks, names, strict=True):
        for number, one in enumerate(track.passes, start=track.first_pass):
            markers.append(Marker(at_tick, f"{name}, {number} of {track.times}"))
            at_tick += one.end_tick
    return replace(whole, markers=tuple(markers))
