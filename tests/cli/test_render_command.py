"""``groove render`` as a player uses it: which files come, what they hold, what is refused."""

import io
import struct
from pathlib import Path

import mido
import mutagen.id3
import numpy
import pytest
import soundfile

from groove.text.summary import render_text
from tests.cli.command import Command
from tests.click_font import EVERY_PRESET, click_font

SONG = """title: Small Song
tempo: 120
key: D
feel: straight eighths
verse:
| D | G | A | D |
chorus:
| G | A | D | D |
"""


@pytest.fixture
def clicks(groove: Command) -> Command:
    """The song, played by clicks: where nobody listens to the sound of an instrument."""
    groove.write("song.txt", SONG)
    (groove.folder / "click.sf2").write_bytes(click_font(EVERY_PRESET))
    groove.monkeypatch.setenv("GROOVE_SOUNDFONT", "click.sf2")
    return groove


def tracks(path: Path) -> dict[str, list[mido.Message]]:
    """Return the notes of each track of a MIDI file, read by mido."""
    file = mido.MidiFile(file=io.BytesIO(path.read_bytes()))
    return {
        track.name: [m for m in track if m.type == "note_on" and m.velocity]
        for track in file.tracks
    }


def test_without_an_output_the_midi_stands_beside_the_chart(groove: Command) -> None:
    groove.write("song.txt", SONG)
    said = groove("render", "song.txt")
    assert said.code == 0
    assert said.out == ""
    assert "Small Song: 8 bars" in said.err
    assert groove.files() == {"song.txt", "song.mid"}
    found = tracks(groove.folder / "song.mid")
    assert {"bass", "drums", "keys"} <= {name.casefold() for name, notes in found.items() if notes}
    channels = {m.channel + 1 for notes in found.values() for m in notes}
    assert channels == {2, 3, 10}


def test_the_bass_is_left_out(groove: Command) -> None:
    groove.write("song.txt", SONG)
    assert groove("render", "song.txt", "-o", "band.mid", "--without", "bass").code == 0
    found = tracks(groove.folder / "band.mid")
    assert {m.channel + 1 for notes in found.values() for m in notes} == {3, 10}
    assert groove("render", "song.txt", "-o", "drums.mid", "--only", "drums").code == 0
    found = tracks(groove.folder / "drums.mid")
    assert {m.channel + 1 for notes in found.values() for m in notes} == {10}


def test_several_outputs_and_stems(clicks: Command) -> None:
    said = clicks(
        *("render", "song.txt", "-o", "a.mid", "-o", "a.wav", "-o", "a.flac"),
        *("--stems", "--bars", "1-2", "--json"),
    )
    assert said.code == 0
    stems = {
        f"a-{part}.{kind}" for part in ("bass", "drums", "keys") for kind in ("mid", "wav", "flac")
    }
    stems |= {f"a-click.{kind}" for kind in ("wav", "flac")}
    assert clicks.files() == {"song.txt", "click.sf2", "a.mid", "a.wav", "a.flac"} | stems
    (summary,) = said.json
    assert summary["format"] == 1
    assert summary["bars"] == 2
    assert summary["tempo_bpm"] == 120
    assert set(summary["files"]) == clicks.files() - {"song.txt", "click.sf2"}
    assert summary["loudness_lufs"] <= -15.5
    assert summary["true_peak_dbtp"] <= -1.0 + 0.05


def test_the_mix_is_the_sum_of_its_stems_and_without_bass_is_the_mix_less_the_bass(
    clicks: Command,
) -> None:
    args = ("--bars", "1-2", "--no-count-in")
    assert clicks("render", "song.txt", "-o", "a.wav", "--stems", *args).code == 0
    said = clicks("render", "song.txt", "-o", "b.wav", "--without", "bass", *args)
    assert said.code == 0 and "full mix, bass too, at -" in said.err
    read = {name: soundfile.read(clicks.folder / name)[0] for name in ("a.wav", "b.wav")}
    stems = {p: soundfile.read(clicks.folder / f"a-{p}.wav")[0] for p in ("bass", "drums", "keys")}
    step = 1 / 32768
    assert numpy.abs(sum(stems.values()) - read["a.wav"]).max() <= 2.01 * step
    assert numpy.abs(read["a.wav"] - stems["bass"] - read["b.wav"]).max() <= 2.01 * step
    assert numpy.abs(stems["bass"]).max() > 0.01


