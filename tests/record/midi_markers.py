"""Where the markers of a MIDI file stand in seconds, as mido counts them."""

import io

import mido


def marker_secs(data: bytes) -> list[tuple[str, float]]:
    """Return the markers of a MIDI file in seconds, as mido counts them."""
    file = mido.MidiFile(file=io.BytesIO(data))
    found, at, tempo = [], 0.0, 500_000
    for event in mido.merge_tracks(file.tracks):
        at += mido.tick2second(event.time, file.ticks_per_beat, tempo)
        if event.type == "set_tempo":
            tempo = event.tempo
        if event.type == "marker":
            found.append((event.text, at))
    return found
