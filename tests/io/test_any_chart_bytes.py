"""Any bytes given as a chart, from a file or from standard input: an error with a place, or a song.

Common practice, no source: what a player hands over may be anything, up to the size that is read.
"""

import io
import sys
from pathlib import Path
from types import SimpleNamespace

import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from groove.chart.lines import LONGEST_CHART_BYTES
from groove.errors import ChartError, GrooveError
from groove.io.charts import STANDARD_INPUT, read_song
from tests.cli.command import Command
from tests.limits import bounded
from tests.strategies_chart import grammar_texts, mutated_charts, sectioned_texts
from tests.strategies_text import any_text

MEGABYTE = LONGEST_CHART_BYTES
LARGE = 10_000
texts = any_text(400) | grammar_texts | sectioned_texts | mutated_charts()
charts = (
    st.binary(max_size=400)
    | texts.map(lambda text: text.encode("utf-8", "surrogatepass"))
    | st.builds(
        lambda text, at, byte: (raw := text.encode("utf-8", "replace"))[:at] + byte + raw[at:],
        texts,
        st.integers(0, 400),
        st.binary(min_size=1, max_size=2),
    )
)
"""Bytes at random, texts at random, pieces of charts, and such with a wrong byte put in."""


def check_read(name: str, data: bytes) -> None:
    """Read a chart; check an error for its place in what was given."""
    try:
        with bounded():
            song = read_song(name)
    except ChartError as error:
        lines = (
            data.decode("utf-8", "replace").replace("\r\n", "\n").replace("\r", "\n").split("\n")
        )
        assert error.place.source == name
        assert 1 <= error.place.line <= len(lines)
        assert 1 <= error.place.column <= len(lines[error.place.line - 1]) + 2
        assert error.message and error.hint
        assert len(error.report()) < 2_000
    except GrooveError as error:
        # A picture, a web page or the like: the whole file is the mistake.
        assert name in error.message
    else:
        assert song.sections


@given(charts)
@example(b"")
@example(b"\xff\xfea\x00")
@example(b"title: \xed\xa0\x80\nverse:\n| D |")
@example(b"\0" * MEGABYTE)
@example(b"|" * MEGABYTE)
@example(b"verse:\n" + b"| D " * 4_000 + b"|")
@example(b"x" * (MEGABYTE + 1))
@example(b"\x80" + b"verse:\n| D |\n" * 80_000)
@settings(max_examples=15, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_any_bytes_are_a_song_or_an_error_with_a_place(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, data: bytes
) -> None:
    file = tmp_path / "any.txt"
    file.write_bytes(data)
    check_read(str(file), data)
    if len(data) > LARGE:
        return  # what is long is dear, and is read by the same parser
    monkeypatch.setattr(sys, "stdin", SimpleNamespace(buffer=io.BytesIO(data)))
    check_read(STANDARD_INPUT, data)


@settings(max_examples=20, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(charts)
def test_a_command_ends_in_words_whatever_it_reads(
    groove: Command, monkeypatch: pytest.MonkeyPatch, data: bytes
) -> None:
    monkeypatch.setattr(sys, "stdin", SimpleNamespace(buffer=io.BytesIO(data)))
    said = groove("show", "-")
    assert said.code in (0, 2)
    assert (said.out if said.code == 0 else said.err).strip()
    assert "Traceback" not in said.err
