"""``groove show``: the chart in the terminal."""

from typing import TYPE_CHECKING, Annotated

import typer
from msgspec import Struct

from groove.cli.jobs import Result, each_job
from groove.cli.options import Answer, Charts, Moved
from groove.cli.targets import Job

if TYPE_CHECKING:
    from groove.arrange.plan import Plan
    from groove.events import Performance
    from groove.harmony.analysis import Analysis


class Views(Struct, frozen=True, kw_only=True):
    """What is shown of a chart."""

    numerals: Annotated[bool, typer.Option("--numerals", help="Roman numerals under the bars.")] = (
        False
    )
    numbers: Annotated[bool, typer.Option("--numbers", help="Numbers under the bars.")] = False
    harmony: Annotated[
        bool, typer.Option("--harmony", help="Key, form, progressions and moves in words.")
    ] = False
    notes: Annotated[
        bool, typer.Option("--notes", help="The notes that work over every chord, on the neck.")
    ] = False
    arrangement: Annotated[
        bool, typer.Option("--arrangement", help="How the song grows: who plays what, each time.")
    ] = False
    position: Annotated[
        int, typer.Option(metavar="FRET", min=0, max=19, help="Where --notes shows the neck.")
    ] = 0

    @property
    def has_names(self) -> bool:
        """Whether a name stands under every chord."""
        return self.numerals or self.numbers


def show(
    charts: Charts,
    *,
    views: Views,
    moved: Moved,
    chart: Annotated[bool, typer.Option("--chart", help="Write it out as a chart file.")] = False,
    answer: Answer,
) -> None:
    """Show a chart: bars under section names, the form, how long it is."""
    from groove.chart.write import write_chart
    from groove.cli.performing import perform_options, print_reading
    from groove.harmony.analysis_data import harmony_summary
    from groove.io.config import Config
    from groove.io.library import load_library
    from groove.io.lined import song_with_line
    from groove.pipeline import analyse_song, perform_analysis, plan_analysis
    from groove.text.arrangement import arrangement_data
    from groove.text.chart import chart_data

    options = perform_options(Config(), moved.choices())
    library = load_library(answer.patterns)

    def work(job: Job) -> Result:
        known = analyse_song(song_with_line(job.chart, answer.line, library, options), options)
        song = known.song
        plan = plan_analysis(known, library, options)
        print_reading(song, plan.notices)
        if chart:
            text = write_chart(song)
            return {"format": 1, "chart": job.chart, "text": text} if answer.json else text
        if answer.json:
            data = chart_data(song, known.bars, known.starts_sec[-1], harmony_summary(known))
            return {**data, "arrangement": arrangement_data(plan)}
        played = perform_analysis(known, library, options) if views.notes else None
        return _views_text(known, plan, played, views)

    jobs = [Job(chart=name) for name in charts]
    raise typer.Exit(each_job(jobs, work, as_json=answer.json))


def _views_text(known: "Analysis", plan: "Plan", played: "Performance | None", views: Views) -> str:
    """Return what is asked to be shown of a song, one under the other.

    ``played`` is wanted for its notes alone.
    """
    from groove.events import Part
    from groove.pipeline import part_tuning, song_tuning
    from groove.text.arrangement import arrangement_text
    from groove.text.harmony import harmony_text
    from groove.text.neck_map import working_notes_text

    blocks = []
    if views.has_names or not (views.harmony or views.notes or views.arrangement):
        blocks.append(_bars_text(known, plan, views))
    if views.harmony:
        blocks.append(harmony_text(known))
    if views.arrangement:
        blocks.append(arrangement_text(plan, part_tuning(known.song)))
    if views.notes:
        notes = working_notes_text(
            known,
            position=views.position,
            tuning=song_tuning(known.song),
            style=plan.bars[0].feel.style,
            line=played.part_notes(Part.BASS) if played else (),
        )
        blocks.append(notes)
    return "\n".join(blocks)


def _bars_text(known: "Analysis", plan: "Plan", views: Views) -> str:
    """Return the form and its bars, with numerals or numbers where they are asked for."""
    from groove.text.chart import bar_names, chart_text
    from groove.text.part_facts import feel_words

    return chart_text(
        known.song,
        known.bars,
        known.starts_sec[-1],
        bar_names(known.changes, numbers=views.numbers) if views.has_names else {},
        feel=feel_words((bar.bar.ref, bar.feel.name) for bar in plan.bars),
        signs=views.harmony or views.notes,  # they tell the same chords in words
    )
