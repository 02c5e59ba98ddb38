"""What a record makes of a form inside its sections, against orders of bars written by hand.

The chart has verse (bars 1 to 4), chorus (5 to 12), and both again.
"""

import numpy
import pytest

from groove.record.due_sound import DueSound
from groove.record.form_edits import EditKind, FormEdit, form_edits
from groove.record.heard_bar import HeardBar
from groove.record.heard_form import SURE_FROM, heard_form, heard_sections
from groove.record.heard_tones import TONE_STEP_SEC
from groove.record.near_readings import edit_count, with_doubts, without_unlike
from groove.record.record_report import align_data, align_text, edit_text
from groove.record.song_map import INSIDE_SEC, PHRASE_SECS, song_map
from groove.record.song_path import NO_PLACE, SongPath
from tests.record.songs import COPPER_KETTLE, performed
from tests.record.test_like_record import bars_at

BAR_SEC = 2.0
GIVEN = "verse, chorus, verse, chorus"
OUT, AGAIN, FOREIGN = EditKind.LEFT_OUT, EditKind.AGAIN, EditKind.FOREIGN
Runs = list[tuple[int, int]]
CASES: list[tuple[Runs, float, list[tuple[EditKind, tuple[int, int] | None, float, float]], str]]
CASES = [
    ([(0, 24)], 0, [], GIVEN),
    ([(0, 12), (4, 24)], 0, [], "verse, chorus x2, verse, chorus"),
    ([(0, 12), (16, 24)], 0, [], "verse, chorus x2"),
    ([(0, 8), (12, 24)], 0, [(OUT, (8, 11), 16, 16)], GIVEN),
    ([(0, 4), (6, 24)], 0, [(OUT, (4, 5), 8, 8)], GIVEN),
    ([(0, 5), (7, 24)], 0, [(OUT, (5, 6), 10, 10)], GIVEN),
    ([(0, 12), (10, 24)], 0, [(AGAIN, (10, 11), 24, 28)], GIVEN),
    ([(0, 8), (4, 24)], 0, [(AGAIN, (4, 7), 16, 24)], GIVEN),
    ([(0, 12), (12, 24)], 9, [(FOREIGN, None, 24, 33)], GIVEN),
    ([(0, 6), (6, 24)], 16, [(FOREIGN, None, 12, 28)], GIVEN),
    ([(0, 6), (16, 24)], 0, [(OUT, (6, 11), 12, 12)], "verse, chorus x2"),
    ([(0, 6), (14, 24)], 0, [(OUT, (6, 11), 12, 12), (OUT, (12, 13), 12, 12)], GIVEN),
    ([(0, 22), (6, 12)], 0, [(OUT, (22, 23), 44, 44), (OUT, (4, 5), 44, 44)], GIVEN + " x2"),
]


@pytest.mark.parametrize(("runs", "gap_sec", "edits", "form"), CASES)
def test_edits_and_form(
    runs: Runs,
    gap_sec: float,
    edits: list[tuple[EditKind, tuple[int, int] | None, float, float]],
    form: str,
) -> None:
    """A gap lies between the first run of bars and the second."""
    bars = performed(COPPER_KETTLE).bars
    heard = bars_at(laid(runs, gap_sec))
    found = form_edits(heard, bars)
    assert [(one.kind, one.bars, one.sec, one.end_sec) for one in found] == edits
    counts = [one.bars[1] - one.bars[0] + 1 if one.bars else gap_sec / BAR_SEC for one in found]
    assert all(abs(one.count - count) <= 0.5 for one, count in zip(found, counts, strict=True))
    lines = [index * BAR_SEC for index in range(len(bars) + 1)]
    sections = heard_sections(heard, bars, lines)
    assert heard_form(sections) == form
    for each in sections:
        assert each.tempo_bpm == pytest.approx(120) and each.due_bpm == pytest.approx(120)
    data = align_data(heard, bars, lines, given=GIVEN)
    assert data["as_given"] is (runs == [(0, 24)])


def laid(runs: Runs, gap_sec: float) -> list[tuple[int, float, float, bool]]:
    """Return runs of bars one after the other, two seconds a bar, a gap after the first run."""
    rows = []
    at_sec = 0.0
    for number, (first, end) in enumerate(runs):
        at_sec += gap_sec if number == 1 else 0.0
        for index in range(first, end):
            follows = not (number == 1 and index == first and gap_sec)
            rows.append((index, at_sec, at_sec + BAR_SEC, follows))
            at_sec += BAR_SEC
    return rows


def test_edits_in_words_and_as_data() -> None:
    bars = performed(COPPER_KETTLE).bars
    lines = [index * BAR_SEC for index in range(25)]
    rows = laid([(0, 8), (12, 16)], 0)
    rows += [(row[0], row[1] + 24 + 20, row[2] + 24 + 20, n > 0) for n, row in
             enumerate(laid([(16, 24), (23, 24)], 0))]  # fmt: skip
    heard = bars_at(rows)
    told = align_text(heard, bars, lines, title="Song", given=GIVEN)
    assert "The record has the chart's form (form: verse, chorus, verse, chorus), but" in told
    assert "It leaves out bars 9-12 of chorus at 0:16.0." in told
    assert "It plays what the chart does not have, about 10 bars, from 0:24.0 to 0:44.0." in told
    assert "It plays bar 12 of chorus again from 1:00.0 to 1:02.0." in told
    assert max(map(len, told.splitlines())) <= 80
    data = align_data(heard, bars, lines, given=GIVEN)
    assert data["edits"] == [
        {
            "kind": "left out",
            "section": "chorus",
            "written_bars": [9, 12],
            "played_bars": [9, 12],
            "count": 4,
            "sec": 16.0,
            "end_sec": 16.0,
        },
        {
            "kind": "foreign",
            "section": None,
            "written_bars": None,
            "played_bars": None,
            "count": 10,
            "sec": 24.0,
            "end_sec": 44.0,
        },
        {
            "kind": "again",
            "section": "chorus",
            "written_bars": [12, 12],
            "played_bars": [24, 24],
            "count": 1,
            "sec": 60.0,
            "end_sec": 62.0,
        },
    ]
    assert not {9, 10, 11, 12} & {bar["played_bar"] for bar in data["bars"]}  # type: ignore[attr-defined]


