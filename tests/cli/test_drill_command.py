"""``groove drill`` as a player types it: tracks, the plan, and what is refused.

Lengths and markers are read back with mido.
"""

import io
import re
from collections.abc import Sequence
from html.parser import HTMLParser
from pathlib import Path

import mido
import pytest

from groove.cli.console import CAUTION
from groove.record.aligned import HeardSong
from groove.record.heard_bar import HeardBar
from tests.cli.command import Command

CHART = """title: Plum Gate
tempo: 120
key: D
feel: sixteenths
verse:
| D | G/B | Em7 / A7 / | D |
chorus:
| Em7 | D/F# | Bm7 | <A7 |
"""
LONG = CHART + "form: verse, chorus, verse, chorus\n"


@pytest.fixture
def with_song(groove: Command) -> Command:
    groove.write("song.txt", CHART)
    return groove


def read(file: Path) -> mido.MidiFile:
    """Return a MIDI file as mido reads it."""
    return mido.MidiFile(file=io.BytesIO(file.read_bytes()))


def test_one_track_with_a_marker_at_each_pass(with_song: Command) -> None:
    """Two bars at 60, 90 and 120 beats a minute, twice, counted in: 24 + 16 + 12 s by hand."""
    said = with_song(
        "drill", "song.txt", "--bars", "1-2", "--from", "60", "--step", "30", "--times", "2",
        "-o", "drill.mid",
    )  # fmt: skip
    assert said.code == 0
    assert said.out == (
        "Plum Gate: 0:52\n\n 1   0:52  bars 1-2, verse\n           twice each at ♩ = 60, 90, 120\n"
    )
    assert said.err.startswith("wrote drill.mid\nstart quietly on headphones")
    file = read(with_song.folder / "drill.mid")
    assert file.length == pytest.approx(52, abs=1e-3)
    markers = [message.text for message in file if message.type == "marker"]
    assert markers == [f"bars 1-2 at {bpm}, {n} of 2" for bpm in (60, 90, 120) for n in (1, 2)]


def test_a_folder_has_a_file_for_each_tempo_and_the_plan(with_song: Command) -> None:
    said = with_song("drill", "song.txt", "--sections", "chorus", "--from", "80%", "-o", "out/")
    assert (said.code, said.out) == (0, "")
    assert with_song.files() - {"song.txt"} == {
        "out/song.html",
        "out/song-01-bars-5-8-at-96.mid",
        "out/song-02-bars-5-8-at-108.mid",
        "out/song-03-bars-5-8-at-120.mid",
    }
    assert "wrote 4 files into out" in said.err
    # The plan leads to the track of each tempo, by its number.
    page = Texts()
    page.feed((with_song.folder / "out" / "song.html").read_text(encoding="utf-8"))
    tracks = sorted(path.name for path in (with_song.folder / "out").glob("*.mid"))
    assert page.links == tracks and page.fetching == []
    assert [text for text in page.texts if text.endswith(".mid")] == ["01.mid", "02.mid", "03.mid"]


def test_the_plan_leads_to_tracks_of_its_own_folder_alone(with_song: Command) -> None:
    """Two exercises of two tempi, in two kinds; one track for all is named by its markers."""
    with_song.write("song.txt", LONG)
    words = ("drill", "song.txt", "--fills", "--from", "80%", "--step", "20%", "--times", "1")
    with_song(*words, "-o", "a/", "--as", "mid,html")
    page = Texts()
    page.feed((with_song.folder / "a" / "song.html").read_text(encoding="utf-8"))
    tracks = sorted(path.name for path in (with_song.folder / "a").glob("*.mid"))
    assert page.links == tracks and len(tracks) >= 4
    for outputs in (("-o", "plan.html"), ("-o", "all.mid", "-o", "plan.html")):
        with_song(*words, *outputs)
        alone = Texts()
        alone.feed((with_song.folder / "plan.html").read_text(encoding="utf-8"))
        assert alone.links == [] and "verse" not in alone.links


