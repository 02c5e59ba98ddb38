"""Choosing a soundfont and reading its instruments.

Source of the layout: *SoundFont Technical Specification 2.04* (E-mu/Creative, 2006), sections 4
and 7.2.  Judge of the contents: the FluidSynth library.
"""

import os
import struct
import sys
from pathlib import Path
from subprocess import run

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from groove.errors import SoundError
from groove.events import Part
from groove.io.soundfont import (
    Preset,
    choose_soundfont,
    read_presets,
    require_presets,
)
from tests.click_font import click_font

BROKEN = {
    "empty": b"",
    "text": b"this is a letter, not a soundfont\n" * 100,
    "first four bytes": b"RIFF",
    "wave": b"RIFF\x24\0\0\0WAVEfmt ",
    "cut in the samples": click_font()[:900],
    "cut in the last chunk": click_font()[:-20],
    "header only": click_font()[:12],
    "no end of presets": click_font().replace(
        b"phdr" + struct.pack("<I", 4 * 38), b"phdr" + struct.pack("<I", 4 * 38 - 1)
    ),
    "thousands of chunks": b"RIFF\0\0\1\0sfbk" + b"junk\0\0\0\0" * 8_000,
}


def write(folder: Path, data: bytes) -> Path:
    path = folder / "font.sf2"
    path.write_bytes(data)
    return path


def test_presets_are_read(tmp_path: Path) -> None:
    """Judge: the font's own recipe, in tests/click_font.py."""
    presets = read_presets(write(tmp_path, click_font(((0, 4), (8, 33), (128, 0)))))
    assert presets == (
        Preset(bank=0, program=4, name="click 0-4"),
        Preset(bank=8, program=33, name="click 8-33"),
        Preset(bank=128, program=0, name="click 128-0"),
    )


def test_presets_of_the_default_font_are_those_that_fluidsynth_plays() -> None:
    """Judge: FluidSynth selects every listed preset, and refuses programs that are not listed."""
    import fluidsynth

    path = choose_soundfont(None, {}, None).path
    listed = {(preset.bank, preset.program) for preset in read_presets(path)}
    synth = fluidsynth.Synth()
    font_id = synth.sfload(str(path))
    asked = [(bank, program) for bank in (0, 1, 8, 128) for program in range(128)]
    played = {ask for ask in asked if synth.program_select(0, font_id, *ask) == 0}
    synth.delete()
    assert len(asked) == 512
    assert played == listed & set(asked)
    assert len(listed) == 136  # 137 records in its phdr chunk, the last a terminator


@pytest.mark.parametrize("padded", [True, False])
def test_an_odd_sample_list_may_lack_its_pad_byte(tmp_path: Path, padded: bool) -> None:
    """RIFF pads odd chunks; some SF3 fonts leave the pad out after sdta."""
    font = click_font()
    at = font.index(b"LIST", font.index(b"sdta") - 8)
    size = struct.unpack("<I", font[at + 4 : at + 8])[0]
    odd = (
        font[: at + 4]
        + struct.pack("<I", size + 1)
        + font[at + 8 : at + 8 + size]
        + b"\7"
        + (b"\0" if padded else b"")
        + font[at + 8 + size :]
    )
    assert len(read_presets(write(tmp_path, odd))) == 3


@pytest.mark.parametrize("kind", BROKEN)
def test_a_broken_font_is_one_clear_error(tmp_path: Path, kind: str) -> None:
    path = write(tmp_path, BROKEN[kind])
    with pytest.raises(SoundError) as caught:
        read_presets(path)
    assert str(path) in caught.value.message
    assert "--soundfont" in caught.value.hint


def test_a_missing_font_a_folder_and_a_device_are_errors(tmp_path: Path) -> None:
    for path in (tmp_path / "none.sf2", tmp_path, Path(os.devnull)):
        with pytest.raises(SoundError, match="not a file"):
            read_presets(path)


