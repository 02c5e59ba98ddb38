"""The figures and JSON objects of a fingered line, recounted from its places."""

import json
from itertools import pairwise

from groove.events import Role
from groove.neck.fingering import finger_performance
from groove.neck.line_figures import fingering_figures, root_moves, root_places
from groove.neck.options import NeckOptions
from groove.text.neck_data import compare_data, neck_data
from groove.timing import Meter
from tests.neck.neck_lines import SIXTEENTHS, as_performance, cell_line

PERFORMANCE = as_performance(cell_line(["Bm", "G", "D", "A"], SIXTEENTHS), Meter(4, 4))


def test_json_has_the_fields_of_the_command() -> None:
    placed, line = finger_performance(PERFORMANCE)
    data = json.loads(json.dumps(neck_data(line, placed.bars)))
    assert len(data["notes"]) == 48
    # Field names are our own, with units in them: players' scripts read them.
    assert {
        "bar",
        "beat",
        "pitch",
        "touch",
        "string",
        "fret",
        "finger",
        "pluck",
        "position_fret",
        "origin",
    } <= data["notes"][0].keys()
    assert {"bar", "beat", "from_fret", "to_fret", "travel_mm", "time_ms"} <= data["shifts"][
        0
    ].keys()
    opens = [43, 38, 33, 28]
    assert all(opens[n["string"] - 1] + n["fret"] == n["pitch"] for n in data["notes"])
    # Twelve strokes of the cell, read off its row of sixteenths: slot 0, 2, 3, 5 …
    assert [n["beat"] for n in data["notes"][:5]] == [1.0, 1.5, 1.75, 2.25, 2.5]
    moves = [
        (a["position_fret"], b["position_fret"])
        for a, b in pairwise(data["notes"])
        if a["position_fret"] != b["position_fret"]
    ]
    assert [(s["from_fret"], s["to_fret"]) for s in data["shifts"]] == moves
    assert len(moves) >= 2


def test_beats_of_a_compound_meter() -> None:
    notes = cell_line(["D"], "R - 5 R - 5 R - 5 8 - 5", slots_per_quarter=2)
    placed, line = finger_performance(as_performance(notes, Meter(12, 8)))
    beats = [n["beat"] for n in neck_data(line, placed.bars)["notes"]]
    assert beats == [1.0, 1.6667, 2.0, 2.6667, 3.0, 3.6667, 4.0, 4.6667]


def test_roots_in_order() -> None:
    _, line = finger_performance(PERFORMANCE, options=NeckOptions(start_fret=7))
    roots = root_places(line)
    assert [root.name for root in roots] == ["B", "G", "D", "A"]
    assert sum(root.count for root in roots) == sum(
        note.origin.role is Role.ROOT for note in line.notes
    )
    assert (roots[0].string, roots[0].fret) == (4, 7)
    assert len(root_moves(line)) == 3


def test_two_ways_compared() -> None:
    lines = [
        finger_performance(PERFORMANCE, options=NeckOptions(position_fret=fret))[1]
        for fret in (2, 7)
    ]
    data = compare_data(lines)
    assert [way["position_fret"] for way in data["ways"]] == [2, 7]
    for way, line in zip(data["ways"], lines, strict=True):
        assert way["above_seventh"] == sum(place.fret > 7 for place in line.places)
        assert way["shifts"] == len(line.shifts)
    assert fingering_figures(lines[0]).hard_shifts < fingering_figures(lines[1]).hard_shifts