def test_audio_has_a_count_in_and_midi_has_none_unless_asked(clicks: Command) -> None:
    plain = clicks("render", "song.txt", "-o", "a.wav", "--bars", "1-2")
    without = clicks("render", "song.txt", "-o", "b.wav", "--bars", "1-2", "--no-count-in")
    assert plain.code == without.code == 0
    lengths = [soundfile.info(clicks.folder / name).duration for name in ("a.wav", "b.wav")]
    # One bar of 4/4 at 120 is two seconds.
    assert lengths[0] - lengths[1] == pytest.approx(2.0, abs=0.01)
    for name, option in (("c.mid", ()), ("d.mid", ("--count-in",))):
        assert clicks("render", "song.txt", "-o", name, *option).code == 0
    counts = [
        sum(
            m.note == 37 and m.channel == 9
            for n in tracks(clicks.folder / name).values()
            for m in n
        )
        for name in ("c.mid", "d.mid")
    ]
    assert counts == [0, 4]


def test_tempo_key_and_feel_options(groove: Command) -> None:
    groove.write("song.txt", SONG)
    (slow,) = groove("render", "song.txt", "-o", "a.mid", "--tempo", "50%", "--json").json
    assert slow["tempo_bpm"] == 60
    (fast,) = groove("render", "song.txt", "-o", "b.mid", "--tempo", "144", "--json").json
    assert fast["tempo_bpm"] == 144
    groove("render", "song.txt", "-o", "c.mid", "--key", "E", "--tight")
    bass = next(
        notes
        for name, notes in tracks(groove.folder / "c.mid").items()
        if name.casefold() == "bass"
    )
    assert bass[0].note % 12 == 4
    assert groove("render", "song.txt", "-o", "d.mid", "--feel", "octaves").code == 0
    assert tracks(groove.folder / "d.mid") != tracks(groove.folder / "a.mid")


def test_sections_bars_and_times(groove: Command) -> None:
    groove.write("song.txt", SONG)
    (cut,) = groove("render", "song.txt", "-o", "a.mid", "--sections", "Chorus", "--json").json
    assert cut["bars"] == 4
    (loop,) = groove(
        "render", "song.txt", "-o", "b.mid", "--bars", "3-4", "--times", "3", "--json"
    ).json
    assert loop["bars"] == 6
    end = mido.MidiFile(groove.folder / "b.mid").length
    assert end == pytest.approx(12.0, abs=0.2)  # six bars of two seconds


def test_many_charts_into_a_folder(groove: Command) -> None:
    for name in ("one", "two", "three"):
        groove.write(f"{name}.txt", SONG)
    said = groove(
        "render", "one.txt", "two.txt", "three.txt", "-o", "out/", "--as", "mid", "--json"
    )
    assert said.code == 0
    assert [row["chart"] for row in said.json] == ["one.txt", "two.txt", "three.txt"]
    assert {"out/one.mid", "out/two.mid", "out/three.mid"} <= groove.files()


def test_one_bad_chart_of_many_fails_in_part(groove: Command) -> None:
    groove.write("good.txt", SONG)
    groove.write("bad.txt", "verse:\n| Q |\n")
    said = groove("render", "good.txt", "bad.txt", "-o", "out/", "--json")
    assert said.code == 1
    good, bad = said.json
    assert good["files"] == ["out/good.mid"]
    assert bad["error"]["line"] == 2
    assert bad["error"]["column"] == 3
    assert groove.files() == {"good.txt", "bad.txt", "out/good.mid"}


def test_a_chart_from_standard_input(groove: Command, monkeypatch: pytest.MonkeyPatch) -> None:
    stdin = io.TextIOWrapper(io.BytesIO(SONG.encode()))
    monkeypatch.setattr("sys.stdin", stdin)
    assert groove("render", "-", "-o", "x.mid").code == 0
    assert groove.files() == {"x.mid"}


