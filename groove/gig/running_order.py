"""The running order: every song with its key, tempo and length, breaks, and what went wrong."""

from collections.abc import Iterator, Sequence

from msgspec import Struct

from groove.gig.set_list import SetBreak, SetList
from groove.text.counts import clock_text, counted


class SongRecord(Struct, frozen=True, kw_only=True):
    """What was made of a song: enough to tell of it without reading its chart again.

    ``fingerprint`` stands for all that it was made of, ``files`` are names with the SHA-256 of
    their contents; ``tempo`` is as printed (``♩ = 92``), ``sec`` how long the song lasts.
    ``set_list`` is the name of the set list that it was last in.
    """

    fingerprint: str
    title: str
    key: str
    tempo: str
    sec: float
    files: dict[str, str]
    notices: tuple[str, ...] = ()
    set_list: str = ""


class GigRow(Struct, frozen=True, kw_only=True):
    """A line of the running order: a song by its number, or a break (``number`` 0).

    ``error`` says why there is nothing of a song; the record is None then.
    """

    number: int
    name: str
    sec: float
    record: SongRecord | None = None
    error: str = ""


class RunningOrder(Struct, frozen=True, kw_only=True):
    """A set as it is played."""

    title: str
    rows: tuple[GigRow, ...]

    @property
    def break_sec(self) -> float:
        """How long the breaks last, in seconds."""
        return sum(row.sec for row in self.rows if not row.number)

    @property
    def total_sec(self) -> float:
        """How long songs and breaks last, in seconds; songs that could not be made count for 0."""
        return sum(row.sec for row in self.rows)


def running_order(
    title: str, set_list: SetList, outcomes: Sequence[SongRecord | str]
) -> RunningOrder:
    """Return the order; ``outcomes`` has for each song what was made, or why nothing was."""
    rows: list[GigRow] = []
    made = iter(zip(set_list.songs, outcomes, strict=True))
    number = 0
    for entry in set_list.entries:
        if isinstance(entry, SetBreak):
            name = f"break, {counted(entry.minutes, 'minute')}"
            rows.append(GigRow(number=0, name=name, sec=60 * entry.minutes))
            continue
        number += 1
        song, outcome = next(made)
        if isinstance(outcome, str):
            rows.append(GigRow(number=number, name=song.chart, sec=0, error=outcome))
        else:
            rows.append(GigRow(number=number, name=outcome.title, sec=outcome.sec, record=outcome))
    return RunningOrder(title=title, rows=tuple(rows))


def length_words(order: RunningOrder) -> str:
    """Return how long it all takes: ``12 songs, 58:20, and 15:00 of breaks``.

    Songs that could not be made are told, for the length is without them.
    """
    songs = counted(sum(row.number > 0 for row in order.rows), "song")
    missing = sum(row.number > 0 and row.record is None for row in order.rows)
    songs += f" ({missing} not made)" if missing else ""
    breaks = f", and {clock_text(order.break_sec)} of breaks" if order.break_sec else ""
    return f"{songs}, {clock_text(order.total_sec - order.break_sec)}{breaks}"


def order_text(order: RunningOrder) -> str:
    """Return the running order for a terminal."""
    return "\n".join(_order_lines(order)) + "\n"


def _order_lines(order: RunningOrder) -> Iterator[str]:
    yield f"{order.title}: {length_words(order)}"
    yield ""
    songs = [row for row in order.rows if row.number]
    wide = max(len(row.name) for row in songs)
    key_wide = max([len(row.record.key) for row in songs if row.record], default=0)
    tempo_wide = max([len(row.record.tempo) for row in songs if row.record], default=0)
    for row in order.rows:
        number = f"{row.number:2}" if row.number else "  "
        if row.record:
            facts = f"{row.record.key:<{key_wide}}  {row.record.tempo:<{tempo_wide}}"
            yield f"{number}  {row.name:<{wide}}  {facts}  {clock_text(row.sec):>5}"
        else:
            yield f"{number}  {row.name:<{wide}}  {'not made' if row.number else ''}".rstrip()


def order_data(order: RunningOrder) -> dict[str, object]:
    """Return the running order as plain data; lengths are in seconds."""
    return {
        "title": order.title,
        "total_sec": round(order.total_sec, 3),
        "break_sec": order.break_sec,
        "order": [_row_data(row) for row in order.rows],
    }


def _row_data(row: GigRow) -> dict[str, object]:
    if not row.number:
        return {"break_sec": row.sec}
    if row.record is None:
        return {"song": row.number, "chart": row.name, "error": row.error}
    record = row.record
    return {
        "song": row.number,
        "title": record.title,
        "key": record.key,
        "tempo": record.tempo,
        "sec": round(record.sec, 3),
        "files": list(record.files),
        "notices": list(record.notices),
    }
