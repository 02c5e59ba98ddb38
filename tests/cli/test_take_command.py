"""``groove take`` as a player calls it: MIDI takes of a rendered part, and what is said of them."""

from io import BytesIO
from random import Random
from typing import Any

import mido
import pytest
from PIL import Image

from groove.take.course import MeasuredBy
from groove.verdict import NEVER_SAID
from tests.cli.command import Command, Said
from tests.take.midi_takes import TICKS, Move, midi_take, strays

SONG = """title: Button Lane
tempo: 96
key: G
feel: straight eighths
verse:
| G | Em7 | C | D7 |
| G | Bm7 | Am7 | D7 |
form: verse
"""


PART: list[bytes] = []
"""The bass part of the song as MIDI, once it was rendered."""


def rendered(groove: Command) -> Command:
    """Return the command in a folder with a song and its bass part as MIDI."""
    groove.write("song.txt", SONG)
    part = groove.folder / "part.mid"
    if PART:
        part.write_bytes(PART[0])
        return groove
    assert groove("render", "song.txt", "-o", "part.mid", "--only", "bass", "--tight").code == 0
    PART.append(part.read_bytes())
    return groove


def write_take(groove: Command, name: str, move: Move, *, lead_sec: float = 0.0) -> None:
    """Write the part as somebody plays it."""
    part = (groove.folder / "part.mid").read_bytes()
    (groove.folder / name).write_bytes(midi_take(part, move, lead_sec=lead_sec))


def data_of(said: Said) -> Any:
    assert said.code == 0, said.err
    assert len(said.json) == 1
    return said.json[0]


def test_a_take_compared_with_itself_is_perfect(groove: Command) -> None:
    rendered(groove)
    for reference in ("part.mid", "song.txt"):
        options = ["--tight"] if reference == "song.txt" else []
        data = data_of(groove("take", reference, "part.mid", "--json", *options))
        assert data["missed"] == data["extra"] == data["wrong_pitch"] == []
        assert data["sd_ms"] == pytest.approx(0, abs=0.1)
        assert data["offset_s"] == pytest.approx(0, abs=1e-4)
        assert data["tempo_bpm"] == pytest.approx(96, abs=0.01)
        assert {abs(note["deviation_ms"]) < 0.1 for note in data["notes"]} == {True}


def test_a_shift_moves_the_offset_alone(groove: Command) -> None:
    rendered(groove)
    for name, lead in (("now.mid", 0.0), ("later.mid", 1.5)):
        write_take(groove, name, strays(1, 8), lead_sec=lead)
    now, later = (
        data_of(groove("take", "part.mid", name, "--json")) for name in ("now.mid", "later.mid")
    )
    assert later["offset_s"] - now["offset_s"] == pytest.approx(1.5, abs=0.001)
    for field in ("mean_ms", "sd_ms", "drift_bpm_per_min", "tempo_bpm"):
        assert later[field] == pytest.approx(now[field], abs=0.1)


def test_onsets_of_midi_are_within_a_tick(groove: Command) -> None:
    """A tick of the take is 60 / 120 / 480 s; what mido reads of the file is the truth."""
    rendered(groove)
    write_take(groove, "take.mid", strays(2, 12), lead_sec=0.7)
    data = data_of(groove("take", "part.mid", "take.mid", "--json"))
    truth = []
    now = 0.0
    for message in mido.MidiFile(str(groove.folder / "take.mid")):
        now += message.time
        if message.type == "note_on" and message.velocity:
            truth.append(now)
    found = [note["onset_s"] for note in data["notes"]]
    assert found == pytest.approx(truth, abs=60 / 120 / TICKS)


def test_what_was_not_played_is_not_heard(groove: Command) -> None:
    rendered(groove)
    hand = strays(3, 8)
    gone = {5, 17, 40, 41, 55}
    write_take(groove, "take.mid", lambda i, sec: None if i in gone else hand(i, sec))
    said = groove("take", "part.mid", "take.mid", "--json")
    assert data_of(said)["missed"] == sorted(gone)
    text = groove("take", "part.mid", "take.mid").out
    assert "5 notes not heard: bar 1, beat 3.5;" in text
    assert "What was not heard may have been played too softly" in text


def test_rushing_is_told_by_its_two_tempi(groove: Command) -> None:
    groove.write("song.txt", SONG.replace("form: verse", "form: verse x2"))
    assert groove("render", "song.txt", "-o", "part.mid", "--only", "bass", "--tight").code == 0
    hand = strays(4, 6)
    # 96 to 101 in 40 s.
    write_take(groove, "take.mid", lambda i, sec: hand(i, sec - 0.0006 * sec * sec))
    data = data_of(groove("take", "part.mid", "take.mid", "--json"))
    assert data["verdict"]["tempo"] == "rushing"
    assert data["measured_against"] == MeasuredBy.MOVING
    assert data["drift_interval"][0] > 0
    text = groove("take", "part.mid", "take.mid").out
    assert "the tempo, rushing: started at 96, ended at 1" in text
    assert text.startswith("Rushing: started at 96, ended at 1")  # nobody is called steady first
    assert "Apart from that steady: no listener can hear" in text.replace("\n", " ")


