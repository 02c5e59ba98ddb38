"""What was rendered, as data and in a few lines for a person."""

from collections.abc import Mapping
from typing import Any

from groove.chart.model import Song
from groove.events import Performance
from groove.text.counts import clock_text, counted
from groove.text.notices import notice_texts
from groove.timing import microseconds_to_qpm


def performance_data(song: Song, performance: Performance) -> dict[str, object]:
    """Return a performance as data: tempo in its own beat and in quarters, length, notices.

    The tempo is that of its first played bar, not of a wait before it.
    """
    first = next(bar for bar in performance.bars if bar.ref.played_bar >= 0)
    qpm = microseconds_to_qpm(performance.tempo_map.microseconds_at(first.start_tick))
    return {
        "format": 1,
        "chart": song.source,
        "title": performance.title,
        "tempo_bpm": round(qpm / float(song.meter.tempo_unit_quarters), 2),
        "tempo_qpm": round(qpm, 2),
        "tempo_symbol": song.meter.tempo_symbol,
        "meter": str(song.meter),
        "bars": sum(1 for bar in performance.bars if bar.ref.is_written),
        "length_sec": round(performance.length_sec, 3),
        "notices": notice_texts(performance.notices),
    }


def render_text(summary: Mapping[str, Any]) -> str:
    """Return the summary of a render for a person."""
    bars, length = counted(summary["bars"], "bar"), clock_text(summary["length_sec"])
    lines = [
        f"{summary['title']}: {bars}, {length}, "
        f"{summary['tempo_symbol']} = {summary['tempo_bpm']:g}, {', '.join(summary['parts'])}"
    ]
    lines += [f"  {notice}" for notice in summary["notices"]]
    if "soundfont" in summary:
        lines.append(f"  soundfont: {summary['soundfont']} ({summary['soundfont_reason']})")
        lines.append("  " + _level_text(summary))
        if summary["synthesizer_notice"]:
            lines.append(f"  {summary['synthesizer_notice']}")
    older = summary.get("replaced", ())
    lines += [
        f"  wrote {file}" + (", in place of an older one" if file in older else "")
        for file in summary["files"]
    ]
    return "\n".join(lines)


def _level_text(summary: Mapping[str, Any]) -> str:
    """Return the level that the full mix reached, and what was done for it."""
    if summary["loudness_lufs"] is None:
        return f"{summary['synthesizer']}: silence"
    left_out = ", ".join(summary.get("left_out", ()))
    whole = f"full mix, {left_out} too, at" if left_out else "full mix at"
    text = (
        f"{summary['synthesizer']}: {whole} {summary['loudness_lufs']:.1f} LUFS, "
        f"true peak {summary['true_peak_dbtp']:.1f} dBTP"
    )
    if summary.get("limited_db"):
        text += (
            f"; the loudest moments turned down by up to {summary['limited_db']:.1f} dB, "
            f"{100 * summary['limited_share']:.0f} % of the time"
        )
    return text + (", held back by the ceiling" if summary["ceiling_bound"] else "")
