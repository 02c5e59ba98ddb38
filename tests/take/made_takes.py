"""Takes whose every onset is known to the sample, and what can befall a recording of them.

A take is made in two steps: who plays what when (``PlayerSettings``, drawn from one seed), and
how it is recorded (``RoomSettings``).  Every note is a cached sound added at its exact sample, so
that a minute of a take is made in some hundredths of a second.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from random import Random

import numpy

from tests.take.bass_sounds import (
    SAMPLE_RATE_HZ,
    FontSound,
    Samples,
    Sound,
    StringSound,
    drum_stroke,
    faded,
    ghost_note,
    plain_note,
    slurred_note,
)

LEAD_IN_SEC = 1.0
_FADE_SEC = 0.015
_KICK, _SNARE, _HAT = 36, 38, 42  # General MIDI percussion keys


@dataclass(frozen=True, kw_only=True)
class WantedNote:
    """A note of the reference: when it is due, in seconds from the song's first beat."""

    due_sec: float
    length_sec: float
    pitch: int
    velocity: int
    slot: int
    is_ghost: bool = False
    is_slurred: bool = False


@dataclass(frozen=True, kw_only=True)
class PlayedNote:
    """A note as it was played; ``wanted`` is its number in the reference, None for an extra."""

    onset_sec: float
    length_sec: float
    pitch: int
    velocity: int
    wanted: int | None
    is_ghost: bool = False
    is_slurred: bool = False


@dataclass(frozen=True, kw_only=True)
class PlayerSettings:
    """How the player plays; every draw is from ``seed``.

    ``jitter_ms`` is the spread (SD) of single notes, ``late_ms`` added to all, ``slot_bias_ms``
    added to the notes of a slot; ``drift_bpm_per_min`` changes the tempo evenly; the shares are
    of all notes.
    """

    seed: int
    jitter_ms: float = 8.0
    late_ms: float = 0.0
    slot_bias_ms: dict[int, float] = field(default_factory=dict)
    drift_bpm_per_min: float = 0.0
    missed_share: float = 0.0
    extra_share: float = 0.0
    wrong_share: float = 0.0


@dataclass(frozen=True, kw_only=True)
class RoomSettings:
    """How the take is recorded; levels in dB under the RMS of the bass, None for none."""

    seed: int = 0
    noise_db: float | None = None
    hum_db: float | None = None
    room_sec: float | None = None
    room_db: float = -12.0
    level_swing_db: float = 0.0
    drums_db: float | None = None


@dataclass(frozen=True, kw_only=True, eq=False)
class MadeTake:
    """A recording and the truth about it; ``samples`` are mono at ``SAMPLE_RATE_HZ``."""

    samples: Samples
    wanted: tuple[WantedNote, ...]
    played: tuple[PlayedNote, ...]
    tempo_bpm: float
    start_sec: float


CLEAN = RoomSettings()
CONDITIONS = {
    "clean": RoomSettings(),
    "level": RoomSettings(level_swing_db=12.0),
    "room": RoomSettings(room_sec=0.5),
    "hum": RoomSettings(hum_db=-20.0),
    "noise -30": RoomSettings(noise_db=-30.0),
    "noise -20": RoomSettings(noise_db=-20.0),
    "drums -20": RoomSettings(drums_db=-20.0),
    "all": RoomSettings(
        noise_db=-30.0, hum_db=-26.0, room_sec=0.4, level_swing_db=8.0, drums_db=-20.0
    ),
}
"""The columns in which detection is judged."""