def test_the_plans_minutes_are_the_sum_of_its_tracks(with_song: Command) -> None:
    (data,) = with_song("drill", "song.txt", "--minutes", "12", "--json", "-o", "out/").json
    tracks = [step for step in data["steps"] if "track" in step]
    files = sorted((with_song.folder / "out").glob("*.mid"))
    lengths = [read(file).length for file in files]
    assert len(tracks) == len(files) >= 10
    assert [step["sec"] for step in tracks] == pytest.approx(lengths, abs=2e-3)
    assert sum(lengths) == pytest.approx(data["playing_sec"], abs=0.05)
    assert data["rest_sec"] == 0 and data["total_sec"] <= 12 * 60
    assert data["left_out"] and all(one["sec"] > 0 for one in data["left_out"])
    assert tracks[0]["kind"] == "shift"
    assert [step["track"] for step in tracks] == list(range(1, 1 + len(tracks)))
    assert {str(Path("out") / file.name) for file in files} < set(data["files"])


class Texts(HTMLParser):
    """Collects the texts of a page, and notes what would fetch something."""

    def __init__(self) -> None:
        super().__init__()
        self.texts: list[str] = []
        self.fetching: list[str] = []
        self.links: list[str] = []

    def handle_data(self, data: str) -> None:
        self.texts.append(data.strip())

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.fetching += [tag] if tag in ("script", "img", "link", "iframe") else []
        self.links += [str(value) for name, value in attrs if name == "href"]


def on_record(rows: Sequence[tuple[range, float, float]]) -> HeardSong:
    """Return a record that has bars of the chart: which, from which second on, how long each."""
    bars = tuple(
        HeardBar(
            index=index,
            sec=sec + place * bar_sec,
            end_sec=sec + (place + 1) * bar_sec,
            confidence=0.9,
            follows=place > 0,
        )
        for indices, sec, bar_sec in rows
        for place, index in enumerate(indices)
    )
    return HeardSong(
        bars=bars, semitones=0, tuning_cents=0.0, length_sec=99, cost=0.1, reversed_cost=0.6
    )


