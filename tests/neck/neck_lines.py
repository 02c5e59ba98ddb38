"""Bass lines of our own for the tests of the neck, written as rows of steps."""

from collections.abc import Sequence

from groove.bar_place import BarRef
from groove.events import Bar, ChordOnset, Note, Origin, Part, Performance, Role, Touch
from groove.theory.chords import parse_chord
from groove.timing import TICKS_PER_QUARTER, Meter, TempoChange, TempoMap, quarters_to_ticks

STEPS = {
    "R": (0, Role.ROOT),
    "8": (12, Role.OCTAVE),
    "5": (7, Role.FIFTH),
    "5,": (-5, Role.FIFTH),
    "9": (14, Role.NINTH),
    "b7": (10, Role.SEVENTH),
    "3": (4, Role.THIRD),
    "b3": (3, Role.THIRD),
    "6": (9, Role.SIXTH),
}
SIXTEENTHS = "R - x R . R 5 8 R - x R - 5 x 8"
ROOT_PITCHES = {
    "E": 28, "F": 29, "F#m": 30, "G": 31, "Ab": 32, "A": 33, "Bb": 34, "Bm": 35, "C": 36,
    "C#m": 37, "D": 38, "Eb": 39,
}  # fmt: skip
"""The lowest root of each chord on a four-string: E1 to D#2."""


def tempo(bpm: float) -> TempoMap:
    return TempoMap((TempoChange(0, round(60_000_000 / bpm)),))


def bar_ref(number: int, section: str = "verse") -> BarRef:
    return BarRef(
        section=section,
        occurrence=1,
        pass_number=1,
        bar_in_section=number,
        written_bar=number,
        played_bar=number,
    )


def onset(symbol: str) -> ChordOnset:
    """Return a chord on the first beat of its bar; ``N.C.`` is none."""
    chord = None if symbol == "N.C." else parse_chord(symbol)
    return ChordOnset(chord=chord, written=symbol, tick=0)


def cell_line(chords: Sequence[str], cell: str, slots_per_quarter: int = 4) -> list[Note]:
    """Return a cell (one bar of tokens; ``x`` ghost, ``-`` hold, ``.`` rest) on each chord."""
    tokens = cell.split()
    slot_ticks = TICKS_PER_QUARTER // slots_per_quarter
    notes: list[Note] = []
    for bar, chord in enumerate(chords):
        before = ROOT_PITCHES[chord]
        for step, token in enumerate(tokens):
            if token in "-.":
                continue
            above, role = STEPS.get(token, (before - ROOT_PITCHES[chord], Role.GHOST))
            before = ROOT_PITCHES[chord] + above
            length = 1
            while tokens[step + length : step + length + 1] == ["-"]:
                length += 1
            notes.append(
                Note(
                    part=Part.BASS,
                    grid_tick=(bar * len(tokens) + step) * slot_ticks,
                    length_ticks=length * slot_ticks,
                    pitch=before,
                    velocity=90,
                    touch=Touch.GHOST if token == "x" else Touch.PLAIN,
                    origin=Origin(
                        bar=bar_ref(bar + 1), onset=onset(chord), cell="test", role=role, step=step
                    ),
                )
            )
    return notes


def plain_line(
    pitches: Sequence[int], step_ticks: int = 480, *, time_keeping: bool = True
) -> list[Note]:
    """Return notes of equal length that belong to no cell, eight to a bar."""
    return [
        Note(
            part=Part.BASS,
            grid_tick=index * step_ticks,
            length_ticks=step_ticks,
            pitch=pitch,
            velocity=90,
            origin=Origin(
                bar=bar_ref(index // 8 + 1),
                onset=onset("C"),
                cell="",
                role=Role.WALK,
                time_keeping=time_keeping,
            ),
        )
        for index, pitch in enumerate(pitches)
    ]


def as_performance(notes: Sequence[Note], meter: Meter, bpm: float = 84) -> Performance:
    """Return a performance of these notes, with the bars that their origins name."""
    bar_ticks = quarters_to_ticks(meter.bar_quarters)
    refs = {note.origin.bar.played_bar: note.origin for note in notes}
    bars = tuple(
        Bar(
            ref=origin.bar,
            start_tick=(number - 1) * bar_ticks,
            length_ticks=bar_ticks,
            meter=meter,
            chords=(origin.onset,) if origin.onset else (),
        )
        for number, origin in sorted(refs.items())
    )
    return Performance(
        title="Lantern Row",
        notes=tuple(notes),
        bars=bars,
        tempo_map=tempo(bpm),
        markers=(),
        programs=(),
        end_tick=bars[-1].end_tick,
    )


def spot(note: Note) -> tuple[int, int]:
    """Return the string and the fret of a fingered note."""
    assert note.place
    return note.place.string, note.place.fret
