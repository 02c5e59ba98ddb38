"""Errors cross from process to process, and never steer a terminal."""

import pickle

import pytest

from groove import errors
from groove.errors import CellError, ChartError, GrooveError, SourcePlace, SymbolError

PLACE = SourcePlace(source="song.txt", line=2, column=3, text="| \x1b[2J\x07 D |", length=4)
MADE = {
    ChartError: ChartError("wrong", place=PLACE, hint="right"),
    SymbolError: SymbolError("wrong", place=PLACE, hint="right", word="Hm7"),
    CellError: CellError("wrong", source="cell.toml", path="steps", hint="right"),
}
CLASSES = [
    kind
    for kind in vars(errors).values()
    if isinstance(kind, type) and issubclass(kind, GrooveError)
]


@pytest.mark.parametrize("kind", CLASSES)
def test_every_error_survives_pickling(kind: type[GrooveError]) -> None:
    error = MADE.get(kind) or kind("wrong", hint="right")
    again = pickle.loads(pickle.dumps(error))
    assert type(again) is kind
    assert again.report() == error.report()
    assert again.exit_code == error.exit_code
    assert str(again) == "wrong"


def test_there_are_eight_kinds_or_more() -> None:
    assert len(CLASSES) >= 8


def test_control_characters_of_a_chart_are_not_printed() -> None:
    assert not {"\x1b", "\x07"} & set(MADE[ChartError].report())