def test_tracks_on_the_time_of_a_record(
    with_song: Command, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Talk, a verse, talk, a faster chorus and one more, a verse and a chorus."""
    with_song.write("song.txt", LONG)
    rows = [
        (range(4), 7.0, 3.0),
        (range(4, 8), 21.0, 2.5),
        (range(4, 8), 31.0, 2.4),
        (range(8, 12), 40.6, 3.0),
        (range(12, 16), 52.6, 2.5),
    ]
    heard = on_record(rows)
    asked: list[str] = []

    def listen(performance: object, file: str, **_: object) -> tuple[HeardSong, list[float]]:
        asked.append(file)
        return heard, []

    monkeypatch.setattr("groove.cli.aligning.record_beside", listen)
    words = ("drill", "song.txt", "--like", "ours.mp3", "--from", "50%", "--step", "50%")
    said = with_song(*words, "--bars", "4-6", "--only", "click", "--times", "1", "-o", "a.mid")
    assert said.code == 0, said.err
    assert "on the time of ours.mp3: 20 bars from 0:07.0 on" in said.err
    assert "another form than the chart, and the band with it" in said.err
    # Four beats in 2.5 s are 96 a minute: eight bars of twenty; eight are slower, four faster.
    assert said.out.endswith("once each at ♩ = 48, 96\n")
    at_sec, firsts, markers = 0.0, [], []
    for message in read(with_song.folder / "a.mid"):
        at_sec += message.time
        if message.type == "note_on" and message.velocity and message.note in (37, 76):
            firsts.append(round(at_sec, 3))
        if message.type == "marker":
            markers.append((round(at_sec, 3), message.text))
    # Four sticks as fast as the first bar, then a bar of the verse and two of the chorus, without
    # the talk between them: half as fast as the record, 22 s long, then as fast.
    once = [0, 0.75, 1.5, 2.25, 3, 6, 8.5]
    due_secs = [*(2 * sec for sec in once), *(22 + sec for sec in once)]
    assert firsts == pytest.approx(due_secs, abs=0.002)
    names = [f"bars 4-6 at {bpm}, 1 of 1" for bpm in (48, 96)]
    assert markers == [(0, names[0]), (pytest.approx(22), names[1])]

    (data,) = with_song(*words, "--json").json
    secs = {
        (step["name"], step["percent"]): step["sec"] / step["times"]
        for step in data["steps"]
        if "track" in step
    }
    # Once each, though the record has it twice; counted in, and slowed with all that it rushes.
    assert secs["chorus", 100] == pytest.approx(5 * 2.5, abs=0.001)
    assert secs["chorus", 50] == pytest.approx(5 * 5, abs=0.001)
    assert secs["verse", 100] == pytest.approx(5 * 3, abs=0.001)
    played = sum(len(indices) * bar_sec for indices, _, bar_sec in rows)
    assert secs["whole song", 100] == pytest.approx(3 + played, abs=0.001)
    assert asked == ["ours.mp3"] * 2


def test_a_record_is_of_one_song_and_is_not_written_over(with_song: Command) -> None:
    with_song.write("other.txt", CHART)
    with_song.write("ours.wav", "no sound")
    drill = ("drill", "song.txt", "--like", "ours.wav")
    for more, told in (
        (("other.txt", "-o", "both/"), "--like is of one song\n  practise one chart at a time"),
        (("-o", "ours.wav"), "ours.wav would be written over"),
        (("-o", "a.mid"), "ours.wav is no sound that can be read"),
    ):
        before = with_song.files()
        said = with_song(*drill, *more)
        assert (said.code, said.out) == (2, "")
        assert said.err.startswith(told) and with_song.files() == before


def test_the_plan_as_a_page(with_song: Command) -> None:
    words = ("drill", "song.txt", "--minutes", "10", "-o", "plan.html", "-o", "plan.txt")
    said = with_song(*words)
    assert (said.code, said.out) == (0, "")
    page = Texts()
    page.feed((with_song.folder / "plan.html").read_text(encoding="utf-8"))
    assert "Plum Gate" in page.texts and "Left out, for want of time" in page.texts
    assert page.fetching == []
    text = (with_song.folder / "plan.txt").read_text(encoding="utf-8")
    lengths = re.findall(r"^ ?\d+ +(\d+:\d\d)", text, re.MULTILINE)
    assert len(lengths) >= 2 and set(lengths) <= set(page.texts)


@pytest.mark.parametrize(
    ("options", "parts"),
    [
        ((), {"bass", "drums", "keys", "click"}),
        (("--without", "bass"), {"drums", "keys", "click"}),
        (("--only", "click"), {"click"}),
        (("--only", "drums", "--click", "eighths"), {"drums", "click"}),
        (("--drop-out", "1/2"), {"bass", "drums", "keys", "click"}),
        (("--only", "bass", "--bass", "always", "--no-count-in"), {"bass", "click"}),
    ],
)
def test_what_sounds(with_song: Command, options: tuple[str, ...], parts: set[str]) -> None:
    words = ("drill", "song.txt", "--bars", "1-2", "--from", "100%")
    with_song(*words, *options, "-o", "a.mid")
    tracks = read(with_song.folder / "a.mid").tracks[1:]
    assert {track.name for track in tracks} == parts
    struck = {t.name: {m.note for m in t if m.type == "note_on" and m.velocity} for t in tracks}
    # Side stick counts in, the blocks click (General MIDI percussion keys 37, 76, 77).
    has_click = not {"--click", "--drop-out", "click"}.isdisjoint(options)
    assert struck["click"] == ({37, 76, 77} if has_click else {37})


def test_where_the_click_falls_silent_is_told(with_song: Command) -> None:
    words = ("drill", "song.txt", "--bars", "1-2", "--from", "100%", "--times", "1")
    (data,) = with_song(*words, "--drop-out", "2/4", "-o", "plan.html", "--json").json
    assert data["drop_out"] == [2, 4]
    page = Texts()
    page.feed((with_song.folder / "plan.html").read_text(encoding="utf-8"))
    assert "no click in the last 2 bars of every 4" in page.texts
    said = with_song(*words, "--drop-out", "1/2")
    assert said.out.splitlines()[1:3] == ["no click in the last bar of every 2", ""]
    assert "no click" not in with_song(*words).out


def test_the_caution_comes_where_one_song_of_several_was_made(with_song: Command) -> None:
    with_song.write("bad.txt", "verse:\n| Q |\n")
    words = ("--bars", "1", "--from", "100%", "--times", "1")
    said = with_song("drill", "song.txt", "bad.txt", *words)
    assert said.code == 1 and said.err.endswith("\n" + CAUTION + "\n")
    said = with_song("drill", "bad.txt", "bad.txt", *words)
    assert said.code != 0 and CAUTION not in said.err


def test_shifts_and_fills_alone(with_song: Command) -> None:
    with_song.write("song.txt", LONG)
    (data,) = with_song("drill", "song.txt", "--shifts", "--fills", "--json").json
    kinds = {step["kind"] for step in data["steps"] if "track" in step}
    assert kinds == {"shift", "fill"}
    (data,) = with_song("drill", "song.txt", "--fills", "--sections", "chorus", "--json").json
    bars = {tuple(step["bars"]) for step in data["steps"] if "track" in step}
    assert bars == {(8, 1)}


def test_sound_of_a_track(with_song: Command, monkeypatch: pytest.MonkeyPatch) -> None:
    import soundfile

    from tests.click_font import EVERY_PRESET, click_font

    (with_song.folder / "click.sf2").write_bytes(click_font(EVERY_PRESET))
    monkeypatch.setenv("GROOVE_SOUNDFONT", "click.sf2")
    said = with_song(
        "drill", "song.txt", "--bars", "1", "--from", "100%", "--times", "2",
        "--soundfont", "click.sf2", "-o", "a.wav",
    )  # fmt: skip
    assert said.code == 0 and "soundfont: click.sf2" in said.err and "wrote a.wav" in said.err
    sound = soundfile.info(with_song.folder / "a.wav")
    # Two bars of four beats at 120, twice, and what rings after the last: up to two seconds.
    assert 8 <= sound.duration <= 10.1


@pytest.mark.parametrize(
    ("options", "told"),
    [
        (("--from", "60", "--to", "100%"), "a ladder is in beats a minute or in percent, not in"),
        (("--from", "60", "--step", "5%"), "a ladder is in beats a minute or in percent, not in"),
        (("--from", "110%"), "the tempo would go down from 110 to 100\n  expected --from below"),
        (("--from", "1%"), "the tempo comes to 1 quarters a minute"),
        (("--step", "0"), "--step cannot be '0'"),
        (("--step", "0.1%"), "a ladder of 401 tempi\n  expected at most 100: a larger --step"),
        (("--drop-out", "2 in 4"), "--drop-out cannot be '2 in 4'\n  expected silent bars of how"),
        (("--drop-out", "4/4"), "--drop-out cannot be '4/4'\n  expected silent bars of how"),
        (("--click", "quavers"), "--click cannot be 'quavers'"),
        (("--bass", "never"), "--bass cannot be 'never'\n  expected one of: first, always"),
        (("--only", "flute"), "no such part in --only: 'flute'"),
        (("--shifts", "--minutes", "1"), "nothing fits into 1 minute\n  the shortest takes"),
        (("--sections", "bridge"), "no such section: 'bridge'"),
        (("--fills", "--bars", "1"), "there is no fill to practise there\n  expected other bars"),
        (("-o", "song.txt"), "song.txt would be written over"),
        (("-o", "drill.pdf"), "cannot write a .pdf: drill.pdf"),
    ],
)
def test_what_is_refused(with_song: Command, options: tuple[str, ...], told: str) -> None:
    before = {name: (with_song.folder / name).read_bytes() for name in with_song.files()}
    said = with_song("drill", "song.txt", *options)
    assert (said.code, said.out) == (2, "")
    assert said.err.startswith(told) and "Traceback" not in said.err
    assert "start quietly" not in said.err  # nothing is there to be played
    assert {name: (with_song.folder / name).read_bytes() for name in with_song.files()} == before


def test_a_track_is_not_written_over_what_is_read(with_song: Command) -> None:
    """The line is read from a file that has the name of a track."""
    words = ("drill", "song.txt", "--bars", "1-2", "--from", "100%", "-o", ".", "--line")
    assert with_song("render", "song.txt", "-o", "band.mid").code == 0
    assert with_song(*words, "band.mid").code == 0
    (track,) = (path.name for path in with_song.folder.glob("song-01-*.mid"))
    line = (with_song.folder / "band.mid").read_bytes()
    (with_song.folder / track).write_bytes(line)
    said = with_song(*words, track)
    assert said.code == 2 and f"{track} would be written over" in said.err
    assert (with_song.folder / track).read_bytes() == line
