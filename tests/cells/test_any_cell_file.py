"""Anything at all as a cell file: an error of ours or a result, never a traceback, never a hang."""

import tomllib
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from groove.cells.library import PATTERN_READERS, Kind, library_from
from groove.cells.toml_bytes import LARGEST_TOML_BYTES, LONGEST_LINE, toml_mapping
from groove.errors import CellError
from groove.theory.general_midi import DRUM_KEYS
from tests.cells.cell_lines import BASS, DRUMS, FEEL, KEYS
from tests.strategies_text import any_text

ROOT = Path(__file__).parents[2]
HARD = settings(derandomize=True, deadline=None, max_examples=40)

KEY_NAMES = st.sampled_from(
    sorted({*BASS, *DRUMS, *KEYS, *FEEL, "when", "fast", "generator", "default_for"})
    + list(DRUM_KEYS)[:5]
)
ROWS = st.lists(
    st.sampled_from(["R", "-", ".", "5,", ">R", ">*", "x", "V", "13", "9", "3", "|", "-.", "sR"]),
    max_size=40,
).map(" ".join)
LEAVES = st.one_of(
    st.none(),
    st.booleans(),
    st.integers(),
    st.just(2**300),
    st.floats(),
    any_text(),
    ROWS,
    st.datetimes(),
    st.sampled_from(["4/4", "12/8", "any", "walking", "held", "58% eighths"]),
)
VALUES = st.recursive(
    LEAVES,
    lambda inner: (
        st.lists(inner, max_size=4) | st.dictionaries(KEY_NAMES | any_text(), inner, max_size=4)
    ),
    max_leaves=12,
)
VALID: dict[Kind, dict[str, Any]] = {"bass": BASS, "drums": DRUMS, "keys": KEYS, "feels": FEEL}


def read_or_refuse(kind: Kind, mapping: Mapping[str, object]) -> bool:
    """Return whether a mapping is read; False where it is refused with a message and a place."""
    try:
        PATTERN_READERS[kind](mapping, "any.toml")
    except CellError as error:
        assert error.message and error.source == "any.toml" and error.path
        assert len(error.message) < 400
        return False
    return True


@settings(HARD, max_examples=12)
@given(
    st.sampled_from(list(PATTERN_READERS)),
    st.dictionaries(KEY_NAMES | any_text(), VALUES, max_size=8),
)
def test_any_mapping(kind: Kind, mapping: dict[str, object]) -> None:
    read_or_refuse(kind, mapping)


@HARD
@given(st.sampled_from(list(PATTERN_READERS)), st.dictionaries(KEY_NAMES, VALUES, max_size=3))
def test_any_change_of_a_good_mapping(kind: Kind, change: dict[str, object]) -> None:
    read_or_refuse(kind, {**VALID[kind], **change})


def test_the_unchanged_mappings_are_read() -> None:
    assert [read_or_refuse(kind, VALID[kind]) for kind in PATTERN_READERS] == [True] * 4


def load(data: bytes) -> object:
    """Read bytes as a file of every kind; return the last mapping, or the error."""
    try:
        mapping = toml_mapping(data, "any.toml")
    except CellError as error:
        assert error.message and error.source == "any.toml"
        return error
    for kind in PATTERN_READERS:
        read_or_refuse(kind, mapping)
    return mapping


@HARD
@given(st.binary(max_size=400))
def test_any_bytes(data: bytes) -> None:
    load(data)


SHIPPED = (ROOT / "patterns/drums/sixteenths.toml").read_bytes()


@HARD
@given(st.integers(0, len(SHIPPED) - 1), st.binary(max_size=6), st.integers(0, 12))
def test_a_shipped_file_with_bytes_changed(place: int, put_in: bytes, cut: int) -> None:
    load(SHIPPED[:place] + put_in + SHIPPED[place + cut :])


SIZE = LARGEST_TOML_BYTES
HOSTILE = [
    b"a=" + b"[" * (LONGEST_LINE - 2),
    b"a=" + b"{a=" * 600,
    b"\n".join(b"a" + b".a" * 950 + b"%d=1" % line for line in range(20)),
    b"[" + b"a." * 900 + b"a]",
    b"[[a]]\n" * (SIZE // 6),
    b"\n".join(b"[a%d]" % line for line in range(20000)),
    b"a=" + b"1" * (LONGEST_LINE - 2),
    b"length_percent=0x" + b"f" * (LONGEST_LINE - 20) + b"\nformat=1",
    b'a="' + b"\\" * (LONGEST_LINE - 4),
    b'a="""' + b'"\n' * 60000,
    b"#" * (LONGEST_LINE - 1),
    b"\r\n" * (SIZE // 2),
    b"a=1\na=2",
    b"\xff\xfeg\x00",
    b"\x00" * 500,
]


@pytest.mark.parametrize("data", HOSTILE, ids=range(len(HOSTILE)))
def test_hostile_files_of_full_size(data: bytes) -> None:
    assert len(data) <= SIZE
    assert load(data) is not None


@pytest.mark.parametrize(
    ("data", "path", "message"),
    [
        (b"a" * (SIZE + 1), "", "found more than 262144 bytes, expected at most 256 KiB"),
        (b'name = "x"\nsummary = "\xe9"\n', "line 2", "found the byte 0xE9, expected UTF-8 text"),
        (b'format = 1\nname "x"\n', "line 2", "not TOML: "),
        (b'format = 1\nname = "x\n', "line 2", "not TOML: "),
        (b"a = 1\nb = [1,\n", "line 3", "not TOML: "),
        (b"a = 1\nb = 1" + b" " * LONGEST_LINE, "line 2", "characters, expected at most 2000"),
        (b"a=" + b"[" * 1900, "", "found tables or lists too deep to read"),
    ],
)
def test_what_is_wrong_with_the_file_itself(data: bytes, path: str, message: str) -> None:
    with pytest.raises(CellError) as caught:
        toml_mapping(data, "own/bass/mine.toml")
    assert (caught.value.source, caught.value.path) == ("own/bass/mine.toml", path)
    assert message in caught.value.message


def test_a_byte_order_mark_and_windows_line_ends_are_read() -> None:
    data = b'\xef\xbb\xbfformat = 1\r\nname = "x"\r\n'
    assert toml_mapping(data, "x.toml") == {"format": 1, "name": "x"}


def test_the_quotes_that_a_phone_types_are_read_as_straight_ones() -> None:
    """U+201C and U+201D, as a phone's keyboard has them; TOML 1.0 knows the straight ones alone."""
    data = "name = “pebble”\nsummary = ‘three’\n[when.“phrase end”]\nsteps = “R -”\n"
    assert toml_mapping(data.encode(), "x.toml") == {
        "name": "pebble",
        "summary": "three",
        "when": {"phrase end": {"steps": "R -"}},
    }
    # Inside straight quotes they are text, as they stand.
    assert toml_mapping('a = "the “third”"\n'.encode(), "x.toml") == {"a": "the “third”"}


def test_shipped_files_are_toml_as_tomllib_has_it() -> None:
    found = sorted((ROOT / "patterns").rglob("*.toml"))
    assert len(found) > 80
    for file in found:
        data = file.read_bytes()
        assert toml_mapping(data, file.name) == tomllib.loads(data.decode("utf-8"))


def test_empty_library_is_empty() -> None:
    library = library_from([])
    assert [len(library.bass), len(library.drums), len(library.keys), len(library.feels)] == [0] * 4
