"""The README's commands run, and print what it shows."""

import io
import json
import pickle
import re
import shlex
import shutil
import struct
import tomllib
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from functools import cache
from importlib.metadata import metadata
from itertools import chain
from pathlib import Path
from typing import Any

import pypdf
import pytest
import typst
from fontTools.ttLib import TTFont, TTLibError  # type: ignore[import-untyped]
from PIL import Image, ImageChops

from groove.cells.model import Library
from groove.events import Performance
from groove.io.midi import midi_bytes
from groove.io.recording import Recording
from groove.io.records import heard_record, rendered_sound
from groove.io.samples import SampleSet, sample_set
from groove.io.soundfont import choose_soundfont
from groove.io.systems import engraved_systems
from groove.neck.fingering import line_tables
from groove.record.aligned import HeardSong, align_record
from groove.record.due_sound import DueSound
from groove.record.listened import Listened
from tests.cli.command import Command
from tests.click_font import EVERY_PRESET, click_font
from tests.conftest import ROOT
from tests.kept import RunFolder, kept
from tests.pictures import PART_OPTIONS, make_files, pictures_of, write_readme_take
from tests.readme import README, blocks, examples

LOWEST_RATE_HZ = 8_000
"""The lowest at which FluidSynth renders; MPEG-2.5 has it, and so have WAV and FLAC."""
TYPO = "verse:\n| D | Gmja7 | A |\n"


def commands() -> Iterator[tuple[str, str, str | None]]:
    """Yield (command, label, shown output) of every command that groove runs, each once."""
    every, shown_before = blocks(), set()
    for block, after in zip(every, [*every[1:], None], strict=True):
        if block.language != "sh" or block.label.startswith("fresh"):
            continue
        shown = after.text if after and after.language == "text" else None
        for line in block.text.splitlines():
            shown_before.add(line)
            yield line, block.label, shown
    for row in rows("| you want to … | type |"):
        for line in row[-1].strip("`").split("`, `"):
            if line not in shown_before:
                yield line, "", None


def rows(head: str) -> list[list[str]]:
    """Return the rows of the table with a head, cell by cell."""
    table = README.read_text(encoding="utf-8").partition(f"{head}\n")[2].split("\n\n")[0]
    lines = table.splitlines()[1:]
    return [[cell.strip() for cell in line.strip("|").split(" | ")] for line in lines]


engraved_once = cache(engraved_systems)
"""The lines of a page: most pages here are of one song."""
tables_once = cache(line_tables)
"""What each grip and move costs: most lines here are of one song, on one neck."""
SAMPLED: dict[Performance, SampleSet] = {}


def sampled_once(performance: Performance, *, font: Path) -> SampleSet:
    """Return a page's sounds, of whatever font comes first: here nobody listens to them."""
    if performance not in SAMPLED:
        SAMPLED[performance] = sample_set(performance, font=font)
    return SAMPLED[performance]


@pytest.fixture
def in_readme_folder(groove: Command, one_key: None, monkeypatch: pytest.MonkeyPatch) -> Command:
    """A folder with the charts that the README speaks of."""
    monkeypatch.setattr("groove.io.practice_page.engraved_systems", engraved_once)
    monkeypatch.setattr("groove.io.practice_page.sample_set", sampled_once)
    monkeypatch.setattr("groove.neck.fingering.line_tables", tables_once)
    monkeypatch.setattr("groove.text.neck_keys.KEY_MOVES", range(3))  # tests/neck has all twelve
    (groove.folder / "my" / "bass").mkdir(parents=True)
    for block in blocks():
        if block.language == "chart":
            groove.write(f"{block.label or 'pear-ladder'}.txt", block.text)
        elif block.language == "set":
            groove.write(f"{block.label}.txt", block.text)
        elif block.language == "toml":
            groove.write(f"my/bass/{block.label}.toml", block.text)
    groove.write("typo.txt", TYPO)
    (groove.folder / "click.sf2").write_bytes(click_font(EVERY_PRESET))
    shutil.copytree(ROOT / "shared" / "charts", groove.folder / "shared" / "charts")
    return groove


