"""``groove tab``: the bass part as text tab."""

from functools import partial
from typing import TYPE_CHECKING, Annotated

import typer
from msgspec import Struct

from groove.cli.jobs import Result, each_job, write_file
from groove.cli.options import (
    Arranged,
    BarOptions,
    Charts,
    PluckingHand,
    WatchingAnswer,
    output_option,
)
from groove.cli.targets import Job, Kinds, Outputs, plan_jobs
from groove.cli.watching import Round, follow

if TYPE_CHECKING:
    from groove.chart.model import Song
    from groove.events import Performance
    from groove.neck.fingering import FingeredLine
    from groove.neck.instrument import Tuning
    from groove.neck.options import NeckOptions
    from groove.pipeline import PerformOptions

_NARROWEST, WIDEST = 40, 1000
_KINDS = Kinds(suffixes=(".txt",), printed=True, instead="groove sheet --staves tab makes a page")


class Layout(Struct, frozen=True, kw_only=True):
    """What stands in the tab, and how wide it is."""

    fingers: Annotated[
        bool, typer.Option("--fingers", help="Show the fretting hand's fingers.")
    ] = False
    pluck: Annotated[bool, typer.Option("--pluck", help="Show the plucking hand: i, m, p.")] = False
    width: Annotated[
        int,
        typer.Option(metavar="COLUMNS", min=_NARROWEST, max=WIDEST, help="How wide a line may be."),
    ] = 80
    into_chart: Annotated[
        bool,
        typer.Option("--into-chart", help="Print the chart with the part as tab under its bars."),
    ] = False

    def text(self, cut: "Performance", tuning: "Tuning") -> str:
        """Return the tab of a fingered part."""
        from groove.text.tab import tab_text

        return tab_text(
            cut,
            tuning=tuning,
            width=self.width,
            show_fingers=self.fingers,
            show_pluck=self.pluck,
        )


def tab(
    charts: Charts,
    *,
    output: Annotated[
        str | None,
        output_option("Where to: .txt, or FOLDER/."),
    ] = None,
    piece: BarOptions,
    layout: Layout,
    hand: PluckingHand,
    arranged: Arranged,
    answer: WatchingAnswer,
) -> None:
    """Write the bass part as tab, chords above and beats below."""
    from groove.cli.performing import neck_options, perform_options
    from groove.io.config import read_config

    if layout.into_chart:
        _refuse_beside_chart(layout, arranged)
    config = read_config()
    maker = _TabMaker(
        whole=perform_options(config, arranged.choices(), hand.choices(), tight=True),
        piece=perform_options(config, piece.choices()),
        player=neck_options(config, hand, thumb=hand.thumb),
        layout=layout,
        answer=answer,
    )

    def make(now: Round) -> int:
        claimed = Outputs(charts, patterns=answer.patterns, line=answer.line)
        jobs = now.chosen(plan_jobs(charts, [output], _KINDS, claimed=claimed))
        return each_job(jobs, partial(maker.made, now=now), as_json=answer.json)

    raise typer.Exit(follow(make, charts, answer))


class _TabMaker(Struct, frozen=True, kw_only=True):
    """Makes the tab of each chart: how the whole song is played, which piece of it is shown."""

    whole: "PerformOptions"
    piece: "PerformOptions"
    player: "NeckOptions"
    layout: Layout
    answer: WatchingAnswer

    def made(self, job: Job, now: Round) -> Result:
        """Print or write the tab of a chart, or return it as data."""
        from groove.cli.performing import play_song, print_notices
        from groove.cut import piece as cut_piece
        from groove.io.library import load_library
        from groove.io.lined import chart_with_line
        from groove.neck.fingering import finger_performance
        from groove.pipeline import song_tuning

        library = load_library(self.answer.patterns)
        asks_text = self.layout.into_chart
        line_file = self.answer.line
        chart, song = chart_with_line(
            job.chart, line_file, library, self.whole, asks_text=asks_text
        )
        analysis, performance = play_song(song, self.whole, library)
        strings = song_tuning(analysis.song, self.whole)
        placed, line = finger_performance(performance, tuning=strings, options=self.player)
        cut = cut_piece(placed, self.piece.sections, self.piece.bars)
        print_notices(cut)
        if self.answer.json and not chart:
            return {"format": 1, "chart": job.chart, **_tab_data(performance, cut, line)}
        text = _part_text(self.layout, chart, song, placed, cut, strings)
        if self.answer.json:
            return {"format": 1, "chart": job.chart, **_text_data(performance, text)}
        if job.file:
            return write_file(job, text.encode(), now.announce)
        now.announce()
        return text


def _refuse_beside_chart(layout: Layout, arranged: Arranged) -> None:
    """Refuse what a chart with its part in it cannot show."""
    from groove.errors import OptionError

    moved = arranged.moved
    for name, is_given in (
        ("--transpose", moved.transpose != 0),
        ("--key", moved.key is not None),
        ("--fingers", layout.fingers),
        ("--pluck", layout.pluck),
    ):
        if is_given:
            what = (
                "the chart keeps its own key" if name in ("--transpose", "--key") else "tab alone"
            )
            hint = f"expected one of the two: {what}"
            raise OptionError(f"{name} beside --into-chart", hint=hint)


def _charted(
    chart: str,
    song: "Song",
    placed: "Performance",
    cut: "Performance",
    strings: "Tuning",
    width: int,
) -> str:
    """Return a chart with its part written under its bars, or under those of a piece."""
    from groove.chart.into_chart import with_part

    chosen = {bar.ref.written_bar for bar in cut.bars if bar.ref.is_written}
    return with_part(chart, song, placed, chosen, strings, width)


def _tab_data(
    performance: "Performance", cut: "Performance", line: "FingeredLine"
) -> dict[str, object]:
    """Return what a tab says as data, of the chosen bars alone."""
    from groove.text.neck_data import neck_data
    from groove.text.notices import notice_texts

    data = neck_data(line, performance.bars)
    chosen = {bar.ref.played_bar for bar in cut.bars}
    for rows in ("notes", "shifts"):
        data[rows] = [row for row in data[rows] if row["played_bar"] in chosen]
    return {"notices": notice_texts(performance.notices), **data}


def _part_text(
    layout: Layout,
    chart: str,
    song: "Song",
    placed: "Performance",
    cut: "Performance",
    tuning: "Tuning",
) -> str:
    """Return the tab, or where there is a chart that chart with the part under its bars."""
    if chart:
        return _charted(chart, song, placed, cut, tuning, layout.width)
    return layout.text(cut, tuning)


def _text_data(performance: "Performance", text: str) -> dict[str, object]:
    """Return a chart with its part under it as data."""
    from groove.text.notices import notice_texts

    return {"notices": notice_texts(performance.notices), "text": text}
