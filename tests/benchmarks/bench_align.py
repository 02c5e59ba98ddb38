"""How true bar lines in records are whose truth is known, and which records are refused.

Run: ``python -m tests.benchmarks.bench_align [--songs N] [--pairs N] [--font FONT] [--smoke]``.
Songs: shipped charts in other feels, drifting by 3 %, with a melody, a room, noise at -35 dB, tuned
by -31 to +42 cents, noise before and after; errors are of bar lines in ms, ``unsure`` the share of
bars more than 120 ms off that have a confidence under a half; CPU is of all, the rendering of the
chart too, per four minutes of record.  Forms: a section more or less.  Pairs: made-up songs beside
their own chart and beside another's.  A star misses what is asked for.
"""

import argparse
import time
from collections.abc import Iterator, Sequence
from dataclasses import replace
from pathlib import Path

import numpy

from groove.record.aligned import HeardSong, align_record
from groove.record.heard_form import SURE_FROM, heard_form, heard_sections
from groove.record.listened import listen
from tests.conftest import ROOT
from tests.harmony.progressions import made_chart, made_songs
from tests.record.made_records import RATE_HZ, MadeRecord, Studio, made_record
from tests.record.songs import due

MEDIAN_MS, MOST_MS, TUNING_CENTS = 40.0, 120.0, 5.0
RIGHT_MS, SURE_OF_RIGHT, UNSURE_OF_WRONG = 70.0, 0.8, 0.9
GOOD_SONGS, GOOD_FORMS, REFUSED = 0.8, 0.9, 0.95
CPU_SEC = 6.0
SMOKE_FORM = "verse"
SONGS = (
    ("lantern-row", Studio(feel="straight eighths", cents=20, lead_in_sec=4, after_sec=3)),
    ("button-drawer", Studio(feel="straight eighths", cents=-31, after_sec=8, tempo_percent=108)),
    ("glass-stairs", Studio(feel="bossa", cents=42, lead_in_sec=6, after_sec=3)),
    ("number-nine-bus", Studio(feel="sixteenths", lead_in_sec=2)),
    ("pebble-road", Studio(cents=11, lead_in_sec=3, after_sec=4, tempo_percent=92)),
    ("slow-ferry", Studio(feel="gospel twelve-eight", cents=-15, lead_in_sec=5, after_sec=3)),
    ("turnip-field-waltz", Studio(feel="jazz waltz", cents=33, lead_in_sec=1, after_sec=3)),
    ("two-clocks", Studio(feel="soul", cents=-8, lead_in_sec=3, after_sec=6)),
    ("lantern-row", Studio(feel="shuffle", cents=7, lead_in_sec=3, tempo_percent=115)),
    ("number-nine-bus", Studio(feel="one drop", cents=-22, after_sec=2, tempo_percent=85)),
)
FORMS = (
    ("two-clocks", "verse x2, chorus x2, verse, chorus, bridge, chorus, ending"),
    ("two-clocks", "verse x2, chorus, verse, chorus, chorus, ending"),
    ("number-nine-bus", "verse, chorus, verse, chorus"),
    ("number-nine-bus", "verse x2, chorus, verse, chorus x2"),
    ("pebble-road", "verse x2, chorus, verse, chorus, chorus"),
    ("pebble-road", "verse x2, chorus, verse, chorus, middle, chorus x2"),
    ("slow-ferry", "intro, verse x3, bridge, verse, last line"),
    ("slow-ferry", "verse x2, bridge, verse, last line"),
    ("lantern-row", "intro, verse x2, chorus, verse x2, chorus, bridge, chorus x3, breakdown, "
     "verse, chorus, ending"),
    ("lantern-row", "intro, verse x2, chorus, verse x2, chorus, bridge, chorus x2, verse, chorus, "
     "ending"),
)  # fmt: skip


def chart_text(name: str) -> str:
    """Return a shipped chart."""
    return (ROOT / "shared" / "charts" / f"{name}.txt").read_text(encoding="utf-8")


def with_form(chart: str, form: str) -> str:
    """Return a chart with another form line."""
    lines = [f"form: {form}" if line.startswith("form:") else line for line in chart.splitlines()]
    return "\n".join(lines) + "\n"


def star(good: bool) -> str:
    """Return what marks a figure that misses what is asked for."""
    return "" if good else "*"