def test_the_readme_opens_with_the_job_and_a_song_of_ten_lines() -> None:
    text = README.read_text(encoding="utf-8")
    assert text.index("```chart") < text.index("```sh")
    assert len(blocks()[0].text.splitlines()) == 10
    assert len(text[: text.index("```chart")].splitlines()) <= 12


def test_there_are_enough_commands() -> None:
    assert len(list(commands())) >= 39
    assert len(rows("| you want to … | type |")) == 47
    assert "practice page" in README.read_text(encoding="utf-8").partition("```")[0]
    assert [block.label for block in blocks() if block.label.startswith("fresh")] == [
        "fresh-render",
        "fresh-tests",
    ]


def write_record(groove: Command, run_folder: RunFolder) -> None:
    """Write the README's record: the song as another band has it, rendered once a run."""
    with run_folder("readme-record") as folder:
        made = folder / "record.mp3"
        if not made.exists():
            groove("render", "pear-ladder.txt", "-o", "record.mp3", "--feel", "soul")
            shutil.copy(groove.folder / "record.mp3", made)
    shutil.copy(made, groove.folder / "record.mp3")


def kept_sound(performance: Performance, font: Path) -> Listened:
    """Return how a performance sounds, listened to once a run: in which places tells no sound."""
    return kept((midi_bytes(performance), font), lambda: rendered_sound(performance, font))


def kept_record(recording: Recording, song_sec: float, first_sec: float | None) -> Listened:
    """Return what is heard of a record, listened to once a run."""
    return kept(
        (recording.path.read_bytes(), song_sec, first_sec),
        lambda: heard_record(recording, song_sec, first_sec),
    )


def kept_alignment(
    due: DueSound,
    listened: Listened,
    *,
    begins_sec: float | None = None,
    keeps_tempo: bool = False,
) -> HeardSong:
    """Return where a song is heard in a record, looked for once a run."""
    return kept(
        (pickle.dumps((due, listened)), begins_sec, keeps_tempo),
        lambda: align_record(due, listened, begins_sec=begins_sec, keeps_tempo=keeps_tempo),
    )


def listen_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """Have the record, and the song's own sound that it is held against, listened to once a run."""
    for module in ("groove.cli.aligning", "groove.io.page_record"):
        monkeypatch.setattr(f"{module}.rendered_sound", kept_sound)
        monkeypatch.setattr(f"{module}.heard_record", kept_record)
        monkeypatch.setattr(f"{module}.align_record", kept_alignment)


def leave_pages_bare(monkeypatch: pytest.MonkeyPatch) -> None:
    """Have a set's pages without sound and notation, which those of one song have here."""
    silence = SampleSet(rows=(), synthesizer="none", notice="")
    monkeypatch.setattr("groove.io.practice_page.sample_set", lambda *_, **__: silence)
    monkeypatch.setattr("groove.io.practice_page._page_sheets", lambda *_: {})


@pytest.mark.parametrize(("line", "label", "shown"), list(commands()), ids=lambda v: str(v)[:50])
def test_a_command_runs_and_prints_what_is_shown(
    in_readme_folder: Command,
    run_folder: RunFolder,
    monkeypatch: pytest.MonkeyPatch,
    line: str,
    label: str,
    shown: str | None,
) -> None:
    """With clicks for sounds, of few samples: nobody listens here, and they are made in no time.

    Several charts are made in this process, as on a machine of one core.
    """
    program, *arguments = shlex.split(line)
    assert program == "groove"
    monkeypatch.setenv("GROOVE_SOUNDFONT", "click.sf2")
    monkeypatch.setattr("groove.cli.sounding.SAMPLE_RATE_HZ", LOWEST_RATE_HZ)
    monkeypatch.setattr("groove.cli.gig.os.cpu_count", lambda: 1)
    monkeypatch.setattr("groove.cli.jobs._by_processes", lambda jobs, work, _: map(work, jobs))
    if arguments[0] == "gig":
        leave_pages_bare(monkeypatch)
    if arguments[0] == "take":
        in_readme_folder("render", "pear-ladder.txt", "-o", "part.mid", "--only", "bass")
        write_readme_take(in_readme_folder.folder / "part.mid")
    if arguments[0] == "align" or {"--record", "--like"} & set(arguments):
        # Clicks have no chords: a record of the song is made with the sounds of the default font.
        monkeypatch.delenv("GROOVE_SOUNDFONT")
        listen_once(monkeypatch)
        write_record(in_readme_folder, run_folder)
    if arguments[0] == "study":
        in_readme_folder("render", "pear-ladder.txt", "-o", "pear-ladder.mid")
        in_readme_folder("render", "pear-ladder.txt", "-o", "mine.mid", "--seed", "2")
    said = in_readme_folder(*arguments)
    assert said.code == (2 if label == "fails" else 0), said.err
    if shown is not None:
        assert (said.err if label == "fails" else said.out) == shown


