"""The goldens' one maker: what the band plays on every example chart, as text.

    python -m tests.golden_notes FOLDER

writes one file a chart (its first bars, note by note) and one with the digest of every whole file.
"""

import hashlib
import sys
from pathlib import Path

from groove.cut import piece
from groove.events import Performance
from groove.io.library import load_library
from groove.io.midi import midi_bytes
from groove.pipeline import perform_chart
from groove.text.reasons import reason_text

CHARTS = Path(__file__).resolve().parents[1] / "shared" / "charts"
FIRST_BARS = range(1, 7)
DIGESTS = "midi.sha256"


def note_lines(performance: Performance) -> str:
    """Return the notes one a line: part, bar, ticks from the bar line, length, pitch, why."""
    starts = {bar.ref.played_bar: bar.start_tick for bar in performance.bars}
    lines = []
    for note in performance.notes:
        origin = note.origin
        offset = note.onset_tick - starts.get(origin.bar.played_bar, 0)
        words = (note.part, origin.bar.played_bar, offset, note.length_ticks, note.pitch)
        told = reason_text(origin)
        why = f"{note.touch} {origin.role} {origin.symbol} {told}".rstrip()
        lines.append(" ".join(str(word) for word in words) + f" v{note.velocity} {why}")
    return "\n".join(lines) + "\n"


def goldens() -> dict[str, str]:
    """Return every golden by its file's name."""
    library = load_library()
    found = {}
    digests = []
    for path in sorted(CHARTS.glob("*.txt")):
        text = path.read_text(encoding="utf-8")
        performance = perform_chart(text, library)
        digest = hashlib.sha256(midi_bytes(performance)).hexdigest()
        digests.append(f"{digest}  {path.stem}.mid\n")
        found[f"{path.stem}.notes"] = note_lines(piece(performance, bars=FIRST_BARS))
    return found | {DIGESTS: "".join(digests)}


def main(folder: Path) -> None:
    """Write the goldens into a folder."""
    folder.mkdir(parents=True, exist_ok=True)
    for name, text in goldens().items():
        (folder / name).write_text(text, encoding="utf-8")


if __name__ == "__main__":
    main(Path(sys.argv[1]))
