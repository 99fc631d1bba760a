"""Runs many jobs over processes, each circuit once, and keeps every result as it comes.

Results go to a work file in the user's cache folder, one line each, so that an interrupted
derivation goes on where it stopped.
"""

from __future__ import annotations

import json
import math
import os
from collections.abc import Callable, Iterable, Mapping
from concurrent.futures import ProcessPoolExecutor, as_completed
from pathlib import Path

from engine.circuit.job import Figures, Job, attempt

Progress = Callable[[int, int], None]
Toll = Callable[[int, int], None]
"""Told of each circuit: of how many readings our solver gave up, and of how many ngspice, too."""
PROCESSES = 2
"""How many simulations run at a time; readings don't depend on it."""


def results(
    jobs: Iterable[Job],
    work: Path | None,
    progress: Progress | None = None,
    toll: Toll | None = None,
) -> Mapping[str, Figures]:
    """The figures of one-request jobs by key; jobs of the same circuit are run as one.

    `work` is the file of results so far, None to keep none; `toll` hears of what was given up on
    in this run. TroubleError CI301 where the solver
    gives up on a circuit and ngspice is not installed.
    """
    jobs_by_key = {job.key: job for job in jobs}
    results_by_key = _read_work(work, jobs_by_key)
    groups: dict[tuple[str, float, float], list[Job]] = {}
    for key, job in jobs_by_key.items():
        if key not in results_by_key:
            groups.setdefault((job.text, job.seconds, job.hertz), []).append(job)
    if not groups:
        return results_by_key
    batches = list(groups.values())
    with ProcessPoolExecutor(PROCESSES, initializer=_give_way) as pool:
        running = {pool.submit(attempt, _together(batch)): batch for batch in batches}
        for count, future in enumerate(as_completed(running), 1):
            outcome = future.result()
            batch_results = {
                job.key: figures
                for job, figures in zip(running[future], outcome.figures, strict=True)
            }
            if toll is not None:
                toll(outcome.given_up, sum(not figures for figures in outcome.figures))
            results_by_key.update(batch_results)
            _append(work, batch_results)
            if progress is not None:
                progress(count, len(batches))
    return results_by_key


def _together(batch: list[Job]) -> Job:
    first = batch[0]
    requests = tuple(request for job in batch for request in job.requests)
    return Job(first.text, first.seconds, first.hertz, requests)


def _give_way() -> None:
    os.nice(5)  # the person goes on working while this runs


def _read_work(work: Path | None, jobs: Mapping[str, Job]) -> dict[str, Figures]:
    if work is None or not work.is_file():
        return {}
    figures_by_key: dict[str, Figures] = {}
    for line in work.read_text(encoding="utf-8").splitlines():
        try:
            key, figures = json.loads(line)
        except ValueError:  # the last line of a run that was cut off
            continue
        if key in jobs:
            figures_by_key[key] = {
                n: math.inf if v is None else float(v) for n, v in figures.items()
            }
    return figures_by_key


def _append(work: Path | None, figures_by_key: Mapping[str, Figures]) -> None:
    if work is None:
        return
    work.parent.mkdir(parents=True, exist_ok=True)
    with work.open("a", encoding="utf-8") as file:
        for key, figures in figures_by_key.items():
            plain = {n: None if math.isinf(v) else v for n, v in figures.items()}
            file.write(json.dumps([key, plain]) + "\n")