BAD = [
    (("render", "song.txt", "-o", "a.xyz"), "cannot write a .xyz"),
    (("render", "song.txt", "-o", "song.txt"), "cannot write a .txt"),
    (("render", "song.txt", "--tempo", "fast"), "--tempo cannot be"),
    (("render", "song.txt", "--tempo", "999"), "tempo comes to"),
    (("render", "song.txt", "--tempo", "0"), "--tempo cannot be"),
    (("render", "song.txt", "--key", "H"), "--key cannot be"),
    (("render", "song.txt", "--feel", "sixtenths"), "nearest: sixteenths"),
    (("render", "song.txt", "--sections", "chrous"), "nearest: chorus"),
    (("render", "song.txt", "--bars", "90-99"), "expected bars from 1 to 8"),
    (("render", "song.txt", "--bars", "5-2"), "--bars cannot be"),
    (("render", "song.txt", "--without", "base"), "nearest: bass"),
    (("render", "song.txt", "--without", "bass,drums,keys"), "no part is left"),
    (("render", "song.txt", "--without", "bass", "--only", "bass"), "exclude each other"),
    (("render", "song.txt", "--times", "0"), "--times cannot be 0"),
    (("render", "song.txt", "song.txt", "-o", "a.mid"), "for 2 charts"),
    (("render", "song.txt", "-o", "a.mid", "--as", "wav"), "--as goes with a folder"),
    (("render", "none.txt"), "cannot read none.txt"),
    (("render", "sogn.txt"), "nearest: song.txt"),
    (("render", "song.txt", "--seed", "x"), "--seed cannot be 'x'\n  expected a whole number"),
    (("render", "song.txt", "--loudness", "loud"), "expected a number"),
    (
        ("render", "song.txt", "--jobs", "0"),
        "--jobs cannot be 0\n  expected a whole number from 1 to 64",
    ),
    (("render", "song.txt", "--fel", "soul"), "--feel"),
    (("render", "song.txt", "-o", "a.mid", "--tempo", "70", "%"), "no chart called '%'"),
    (("render", "song.txt", "-o", "a.mid", "--count-in", "2"), "--count-in takes no value"),
    (("render",), "missing argument"),
    (("tab", "song.txt", "-o", "tab.pdf"), "groove sheet --staves tab"),
    (("tab", "song.txt", "-o", "no/tab.txt"), "there is no folder no"),
    (("tab", "song.txt", "-o", "song.txt"), "written over a chart"),
    (("card", "song.txt", "-o", "song.txt"), "written over a chart"),
    (("rendr", "song.txt"), "render"),
    (("render", "."), "its charts are: song.txt"),
    (("render", "song.txt", "-o", "nowhere/a.mid"), "there is no folder"),
    (("render", "song.txt", "--patterns", "nowhere"), "nowhere"),
    (("render", "song.txt", "-o", "a.wav", "--soundfont", "none.sf2"), "none.sf2"),
]


@pytest.mark.parametrize(("arguments", "message"), BAD, ids=lambda value: str(value)[:60])
def test_bad_requests_get_one_clear_error(
    groove: Command, arguments: tuple[str, ...], message: str
) -> None:
    groove.write("song.txt", SONG)
    said = groove(*arguments)
    assert said.code == 2
    assert message in said.err
    assert "Traceback" not in said.err
    kept = {"song.txt", "a.mid"} if "--soundfont" in arguments else {"song.txt"}
    assert groove.files() == kept
    assert (groove.folder / "song.txt").read_text(encoding="utf-8") == SONG


def test_a_broken_soundfont_leaves_the_midi(groove: Command) -> None:
    groove.write("song.txt", SONG)
    groove.write("broken.sf2", "this is no soundfont")
    said = groove("render", "song.txt", "-o", "a.wav", "--soundfont", "broken.sf2")
    assert said.code == 2
    assert "broken.sf2" in said.err
    assert "the MIDI is in a.mid" in said.err
    assert tracks(groove.folder / "a.mid")


@pytest.mark.parametrize(
    ("head", "kind"),
    # The first bytes of ISO 32000 files, of Standard MIDI Files 1.0, and of zip archives.
    [
        (b"%PDF-1.7\n\xe2\xe3", "a PDF"),
        (b"MThd\0\0\0\x06\xff", "a MIDI file"),
        (b"PK\3\4\xff", "zip"),
    ],
)
def test_a_file_of_another_kind_is_named(groove: Command, head: bytes, kind: str) -> None:
    (groove.folder / "song.txt").write_bytes(head)
    said = groove("render", "song.txt")
    assert said.code == 2 and kind in said.err and "plain text" in said.err


