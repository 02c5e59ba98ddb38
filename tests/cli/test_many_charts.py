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
from groove.cli import jobs
from groove.cli.targets import Job

CHARTS = 250
BYTES_A_CHART = 1_000
"""What may be held of a chart while others are read: its name, its exit code, what it is to be."""


def chart(number: int) -> str:
    """Return a chart that can be read, or every second time one that cannot."""
    return f"title: No. {number}\nverse:\n| {'Zebra' if number % 2 else 'G'} |\n"


def held(run: Callable[[int, int], object], charts: int) -> float:
    """Return the most bytes a chart that are held while many are worked on."""
    run(0, 50)  # what is loaded and remembered once
    gc.collect()
    tracemalloc.start()
    run(50, charts)
    _, most = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    return most / (charts - 50)


def read(job: Job) -> Mapping[str, object] | str:
    return parse_chart(chart(int(job.chart))).title


@pytest.mark.parametrize("as_json", [False, True])
def test_nothing_is_left_of_charts_that_were_read_or_refused(
    monkeypatch: pytest.MonkeyPatch, as_json: bool
) -> None:
    told: list[int] = []
    monkeypatch.setattr(jobs, "put", lambda text: None)
    monkeypatch.setattr(jobs, "report", lambda chart, error, *, as_json: None)

    def run(first: int, end: int) -> None:
        work = [Job(chart=str(number)) for number in range(first, end)]
        told.append(jobs.each_job(work, read, as_json=as_json))

    assert held(run, CHARTS) < BYTES_A_CHART
    assert told == [1, 1]


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
