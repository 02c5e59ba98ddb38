"""Lines with and without a chart's pickup: roots on the ones, so where they lie is known."""

import io
from fractions import Fraction

import mido
import pytest
from msgspec.structs import replace

from groove.chart.parse import parse_chart
from groove.pipeline import analyse_song
from groove.study.frames import chart_frames
from groove.study.line_start import LineStart, line_start
from groove.study.studied_line import SoundedNote
from tests.cli.command import Command

CHART = "title: Own\nkey: C\nfeel: soul\npickup: 1 | G7 |\nverse:\n| C | Am | F | G |\n"
ROOTS = (36, 33, 29, 31)
G1, QUARTER = 31, Fraction(1)


def line(first: Fraction, pickup: Fraction | None = None) -> list[SoundedNote]:
    """Return four roots for three quarters a bar each, from a quarter of the file on."""
    begins = [(first + 4 * n, Fraction(3), root) for n, root in enumerate(ROOTS)]
    begins += [] if pickup is None else [(pickup, QUARTER, G1)]
    return [
        SoundedNote(
            start_quarters=at, end_quarters=at + long, length_sec=0.5, pitch=pitch, velocity=90
        )
        for at, long, pitch in sorted(begins)
    ]


@pytest.mark.parametrize(
    ("notes", "shift", "start"),
    [
        (line(QUARTER, pickup=Fraction(0)), 0, LineStart.PICKUP),
        (line(QUARTER), 0, LineStart.PICKUP),
        (line(Fraction(0)), 1, LineStart.BAR_1),
        (line(Fraction(4), pickup=Fraction(3)), -3, LineStart.WHOLE_BAR),
        (line(Fraction(4)), -3, LineStart.WHOLE_BAR),
    ],
)
def test_a_line_lies_where_its_roots_are_on_the_ones(
    notes: list[SoundedNote], shift: int, start: LineStart
) -> None:
    frames = chart_frames(analyse_song(parse_chart(CHART)))
    assert line_start(notes, frames) == (Fraction(shift), start)


@pytest.mark.parametrize(
    "chart",
    [
        CHART.replace("pickup: 1 | G7 |\n", ""),
        CHART.replace("G7", "C").replace("Am | F | G", "C | C | C"),
    ],
)
def test_where_no_pickup_is_or_all_fits_alike_the_line_stays(chart: str) -> None:
    """Over C alone, nothing in a line of C speaks for another start."""
    notes = [replace(note, pitch=ROOTS[0]) for note in line(Fraction(0))]
    frames = chart_frames(analyse_song(parse_chart(chart)))
    assert line_start(notes, frames) == (Fraction(0), LineStart.PICKUP)


def midi(notes: list[SoundedNote]) -> bytes:
    file = mido.MidiFile(ticks_per_beat=96)
    track = mido.MidiTrack()
    now = 0
    for note in notes:
        begin, end = int(note.start_quarters * 96), int(note.end_quarters * 96)
        track.append(mido.Message("note_on", note=note.pitch, velocity=90, time=begin - now))
        track.append(mido.Message("note_off", note=note.pitch, time=end - begin))
        now = end
    file.tracks.append(track)
    out = io.BytesIO()
    file.save(file=out)
    return out.getvalue()


@pytest.mark.parametrize(
    ("first", "said"),
    [
        (0, "the line begins at bar 1, the pickup is not played"),
        (4, "the line has a whole bar before bar 1, the pickup at its end"),
    ],
)
def test_study_and_tab_say_where_the_line_begins(groove: Command, first: int, said: str) -> None:
    groove.write("own.txt", CHART)
    (groove.folder / "line.mid").write_bytes(midi(line(Fraction(first))))
    studied = groove("study", "line.mid", "--chart", "own.txt", "--json")
    assert f"line.mid: {said}" in studied.err
    assert studied.json[0]["shares"]["root"] == 1
    tab = groove("show", "own.txt", "--line", "line.mid", "--chart")
    assert said in tab.err
    groove.write("kept.txt", tab.out)
    assert groove("render", "kept.txt", "-o", "kept.mid", "--tight", "--only", "bass").code == 0
    file = mido.MidiFile(groove.folder / "kept.mid")
    heard = [message.note for message in file if message.type == "note_on" and message.velocity]
    assert heard[-4:] == list(ROOTS)