def song_rows(count: int, font: Path | None, form: str | None = None) -> Iterator[str]:
    """Yield a row for each song, of another form if one is given, and how many are good."""
    good = 0
    judged: list[tuple[float, bool]] = []
    for number, (name, studio) in enumerate(SONGS[:count]):
        own = replace(studio, seed=number, font=font if number % 2 == 0 else None)
        chart = with_form(chart_text(name), form) if form else chart_text(name)
        record = made_record(chart, own)
        due.cache_clear()
        began = time.process_time()
        expected, _ = due(chart)
        found = align_record(expected, listen([record.samples]))
        cpu = (time.process_time() - began) * 240 / (len(record.samples) / RATE_HZ)
        errors = errors_ms(found, record)
        median, most = float(numpy.median(errors)), float(numpy.percentile(errors, 95))
        is_good = median <= MEDIAN_MS and most <= MOST_MS
        good += is_good
        judged += zip(errors, (one.confidence >= SURE_FROM for one in found.bars), strict=True)
        off = [one for one, ms in zip(found.bars, errors, strict=True) if ms > MOST_MS]
        unsure = sum(one.confidence < SURE_FROM for one in off)
        wavers = sum(one.confidence < SURE_FROM for one in found.bars)
        cents = found.tuning_cents - own.cents
        yield (
            f"{name:<19} {median:6.0f} {most:6.0f}{star(is_good):1} {cents:+6.1f}"
            f"{star(abs(cents) <= TUNING_CENTS):1} {unsure:4} of {len(off):<3} "
            f"{wavers:4} of {len(found.bars):<4} {cpu:5.1f}{star(cpu <= CPU_SEC)}"
        )
    yield f"good: {good} of {count}{star(good >= GOOD_SONGS * count)}"
    right = [is_sure for ms, is_sure in judged if ms <= RIGHT_MS]
    wrong = [not is_sure for ms, is_sure in judged if ms > MOST_MS]
    share = sum(right) / max(1, len(right))
    yield f"right bars called sure: {share:.0%} of {len(right)}{star(share >= SURE_OF_RIGHT)}"
    share = sum(wrong) / max(1, len(wrong))
    is_enough = not wrong or share >= UNSURE_OF_WRONG
    yield f"wrong bars called unsure: {share:.0%} of {len(wrong)}{star(is_enough)}"


def errors_ms(found: HeardSong, record: MadeRecord) -> list[float]:
    """Return how far each bar is off; a second where the form was taken for another."""
    if len(found.bars) != len(record.bar_secs):
        return [1000.0] * len(found.bars)
    return [1000 * abs(a.sec - b) for a, b in zip(found.bars, record.bar_secs, strict=True)]


def form_rows(count: int) -> Iterator[str]:
    """Yield what was found of each changed form, and how many were right."""
    good = 0
    for number, (name, form) in enumerate(FORMS[:count]):
        chart = chart_text(name)
        studio = replace(SONGS[number][1], feel=None, seed=50 + number)
        record = made_record(with_form(chart, form), studio)
        expected, performance = due(chart)
        found = align_record(expected, listen([record.samples]))
        sections = heard_sections(found, performance.bars, expected.line_secs.tolist())
        told = heard_form(sections)
        is_right = told == form.replace("chorus, chorus", "chorus x2")
        good += is_right
        yield f"{name:<19} {'right' if is_right else 'told: ' + told}"
    yield f"right: {good} of {count}{star(good >= GOOD_FORMS * count)}"


def pair_rows(count: int, *, shown: bool = True) -> Iterator[str]:
    """Yield how many of other songs are refused, and of their own; the nearest of both."""
    charts = [made_chart(song) for song in made_songs("records", max(2, count // 4))]
    feels = ("straight eighths", "soul", "octaves", "sixteenths", None)
    own: list[float] = []
    other: list[float] = []
    refused = kept = 0
    for number in range(count):
        chart = charts[number % len(charts)]
        studio = Studio(
            seed=number,
            feel=feels[number % len(feels)],
            cents=(37 * number) % 80 - 40,
            tempo_percent=90 + (7 * number) % 25,
            lead_in_sec=number % 4,
        )
        listened = listen([made_record(chart, studio).samples])
        made_record.cache_clear()
        found = align_record(due(chart)[0], listened)
        kept += found.is_song
        own.append(found.likeness)
        step = 1 + number % (len(charts) - 1)
        wrong = align_record(due(charts[(number + step) % len(charts)])[0], listened)
        refused += not wrong.is_song
        other.append(wrong.likeness)
        if shown and (not found.is_song or wrong.is_song):
            one = found if not found.is_song else wrong
            yield f"  {number}: cost {one.cost:.3f}, backwards {one.reversed_cost:.3f}"
    yield f"own kept: {kept} of {count}{star(kept == count)}; the nearest {min(own):.3f}"
    yield f"others refused: {refused} of {count}{star(refused >= REFUSED * count)}; " + (
        f"the nearest {max(other):.3f}"
    )


def main(words: Sequence[str] | None = None) -> None:
    """Print the tables."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--songs", type=int, default=len(SONGS))
    parser.add_argument("--pairs", type=int, default=100)
    parser.add_argument("--font", type=Path, help="another soundfont for every second song")
    parser.add_argument("--smoke", action="store_true")
    asked = parser.parse_args(words)
    songs, forms, pairs = (1, 0, 0) if asked.smoke else (asked.songs, len(FORMS), asked.pairs)
    form = SMOKE_FORM if asked.smoke else None
    print(f"{'song':<19} median   95 %   cents    unsure      wavers   CPU s")
    for row in song_rows(songs, asked.font, form):
        print(row, flush=True)
    for row in form_rows(forms) if forms else ():
        print(row, flush=True)
    for row in pair_rows(pairs) if pairs else ():
        print(row, flush=True)


if __name__ == "__main__":
    main()
