"""What comes out of the page's own graph of sound, beside the rendering of the same bars.

The judge is the rendering: FluidSynth's stems of the same notes, which the page's scripts know
nothing of.  Levels are read by pyloudnorm (ITU-R BS.1770-4), sides and ends as root mean squares.
"""

import base64

import numpy
from msgspec import structs
from numpy.typing import NDArray

from groove.cells.model import Library
from groove.chart.parse import parse_chart
from groove.events import Part, Performance
from groove.io.midi import midi_bytes
from groove.io.soundfont import choose_soundfont
from groove.io.synth import audio_samples
from groove.pipeline import perform_song
from groove.timing import TempoChange, TempoMap
from tests.page.conftest import Made, Open, Opened

Samples = NDArray[numpy.float32]

STRUCK = """title: Struck
tempo: 88
feel: sixteenths
fills: none
verse:
| D | G/B | Em7 | A7 |
"""
HELD = """title: Held
tempo: 60
feel: long notes
verse:
| D |
"""
RATE = 44_100
WITHIN_DB = 0.5
BOTH_FALL_DB = 1.0
SLOWEST = 0.4
PARTS = (Part.BASS, Part.DRUMS, Part.KEYS)

THROUGH_THE_GRAPH = """
async ({ on, share, loop, rate }) => {
  const { page, song } = practicePage;
  const tick = (id, wanted) => {
    const box = document.getElementById(id);
    if (box.checked !== wanted) box.click();
  };
  for (const part of ["bass", "drums", "keys", "click"]) tick(`${part}-on`, part === on);
  const [first, last] = [song.bars[loop[0]].start, song.bars[loop[1]].end];
  const begins = 0.25;
  const frames = Math.ceil((begins + (last - first) / share) * rate);
  const context = new OfflineAudioContext(2, frames, rate);
  const usual = window.AudioContext;
  window.AudioContext = function () { return context; };
  page.mixer = page.player = null;
  page.makeSound();
  window.AudioContext = usual;
  const { player } = page;
  // The page must not find a device that does not run.
  page.mixer = page.player = null;
  player.wishes = { ...player.wishes, share, loop, countsIn: false };
  player.start(begins, first);
  player.pump(begins + (last - first) / share);
  const played = await context.startRendering();
  return [0, 1].map((channel) => {
    const bytes = new Uint8Array(played.getChannelData(channel).buffer);
    const pieces = [];
    for (let at = 0; at < bytes.length; at += 32768) {
      pieces.push(String.fromCharCode(...bytes.subarray(at, at + 32768)));
    }
    return btoa(pieces.join(""));
  });
}
"""


def page_sound(opened: Opened, part: Part, loop: tuple[int, int], share: float = 1.0) -> Samples:
    """What the page's graph gives of one part of some bars, of shape (frames, 2)."""
    asked = {"on": part.value, "share": share, "loop": loop, "rate": RATE}
    channels = opened.run(THROUGH_THE_GRAPH, asked)
    whole = [numpy.frombuffer(base64.b64decode(each), numpy.float32) for each in channels]
    return numpy.stack(whole, axis=1)[int(0.25 * RATE) :]


def stems(performance: Performance) -> dict[Part, Samples]:
    """The stems of the rendering, without what rings after the end."""
    rendered = audio_samples(
        performance,
        font=choose_soundfont(None, {}, None).path,
        part_midi=lambda part: midi_bytes(performance, parts=(part,)),
        sample_rate=RATE,
    )
    frames = int(performance.length_sec * RATE)
    return {part: stem[:frames] for part, stem in rendered.stems.items()}


def loudness(samples: Samples) -> float:
    """Integrated loudness in LUFS."""
    import pyloudnorm  # it loads scipy.signal: two seconds in every process that collects

    return float(pyloudnorm.Meter(RATE).integrated_loudness(samples.astype(numpy.float64)))


def decibels(samples: Samples) -> float:
    """The root mean square in dB."""
    return float(10 * numpy.log10(numpy.square(samples, dtype=numpy.float64).mean() + 1e-15))


def lean(samples: Samples) -> float:
    """How much louder left is than right, in dB."""
    return decibels(samples[:, 0]) - decibels(samples[:, 1])


def test_the_parts_stand_to_each_other_as_in_the_rendering(
    open_page: Open, make_page: Made, library: Library
) -> None:
    opened = open_page(make_page("struck", STRUCK, listens=True, in_one_key=True))
    song = perform_song(parse_chart(STRUCK), library)
    rendered = stems(song)
    paged = {part: page_sound(opened, part, (0, len(song.bars) - 1)) for part in PARTS}
    over = {part: loudness(paged[part]) - loudness(rendered[part]) for part in PARTS}
    leans = {part: (lean(paged[part]), lean(rendered[part])) for part in PARTS}
    assert max(over.values()) - min(over.values()) <= WITHIN_DB
    assert all(abs(page - wanted) <= WITHIN_DB for page, wanted in leans.values())
    # The keys lean, so that sides are compared at all.
    assert abs(leans[Part.KEYS][1]) > WITHIN_DB


def test_a_held_note_at_the_slowest_tempo_sounds_to_its_end(
    open_page: Open, make_page: Made, library: Library
) -> None:
    opened = open_page(make_page("held", HELD, listens=True, in_one_key=True))
    song = perform_song(parse_chart(HELD), library)
    slow = TempoMap(
        tuple(TempoChange(c.tick, round(c.microseconds / SLOWEST)) for c in song.tempo_map.changes)
    )
    song = structs.replace(song, tempo_map=slow)
    rendered = stems(song)
    compared = 0
    for part in (Part.BASS, Part.KEYS):
        paged = page_sound(opened, part, (0, 0), SLOWEST)
        held = max(song.part_notes(part), key=lambda note: note.length_ticks)
        begins, ends = (round(slow.tick_to_sec(t) * RATE) for t in (held.onset_tick, held.end_tick))
        # Ten seconds a bar: longer than a sample at the song's own tempo would be.
        assert ends - begins > 8 * RATE
        tenths = [begins + tenth * (ends - begins) // 10 for tenth in range(1, 10)]
        fallen = [
            [decibels(each[at : at + RATE // 4]) for at in tenths]
            for each in (paged, rendered[part])
        ]
        for page, wanted in zip(*fallen, strict=True):
            # As it dies away in the rendering, measured from its first tenth on.
            assert abs((page - fallen[0][0]) - (wanted - fallen[1][0])) <= BOTH_FALL_DB, part
            compared += 1
    assert compared == 18