def made_line(seed: int, *, bars: int, tempo_bpm: float) -> tuple[WantedNote, ...]:
    """Return a line of sixteenths drawn from a seed: plucked, slurred and ghost notes and rests.

    Bars of 4/4 over roots drawn anew; a bar's rhythm comes back every second bar.
    """
    rng = Random(f"line {seed}")
    slot_sec = 60 / tempo_bpm / 4
    density = rng.choice((0.35, 0.5, 0.65))
    rhythms = [_rhythm(rng, density) for _ in range(2)]
    root = rng.randrange(28, 41)
    notes: list[WantedNote] = []
    for bar in range(bars):
        if rng.random() < 0.5:
            root = rng.randrange(28, 41)
        rhythm = rhythms[bar % 2]
        for place, (slot, kind) in enumerate(rhythm):
            end = rhythm[place + 1][0] if place + 1 < len(rhythm) else 16
            pitch = root + (0 if slot == 0 else rng.choice((0, 0, 7, 12, 10, 5, 3)))
            is_ghost, is_slurred = kind == "ghost", kind == "slur"
            if is_ghost and notes:
                pitch = notes[-1].pitch
            if is_slurred and notes and abs(pitch - notes[-1].pitch) not in (1, 2, 3, 4):
                pitch = notes[-1].pitch + 2
            notes.append(
                WantedNote(
                    due_sec=(bar * 16 + slot) * slot_sec,
                    length_sec=min(end - slot, rng.choice((1, 2, 2, 3, 8))) * slot_sec * 0.92,
                    pitch=pitch,
                    velocity=rng.randrange(24, 42) if is_ghost else rng.randrange(70, 112),
                    slot=slot,
                    is_ghost=is_ghost,
                    is_slurred=is_slurred,
                )
            )
    return tuple(notes)


def _rhythm(rng: Random, density: float) -> list[tuple[int, str]]:
    """Return the slots of a bar that are struck, each with its kind; the first is plain."""
    rhythm = [(0, "plain")]
    for slot in range(1, 16):
        if rng.random() < density * (1.25 if slot % 4 == 0 else 0.95):
            weak = slot % 4 in (1, 3)
            kind = "ghost" if rng.random() < (0.4 if weak else 0.08) else "plain"
            after_plain = rhythm[-1] == (slot - 1, "plain") or rhythm[-1] == (slot - 2, "plain")
            if kind == "plain" and after_plain and rng.random() < 0.15:
                kind = "slur"
            rhythm.append((slot, kind))
    return rhythm


def played_line(
    wanted: Sequence[WantedNote], player: PlayerSettings, *, tempo_bpm: float
) -> tuple[PlayedNote, ...]:
    """Return what the player makes of a line, in the order of time, from the first beat on."""
    rng = Random(f"player {player.seed}")
    notes: list[PlayedNote] = []
    for number, note in enumerate(wanted):
        shift_ms = player.late_ms + player.slot_bias_ms.get(note.slot, 0.0)
        shift_ms += rng.gauss(0, player.jitter_ms)
        chance, pitch = rng.random(), note.pitch
        if chance < player.wrong_share and not note.is_ghost:
            pitch += rng.choice((-2, -1, 1, 2, 12))
        is_missed = rng.random() < player.missed_share and number > 0
        if not is_missed:
            notes.append(
                PlayedNote(
                    onset_sec=_drifted(note.due_sec, tempo_bpm, player) + shift_ms / 1000,
                    length_sec=note.length_sec,
                    pitch=pitch,
                    velocity=note.velocity,
                    wanted=number,
                    is_ghost=note.is_ghost,
                    is_slurred=note.is_slurred and bool(notes) and notes[-1].wanted == number - 1,
                )
            )
    notes += _extras(wanted, player, rng, tempo_bpm)
    notes.sort(key=lambda note: note.onset_sec)
    return tuple(_in_turn(notes))


def _drifted(due_sec: float, tempo_bpm: float, player: PlayerSettings) -> float:
    """Return when a note comes in a tempo that changes evenly: its beat is the tempo's integral."""
    rate = player.drift_bpm_per_min / 60  # beats a minute, a second
    if rate == 0:
        return due_sec
    beats = due_sec * tempo_bpm / 60
    # beats = (tempo t + rate t^2 / 2) / 60
    return float((-tempo_bpm + (tempo_bpm**2 + 120 * rate * beats) ** 0.5) / rate)


def _extras(
    wanted: Sequence[WantedNote], player: PlayerSettings, rng: Random, tempo_bpm: float
) -> list[PlayedNote]:
    """Return notes that nobody asked for, on sixteenths that are free."""
    slot_sec = 60 / tempo_bpm / 4
    taken = {round(note.due_sec / slot_sec) for note in wanted}
    free = [slot for slot in range(max(taken)) if slot not in taken]
    count = min(len(free), round(player.extra_share * len(wanted)))
    return [
        PlayedNote(
            onset_sec=_drifted(slot * slot_sec, tempo_bpm, player) + rng.gauss(0, 0.015),
            length_sec=slot_sec * 0.9,
            pitch=rng.randrange(28, 50),
            velocity=rng.randrange(55, 100),
            wanted=None,
        )
        for slot in rng.sample(free, count)
    ]


