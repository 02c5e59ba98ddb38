"""Every way in which a feel can be wrong, and a feel read whole."""

from typing import Any

import pytest

from groove.cells.feels import read_feel
from groove.errors import CellError
from groove.timing import Meter, Swing, SwingUnit
from tests.cells.cell_lines import FEEL

FAULTS: list[tuple[dict[str, Any], str, str]] = [
    ({"format": 3}, "format", "found 3, expected 1"),
    ({"name": "out"}, "name", "found 'out', expected a name"),
    ({"name": ""}, "name", "found ''"),
    ({"summary": 1}, "summary", "found 1, expected a text in quotes"),
    ({"meter": "4"}, "meter", "found '4', expected a meter, e.g. 4/4 or 12/8, or any"),
    ({"tempo": None}, "tempo", "found nothing, expected [slowest, fastest]"),
    ({"tempo": [90]}, "tempo", "found [90], expected [slowest, fastest]"),
    ({"tempo": [120, 90]}, "tempo", "found [120, 90], expected [slowest, fastest]"),
    ({"tempo": [10, 90]}, "tempo", "found [10, 90], expected whole numbers from 20 to 400"),
    ({"tempo": [True, 90]}, "tempo", "found [True, 90], expected whole numbers"),
    ({"tempo": 90}, "tempo", "found 90, expected whole numbers"),
    ({"tempo": [[90], 90]}, "tempo", "found a list of 2, expected whole numbers"),
    ({"tempo": [2**10000, 90]}, "tempo", "found a list of 2"),
    ({"length_percent": 2**10000}, "length_percent", "found a very long number, expected"),
    ({"bass": None}, "bass", "found nothing, expected a text in quotes"),
    ({"drums": "out"}, "drums", "found 'out', expected a name"),
    ({"keys": 1}, "keys", "found 1"),
    (
        {"length_percent": 101},
        "length_percent",
        "found 101, expected a whole number from 20 to 100",
    ),
    ({"swing": "58%"}, "swing", "found '58%', expected a share from 50% to 78%"),
    ({"swing": "80% eighths"}, "swing", "found '80% eighths', expected a share"),
    ({"swing": 58}, "swing", "found 58, expected a text in quotes"),
    ({"softer_by": -1}, "softer_by", "found -1, expected a whole number from 0 to 60"),
    ({"crash": 1}, "crash", "found 1, expected true or false"),
    ({"crash": "no"}, "crash", "found 'no', expected true or false"),
    ({"phrase_bars": 1}, "phrase_bars", "found 1, expected a whole number from 2 to 16"),
    ({"default_for": "4/4"}, "default_for", "found '4/4', expected meters in brackets"),
    ({"default_for": ["4/5"]}, "default_for", "found '4/5', expected a meter, e.g. 4/4"),
    ({"default_for": [4]}, "default_for", "found 4, expected a meter"),
    ({"default_for": ["any"]}, "default_for", "found 'any', expected a meter"),
    ({"fast": 100}, "fast", "found 100, expected a table [fast]"),
    ({"fast": {"drums": "x"}}, "fast.above", "found nothing, expected a whole number from 20"),
    ({"fast": {"above": 90}}, "fast.drums", "found nothing, expected a text"),
    ({"fast": {"above": 90, "drums": "x", "bass": "y"}}, "fast.bass", "unknown key"),
    ({"bass_program": 128}, "bass_program", "found 128, expected a whole number from 0 to 127"),
    ({"drum_kit": -1}, "drum_kit", "found -1"),
    ({"keys_program": "piano"}, "keys_program", "found 'piano'"),
    ({"also": "funk"}, "also", "found 'funk', expected names in quotes, in brackets"),
    ({"also": ["funk", 1]}, "also", "found ['funk', 1], expected names in quotes"),
    ({"also": ["out"]}, "also", "found 'out', expected a name"),
    ({"also": ["Funk", "funk"]}, "also", "found 'funk' twice, expected it once"),
    ({"style": "rok"}, "style", "found 'rok', expected one of: blues, rock, pop, jazz"),
    ({"basss": "x"}, "basss", "unknown key"),
]


def test_number_of_faults() -> None:
    assert len(FAULTS) == 42


@pytest.mark.parametrize(("change", "path", "message"), FAULTS)
def test_fault_is_told_with_its_path(change: dict[str, Any], path: str, message: str) -> None:
    values = {key: value for key, value in {**FEEL, **change}.items() if value is not None}
    with pytest.raises(CellError) as caught:
        read_feel(values, "own/feel.toml")
    assert (caught.value.source, caught.value.path) == ("own/feel.toml", path)
    assert message in caught.value.message


def test_a_feel_with_everything() -> None:
    feel = read_feel(
        {
            **FEEL,
            "name": "  Plain   Feel ",
            "swing": "By tempo Eighths",
            "softer_by": 20,
            "crash": False,
            "phrase_bars": 8,
            "default_for": ["3/4", "12/8"],
            "fast": {"above": 100, "drums": "plain fast"},
            "bass_program": 32,
            "drum_kit": 40,
            "keys_program": 16,
            "also": ["Hip  Hop", "funk"],
            "style": "rock",
        },
        "x.toml",
    )
    assert (feel.name, feel.tempo_beats) == ("Plain Feel", (80, 120))
    assert feel.swing == Swing(None, SwingUnit.EIGHTHS)
    assert feel.default_for == (Meter(3, 4), Meter(12, 8))
    assert (feel.fast, feel.phrase_bars, feel.softer_by) == ((100, "plain fast"), 8, 20)
    assert not feel.crash
    assert (feel.also, feel.style) == (("Hip Hop", "funk"), "rock")
    assert (feel.bass_program, feel.drum_kit, feel.keys_program) == (32, 40, 16)


def test_what_a_short_feel_leaves_out() -> None:
    feel = read_feel(FEEL, "x.toml")
    assert (feel.swing, feel.fast, feel.default_for, feel.style) == (None, None, (), None)
    assert (feel.softer_by, feel.crash, feel.phrase_bars) == (0, True, 4)
