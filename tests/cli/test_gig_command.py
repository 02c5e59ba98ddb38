"""``groove gig``: one folder for a set, with everything that a player takes to a gig.

PDFs are read with pypdf, MIDI with mido, pages with the parser of the standard library.
"""

import io
import re
import shlex
from pathlib import Path

import mido
import pypdf
import pytest

from groove.gig.gig_book import BookSong, book_source
from groove.gig.running_order import GigRow, RunningOrder, SongRecord
from groove.io import gig_folder
from groove.io.gig_folder import RECORDS, fingerprint
from tests.cli.command import Command
from tests.cli.gig_folders import FAST, FERN, PLUM, Links, contents, written_set


@pytest.fixture
def with_set(groove: Command) -> Command:
    return written_set(groove)


def test_everything_in_one_folder(with_set: Command) -> None:
    """By hand: 8 bars of four beats at 120 last 16 s; 2 bars of three at 90 (for 60) last 4 s."""
    said = with_set("gig", "friday.txt", *FAST)
    assert said.code == 0
    assert said.out == (
        "Friday & more: 4 songs, 0:52, and 20:00 of breaks\n"
        "\n"
        " 1  Plum Gate  D major  ♩ = 120   0:16\n"
        "    break, 20 minutes\n"
        " 2  <Fern>     A major  ♩ = 90    0:04\n"
        " 3  Plum Gate  F major  ♩ = 120   0:16\n"
        " 4  Plum Gate  D major  ♩ = 120   0:16\n"
    )
    assert said.err.startswith("3 made, 0 as they were, in friday\nstart quietly")
    made = with_set.folder / "friday"
    stems = ("plum", "fern", "plum-2")
    kinds = (".mid", "-without-bass.mid", "-card.pdf")
    assert {name for name in contents(made) if not name.startswith(RECORDS)} == {
        *(stem + kind for stem in stems for kind in kinds),
        "index.html",
        "gig-book.pdf",
    }
    # The key: D–G–A7–D is F–B♭–C7–F in F, whose signature has one flat (SMF 1.0, event 59).
    keys = [message.key for message in mido.MidiFile(made / "plum-2.mid") if "key" in message.type]
    assert keys[0] == "F"
    bassless = mido.MidiFile(made / "plum-without-bass.mid")
    assert {track.name for track in bassless.tracks[1:]} == {"drums", "keys"}
    index = Links()
    index.feed((made / "index.html").read_text(encoding="utf-8"))
    assert set(index.links) == {n for n in contents(made) if n[0] != "."} - {"index.html"}
    assert "<Fern>" in index.texts and "break, 20 minutes" in index.texts


def test_the_book_has_the_order_and_numbered_pages(with_set: Command) -> None:
    """Four songs of one page each after the running order: pages 2 to 5."""
    with_set("gig", "friday.txt", *FAST)
    book = pypdf.PdfReader(with_set.folder / "friday" / "gig-book.pdf")
    pages = [page.extract_text() for page in book.pages]
    assert len(pages) == 5
    assert pages[0].splitlines()[2:7] == [
        "Song Key Tempo Time Page",
        "1 Plum Gate D major ♩ = 120 0:16 2",
        "break, 20 minutes",
        "2 <Fern> A major ♩ = 90 0:04 3",
        "3 Plum Gate F major ♩ = 120 0:16 4",
    ]
    assert [page.splitlines()[-1] for page in pages] == ["1", "2", "3", "4", "5"]
    heads = [page.splitlines()[0] for page in pages[1:]]
    assert heads == ["Plum Gate", "<Fern>", "Plum Gate", "Plum Gate"]
    # The card says what the set asks for, not what the chart does.
    assert "Tempo ♩ = 90" in pages[2] and "Length 2 bars, 0:04" in pages[2]
    assert "Key F major" in pages[3]


def test_what_a_song_is_made_of_is_told_apart(with_set: Command, tmp_path: Path) -> None:
    """Chart, options, cells, settings, soundfont and the stated date: each changes it alone."""
    chart, cells, font = with_set.folder / "plum.txt", tmp_path / "my", tmp_path / "a.sf2"
    (cells / "bass").mkdir(parents=True)
    font.write_bytes(b"one")
    config = tmp_path / "config" / "groove" / "config.toml"
    config.parent.mkdir(parents=True)
    config.write_text("format = 1\n", encoding="utf-8")
    with pytest.MonkeyPatch.context() as patched:
        patched.setenv("XDG_CONFIG_HOME", str(tmp_path / "config"))

        def mark(asked: str = "D") -> str:
            return fingerprint(str(chart), cells, font, [asked])

        found = [mark(), mark("Eb")]
        chart.write_text(PLUM + "# more\n", encoding="utf-8")
        found.append(mark())
        (cells / "bass" / "pebble.toml").write_text("format = 1\n", encoding="utf-8")
        found.append(mark())
        config.write_text("format = 1\nfrets = 22\n", encoding="utf-8")
        found.append(mark())
        font.write_bytes(b"other")
        found.append(mark())
        patched.setenv("SOURCE_DATE_EPOCH", "1700000000")
        found.append(mark())
        patched.setattr(gig_folder, "program_digest", lambda: "another program")
        found.append(mark())
        assert len(set(found)) == len(found) == 8
        assert mark() == found[-1]