def test_lateness_is_told_where_it_can_be_known(groove: Command) -> None:
    rendered(groove)
    hand = strays(5, 5)
    write_take(groove, "take.mid", lambda i, sec: hand(i, sec + 0.045))
    text = groove("take", "part.mid", "take.mid").out
    assert "cannot be told from a recording that is" in text
    assert "behind the beat" not in text
    text = groove("take", "part.mid", "take.mid", "--latency", "20").out
    assert "behind the beat: +2" in text
    assert "may be style" in text
    assert "cannot be told" not in text


@pytest.mark.parametrize("sd_ms", [4, 16, 30])
def test_the_report_fits_a_terminal_and_names_nobody(groove: Command, sd_ms: int) -> None:
    rendered(groove)
    hand = strays(6, sd_ms)
    write_take(groove, "take.mid", lambda i, sec: None if i % 31 == 9 else hand(i, sec))
    text = groove("take", "song.txt", "take.mid", "--tight").out
    assert max(map(len, text.splitlines())) <= 80
    assert not any(word in text.casefold() for word in NEVER_SAID)
    assert text.startswith({4: "Steady: ", 16: "Fairly steady: ", 30: "A little uneven: "}[sd_ms])
    assert text.index("What held") < text.index("What was heard")


def test_what_comes_next_is_a_command_that_runs(groove: Command) -> None:
    rendered(groove)
    hand = strays(7, 4)
    wild = Random(1)

    def move(index: int, sec: float) -> float:
        in_bar_three = 5.0 <= sec % 20 < 7.4
        return hand(index, sec) or sec + (wild.gauss(0, 40) / 1000 if in_bar_three else 0)

    write_take(groove, "take.mid", move)
    text = groove("take", "song.txt", "take.mid", "--tight").out
    command = text[text.index("groove render") :].split("\n\n")[0].replace("\\\n", "")
    words = command.replace("next.wav", "next.mid").split()
    assert groove(*words[1:]).code == 0
    assert "next.mid" in groove.files()


def test_too_few_notes_give_no_verdict(groove: Command) -> None:
    rendered(groove)
    write_take(groove, "take.mid", lambda i, sec: sec + 0.01 if i < 12 else None)
    said = groove("take", "part.mid", "take.mid")
    assert said.out.startswith("Too few notes for a verdict: 12 of ")
    assert "What held" not in said.out and "Next" not in said.out


def test_another_song_is_one_error(groove: Command) -> None:
    rendered(groove)
    rng = Random(3)
    write_take(groove, "take.mid", lambda i, sec: rng.random() * 30 if i < 60 else None)
    groove.write("other.txt", SONG.replace("straight eighths", "waltz").replace("96", "181"))
    (groove.folder / "text.mid").write_text("not music")
    for take, told in (
        ("take.mid", "the take does not fit the reference"),
        ("text.mid", "text.mid: MIDI file, header, byte 0"),
        ("none.mid", "cannot read none.mid"),
    ):
        said = groove("take", "song.txt", take)
        assert (said.code, said.out) == (2, "")
        assert said.err.startswith(told)
        assert "Traceback" not in said.err


def test_a_loop_is_told_pass_by_pass(groove: Command) -> None:
    groove.write("song.txt", SONG)
    words = ("--bars", "3-4", "--times", "4")
    assert groove("render", "song.txt", "-o", "part.mid", "--only", "bass", *words).code == 0
    spreads = iter([30, 4, 12, 18])
    rng = Random(2)
    hands = [next(spreads) for _ in range(4)]
    write_take(
        groove,
        "take.mid",
        lambda i, sec: max(0.0, sec + rng.gauss(0, hands[min(3, int(sec / 5))]) / 1000),
    )
    said = groove("take", "song.txt", "take.mid", *words)
    assert "Pass by pass: 2 is the steadiest" in said.out
    assert len(data_of(groove("take", "song.txt", "take.mid", *words, "--json"))["passes"]) == 4


def test_a_chart_alone_has_options_of_a_band(groove: Command) -> None:
    rendered(groove)
    said = groove("take", "part.mid", "part.mid", "--feel", "waltz")
    assert (said.code, said.err.splitlines()[0]) == (2, "--feel is for a chart")
    said = groove("take", "part.mid", "part.mid", "--bars", "40-41")
    assert said.code == 2