def due_of(chords: str) -> DueSound:
    """Return what is due of sections of bars, each bar a chord that is like no other letter's."""
    sections = chords.split()
    letters = "".join(sections)
    rows = round(BAR_SEC / TONE_STEP_SEC)
    harmony = numpy.eye(24, dtype=numpy.float32)[[ord(one) - ord("A") for one in letters]]
    firsts = numpy.cumsum([0, *map(len, sections)])
    return DueSound(
        harmony=harmony.repeat(rows, axis=0),
        rises=numpy.zeros((1, 4), numpy.float32),
        line_secs=numpy.arange(len(letters) + 1.0) * (rows * TONE_STEP_SEC),
        first_bars=firsts[:-1],
        last_bars=firsts[1:] - 1,
    )


@pytest.mark.parametrize(
    ("chords", "order", "plain_sec", "doubted"),
    [
        # Nobody hears which half of two alike was left out.
        ("ABAB C", [0, 1, 4], 9.0, [0, 1]),
        ("ABCD E", [0, 1, 4], 9.0, []),
        # The second bar may be said to come twice, or the first: only with a chord of its own.
        ("AABC D", [0, 0, 1, 2, 3, 4], 9.0, [1]),
        ("ABCD E", [0, 1, 1, 2, 3, 4], 9.0, []),
        # An edit that is hardly cheaper than none: its section is in doubt.
        ("ABCD E", [0, 1, 4], 0.3, [0, 1]),
        # Whole sections are no edits inside them.
        ("ABCD E", [0, 1, 2, 3, 0, 1, 2, 3, 4], 0.3, []),
    ],
)
def test_what_may_be_read_another_way_is_unsure(
    chords: str, order: list[int], plain_sec: float, doubted: list[int]
) -> None:
    due = due_of(chords)
    rows = round(BAR_SEC / TONE_STEP_SEC)
    sec = rows * TONE_STEP_SEC
    heard = numpy.concatenate([due.harmony[index * rows : (index + 1) * rows] for index in order])
    bars = [
        HeardBar(index=index, sec=5 + sec * place, end_sec=5 + sec * (place + 1), confidence=0.9,
                 follows=True)
        for place, index in enumerate(order)
    ]  # fmt: skip
    found = with_doubts(bars, due, due.harmony, heard, start_sec=5.0, plain_sec=plain_sec)
    assert [place for place, one in enumerate(found) if one.confidence < SURE_FROM] == doubted
    assert edit_count(bars, due) == (0 if len(order) == 9 else 1)


def test_what_comes_again_unlike_the_chart_is_no_part_of_it() -> None:
    places = numpy.array([0, 1, 2, 3, 0, 1, 2, 3, 4, 5])
    for cost, again in ((0.9, NO_PLACE), (0.3, 0)):
        paid = numpy.full(10, 0.3)
        paid[4:8] = cost
        found = without_unlike(SongPath(places=places, paid=paid, cost=float(paid.sum())))
        due_places = places.copy()
        if again == NO_PLACE:
            due_places[4:8] = NO_PLACE
        assert found.tolist() == due_places.tolist()


def test_edits_stay_inside_a_section() -> None:
    """By going through all pairs of bars: after which may which one come, as an edit."""
    due = due_of("ABCD EFGHIJKLM")
    lines = numpy.arange(14) * 10
    found = song_map(due, lines, 0.1, has_edits=True)
    assert found.edits is not None
    expected: dict[tuple[int, int], float] = {}
    for first in range(13):
        for last in range(first, 13):
            count = last - first + 1
            if count in PHRASE_SECS and (first < 4) == (last < 4):
                expected[last, first] = PHRASE_SECS[count] / 0.1
                if first > 0 and last < 12:
                    expected[first - 1, last + 1] = PHRASE_SECS[count] / 0.1
    offered = {
        (int(source) // 10, bar): float(cost)
        for sources, costs in zip(found.edits.sources, found.edits.costs, strict=True)
        for bar, (source, cost) in enumerate(zip(sources, costs, strict=True))
        if numpy.isfinite(cost)
    }
    assert offered == pytest.approx(expected)
    assert found.outs.costs.tolist() == [
        0 if bar in (3, 12) else INSIDE_SEC * 10 for bar in range(13)
    ]
    assert found.ins.costs.tolist() == [
        0 if bar in (0, 4) else INSIDE_SEC * 10 for bar in range(13)
    ]
    closed = song_map(due, lines, 0.1, has_edits=False)
    assert closed.edits is None and closed.outs.places.tolist() == [39, 129]
    assert closed.ins.places.tolist() == [0, 40]


def test_bars_that_are_not_numbered_in_a_row_are_told_by_the_first() -> None:
    """A section of two bars, played twice by its repeat signs: bars 2 and 1 left out."""
    bars = performed("title: Twice\ntempo: 120\nverse:\n|: C | F :|\n").bars
    edit = FormEdit(kind=OUT, bars=(1, 2), count=2, sec=2.0, end_sec=2.0)
    assert edit_text(edit, bars) == "It leaves out 2 bars from bar 2 on of verse at 0:02.0."
