"""One process that walks and walks: do memory, open files and waiting times stay as they are?

    python -m tests.bench.soak [WALKS] [DEDUCTIONS]    # 5000 and 40 unless told

Each walk is a case of one shop: a fault drawn by the model's shares, every answer drawn by its odds
for that fault, kept after each answer, closed at its verdict. A line for each tenth: memory after
it (resident, megabytes), open files, and the milliseconds that an answer took, planning and
keeping included. Then the same unit is deduced again and again, each time from other knowledge:
what grows there is what durable-rules keeps of each set of rules.
"""

from __future__ import annotations

import argparse
import gc
import os
import random
import tempfile
import time
from collections.abc import Sequence
from datetime import UTC, datetime
from pathlib import Path

from engine import library
from engine.cases.opening import open_shop
from engine.cases.records import Closing, Intake
from engine.cases.shop import Shop
from engine.cases.sitting import Sitting
from engine.model.file import inspect
from engine.model.records import Mains, Model, Test, sha256
from engine.walk import job
from engine.walk.entry import admit
from engine.walk.events import Answered
from engine.walk.job import Outset, Question, Setting, Walk
from render.cli import foresight
from tests.bench.fuzz.readers import LANTERN
from tests.knowledge.shop import CORD_LAMP

_STEPS = 60
"""Most answers of a walk: a fault that can't be told is given up."""


def memory() -> float:
    """Resident memory in megabytes: the second field of proc(5), statm."""
    pages = int(Path("/proc/self/statm").read_text(encoding="ascii").split()[1])
    return pages * os.sysconf("SC_PAGE_SIZE") / 1e6


def open_files() -> int:
    """Descriptors of this process."""
    return len(os.listdir("/proc/self/fd")) - 1  # the listing's own


def opening(model: Model) -> Walk:
    """A walk of a unit that came in whole."""
    answers = {question.id: next(iter(question.answers)) for question in model.entry}
    if "whole" in answers:
        answers["whole"] = "yes"
    admission = admit(model, answers)
    nothing = frozenset[str]()
    outset = Outset(model, nothing, admission.answers, (("mains", "230/50"),), nothing, None)
    return job.begin(outset, foresight.patient(0.05))


def answered(rng: random.Random, model: Model, test: Test, fault: str) -> Answered:
    """What a unit with this fault answers, by its odds."""
    row = model.row(test.id, fault)
    (outcome,) = rng.choices(list(row), list(row.values()))
    return Answered(test.id, outcome, None, ())


def one_walk(rng: random.Random, shop: Shop, model: Model, took: list[float]) -> None:
    """From take-in to closed."""
    fault = rng.choices(model.faults, [fault.prior for fault in model.faults])[0].id
    intake = Intake(
        topology=model.topology, mains=(model.mains.volts, model.mains.hertz), depth=model.depth,
        complaint=model.complaint, unit="lamp", words="dead", options={},
        knowledge=model.knowledge, model_sha256=sha256(model),
    )  # fmt: skip
    sitting = Sitting.begin(shop, intake)
    sitting.keep(opening(model))
    for _ in range(_STEPS):
        begin = time.perf_counter()
        match sitting.ahead:
            case Setting() as setting:
                sitting.take(setting.arrival({store.part: 0.4 for store in setting.make_safe}))
            case Question() as question:
                sitting.take(answered(rng, model, model.test(question.test), fault))
            case _:
                break
        took.append(time.perf_counter() - begin)
    shop.close(sitting.number, sitting.version, Closing("unmended", faults=(fault,)))


def quantiles(took: Sequence[float]) -> str:
    """Half, nineteen of twenty and ninety-nine of a hundred, in milliseconds."""
    ranked = sorted(took)
    return "".join(f"{1e3 * ranked[int(q * (len(ranked) - 1))]:>9.1f}" for q in (0.5, 0.95, 0.99))


def walks(number: int, folder: Path) -> None:
    """So many, one after another, in one shop."""
    model = inspect(LANTERN.read_text(encoding="utf-8"), str(LANTERN)).model
    shop = open_shop(folder / "shop.db", who="soak", clock=lambda: datetime.now(UTC))
    rng, took = random.Random(1), list[float]()
    print("  walks     MB  files     ms 50%     95%     99%")
    print(f"{0:>7}{memory():>7.1f}{open_files():>7}", flush=True)
    for count in range(1, number + 1):
        one_walk(rng, shop, model, took)
        if count % max(1, number // 10) == 0:
            gc.collect()
            line = f"{count:>7}{memory():>7.1f}{open_files():>7}  {quantiles(took)}"
            print(line, flush=True)
            took.clear()
    shop.leave()


def deductions(number: int, folder: Path) -> None:
    """The same unit from knowledge that is another each time."""
    print("deductions     MB  files")
    for count in range(1, number + 1):
        text = CORD_LAMP + f"# {count} {time.time_ns()}\n"
        (folder / "own.yaml").write_text(text, encoding="utf-8")
        library.model("cord-lamp", mains=Mains(230.0, 50.0), kb=folder)
        if count % max(1, number // 8) == 0 or count == 1:
            gc.collect()
            print(f"{count:>10}{memory():>7.1f}{open_files():>7}", flush=True)


def main() -> None:
    """Walk, then deduce."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench.soak")
    parser.add_argument("walks", nargs="?", type=int, default=5000)
    parser.add_argument("deductions", nargs="?", type=int, default=40)
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory(prefix="soak-") as folder:
        walks(asked.walks, Path(folder))
        own = Path(folder) / "own"
        own.mkdir()
        deductions(asked.deductions, own)


if __name__ == "__main__":
    main()
