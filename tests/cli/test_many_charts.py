"""A process that reads thousands of charts does not grow with their number.

Memory is told by Python's own tracemalloc, which counts every block that an allocation holds.
"""

import functools
import gc
import importlib
import pkgutil
import tracemalloc
from collections.abc import Callable, Mapping

import pytest

import groove
from groove.chart.parse import parse_chart
from groove.cli import console, render
from groove.cli.targets import Job
from tests.cli.command import Command

CHARTS = 2_000
BYTES_A_CHART = 1_000
"""What may be held of a chart while others are read: its name, its exit code, what it is to be."""


def chart(number: int) -> str:
    """Return a chart that can be read, or every second time one that cannot."""
    wrong = "| Zebra |" if number % 2 else "| G |"
    return f"title: No. {number}\nverse:\n| D | A | Em7 | G |\n{wrong}\n"


def held(run: Callable[[int, int], object], charts: int) -> float:
    """Return the most bytes a chart that are held while many are worked on."""
    run(0, 50)  # what is loaded and remembered once
    gc.collect()
    tracemalloc.start()
    run(50, charts)
    _, most = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    return most / (charts - 50)


def test_nothing_is_left_of_charts_that_were_read_or_refused(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(console, "say", lambda text: None)
    monkeypatch.setattr(console, "put", lambda text: None)
    told: list[int] = []

    def work(name: str) -> Mapping[str, object] | str:
        return parse_chart(chart(int(name))).title

    def run(first: int, end: int) -> None:
        told.append(console.each_chart(map(str, range(first, end)), work, as_json=False))

    assert held(run, CHARTS) < BYTES_A_CHART
    assert told == [1, 1]


def test_nothing_is_left_of_charts_that_could_not_be_rendered(
    groove: Command, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(render, "report", lambda chart, error, *, as_json: None)
    monkeypatch.setattr(render, "say", lambda text: None)

    def attempt(job: Job, options: object) -> object:
        try:
            return parse_chart(chart(int(job.chart))) and {}
        except groove_error as error:
            return error

    groove_error = importlib.import_module("groove.errors").GrooveError
    monkeypatch.setattr(render, "attempt", attempt)
    monkeypatch.setattr(render, "put_json", lambda data: None)

    def run(first: int, end: int) -> int:
        jobs = [Job(chart=str(n), files=(), folders=()) for n in range(first, end)]
        return render.run_jobs(jobs, None, 1, as_json=True)  # type: ignore[arg-type]

    assert held(run, CHARTS // 4) < BYTES_A_CHART


def test_every_cache_has_a_size_or_holds_one_thing() -> None:
    found = {}
    for module in pkgutil.walk_packages(groove.__path__, "groove."):
        if module.name != "groove.__main__":
            for name, value in vars(importlib.import_module(module.name)).items():
                if isinstance(value, functools._lru_cache_wrapper):
                    found[value] = f"{module.name}.{name}"
    assert len(found) >= 30
    endless = [
        name
        for cache, name in found.items()
        if cache.cache_parameters()["maxsize"] is None
        and cache.__wrapped__.__code__.co_argcount > 0
    ]
    assert endless == []
