"""Every message that a player can get stands in a test; those that no other test has, here.

What a message must do is common practice, no source: it says what was given and what would do.
"""

import errno
import re
import sys

import numpy
import pytest

from groove.errors import OutputError, SoundError
from groove.io import soundfont
from groove.io.audio import audio_bytes
from groove.io.pdf import pdf_bytes
from tests.cli.command import Command
from tests.messages import is_told, refusals, texts_of_tests

CHART = "key: D\nverse:\n| D | A |\n"
GLUE = re.compile(r"\b(?:found|expected|no such|to|bars|in|cell)\b")
"""Words that stand between what is told by name: the texts of these come from a table."""

TABLE = [
    (
        ("render", "song.txt", "-o", "a.mid", "--only", "bass,drums,tuba"),
        "no such part in --only: 'tuba'\n  nearest: bass; expected some of: bass, drums, keys\n",
    ),
    (
        ("tab", "song.txt", "--bars", "9-2"),
        "--bars cannot be '9-2'\n  expected the lower bar first: 2-9\n",
    ),
    (
        ("show", "song.pdf"),
        "found a PDF, song.pdf\n  expected a chart: plain text in UTF-8, MusicXML or ABC\n",
    ),
    (
        ("tab", "song.txt", "--bars", "2-"),
        "--bars cannot be '2-'\n  expected bars, e.g. 5-8 or 5\n",
    ),
    (
        ("render", "song.txt", "-o", "a.mid", "--limit"),
        "--limit is for sound\n  expected an output as .wav or .mp3\n",
    ),
    (
        ("sheet", "song.txt", "-o", "a.pdf", "--chart", "--part", "drums"),
        "--part drums beside --chart\n  expected one of the two: the chord chart is everybody's\n",
    ),
    (("show", "some old.txt"), "file or directory\n  expected a chart's file, or - for standard"),
    (("show", "songs.txt"), "file or directory\n  nearest: song.txt; expected a chart's file"),
    (
        ("card", "song.txt", "-o", "song.txt/deeper/"),
        "cannot make the folder song.txt/deeper: Not a directory\n  write somewhere else\n",
    ),
    (
        ("render", "song.txt", "-o", "a.wav", "--soundfont", "~nobody-here/x.sf2"),
        "no soundfont at '~nobody-here/x.sf2' (",
    ),
    (
        ("render", "long.txt", "-o", "a.wav"),
        "minutes are too long to render as audio\n  cut it to 60 minutes with --sections, --bars",
    ),
    (
        ("sheet", "song.txt", "--for", "Bb", "-o", "a.pdf"),
        "--for writes the chord chart for another player: --for without --chart\n  add --chart; ",
    ),
    (
        ("neck", "song.txt", "--keys", "--compare", "2,7"),
        "--keys prints a table of all keys: --keys with --compare\n  leave one of them out\n",
    ),
    (
        ("tab", "high.txt", "--transpose", "24"),
        "this note leaves MIDI's range\n",
    ),
]
"""Commands, and what they say."""


@pytest.mark.parametrize(("words", "told"), TABLE, ids=lambda v: str(v)[:40])
def test_what_a_command_says(groove: Command, words: tuple[str, ...], told: str) -> None:
    groove.write("song.txt", CHART)
    groove.write("song.pdf", "%PDF-1.7\n\x80")
    (groove.folder / "song.pdf").write_bytes(b"%PDF-1.7\n\xe2\xe3\xcf\xd3\n")
    groove.write("long.txt", "tempo: 20\nmeter: 7/4\nform: verse x50\nverse:\n| D | D | D | D |\n")
    groove.write("high.txt", "riff top:\n @G9 - - -\nverse:\nbass: top\n| D |\n")
    before = groove.files()
    said = groove(*words)
    assert said.code in (1, 2)
    assert told in said.err
    assert "Traceback" not in said.err and "start quietly" not in said.err
    assert {name for name in groove.files() - before if not name.endswith(".mid")} == set()


@pytest.mark.parametrize(
    ("data", "told"),
    [
        (b"\x89PNG\r\n\x1a\n", "a picture (PNG)"),
        (b"\xff\xd8\xff\xe0", "a picture (JPEG)"),
        (b"\xff\xfe" + "title: A".encode("utf-16-le"), "a text in UTF-16"),
        (b"\xfe\xff" + "title: A".encode("utf-16-be"), "a text in UTF-16"),
        (b"{\\rtf1\\ansi title: A}", "a formatted text (RTF)"),
    ],
)
def test_what_is_no_plain_text_is_named(groove: Command, data: bytes, told: str) -> None:
    """Signatures of PNG (W3C, 5.2), JPEG (T.81: SOI) and RTF 1.9.1, byte order marks of Unicode."""
    (groove.folder / "given.txt").write_bytes(data)
    said = groove("show", "given.txt")
    assert said.code == 2 and said.err.startswith(f"found {told}, given.txt\n  expected a chart")