def test_two_charts_of_one_name_are_refused(groove: Command) -> None:
    (groove.folder / "x").mkdir()
    groove.write("song.txt", SONG)
    groove.write("x/song.txt", SONG)
    for command in ("render", "sheet"):
        said = groove(command, "song.txt", "x/song.txt", "-o", "out/")
        assert said.code == 2
        assert "would be written over" in said.err


def test_an_unknown_feel_in_a_chart_points_into_it(groove: Command) -> None:
    groove.write("song.txt", SONG.replace("straight eighths", "strait eights"))
    said = groove("render", "song.txt")
    assert said.code == 2
    assert "song.txt:4:7" in said.err
    assert "nearest: straight eighths" in said.err


def test_a_players_own_cell_stands_above_the_shipped_one(groove: Command) -> None:
    (groove.folder / "mine" / "bass").mkdir(parents=True)
    groove.write(
        "mine/bass/straight.toml",
        'format = 1\nname = "straight eighths"\nsummary = "one note"\nmeter = "4/4"\n'
        'slots_per_beat = 1\nsteps = "R - - -"\nlevels = "9 . . ."\n',
    )
    groove.write("song.txt", SONG)
    assert groove("render", "song.txt", "--patterns", "mine").code == 0
    bass = next(
        n for name, n in tracks(groove.folder / "song.mid").items() if name.casefold() == "bass"
    )
    assert len(bass) <= 12


def test_a_bad_cell_gives_file_path_and_expectation(groove: Command) -> None:
    (groove.folder / "mine" / "bass").mkdir(parents=True)
    groove.write(
        "mine/bass/bad.toml",
        'format = 1\nname = "bad"\nsummary = ""\nmeter = "4/4"\nslots_per_beat = 1\n'
        'steps = "R - Q -"\nlevels = "9 . 7 ."\n',
    )
    groove.write("song.txt", SONG)
    said = groove("render", "song.txt", "--patterns", "mine")
    assert said.code == 2
    assert "bad.toml" in said.err
    assert "slot 3" in said.err
    assert "'Q'" in said.err


def test_an_older_file_is_said_to_be_replaced(groove: Command) -> None:
    groove.write("song.txt", SONG)
    assert "in place of an older one" not in groove("render", "song.txt").err
    assert "song.mid, in place of an older one" in groove("render", "song.txt").err


def test_the_caution_comes_with_sound_only(clicks: Command) -> None:
    assert "start quietly" in clicks("render", "song.txt", "-o", "a.wav", "--bars", "1").err
    assert "start quietly" not in clicks("render", "song.txt", "-o", "b.mid").err
    failed = clicks("render", "song.txt", "-o", "c.wav", "--soundfont", "none.sf2")
    assert "start quietly" not in failed.err


def read(path: Path) -> tuple[numpy.ndarray, int]:
    """Return the samples of a file of sound and how many there are a second."""
    samples, rate = soundfile.read(path, dtype="float32", always_2d=True)
    return samples, rate


def test_a_loop_has_no_count_in_and_ends_on_its_bar_line(clicks: Command) -> None:
    assert clicks("render", "song.txt", "-o", "a.wav", "--bars", "2-3", "--loop").code == 0
    samples, rate = read(clicks.folder / "a.wav")
    assert len(samples) == 8 * rate // 2  # eight beats at 120
    # So its sections are marked from its own beginning: a chunk of cue points (the standard
    # is named in test_sound_tags) has their number, then an identifier and the frame of the first.
    data = (clicks.folder / "a.wav").read_bytes()
    cue = data.index(b"cue ", 44 + 4 * len(samples)) + 8
    assert struct.unpack("<III", data[cue : cue + 12]) == (1, 1, 0)
    assert numpy.abs(samples[:100]).max() > 0.01  # it begins with a stroke
    said = clicks("render", "song.txt", "-o", "b.wav", "--loop", "--count-in")
    assert said.code == 2
    assert "--loop with --count-in" in said.err
    assert clicks.files() == {"song.txt", "click.sf2", "a.wav"}