def _in_turn(notes: Sequence[PlayedNote]) -> list[PlayedNote]:
    """Return notes at least 40 ms apart: a hand strikes one string no faster than that."""
    kept: list[PlayedNote] = []
    for note in notes:
        if not kept or note.onset_sec - kept[-1].onset_sec >= 0.04:
            kept.append(note)
    return kept


def recorded(
    played: Sequence[PlayedNote],
    sound: Sound,
    room: RoomSettings = CLEAN,
    *,
    tempo_bpm: float,
    start_sec: float = LEAD_IN_SEC,
) -> tuple[Samples, tuple[PlayedNote, ...]]:
    """Return samples of a line whose first beat is at ``start_sec``, and its notes' exact onsets.

    The onsets that come back are in seconds of the file, rounded to its samples.
    """
    rng = numpy.random.default_rng(room.seed)
    at_frames = [round((note.onset_sec + start_sec) * SAMPLE_RATE_HZ) for note in played]
    frames = max(at_frames) + 2 * SAMPLE_RATE_HZ
    gains = _level_swing(at_frames, room, rng)
    bass = numpy.zeros(frames, numpy.float32)
    for place, note in enumerate(played):
        following = at_frames[place + 1] if place + 1 < len(played) else frames
        room_left = (following - at_frames[place]) / SAMPLE_RATE_HZ
        made = _sounded(sound, note, min(note.length_sec, room_left))
        made = made[: frames - at_frames[place]]
        bass[at_frames[place] : at_frames[place] + len(made)] += gains[place] * made
    samples = _degraded(bass, room, rng, tempo_bpm, start_sec)
    truth = tuple(
        _at(note, frame / SAMPLE_RATE_HZ) for note, frame in zip(played, at_frames, strict=True)
    )
    return samples, truth


def _at(note: PlayedNote, onset_sec: float) -> PlayedNote:
    return replace(note, onset_sec=onset_sec)