def test_a_midi_reference_is_cut_and_slowed(groove: Command) -> None:
    rendered(groove)
    hand = strays(9, 5)
    begin = 4 * 60 / 96 * 4
    write_take(
        groove,
        "take.mid",
        lambda i, sec: hand(i, (sec - begin) * 1.25) if begin - 0.01 < sec < 2 * begin else None,
        lead_sec=0.5,
    )
    data = data_of(
        groove("take", "part.mid", "take.mid", "--json", "--bars", "5-8", "--tempo", "80%")
    )
    assert data["tempo_bpm"] == pytest.approx(96 * 0.8, abs=0.5)
    assert data["missed"] == []
    assert {note["bar"] for note in data["notes"]} == {5, 6, 7, 8}


def test_a_second_take_is_told_beside_the_first(groove: Command) -> None:
    rendered(groove)
    for name, sd_ms in (("one.mid", 20), ("two.mid", 20), ("three.mid", 6), ("four.mid", 15)):
        write_take(groove, name, strays(len(name), sd_ms))
    told = [
        groove("take", "part.mid", name, "--history", "takes.json").out
        for name in ("one.mid", "two.mid", "three.mid", "four.mid")
    ]
    assert "Beside" not in told[0]
    assert "no difference that can be" in told[1]
    assert "ms: steadier." in told[2].replace("\n", " ")
    assert "less steady." in told[3].replace("\n", " ")
    groove.write("notes.json", "my own notes")
    said = groove("take", "part.mid", "one.mid", "--history", "notes.json")
    assert (said.code, said.out) == (2, "")
    assert said.err.startswith("cannot read notes.json: it is no history of takes")
    assert (groove.folder / "notes.json").read_text() == "my own notes"


def test_the_plot_and_the_page(groove: Command, monkeypatch: pytest.MonkeyPatch) -> None:
    """The picture is as large as figsize times dpi of matplotlib say, and none is half written.

    The page's own is seen in tests/take.
    """
    rendered(groove)
    monkeypatch.setattr("groove.take.report_html.plot_svg", lambda report: "<svg></svg>")
    write_take(groove, "take.mid", strays(8, 12))
    words = ("take", "song.txt", "take.mid", "--tight", "-o")
    for name in ("plot.png", "page.html"):
        said = groove(*words, name)
        assert (said.code, said.out, said.err) == (0, "", f"wrote {name}\n")
    with Image.open(groove.folder / "plot.png") as picture:
        assert picture.size == (1350, 540)
        assert len(picture.convert("RGB").getcolors(100_000) or ()) > 20
    html = (groove.folder / "page.html").read_text("utf-8")
    assert "<svg></svg>" in html and "What held" in html and "groove render" in html


def test_a_line_of_ones_own_is_judged_by_the_grid(groove: Command) -> None:
    """The tool's line with other pitches and half of its notes: the same time, nothing unheard."""
    rendered(groove)
    hand = strays(10, 8)
    write_take(groove, "take.mid", lambda i, sec: hand(i, sec) if i % 5 in (0, 2, 3) else None)
    data = data_of(groove("take", "song.txt", "take.mid", "--free-line", "--json"))
    assert data["sd_ms"] == pytest.approx(8, abs=2.5)
    assert data["missed"] == data["extra"] == data["wrong_pitch"] == []
    assert data["tempo_bpm"] == pytest.approx(96, abs=0.3)


RENDERED = ("--seed", "7", "--feel", "soul", "--vary", "much", "--key", "A", "--tempo", "90%")


def test_options_are_read_from_the_file_that_was_rendered(groove: Command) -> None:
    """A text event at the head, as RP-001 has it for what describes a file, tells them."""
    groove.write("song.txt", SONG)
    assert groove("render", "song.txt", "-o", "band.mid", *RENDERED).code == 0
    said = groove("render", "song.txt", "-o", "part.mid", "--only", "bass", *RENDERED)
    assert said.code == 0
    texts = [
        m.text for m in mido.MidiFile(str(groove.folder / "band.mid")).tracks[0] if m.type == "text"
    ]
    assert texts == ["groove render --tempo 90% --feel soul --vary much --key A --seed 7"]
    write_take(groove, "take.mid", strays(11, 5))
    plain = groove("take", "song.txt", "take.mid", "--json")
    assert plain.code == 2 or data_of(plain)["missed"]
    data = data_of(groove("take", "song.txt", "take.mid", "--as-rendered", "band.mid", "--json"))
    assert data["missed"] == data["extra"] == data["wrong_pitch"] == []
    assert data["sd_ms"] == pytest.approx(5, abs=1.5)
    text = groove("take", "song.txt", "take.mid", "--as-rendered", "band.mid").out
    assert "--feel soul" in text and "--seed 7" in text  # in what comes next


