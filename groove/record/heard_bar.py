"""A bar as a record has it."""

from msgspec import Struct


class HeardBar(Struct, frozen=True, kw_only=True):
    """A bar as the record has it: ``index`` is that of the played bar of the chart.

    ``sec`` and ``end_sec`` are where it begins and ends in the record; ``confidence``, 0 to 1, is
    how sure that is.  ``follows`` says that it comes at once after the bar before it in the list.
    """

    index: int
    sec: float
    end_sec: float
    confidence: float
    follows: bool
