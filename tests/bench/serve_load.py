"""Benches that answer all at once: how long until the next question, and does the server grow?

    python -m tests.bench.serve_load [--benches 8] [--seconds 300] [--shop ADDRESS]
    python -m tests.bench.serve_load --shop postgresql      on a server started for it

Each bench takes units in and walks them to their verdicts, one after the other, as fast as pages
come. Timed is a form until the page it leads to is there: the answer is then on the disk and the
rest planned anew. Memory and open files are those of the server's process (Linux).
"""

from __future__ import annotations

import argparse
import contextlib
import os
import statistics
import tempfile
import threading
import time
from pathlib import Path

from engine.model.records import Model
from tests.cases.server import postgresql
from tests.station.house import Server, model, one_step, serving, step_of, take_in
from tests.station.visitor import Visitor

_RIPE = 0.2
"""The first part of a run, in which caches fill and nothing is counted."""


def bench(
    server: Server,
    unit: Model,
    end: float,
    begin: float,
    times: list[tuple[float, str]],
    jobs: list[int],
) -> None:
    """One bench until the time is up."""
    visitor = Visitor(server.address)
    while time.monotonic() < end:
        take_in(visitor)
        while not step_of(visitor).startswith("verdict") and time.monotonic() < end:
            start, step = time.monotonic(), step_of(visitor)
            one_step(visitor, unit)
            if start >= begin:
                times.append((time.monotonic() - start, step.split()[0]))
        jobs.append(1)


def burden(server: Server) -> tuple[float, int]:
    """Resident megabytes and open files of the server."""
    place = Path("/proc") / str(server.process.pid)
    words = (place / "status").read_text().split()
    kilobytes = float(words[words.index("VmRSS:") + 1])
    return kilobytes / 1024, len(list((place / "fd").iterdir()))


def processor_seconds(server: Server) -> float:
    """What the server's process has used of the processor so far."""
    stat = (Path("/proc") / str(server.process.pid) / "stat").read_text()
    words = stat.rpartition(")")[2].split()
    return (int(words[11]) + int(words[12])) / os.sysconf("SC_CLK_TCK")


def main() -> None:
    """Print the figures, memory minute by minute among them."""
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--benches", type=int, default=8)
    options.add_argument("--seconds", type=float, default=300.0)
    options.add_argument("--shop")
    choice = options.parse_args()
    unit = model()
    with contextlib.ExitStack() as stack:
        folder = Path(stack.enter_context(tempfile.TemporaryDirectory()))
        place = choice.shop or str(folder / "shop.db")
        if place == "postgresql":
            place = f"{stack.enter_context(postgresql())}/postgres"
        with serving(folder, place) as server:
            now = time.monotonic()
            begin, end = now + _RIPE * choice.seconds, now + choice.seconds
            times: list[tuple[float, str]] = []
            jobs: list[int] = []
            threads = [
                threading.Thread(target=bench, args=(server, unit, end, begin, times, jobs))
                for _ in range(choice.benches)
            ]
            for thread in threads:
                thread.start()
            burdens, minute = [], 0
            spent = 0.0
            while time.monotonic() < end:
                time.sleep(min(5.0, choice.seconds / 20))
                if (passed := int(time.monotonic() - now) // 60) > minute:
                    minute = passed
                    print(f"after {minute} min: {burden(server)[0]:.0f} MB, {burden(server)[1]} "
                          f"open files, {sum(jobs)} jobs", flush=True)  # fmt: skip
                if time.monotonic() >= begin:
                    spent = spent or processor_seconds(server)
                    burdens.append(burden(server))
            for thread in threads:
                thread.join()
            spent = processor_seconds(server) - spent
    hundredths = statistics.quantiles([seconds for seconds, _ in times], n=100)
    print(f"{choice.benches} benches, {len(times)} forms, {sum(jobs)} jobs")
    print(f"next page: p50 {hundredths[49]:.2f} s, p99 {hundredths[98]:.2f} s, "
          f"longest {max(times)[0]:.2f} s; "
          f"{spent / len(times):.2f} s of a processor each")  # fmt: skip
    for kind in sorted({step for _, step in times}):
        spent = sorted(seconds for seconds, step in times if step == kind)
        print(f"  {kind:<8} {len(spent):>5} forms, p50 {statistics.median(spent):.2f} s, "
              f"longest {spent[-1]:.2f} s")  # fmt: skip
    for label, column in (("memory, MB", 0), ("open files", 1)):
        figures = [one[column] for one in burdens]
        half = len(figures) // 2
        first, second = statistics.mean(figures[:half]), statistics.mean(figures[half:])
        most = max(figures)
        halves = f"{first:.0f} in the first half, {second:.0f} in the second"
        print(f"{label}: {halves}, most {most:.0f}")


if __name__ == "__main__":
    main()
