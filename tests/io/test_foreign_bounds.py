"""What hostile files cost, and what broken ones come to: a result or an error of ours, placed.

The limits are 150 times a count of half a million and 200 MB, for what is broken at random 5 s and
500 MB (``tests.limits``); common practice, no source.
"""

import json
import random
import re
import subprocess
import sys
import zipfile
from pathlib import Path

import music21
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from groove.errors import ChartError
from groove.io.abc import song_from_abc
from groove.io.musicxml import song_from_musicxml
from tests.conftest import ROOT
from tests.io.hostile_scores import (
    ABC_PLACES,
    CHORD,
    LONGEST_COUNTS,
    NOTE,
    NUMBERS,
    XML_PLACES,
    score,
)
from tests.kept import RunFolder
from tests.limits import HangsError, bounded

SOME_BYTES = 100_000_000
CORPUS = Path(music21.__file__).parent / "corpus"


@pytest.fixture(scope="module")
def outcomes(run_folder: RunFolder) -> list[tuple[str, float, str]]:
    """Return (name, time in counts, outcome) of every hostile score, read once a run."""
    with run_folder("hostile") as folder:
        found = folder / "outcomes.jsonl"
        if not found.exists():
            run = subprocess.run(
                [sys.executable, "-m", "tests.io.hostile_scores"],
                cwd=ROOT,
                capture_output=True,
                text=True,
                timeout=300,
            )
            assert run.returncode == 0, run.stderr[-2000:]
            found.write_text(run.stdout, encoding="utf-8")
        return [tuple(json.loads(line)) for line in found.read_text("utf-8").splitlines()]


def test_every_hostile_score_is_answered_in_200_mb(outcomes: list[tuple[str, float, str]]) -> None:
    """The process lives under RLIMIT_AS, so that each case also kept within its memory."""
    numbers = len(NUMBERS) * (len(XML_PLACES) + len(ABC_PLACES))
    assert numbers == 528
    assert len({name for name, _, _ in outcomes}) == len(outcomes) >= numbers + 40


def test_every_hostile_score_is_answered_soon(
    outcomes: list[tuple[str, float, str]],
) -> None:
    assert max(counts for _, counts, _ in outcomes) <= LONGEST_COUNTS


def test_one_hostile_number_spoils_no_score(outcomes: list[tuple[str, float, str]]) -> None:
    """A number that cannot be is told, and the rest is read; a huge length is the exception."""
    numbers = [(name, found) for name, _, found in outcomes if ", " in name]
    refused = [name for name, found in numbers if found != "read"]
    assert len(numbers) > 500
    # A tune of a million letters is too long, whatever they are.
    assert all(re.match(r"abc .*, a million digits", name) for name in refused)


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("deep", "deep in each other"),
        ("elements", "more than 200000 elements"),
        ("too many bytes", "larger than 16 MB"),
        ("bomb", "not well-formed XML"),
        ("bomb in the score", "unpacks to more than 16 MB"),
        ("files", "more than 1000 files"),
        ("abc bars", "more than 20000 bars"),
        ("abc lines", "too long"),
        ("jumps", "more than 20000 bars when played"),
    ],
)
def test_what_is_too_large_is_refused_with_a_reason(
    outcomes: list[tuple[str, float, str]], name: str, words: str
) -> None:
    found = next(found for case, _, found in outcomes if case == name)
    assert re.search(words, found) and found.startswith("a file:")


# --- broken files -----------------------------------------------------------------------------


def answered(data: bytes, suffix: str) -> bool:
    """Read bytes; return whether there was a song.  An error has its place in them."""
    try:
        with bounded():
            if suffix == "abc":
                song_from_abc(data.decode("utf-8", "replace"), "given")
            else:
                song_from_musicxml(data, "given")
    except ChartError as error:
        assert error.place.source == "given"
        lines = re.split(r"\r\n|\r|\n", data.decode("utf-8", "replace"))
        assert 1 <= error.place.line <= len(lines)
        return False
    return True


def test_what_takes_too_much_or_too_long_is_found() -> None:
    """The judge of the tests below, who must be able to fail."""
    with pytest.raises(MemoryError), bounded(SOME_BYTES):
        # Twice as much: what the process gives back meanwhile is not to hide it.
        bytearray(2 * SOME_BYTES)
    with bounded(SOME_BYTES):
        bytearray(SOME_BYTES - 50_000_000)
    with pytest.raises(HangsError), bounded(hangs_sec=0.05):
        while True:
            pass


def sample_tunes() -> list[bytes]:
    """Return tunes of music21's corpus with repeats, endings, chords."""
    paths = ("nottingham-dataset/reelsa-c.abc", "miscFolk", "ryansMammoth")
    found = []
    for path in paths:
        files = sorted((CORPUS / path).glob("*.abc")) if "." not in path else [CORPUS / path]
        found += [file.read_bytes()[:3000] for file in files[:4]]
    return found