@pytest.mark.parametrize(
    ("chart", "told"),
    [
        (
            "verse:\n(thin) | Abmaj7 | C |\n",
            "found a word before its bar line\n    (thin) | Abmaj7 | C |\n    ^^^^^^\n"
            "  a word stands after the bar line: | (thin) Abmaj7 | C |\n",
        ),
        ("verse:\n| C/H |\n", "\n  the note H is written B: C/B\n"),
        ("verse:\n| (loud) C |\n", "\n  nearest: f; expected (hold)"),
    ],
)
def test_what_is_meant_in_a_chart_is_said(groove: Command, chart: str, told: str) -> None:
    groove.write("song.txt", chart)
    said = groove("show", "song.txt")
    assert said.code == 2 and told in said.err


def test_a_tempo_may_have_its_unit(groove: Command) -> None:
    groove.write("song.txt", "tempo: 90 bpm\nverse:\n| C |\n")
    assert "♩ = 90 " in groove("show", "song.txt").out


def test_a_package_that_is_missing_is_named_with_the_command_that_brings_it(
    groove: Command, monkeypatch: pytest.MonkeyPatch
) -> None:
    groove.write("song.txt", CHART)
    monkeypatch.setitem(sys.modules, "verovio", None)
    said = groove("sheet", "song.txt", "-o", "a.svg")
    assert said.code != 0
    assert said.err.startswith("verovio is missing, which draws the sheet\n  pip install")
    monkeypatch.setitem(sys.modules, "typst", None)
    with pytest.raises(OutputError) as caught:
        pdf_bytes("words")
    assert caught.value.message == "typst is missing, which sets the page"
    assert "pip install" in caught.value.hint


def test_a_default_soundfont_that_is_missing(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(soundfont, "find_spec", lambda name: None)
    with pytest.raises(SoundError) as caught:
        soundfont.choose_soundfont(None, {}, None)
    assert caught.value.message.startswith("the default soundfont is missing")
    assert "name an .sf2 or .sf3 file with --soundfont" in caught.value.hint


def test_audio_that_an_encoder_refuses_names_the_kind_and_another(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    def refuses(*_: object, **__: object) -> None:
        raise RuntimeError("no such coding")

    monkeypatch.setattr("soundfile.SoundFile", refuses)
    with pytest.raises(OutputError) as caught:
        audio_bytes(numpy.zeros((10, 2), numpy.float32), 48_000, suffix=".ogg", factor=1)
    assert caught.value.message == "cannot make a .ogg file: no such coding"
    assert caught.value.hint == "write a .wav file instead"


@pytest.mark.parametrize(
    ("error", "told"),
    [
        (OSError(errno.EACCES, "Permission denied", "song.txt"), "cannot use song.txt: Permission"),
        (OSError(errno.EMFILE, "Too many open files"), "the system refused: Too many open files"),
    ],
)
def test_what_the_system_refuses_is_told_in_a_line(
    groove: Command, monkeypatch: pytest.MonkeyPatch, error: OSError, told: str
) -> None:
    """The numbers and words of errors are POSIX's."""

    def fails(*_: object, **__: object) -> None:
        raise error

    groove.write("song.txt", CHART)
    # What the command loads is loaded before: it would keep the one that fails for other tests.
    assert groove("card", "song.txt").code == 0
    monkeypatch.setattr("groove.io.charts.read_song", fails)
    said = groove("card", "song.txt")
    assert told in said.err and "Traceback" not in said.err


UNREACHED = {
    "groove/io/config.py": "expected TOML, e.g. soundfont",  # told with the file: test_every_option
    "groove/io/fluid_synth.py": "there is not enough memory; FluidSynth does not start",
    "groove/io/fallback_synth.py": "the fallback synthesizer cannot use this soundfont",
}
"""Messages of a machine that is full or a library that is broken, which no test brings about."""


def test_every_message_stands_in_a_test() -> None:
    every = list(refusals())
    texts = texts_of_tests()
    with_words = [
        refusal
        for refusal in every
        if re.search(r"[A-Za-z]{3}", GLUE.sub("", " ".join(refusal.pieces)))
    ]
    # Counted by hand in one room: 9 in groove/chart/blocks.py begin with words of their own.
    assert sum(refusal.file == "groove/chart/blocks.py" for refusal in every) >= 9
    assert len(every) >= 240 and len(with_words) >= 230
    missing = [
        f"{refusal.file}:{refusal.line}: {' … '.join(refusal.pieces)}"
        for refusal in with_words
        if not is_told(refusal, texts)
    ]
    assert missing == []