@pytest.mark.parametrize(
    ("text", "stems"),
    [
        ("plum\nplum-without-bass\n", ("plum", "plum-without-bass-2")),
        ("plum-without-bass\nplum\n", ("plum-without-bass", "plum-2")),
        ("plum\nPLUM\n", ("plum", "PLUM-2")),
    ],
)
def test_songs_whose_names_end_as_files_do_are_told_apart(
    with_set: Command, text: str, stems: tuple[str, str]
) -> None:
    """Plum's own track without the bass would have the name of the other song's track.

    Many disks take small letters and capitals for the same name.
    """
    with_set.write("PLUM.txt", FERN)
    with_set.write("plum-without-bass.txt", FERN)
    with_set.write("one.txt", text)
    assert with_set("gig", "one.txt", "--as", "mid", "--jobs", "1").code == 0
    made = {name for name in contents(with_set.folder / "one") if name.endswith(".mid")}
    assert made == {stem + end for stem in stems for end in (".mid", "-without-bass.mid")}


def test_a_feel_of_the_set_is_played(with_set: Command) -> None:
    with_set.write("one.txt", "fern, feel: jazz waltz\n")
    assert with_set("gig", "one.txt", "--as", "mid").code == 0
    with_set("render", "fern.txt", "--feel", "jazz waltz", "-o", "rendered.mid")
    with_set("render", "fern.txt", "-o", "plain.mid")
    made, rendered, plain = (
        [
            (message.time, message.note, message.velocity)
            for track in mido.MidiFile(with_set.folder / name).tracks
            for message in track
            if message.type == "note_on"
        ]
        for name in ("one/fern.mid", "rendered.mid", "plain.mid")
    )
    assert made == rendered != plain and len(made) > 10


def test_a_take_of_a_gigs_track_knows_what_it_was_rendered_with(with_set: Command) -> None:
    """The notes are those that render makes of the words in the file (SMF 1.0, text event)."""
    with_set.write("one.txt", "fern, key C, tempo 90, feel jazz waltz\n")
    with_set("gig", "one.txt", "--as", "mid", "--tuning", "five")
    made = with_set.folder / "one" / "fern.mid"
    texts = [message.text for message in mido.MidiFile(made) if message.type == "text"]
    words = "groove render --tempo 90 --feel 'jazz waltz' --key C --tuning five"
    assert texts[0] == words
    with_set("render", "fern.txt", *shlex.split(words)[2:], "-o", "rendered.mid")
    struck = [
        [(m.time, m.note, m.velocity) for m in mido.MidiFile(file) if m.type == "note_on"]
        for file in (made, with_set.folder / "rendered.mid")
    ]
    assert struck[0] == struck[1] and len(struck[0]) > 10
    said = with_set("take", "fern.txt", "one/fern.mid", "--as-rendered", "one/fern.mid", "--json")
    assert said.code == 0, said.err
    (data,) = said.json
    assert (data["tempo_bpm"], data["mean_ms"], data["missed"], data["wrong_pitch"]) == (
        90,
        0,
        [],
        [],
    )
    assert len(data["notes"]) >= 4


def test_a_gigs_papers_are_those_of_the_commands_alone(with_set: Command) -> None:
    with_set.write("one.txt", "plum, key F\n")
    assert with_set("gig", "one.txt", "--as", "sheet,card", "--jobs", "1").code == 0
    for command in ("sheet", "card"):
        assert with_set(command, "plum.txt", "--key", "F", "-o", f"{command}.pdf").code == 0
    made = contents(with_set.folder)
    assert made["one/plum-sheet.pdf"] == made["sheet.pdf"]
    assert made["one/plum-card.pdf"] == made["card.pdf"]