def sample_scores() -> list[bytes]:
    """Return the texts of small MusicXML files that music21 ships."""
    suite = CORPUS.parent / "musicxml" / "lilypondTestSuite"
    names = ("45d*", "46d*", "71f*", "11c*", "45b*", "72*", "71a*")
    return [path.read_bytes() for name in names for path in sorted(suite.glob(name))]


TUNES, SCORES = sample_tunes(), sample_scores()
ABC_PIECES = (
    *("|", ":|", "|:", "::", "|1", ":|2", "||", "|]", "[1", "(3", "(3:2:4", ">", "<<", "&", "-"),
    *('"G"', '"Dm(maj7)"', '"N.C."', '"^fine"', "!D.C.!", "!segno!", "!coda!", "!fine!", "A4"),
    *("B/", "c3/2", "z", "Z4", "[CEG]2", "{a}", "[M:3/4]", "[K:D]", "[V:2]", "\nP:B\n"),
    *("\nM:6/8\n", "\nL:1/16\n", "\nQ:1/4=90\n", "é", "\x00"),
    *("\n", "\n\n", "%", '"', "[", "{", "!", "+", "^", "\\"),
)  # fmt: skip
XML_PIECES = (
    *(CHORD, NOTE, '<barline><repeat direction="backward"/></barline>', "<harmony/>", "<kind/>"),
    *('<barline><repeat direction="forward"/></barline>', '<sound dacapo="yes"/>', "<note/>"),
    *('<sound dalsegno="a"/>', '<sound segno="a"/>', '<sound fine="yes"/>', '<sound tocoda="c"/>'),
    *('<barline><ending number="1" type="start"/></barline>', '<sound coda="c"/>', "<direction/>"),
    *('<barline><ending number="2" type="start"/></barline>', '<sound tempo="99"/>', "<time/>"),
    *('<barline><ending number="1" type="stop"/></barline>', "<attributes><time><beats>7</beats>"),
    "<attributes><transpose><chromatic>-2</chromatic></transpose></attributes>",
    "<attributes><time><beats>7</beats><beat-type>8</beat-type></time></attributes>",
    "<direction><direction-type><rehearsal>verse x2</rehearsal></direction-type></direction>",
    "<backup><duration>9</duration></backup>",
    "<forward><duration>7</duration></forward>",
    "</measure>",
)


def test_the_samples_are_there() -> None:
    assert (len(TUNES), len(SCORES)) == (7, 9)


@settings(max_examples=40, deadline=None)
@given(st.lists(st.sampled_from(ABC_PIECES), max_size=40).map("".join))
def test_any_music_in_abc_is_answered(music: str) -> None:
    answered(f"X:1\nM:4/4\nL:1/4\nK:C\n{music}".encode(), "abc")


@settings(max_examples=40, deadline=None)
@given(st.lists(st.lists(st.sampled_from(XML_PIECES), max_size=6).map("".join), max_size=8))
def test_any_measures_in_musicxml_are_answered(measures: list[str]) -> None:
    answered(score(*measures), "musicxml")


@settings(max_examples=60, deadline=None)
@given(st.binary(max_size=200), st.sampled_from(("abc", "musicxml")))
def test_any_bytes_are_answered(data: bytes, suffix: str) -> None:
    answered(data, suffix)


@settings(max_examples=40, deadline=None)
@given(st.binary(max_size=60), st.integers(0, 400))
def test_any_spoilt_archive_is_answered(data: bytes, place: int) -> None:
    import io

    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("META-INF/container.xml", "<container/>")
        archive.writestr("score.xml", SCORES[0])
    whole = buffer.getvalue()
    answered(whole[:place] + data + whole[place + len(data) :], "mxl")


@pytest.mark.parametrize("seed", range(60))
def test_real_files_with_some_bytes_changed_are_answered(seed: int) -> None:
    """Deleted, doubled, swapped or overwritten: nothing but an error of ours, or a song."""
    rng = random.Random(seed)
    suffix = "abc" if seed % 2 else "musicxml"
    data = bytearray(rng.choice(TUNES if suffix == "abc" else SCORES))
    for _ in range(rng.randint(1, 12)):
        start = rng.randrange(len(data))
        stop = min(len(data), start + rng.randint(1, 30))
        other = rng.randrange(len(data))
        change = rng.choice(("delete", "double", "move", "byte"))
        if change == "delete":
            del data[start:stop]
        elif change == "double":
            data[start:start] = data[start:stop]
        elif change == "move":
            data[other:other] = data[start:stop]
        else:
            data[start] = rng.randrange(256)
        data = data or bytearray(b"X")
    answered(bytes(data), suffix)