def test_a_piece_of_three_times_is_as_long_as_its_bars(clicks: Command) -> None:
    """From three times on the sound is made of one pass; before, of the whole."""
    lengths = []
    for times in ("2", "3"):
        words = ("--bars", "2", "--tempo", "240", "--times", times, "--stems")
        clicks("render", "song.txt", "-o", "a.wav", *words)
        samples, rate = read(clicks.folder / "a.wav")
        lengths.append(len(samples) / rate)
        stems = [read(clicks.folder / f"a-{part}.wav")[0] for part in ("bass", "drums", "keys")]
        click = read(clicks.folder / "a-click.wav")[0]
        assert numpy.abs(sum(stems) + click - samples).max() < 4 / 32_768
    assert lengths[1] - lengths[0] == pytest.approx(1.0, abs=0.005)


def test_a_limiter_reaches_the_loudness_and_is_told(groove: Command) -> None:
    """Loudness and peak as pyloudnorm and soundfile read them from the file."""
    import pyloudnorm  # it loads scipy.signal: two seconds in every process that collects

    groove.write("song.txt", SONG.replace("straight eighths", "sixteenths"))
    options = ("--loudness", "-14", "--ceiling", "-2", "--bars", "1-2", "--no-count-in")
    (plain,) = groove("render", "song.txt", "-o", "a.wav", *options, "--json").json
    assert plain["ceiling_bound"]
    limit = ("--limit", "--stems", "--json")
    (told,) = groove("render", "song.txt", "-o", "b.wav", *options, *limit).json
    assert "the loudest moments turned down by up to" in render_text(told)
    samples, rate = read(groove.folder / "b.wav")
    loudness = pyloudnorm.Meter(rate, filter_class="DeMan").integrated_loudness(samples)
    assert loudness == pytest.approx(-14, abs=0.15)
    assert numpy.abs(samples).max() <= 10 ** (-2 / 20)
    # What one gain cannot give is more than nothing and no more than the limiter's six decibels.
    assert plain["loudness_lufs"] < -14.5 and 0.5 < told["limited_db"] <= 6.0
    assert 0 < told["limited_share"] < 1
    stems = [read(path)[0] for path in groove.folder.glob("b-*.wav")]
    assert numpy.abs(sum(stems) - samples).max() < 4 / 32_768


@pytest.mark.parametrize("suffix", ["mp3", "ogg"])
def test_a_coded_file_keeps_under_the_ceiling_as_decoded(groove: Command, suffix: str) -> None:
    """True peak of the decoded file by an FFT, eight times the rate; silence after it adds none."""
    groove.write("song.txt", SONG.replace("straight eighths", "sixteenths"))
    options = ("--loudness", "-6", "--ceiling", "-3", "--bars", "1", "--no-count-in", "--json")
    (summary,) = groove("render", "song.txt", "-o", f"a.{suffix}", *options).json
    samples, _ = read(groove.folder / f"a.{suffix}")
    length = 1 << len(samples).bit_length()
    spectrum = numpy.fft.rfft(samples, length, axis=0)
    more = numpy.fft.irfft(spectrum, 8 * length, axis=0) * 8
    peak = 20 * numpy.log10(numpy.abs(more).max())
    assert -3.7 < peak <= -2.98
    assert 0 < summary["lowered_db"][f"a.{suffix}"] < 1


def test_bits_and_rate_are_the_players_to_choose(clicks: Command) -> None:
    said = clicks(
        *("render", "song.txt", "-o", "a.wav", "-o", "a.flac", "--bars", "1"),
        *("--bits", "24", "--rate", "48000"),
    )
    assert said.code == 0
    for name in ("a.wav", "a.flac"):
        info = soundfile.info(clicks.folder / name)
        assert (info.samplerate, info.subtype) == (48_000, "PCM_24")
    said = clicks("render", "song.txt", "-o", "b.mid", "-o", "b.mp3", "--bits", "24")
    assert said.code == 2
    assert clicks.files() == {"song.txt", "click.sf2", "a.wav", "a.flac"}


def test_the_sections_of_a_song_stand_in_its_file(clicks: Command) -> None:
    clicks("render", "song.txt", "-o", "a.mp3", "--bars", "4-5")
    tag = mutagen.id3.ID3(clicks.folder / "a.mp3")
    assert tag["TIT2"].text == ["Small Song"]
    chapters = [(c.start_time, c.sub_frames["TIT2"].text[0]) for c in tag.getall("CHAP")]
    assert chapters == [(0, "count-in"), (2000, "verse"), (4000, "chorus")]