def test_another_player_gets_chord_charts_and_cards(with_set: Command) -> None:
    """For B flat, a tone higher: D, G and A7 are read as E, A and B7; MIDI sounds as before."""
    with_set.write("one.txt", "plum\n")
    words = ("gig", "one.txt", "--as", "mid,sheet,card", "--jobs", "1")
    with_set(*words, "-o", "band/")
    assert with_set(*words, "--for", "Bb", "-o", "trumpet/").code == 0
    band, trumpet = (contents(with_set.folder / name) for name in ("band", "trumpet"))
    assert trumpet["plum.mid"] == band["plum.mid"]
    for kind in ("sheet", "card"):
        page = pypdf.PdfReader(io.BytesIO(trumpet[f"plum-{kind}.pdf"])).pages[0].extract_text()
        assert "for B♭ instruments, sounds in D major" in page
    assert re.search(r"\bE\b.*\bA\b.*\bB7\b.*\bE\b", " ".join(page.split()))
    whom = ("--for", "Bb")
    with_set("sheet", "plum.txt", "--chart", *whom, "-o", "sheet.pdf")
    with_set("card", "plum.txt", *whom, "-o", "card.pdf")
    alone = contents(with_set.folder)
    assert [trumpet[f"plum-{kind}.pdf"] == alone[f"{kind}.pdf"] for kind in ("sheet", "card")] == [
        True,
        True,
    ]
    # Its own record: the same folder asked for the band again is made again.
    said = with_set(*words, "-o", "trumpet/")
    assert said.err.startswith("1 made, 0 as they were")
    assert contents(with_set.folder / "trumpet") == band


def test_the_pages_of_a_long_sheet_come_one_after_the_other() -> None:
    record = SongRecord(fingerprint="", title="Long", key="D", tempo="", sec=1, files={})
    order = RunningOrder(title="x", rows=(GigRow(number=1, name="Long", sec=1, record=record),))
    source = book_source(order, [BookSong("long.pdf", 3)])
    assert re.findall(r'image\("long.pdf", page: (\d)', source) == ["1", "2", "3"]
    assert source.count("<song-1>") == 2  # where it begins, and where the order asks for its page


def test_the_set_as_data(with_set: Command) -> None:
    words = ("--as", "mid", "--jobs", "1", "--json", "-o", "out")
    (data,) = with_set("gig", "friday.txt", *words).json
    assert data["title"] == "Friday & more" and data["break_sec"] == 1200
    assert data["total_sec"] == pytest.approx(1252)
    assert [row.get("title") for row in data["order"]] == [
        "Plum Gate", None, "<Fern>", "Plum Gate", "Plum Gate",
    ]  # fmt: skip
    assert "out/plum-without-bass.mid" in data["files"]
    assert all((with_set.folder / name).is_file() for name in data["files"])


def test_sound_with_and_without_the_bass(
    with_set: Command, monkeypatch: pytest.MonkeyPatch
) -> None:
    import soundfile

    from tests.click_font import EVERY_PRESET, click_font

    (with_set.folder / "click.sf2").write_bytes(click_font(EVERY_PRESET))
    with_set.write("one.txt", "fern\n")
    said = with_set("gig", "one.txt", "--as", "wav", "--soundfont", "click.sf2")
    assert said.code == 0, said.err
    whole, _ = soundfile.read(with_set.folder / "one" / "fern.wav")
    less, _ = soundfile.read(with_set.folder / "one" / "fern-without-bass.wav")
    assert whole.shape == less.shape
    assert 0 < (less**2).sum() < (whole**2).sum()
    # Either has the song's title, and names of sections (``labl``, see test_sound_tags).
    for name in ("fern.wav", "fern-without-bass.wav"):
        with soundfile.SoundFile(with_set.folder / "one" / name) as file:
            assert file.title == "<Fern>"
        assert b"labl" in (with_set.folder / "one" / name).read_bytes()


@pytest.mark.parametrize(
    ("line", "told"),
    [
        ("plum, key H", "friday.txt: plum: key cannot be 'H'\n  expected a key"),
        ("plum, tempo fast", "friday.txt: plum: tempo cannot be 'fast'\n  expected beats"),
        ("plum, kye F", "friday.txt:1: cannot read 'kye F'\n  nearest: key"),
    ],
)
def test_a_set_that_cannot_be_read_makes_nothing(with_set: Command, line: str, told: str) -> None:
    with_set.write("friday.txt", line + "\n")
    before = with_set.files()
    said = with_set("gig", "friday.txt")
    assert (said.code, said.out) == (2, "")
    assert said.err.startswith(told)
    assert with_set.files() == before


def test_names_of_our_own_are_not_taken_from_us(with_set: Command) -> None:
    with_set.write("index.txt", PLUM)
    with_set.write("one.txt", "index\n")
    assert with_set("gig", "one.txt", "--as", "mid").code == 0
    names = {n for n in contents(with_set.folder / "one") if n[0] != "."}
    assert names == {"index-2.mid", "index-2-without-bass.mid", "index.html"}
    assert mido.MidiFile(
        file=io.BytesIO((with_set.folder / "one/index-2.mid").read_bytes())
    ).length == pytest.approx(16)