def test_the_python_examples_run_and_print_what_is_shown(
    in_readme_folder: Command, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    end = "print('--- end of a block')\n"
    monkeypatch.setenv("GROOVE_SOUNDFONT", "click.sf2")
    monkeypatch.chdir(in_readme_folder.folder)
    exec("".join(text + end for text, _ in examples()), {"__name__": "__main__"})
    printed = capsys.readouterr().out.split("--- end of a block\n")
    compared = 0
    for (_, shown), found in zip(examples(), printed, strict=False):
        assert shown is None or found == shown
        compared += shown is not None
    assert compared == 2
    # How each kind of file begins, by its own standard; MusicXML 4.0's root element.
    begins = {
        "loop.mid": b"MThd",
        "loop.wav": b"RIFF",
        "part.pdf": b"%PDF-",
        "part.svg": b"<svg",
        "practice.html": b"<!doctype html>",
    }
    for name, head in begins.items():
        data = (in_readme_folder.folder / name).read_bytes()
        assert data[:20].lstrip().lower().startswith(head.lower()), name
    score = (in_readme_folder.folder / "part.musicxml").read_text(encoding="utf-8")
    assert '<score-partwise version="4.0"' in score
    # Nothing is embedded: see the table of licences.
    page = (in_readme_folder.folder / "practice.html").read_text(encoding="utf-8")
    assert "@font-face" not in page


def test_what_the_readme_says_of_a_line_of_ones_own_is_played(in_readme_folder: Command) -> None:
    """The riff's first bar over D, by hand: root, fifth, octave and ninth on its sixteenths."""
    said = in_readme_folder("tab", "heron-road.txt", "--bars", "1", "--json")
    notes = json.loads(said.out)["notes"][:4]
    assert [note["pitch"] for note in notes] == [38, 45, 50, 52]
    assert "bass out" not in said.err
    cell = in_readme_folder("feels", "soul", "--patterns", "my")
    assert cell.code == 0, cell.err


def test_the_cell_shown_is_played_where_a_chart_names_it(in_readme_folder: Command) -> None:
    in_readme_folder.write("small.txt", "key: D\nverse:\nbass: pebble\n| D | D | D | D |\n")
    plain = in_readme_folder("tab", "small.txt", "--bars", "1", "--json", "--patterns", "my")
    beats = [note["beat"] for note in json.loads(plain.out)["notes"]]
    # Struck on the slots 1, 4, 7 and 8 of eight, two a beat.
    assert beats == [1, 2.5, 4, 4.5]


def test_the_fields_of_a_cell_are_those_that_are_read() -> None:
    """All fields that a shipped cell has are in the README's table."""
    table = README.read_text(encoding="utf-8").partition("| field | meaning |")[2]
    fields: set[str] = set()
    for part in ("bass", "keys"):
        for path in (ROOT / "patterns" / part).glob("*.toml"):
            fields |= set(tomllib.loads(path.read_text(encoding="utf-8")))
    assert len(fields) >= 9
    assert {field for field in fields if f"`{field}`" not in table} <= {"when"}


def test_the_feels_by_style_are_all_feels_each_once(library: Library) -> None:
    """Which feel serves which style is common practice, no source."""
    named = [name.strip() for _, feels in rows("| style | feels |") for name in feels.split(",")]
    assert sorted(named) == sorted(feel.name for feel in library.feels.values())
    assert len(named) >= 31


def test_the_pictures_are_what_the_commands_make(
    in_readme_folder: Command, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The part dot for dot; of the page the size and most dots: its text is the machine's."""
    monkeypatch.setenv("GROOVE_SOUNDFONT", "click.sf2")  # a picture is silent
    make_files(in_readme_folder.folder, lambda words: in_readme_folder(*words))
    # In a thread of its own: that of a page's tests has a Playwright already.
    with ThreadPoolExecutor(max_workers=1) as other:
        pictures = other.submit(pictures_of, in_readme_folder.folder).result()
    for made, most_off in zip(pictures, (0.001, 0.12, 0.02), strict=True):
        kept = Image.open(ROOT / "pictures" / made.name).convert("L")
        now = Image.open(made).convert("L")
        assert kept.size == now.size
        assert (ROOT / "pictures" / made.name).stat().st_size < 100_000
        off = ImageChops.difference(kept, now).histogram()
        assert sum(off[64:]) / sum(off) <= most_off, made.name
        # A page that shows nothing would differ in few dots too.
        assert sum(kept.histogram()[:128]) / sum(off) > 0.02
    options = " ".join(PART_OPTIONS)
    assert f"groove sheet pear-ladder.txt {options}`" in README.read_text(encoding="utf-8")
    assert re.findall(r'src="pictures/(\w+)\.png"', README.read_text("utf-8")) == [
        "part",
        "page",
        "take",
    ]


def fonts_of_typst() -> dict[str, str]:
    """Return what each font inside the typst package says of its licence (OpenType name 13)."""
    (library,) = Path(typst.__file__).parent.glob("*.so")
    data = library.read_bytes()
    found: dict[str, str] = {}
    # A font begins with its kind and how many tables it has; after three numbers comes the tag of
    # the first table, which is a capital's: they are sorted (OpenType 1.9, "Organization").
    table = rb"\x00[\x08-\x1e].{6}[A-Z][A-Za-z0-9/]{2}[A-Za-z0-9/ ]"
    heads = (re.compile(kind + table, re.DOTALL) for kind in (rb"OTTO", rb"\x00\x01\x00\x00"))
    for match in chain.from_iterable(head.finditer(data) for head in heads):
        try:
            font = TTFont(io.BytesIO(data[match.start() : match.start() + 3_000_000]), lazy=True)
            family = font["name"].getDebugName(16) or font["name"].getDebugName(1)
        except (TTLibError, KeyError, AssertionError, struct.error):
            continue
        if family:
            found.setdefault(family, font["name"].getDebugName(13) or "")
    return found


def test_licences_are_those_that_the_fonts_and_packages_state(in_readme_folder: Command) -> None:
    (head,) = re.findall(r"^\| in what you make .*$", README.read_text("utf-8"), re.MULTILINE)
    stated = {row[1]: row[2] for row in rows(head)}
    fonts = fonts_of_typst()
    for family in ("Libertinus Serif", "DejaVu Sans Mono"):
        (told,) = (text for what, text in stated.items() if family in what)
        for piece in told.split("; "):
            assert piece in fonts[family].replace("\n", " "), family
    (told,) = (text for what, text in stated.items() if "font Leipzig," in what)
    assert told == f"the package: {metadata('verovio')['License-Expression']}"
    font = choose_soundfont(None, {}, None).path
    (told,) = (text for what, text in stated.items() if font.stem in what)
    # SoundFont 2.04, 5: the INFO list holds the copyright, if any, as ICOP.
    assert b"ICOP" not in font.read_bytes()[:4096] and told.startswith("none in the font file")
    assert f"the package: {metadata('pretty_midi')['License']};" in told
    # And these fonts are the ones that are embedded, no others.
    embedded = set()
    for words in (("sheet", "-o", "a.pdf"), ("card", "-o", "b.pdf")):
        assert in_readme_folder(words[0], "pear-ladder.txt", *words[1:]).code == 0
        for page in pypdf.PdfReader(in_readme_folder.folder / words[2]).pages:
            resources: Any = page["/Resources"]
            for each in resources.get("/Font", {}).values():
                embedded.add(re.sub(r"^/\w+\+|-.*", "", each.get_object()["/BaseFont"]))
    assert embedded == {"LibertinusSerif", "DejaVuSansMono"}