@settings(max_examples=60, derandomize=True, deadline=None)
@given(data=st.binary(max_size=400), headed=st.booleans())
def test_any_bytes_are_an_error_or_a_result(
    tmp_path_factory: pytest.TempPathFactory, data: bytes, headed: bool
) -> None:
    path = write(tmp_path_factory.mktemp("any"), (b"RIFF\0\0\0\0sfbk" if headed else b"") + data)
    try:
        assert read_presets(path)
    except SoundError as error:
        assert error.message


@settings(max_examples=60, derandomize=True, deadline=None)
@given(
    changes=st.lists(st.tuples(st.integers(0, 3500), st.integers(0, 255)), max_size=6),
    cut=st.integers(1, 3500),
)
def test_a_damaged_font_is_an_error_or_a_result(
    tmp_path_factory: pytest.TempPathFactory, changes: list[tuple[int, int]], cut: int
) -> None:
    damaged = bytearray(click_font())
    for at, value in changes:
        damaged[at % len(damaged)] = value
    path = write(tmp_path_factory.mktemp("damaged"), bytes(damaged[:cut]))
    try:
        assert all(name.name.isprintable() for name in read_presets(path))
    except SoundError as error:
        assert error.message


def test_control_characters_in_names_do_not_reach_the_terminal(tmp_path: Path) -> None:
    font = click_font().replace(b"click 0-4\0", b"cl\x1b[2J\x0701\0")
    assert read_presets(write(tmp_path, font))[0].name == "cl[2J01"


def test_the_order_of_choice(tmp_path: Path) -> None:
    """The option, then GROOVE_SOUNDFONT, then the configuration, then the default."""
    first, second, third = (tmp_path / name for name in ("a.sf2", "b.sf2", "c.sf2"))
    for path in (first, second, third):
        path.write_bytes(click_font())
    environment = {"GROOVE_SOUNDFONT": str(second)}
    chosen = [
        choose_soundfont(str(first), environment, str(third)),
        choose_soundfont(None, environment, str(third)),
        choose_soundfont(None, {}, str(third)),
        choose_soundfont(None, {"GROOVE_SOUNDFONT": ""}, ""),
    ]
    assert [choice.path for choice in chosen[:3]] == [first, second, third]
    assert chosen[3].path.parent.name == "pretty_midi"
    assert len({choice.reason for choice in chosen}) == 4


def test_a_chosen_font_that_is_missing_is_never_replaced(tmp_path: Path) -> None:
    gone = str(tmp_path / "gone.sf2")
    choices: list[tuple[str | None, dict[str, str], str | None]] = [
        (gone, {}, None),
        (None, {"GROOVE_SOUNDFONT": gone}, None),
        (None, {}, gone),
        (str(tmp_path), {}, None),
        ("a\0b", {}, None),
        ("~nobody-of-that-name/x.sf2", {}, None),
    ]
    for choice in choices:
        with pytest.raises(SoundError) as caught:
            choose_soundfont(*choice)
        assert "--soundfont" in caught.value.hint


def test_the_default_is_found_without_importing_its_package() -> None:
    code = (
        "import sys; from groove.io.soundfont import choose_soundfont, read_presets;"
        "assert read_presets(choose_soundfont(None, {}, None).path);"
        "print([m for m in ('pretty_midi', 'numpy', 'fluidsynth') if m in sys.modules])"
    )
    done = run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


def test_instruments_that_lack_are_named(tmp_path: Path) -> None:
    path = write(tmp_path, click_font(((0, 33), (0, 4))))
    needed = {Part.BASS: (0, 33), Part.DRUMS: (128, 0), Part.KEYS: (0, 5)}
    with pytest.raises(SoundError) as caught:
        require_presets(path, read_presets(path), needed)
    report = caught.value.report()
    assert "drums (bank 128, program 0), keys (bank 0, program 5)" in report
    assert "--without drums,keys" in report
    assert "bass (" not in report
