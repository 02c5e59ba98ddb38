"""Every ABC tune and MusicXML file of music21's corpus, read: ``python -m tests.io.read_corpus``.

Prints how many were read and refused, the longest time, and the kinds of notices.
"""

import re
import time
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

import music21

from groove.chart.model import Song
from groove.errors import GrooveError
from groove.io.abc import song_from_abc
from groove.io.musicxml import song_from_musicxml
from groove.text.notices import notice_texts

MUSIC21 = Path(music21.__file__).parent
SCORE_SUFFIXES = (".mxl", ".xml", ".musicxml")


def tunes() -> Iterator[tuple[str, str]]:
    """Yield (file, text) of every tune, with what stands before all of its file."""
    for path in sorted((MUSIC21 / "corpus").rglob("*.abc")):
        text = path.read_text(encoding="utf-8", errors="replace")
        head, *found = re.split(r"(?m)^(?=X:)", text)
        yield from ((path.name, head + tune) for tune in found or [text])


def scores() -> Iterator[tuple[str, bytes]]:
    """Yield (file, bytes) of every score."""
    for path in sorted(MUSIC21.rglob("*")):
        if path.suffix in SCORE_SUFFIXES:
            yield path.name, path.read_bytes()


def read(name: str, data: str | bytes) -> Song:
    """Return the song of a tune or a score."""
    return song_from_abc(data, name) if isinstance(data, str) else song_from_musicxml(data, name)


def main() -> None:
    """Read everything."""
    for kind, found in (("tunes", tunes()), ("scores", scores())):
        count, longest, refused = 0, 0.0, []
        notices: Counter[str] = Counter()
        for name, data in found:
            count += 1
            start = time.process_time()
            try:
                song = read(name, data)
                notices.update(
                    re.sub(r"[0-9]+", "N", n.split(": ", 1)[-1])[:70]
                    for n in notice_texts(song.notices)
                )
            except GrooveError as error:
                refused.append(error.report())
            longest = max(longest, time.process_time() - start)
        print(f"{kind}: {count} read, {len(refused)} refused, the longest {longest:.1f} s")
        print(*refused, sep="\n")
        print(*(f"{times:6} {text}" for text, times in notices.most_common(12)), sep="\n")


if __name__ == "__main__":
    main()