def _sounded(sound: Sound, note: PlayedNote, length_sec: float) -> Samples:
    velocity = min(127, max(1, note.velocity // 8 * 8))  # so that the cache serves
    if note.is_ghost:
        return ghost_note(sound, note.pitch, velocity)
    make = slurred_note if note.is_slurred else plain_note
    return faded(make(sound, note.pitch, velocity), length_sec, _FADE_SEC)


def _level_swing(
    at_frames: Sequence[int], room: RoomSettings, rng: numpy.random.Generator
) -> Samples:
    """Return a gain a note that wanders up and down by ``level_swing_db`` in all, in 20 s."""
    times = numpy.array(at_frames) / SAMPLE_RATE_HZ
    phase = rng.uniform(0, 2 * numpy.pi)
    swing_db = room.level_swing_db / 2 * numpy.sin(2 * numpy.pi * times / 20 + phase)
    gains: Samples = (10 ** (swing_db / 20)).astype(numpy.float32)
    return gains


def _degraded(
    bass: Samples,
    room: RoomSettings,
    rng: numpy.random.Generator,
    tempo_bpm: float,
    start_sec: float,
) -> Samples:
    heard = numpy.nonzero(abs(bass) > 1e-4 * abs(bass).max())[0]
    rms = float(numpy.sqrt(numpy.mean(numpy.square(bass[heard[0] : heard[-1]]))))
    out = bass / rms
    if room.room_sec is not None:
        out = out + _gain(room.room_db) * _echoes(out, room.room_sec, rng)
    frames = len(out)
    if room.drums_db is not None:
        drums = _drums(frames, tempo_bpm, start_sec, Random(f"drums {room.seed}"))
        out = out + _gain(room.drums_db) * drums / numpy.sqrt(numpy.mean(drums**2))
    if room.hum_db is not None:
        times = numpy.arange(frames) / SAMPLE_RATE_HZ
        hum = sum(
            share * numpy.sin(2 * numpy.pi * 50.0 * number * times + rng.uniform(0, 6.28))
            for number, share in ((1, 1.0), (2, 0.4), (3, 0.6), (5, 0.3), (7, 0.15))
        )
        out = out + _gain(room.hum_db) * hum / numpy.std(hum)
    if room.noise_db is not None:
        out = out + _gain(room.noise_db) * rng.standard_normal(frames)
    scaled: Samples = (0.5 * out / abs(out).max()).astype(numpy.float32)
    return scaled


def _gain(level_db: float) -> float:
    return float(10 ** (level_db / 20))


def _echoes(dry: Samples, room_sec: float, rng: numpy.random.Generator) -> Samples:
    """Return the room alone: noise that dies by 60 dB in ``room_sec``, 8 ms after the note."""
    frames = round(room_sec * SAMPLE_RATE_HZ)
    response = rng.standard_normal(frames) * 10 ** (-3 * numpy.arange(frames) / frames)
    response /= numpy.sqrt(numpy.sum(response**2))
    size = -(-(len(dry) + frames) // 2**15) * 2**15
    spectrum = numpy.fft.rfft(dry, size) * numpy.fft.rfft(response.astype(numpy.float32), size)
    wet = numpy.fft.irfft(spectrum, size)
    lag = round(0.008 * SAMPLE_RATE_HZ)
    out: Samples = numpy.zeros(len(dry), numpy.float32)
    out[lag:] = wet[: len(dry) - lag]
    return out


def _drums(frames: int, tempo_bpm: float, start_sec: float, rng: Random) -> Samples:
    """Return a beat that is drawn, at the written tempo, over the whole take.

    Snare on two and four, hats in eighths or sixteenths, kicks where they are drawn.
    """
    out = numpy.zeros(frames, numpy.float32)
    slot_sec = 15 / tempo_bpm
    hat_step = rng.choice((2, 2, 1))
    kicks = {0, *(slot for slot in range(1, 16) if rng.random() < (0.3, 0.06)[slot % 2])}
    strokes: dict[int, list[tuple[int, int]]] = {slot: [] for slot in range(16)}
    for slot in range(0, 16, hat_step):
        strokes[slot].append((_HAT, 90 if slot % 4 == 0 else 68))
    for slot in kicks:
        strokes[slot].append((_KICK, 100))
    for slot in (4, 12):
        strokes[slot].append((_SNARE, 100))
    for number in range(int((frames / SAMPLE_RATE_HZ - start_sec) / slot_sec)):
        at = round((start_sec + number * slot_sec) * SAMPLE_RATE_HZ)
        for key, velocity in strokes[number % 16]:
            stroke = drum_stroke(key, velocity)[: frames - at]
            out[at : at + len(stroke)] += stroke
    return out


def made_take(
    seed: int,
    sound: Sound,
    room: RoomSettings = CLEAN,
    *,
    player: PlayerSettings | None = None,
    bars: int = 12,
    tempo_bpm: float | None = None,
    start_sec: float = LEAD_IN_SEC,
) -> MadeTake:
    """Return a take of a drawn line: the same arguments, the same samples."""
    tempo = tempo_bpm or float(Random(f"tempo {seed}").randrange(72, 132))
    wanted = made_line(seed, bars=bars, tempo_bpm=tempo)
    played = played_line(wanted, player or PlayerSettings(seed=seed), tempo_bpm=tempo)
    samples, truth = recorded(
        played,
        sound,
        replace(room, seed=room.seed or seed),
        tempo_bpm=tempo,
        start_sec=start_sec,
    )
    return MadeTake(
        samples=samples, wanted=wanted, played=truth, tempo_bpm=tempo, start_sec=start_sec
    )


STRINGS = (
    StringSound(),
    StringSound(pick=0.07, brightness=0.85, pluck_ms=0.6, click=0.3),
    StringSound(pick=0.25, brightness=0.35, pluck_ms=2.0, click=0.08, ring_sec=4.0),
)
FONT_SOUNDS = tuple(FontSound(program=program) for program in (33, 34, 35, 36))
SOUNDS: tuple[Sound, ...] = (*STRINGS, *FONT_SOUNDS)
"""Sounds of the development set; 32 (an acoustic bass) of the default font is out of tune."""
