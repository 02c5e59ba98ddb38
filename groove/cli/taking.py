"""What ``groove take`` reads: the reference with its options, and the take."""

from collections.abc import Iterator
from contextlib import suppress
from typing import TYPE_CHECKING

from groove.cli.as_rendered import Rendered
from groove.cli.console import say
from groove.cli.options import Choices, tuning_choices
from groove.errors import NeckError, OptionError
from groove.events import Performance
from groove.io.config import read_config
from groove.io.midi_song import is_midi
from groove.io.takes import read_midi_reference, read_midi_take

if TYPE_CHECKING:
    from groove.neck.instrument import Tuning
    from groove.take.heard import HeardTake
    from groove.take.reference import TakeReference

OF_A_CHART = ("feel", "vary", "transpose", "key", "seed", "tuning", "tight")
"""What is asked of a band, and so of no MIDI file."""


def read_reference(name: str, asked: Rendered, like: str | None = None) -> "TakeReference":
    """Return the bass part that a take is held against, of a chart or of a MIDI file.

    ``like`` is a record on whose time the chart is played.  Raises what reading any of them does,
    and OptionError for a choice that a MIDI file cannot serve.
    """
    loop = asked.loop.choices()
    choices: Choices = {
        **asked.played.choices(),
        "tight": asked.tight,
        **tuning_choices(asked.tuning),
    }
    if is_midi(name):
        from groove.take.reference import piece_of_reference

        refused = [f"--{key}" for key in OF_A_CHART if choices.get(key)]
        refused += ["--line"] if asked.line else []
        refused += ["--like"] if like else []
        if refused or loop["sections"]:
            option = refused[0] if refused else "--sections"
            raise OptionError(f"{option} is for a chart", hint=f"{name} is played as it stands")
        reference = read_midi_reference(name, say)
        return piece_of_reference(
            reference,
            bars=loop["bars"],  # type: ignore[arg-type]
            times=int(str(loop["times"])),
            tempo=choices,
        )
    return _chart_reference(name, choices, asked, like)


def _chart_reference(
    name: str, choices: Choices, asked: Rendered, like: str | None
) -> "TakeReference":
    """Return the bass part of a chart, as the band plays it with these choices."""
    from groove.cli.performing import perform_options, play_chart, print_reading
    from groove.cut import piece
    from groove.pipeline import song_tuning
    from groove.take.reference import performed_reference

    options = perform_options(read_config(), choices)
    wanted = perform_options(read_config(), asked.loop.choices())
    analysis, performance = play_chart(name, options, asked.patterns, asked.line)
    print_reading(analysis.song, performance.notices)
    if like:
        performance = _on_its_time(performance, like)
    cut = piece(performance, wanted.sections, wanted.bars, wanted.times)
    shifted = set(_shifted(performance, song_tuning(analysis.song, options)))
    return performed_reference(cut, shifted)


def _on_its_time(performance: Performance, record: str) -> Performance:
    """Return a performance on a record's time, from its first bar on.

    Raises RecordingError where the record cannot be read or is not this song.
    """
    from groove.cli.aligning import record_beside
    from groove.record.like_record import from_first_bar, like_record

    heard, _ = record_beside(performance, record, first_sec=None, taps=None, keeps_tempo=False)
    say(f"held against the time of {record}, whose bars are known to some hundredths of a second")
    return like_record(performance, from_first_bar(heard))


def _shifted(performance: Performance, tuning: "Tuning") -> Iterator[tuple[int, int]]:
    """Yield played bar and tick in it of each note before which the hand shifts."""
    from groove.neck.fingering import finger_performance

    starts = {bar.ref.played_bar: bar.start_tick for bar in performance.bars}
    with suppress(NeckError):  # what no hand can play has no shifts to be told apart
        _, line = finger_performance(performance, tuning=tuning)
        for shift in line.shifts:
            note = line.notes[shift.note_index]
            bar = note.origin.bar.played_bar
            yield bar, note.grid_tick - starts[bar]


def read_take(name: str, reference: "TakeReference", from_sec: float | None) -> "HeardTake":
    """Return what is heard in a take, by its events or by ear, for what a reference says is due."""
    if is_midi(name):
        return read_midi_take(name, say)
    from groove.io.heard_takes import heard_take, read_recorded_take

    return heard_take(read_recorded_take(name), reference, from_sec=from_sec)
