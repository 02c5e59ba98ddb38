"""What was decided for the player, in words."""

from collections.abc import Iterable

from groove.notices import Notice, NoticeKind

_WORDS = {
    NoticeKind.CHART: "{text}",
    NoticeKind.USUAL_FEEL: "feel: {feel}, the usual one in {meter}",
    NoticeKind.STYLE: "feel: {feel}, for {style}",
    NoticeKind.UNSERVED_STYLE: "feel: {feel}, the usual one in {meter}: no feel for {style} "
    "fits that meter",
    NoticeKind.OTHER_FEEL: "bars in {meter} take the feel {feel}: {named} is in {own_meter}",
    NoticeKind.FIRST_BEATS: "bars in {meter}: {feel}, in {own_meter}, plays its first beats",
    NoticeKind.STARTS_AGAIN: "bars in {meter}: {feel}, in {own_meter}, starts again within the bar",
    NoticeKind.OTHER_CELL: "{part} in {meter}: the feel's own in place of {cell}",
    NoticeKind.OWN_CELL: "{part} {cell}: the chart's own, in place of the shipped one",
    NoticeKind.NO_SWING: "swing is left out in section {section}: its cells are in triplets",
    NoticeKind.KEY: "key: {key}, worked out from the chords",
    NoticeKind.MODE: "key: {key}; a MIDI file has major and minor only and says {nearest}",
    NoticeKind.UNHEARD: "bar {bar}: {symbol} is not heard, it lasts no longer than the push "
    "after it",
    NoticeKind.RAISED: "{name} falls below the lowest string, first over {symbol} in bar {bar}: "
    "an octave up there",
    NoticeKind.HOLDS_NOTHING: "bar {bar} begins with a hold, and no note before it lasts so long",
    NoticeKind.SLIDES_IN: "bar {bar}: the first note slides in from below, for none stands before "
    "it",
    NoticeKind.ABOVE_FRET: "written notes stay where they are above fret {fret}: fret {highest} in "
    "bar {bar}",
    NoticeKind.STRETCH: "bar {bar}: frets {low} and {high} at once are farther apart than a hand "
    "reaches",
    NoticeKind.NO_SUCH_BARS: "bars {first} to {final} are left out: the song's last is {last}",
}


def notice_text(notice: Notice) -> str:
    """Return a notice in one line."""
    if notice.kind is NoticeKind.LOUDNESS:
        return "loudness: " + ", ".join(f"{name} {_level(how)}" for name, how in notice.values)
    values = dict(notice.values)
    text = _WORDS[notice.kind].format(bar=notice.bar, **values)
    if made := values.get("made"):
        return f"{text}; {made} is made for {values['meter']}"
    if made_for := values.get("made_for"):
        text = f"{text}; it is made for {made_for}, the song has {values['tempo']}"
    others = values.get("others")
    return f"{text}; others for it: {others}" if others else text


def notice_texts(notices: Iterable[Notice]) -> list[str]:
    """Return notices in words, a line each."""
    return [notice_text(notice) for notice in notices]


def _level(how: str | int) -> str:
    """Return a section's dynamic, or the velocity that its name adds."""
    return f"{how:+d} by its name" if isinstance(how, int) else how