def test_what_is_given_stands_above_the_file(groove: Command) -> None:
    groove.write("song.txt", SONG)
    words = ("--bars", "3-4", "--times", "3", "--seed", "4", "--tight")
    assert groove("render", "song.txt", "-o", "part.mid", "--only", "bass", *words).code == 0
    data = data_of(groove("take", "song.txt", "part.mid", "--as-rendered", "part.mid", "--json"))
    assert len(data["passes"]) == 3
    assert data["sd_ms"] == pytest.approx(0, abs=0.1)
    above = ("--as-rendered", "part.mid", "--times", "2", "--json")
    assert len(data_of(groove("take", "song.txt", "part.mid", *above))["passes"]) == 2


def remarked(groove: Command, name: str, remark: str) -> None:
    """Write a MIDI file that begins with a text."""
    track = mido.MidiTrack([mido.MetaMessage("text", text=remark)] if remark else [])
    mido.MidiFile(tracks=[track]).save(str(groove.folder / name))


def test_a_file_that_does_not_tell_is_one_error(groove: Command) -> None:
    rendered(groove)
    for remark, told in (
        ("", "x.mid does not tell how it was rendered"),
        ("by hand", "x.mid does not tell how it was rendered"),
        ("groove render --seed", "does not tell clearly how it was rendered: found --seed"),
        ("groove render --seed much", "clearly how it was rendered: found --seed much"),
        ("groove render --times 99999999", "clearly how it was rendered: found --times 99999999"),
        ("groove render --loud yes", "clearly how it was rendered: found --loud"),
        ("groove render 'a", "clearly how it was rendered: found groove render 'a"),
    ):
        remarked(groove, "x.mid", remark)
        said = groove("take", "song.txt", "part.mid", "--as-rendered", "x.mid")
        assert (said.code, said.out) == (2, "")
        assert told in said.err.splitlines()[0]
        assert len(said.err.splitlines()) == 2
    said = groove("take", "part.mid", "part.mid", "--as-rendered", "part.mid")
    assert said.err.startswith("--as-rendered is for a chart")
    (groove.folder / "x.mid").write_text("no music")
    said = groove("take", "song.txt", "part.mid", "--as-rendered", "x.mid")
    assert (said.code, said.err.split(":")[0]) == (2, "x.mid")


def odd_midi(groove: Command) -> dict[str, bytes]:
    """Return MIDI takes that are not as ours, by name, made of the part."""
    data = (groove.folder / "part.mid").read_bytes()
    part = mido.MidiFile(file=BytesIO(data))
    merged = mido.MidiFile(
        type=0, ticks_per_beat=part.ticks_per_beat, tracks=[mido.merge_tracks(part.tracks)]
    )
    coarse = mido.MidiFile(
        ticks_per_beat=48,
        tracks=[
            mido.MidiTrack(m.copy(time=round(m.time * 48 / part.ticks_per_beat)) for m in track)
            for track in part.tracks
        ],
    )
    drums = mido.MidiFile(
        tracks=[mido.MidiTrack([mido.Message("note_on", channel=9, note=38, time=99)] * 9)]
    )
    files = {"one-track": merged, "coarse": coarse, "drums": drums, "empty": mido.MidiFile()}
    odd = {"cut": data[: len(data) // 2], "frames": data[:12] + b"\xe7\x28" + data[14:]}
    for name, file in files.items():
        written = BytesIO()
        file.save(file=written)
        odd[name] = written.getvalue()
    return odd


def test_odd_midi_takes_are_read_or_one_error(groove: Command) -> None:
    """Format 0 and 48 ticks a quarter are read; what has no bass or no end is not.

    Standard MIDI Files 1.0: a division whose highest bit is set counts frames of time code.
    """
    rendered(groove)
    odd = odd_midi(groove)
    for name, data in odd.items():
        (groove.folder / f"{name}.mid").write_bytes(data)
    for name in ("one-track", "coarse"):
        data = data_of(groove("take", "part.mid", f"{name}.mid", "--json"))
        assert data["missed"] == data["extra"] == []
        # A tick of the coarse file is 60 / 96 / 48 s.
        assert data["sd_ms"] < 1000 * 60 / 96 / 48
    for name, told in (
        ("drums", "drums.mid has no notes but drums"),
        ("empty", "empty.mid"),
        ("cut", "cut.mid: MIDI file, track "),
        ("frames", "frames.mid: MIDI file, header, byte 14: division "),
    ):
        said = groove("take", "part.mid", f"{name}.mid")
        assert (said.code, said.out) == (2, "")
        assert said.err.startswith(told)
        assert "Traceback" not in said.err
