"""Programs killed at random instants: is all that was acknowledged there, and all else whole?

    python -m tests.bench.kills [N] [SEED] [SORT ...]    # N kills of each sort, 100 unless told

Each program is a fork of this one, so that starting it takes no time, and ends by SIGKILL at a
random instant of its run. Sorts: a walk saved to a file, a walk kept as a case, chart, export,
import, derive, serve. A walk's acknowledgement is its “Noted” line: afterwards what is saved holds
as many answers at least, and resumes. A target file holds the old content or a new whole one. A
database passes SQLite's integrity_check. What a killed program left beside a file goes by age; its
share is told.
"""

from __future__ import annotations

import argparse
import http.client
import json
import os
import random
import shutil
import signal
import sqlite3
import sys
import tempfile
import threading
import time
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path

from engine.cases import opening
from engine.cases.shop import Shop
from engine.walk.entry import admit
from kb.language.loader import as_shipped
from render.cli import briefing, casework, foresight, outset
from render.cli.commands import main as command_line
from render.cli.options import Depth, Mains
from tests.cases.intakes import JPEG, answer, intake, standing
from tests.station.house import model, one_step, start, step_of, take_in
from tests.station.visitor import Visitor
from tests.words.cli import CAME_IN_WHOLE, LANTERN

_LINES = "done\ndead\nundo\ndead\ndone\n2 V\ndone\nall lit\nundo\nall lit\ndone\n1 V\ndone\nb\n"
_SHEETS = ("lamp.svg", "lamp.html", "lamp.json", "lamp.pdf")


@dataclass
class Bench:
    """A folder in which programs are killed, and what was found amiss there."""

    folder: Path
    chance: random.Random
    amiss: Counter[str] = field(default_factory=Counter)
    usual: dict[str, float] = field(default_factory=dict)
    """Seconds that a sort of program takes when nobody kills it."""
    hits: int = 0
    """Programs that were running when they were killed."""

    @property
    def shop(self) -> Path:
        """The shop's database."""
        return self.folder / "shop.db"

    def open(self) -> Shop:
        """The shop, as the next program opens it."""
        return opening.open_shop(self.shop, who="after", clock=lambda: datetime.now(UTC))

    def killed(self, sort: str, *words: str, typed: str = "") -> str:
        """Run a command and kill it somewhere; what it had said. The first run of a sort ends."""
        said = self.folder / "said.txt"
        begin = time.monotonic()
        child = os.fork()
        if child == 0:
            _become(words, typed, said, self.folder)
        if sort not in self.usual:
            os.waitpid(child, 0)
            self.usual[sort] = time.monotonic() - begin
        else:
            time.sleep(self.chance.random() * self.usual[sort])
            os.kill(child, signal.SIGKILL)
            _, status = os.waitpid(child, 0)
            self.hits += os.WIFSIGNALED(status)
        return said.read_text(encoding="utf-8", errors="replace")

    def check(self, is_so: bool, what: str) -> None:
        """Count what is amiss."""
        if not is_so:
            self.amiss[what] += 1

    def check_shop(self) -> None:
        """The database's own checks, and the reading of every case."""
        if not self.shop.exists():
            return
        with sqlite3.connect(self.shop) as connection:
            self.check(connection.execute("pragma integrity_check").fetchall() == [("ok",)],
                       "integrity_check")  # fmt: skip
            self.check(not connection.execute("pragma foreign_key_check").fetchall(), "stray rows")
        connection.close()


def _become(words: tuple[str, ...], typed: str, said: Path, folder: Path) -> None:
    """The child: the command line on these words, until it ends or is killed."""
    os.chdir(folder)
    source = folder / "typed.txt"
    source.write_text(typed, encoding="utf-8")
    os.dup2(os.open(source, os.O_RDONLY), 0)
    os.dup2(os.open(said, os.O_WRONLY | os.O_CREAT | os.O_TRUNC), 1)
    os.dup2(1, 2)
    sys.stdin = os.fdopen(0, encoding="utf-8")
    # Each line goes out as it is said: what waits in a buffer was acknowledged to nobody.
    sys.stdout = os.fdopen(1, "w", encoding="utf-8", buffering=1)
    sys.stderr = sys.stdout
    sys.argv = ["nextprobe", *words]
    try:
        command_line()
    except SystemExit as ended:
        sys.stdout.flush()
        os._exit(ended.code if isinstance(ended.code, int) else 0)
    finally:
        os._exit(9)


def _noted(said: str) -> int:
    """Answers that were acknowledged and not taken back; one that was being taken back when the
    kill came may be there or not."""
    under_way = said.count("undo\n") > said.count("Taken back:")
    return said.count("Noted:") - said.count("Taken back:") - under_way


def _answers(events: list[dict[str, object]]) -> int:
    return sum(event["event"] != "arrived" for event in events)


def walk_in_file(bench: Bench) -> None:
    """A walk saved to a file."""
    target = bench.folder / "walk.json"
    target.unlink(missing_ok=True)
    typed = CAME_IN_WHOLE + _LINES
    words = ("walk", "--model", str(LANTERN), "--save", str(target), "--time", "0.05")
    noted = _noted(bench.killed("walk to a file", *words, typed=typed))
    if not target.exists():
        bench.check(noted == 0, "a walk's file is not there")
        return
    events = json.loads(target.read_text(encoding="utf-8"))["events"]
    bench.check(_answers(events) >= noted, "an acknowledged answer is lost")
    asked = briefing.Brief(None, Mains("230/50"), Depth.PART, None, None, (), None)
    bench.check(len(briefing.as_saved(asked, target).saved.events) == len(events), "resume")  # type: ignore[union-attr]


def walk_as_case(bench: Bench) -> None:
    """A walk kept as a case."""
    before = len(bench.open().rows())
    words = ("walk", "--model", str(LANTERN), "--shop", str(bench.shop), "--time", "0.05")
    noted = _noted(bench.killed("walk as a case", *words, typed=CAME_IN_WHOLE + _LINES))
    bench.check_shop()
    rows = bench.open().rows()
    if len(rows) == before:
        bench.check(noted == 0, "a case is not there")
        return
    events = bench.open().case(max(row.number for row in rows)).standing.events
    bench.check(_answers([dict(e) for e in events]) >= noted, "an acknowledged answer is lost")


def chart(bench: Bench) -> None:
    """A chart written over an earlier one."""
    name = bench.chance.choice(_SHEETS)
    target = bench.folder / name
    target.write_text("old", encoding="utf-8")
    words = ("chart", "--model", str(LANTERN), "--depth", "part", "--time", "0.1", "-o", name)
    bench.killed(f"chart {name}", *words)
    content = target.read_bytes() if target.exists() else b"old"
    ends = {".svg": b"</svg>", ".html": b"</html>", ".json": b"}", ".pdf": b"%%EOF"}
    is_whole = content == b"old" or content.rstrip().endswith(ends[target.suffix])
    bench.check(is_whole, f"half a chart: {name}")
    if target.suffix == ".json" and content != b"old":
        json.loads(content)


def export(bench: Bench) -> None:
    """All cases written to a file."""
    target = bench.folder / "cases.json"
    before = target.read_bytes() if target.exists() else b""
    bench.killed("export", "export", "--shop", str(bench.shop), "-o", str(target))
    after = target.read_bytes() if target.exists() else b""
    if after != before:
        json.loads(after)
    bench.check_shop()


def take_over(bench: Bench) -> None:
    """Cases of another shop taken in: all or none."""
    other = bench.folder / "other.json"
    if not other.exists():
        elsewhere = opening.open_shop(
            bench.folder / "elsewhere.db", who="Bo", clock=lambda: datetime.now(UTC)
        )
        for number in range(30):
            case, version = elsewhere.begin(intake(unit=f"lamp {number}"))
            elsewhere.keep(case, version, standing([answer("volts-TP1", "3 V")] * 5))
            elsewhere.photograph(case, JPEG + bytes([number]))
        bench.killed("export all", "export", "--shop", str(bench.folder / "elsewhere.db"),
                     "-o", str(other))  # fmt: skip
    mine = bench.folder / "mine.db"
    for left in bench.folder.glob("mine.db*"):
        left.unlink()
    bench.killed("import", "import", str(other), "--shop", str(mine))
    if mine.exists():
        shop = opening.open_shop(mine, who="after", clock=lambda: datetime.now(UTC))
        bench.check(len(shop.rows()) in (0, 30), "half of an import")


def derive(bench: Bench) -> None:
    """A circuit derived."""
    out, hits = bench.folder / "readings", bench.hits
    bench.killed("derive", "derive", "buck-lamp", "--samples", "1", "-o", str(out))
    for path in out.glob("*.json"):
        json.loads(path.read_text(encoding="utf-8"))
    if bench.hits == hits:  # it came to its end, and would find nothing left to do
        shutil.rmtree(out, ignore_errors=True)


def serve(bench: Bench) -> None:
    """The page: answers given by forms until the server is killed, in the middle of one or not."""
    unit = model()
    server = start(bench.folder, str(bench.shop))
    visitor = Visitor(server.address)
    number, given = take_in(visitor), 0
    end = threading.Timer(bench.chance.random() * 2, server.process.kill)
    end.start()
    try:
        while not step_of(visitor).startswith("verdict"):
            one_step(visitor, unit)
            given += 1
    except (OSError, http.client.HTTPException):
        given += visitor.reply.status == 303  # it was taken, and where to go on was told
    end.join()
    server.process.wait()
    bench.hits += 1
    bench.check_shop()
    case = bench.open().case(number)
    bench.check(len(case.standing.events) + len(case.standing.entry) >= given,
                "an acknowledged answer is lost")  # fmt: skip
    bench.check(_goes_on(bench, number), "resume")


def _goes_on(bench: Bench, number: int) -> bool:
    """Whether a case is taken up again, with all its events."""
    shop = bench.open()
    case = shop.case(number)
    brief = casework.brief_of(case, shop, 0.05)
    admission = admit(outset.model_of(brief), outset.entry_of(brief))
    if not (case.standing.events and admission.is_admitted):
        return True
    first = outset.model_of(brief)
    walk = outset.opening_walk(brief, first, admission, foresight.patient(0.05, None, None))
    return len(walk.events) >= len(case.standing.events)


SORTS: dict[str, Callable[[Bench], None]] = {
    "walk-file": walk_in_file, "walk-case": walk_as_case, "chart": chart, "export": export,
    "import": take_over, "derive": derive, "serve": serve,
}  # fmt: skip


def main() -> None:
    """Kill, look, and print the table."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench.kills")
    parser.add_argument("number", nargs="?", type=int, default=100)
    parser.add_argument("seed", nargs="?", type=int, default=0)
    parser.add_argument("sorts", nargs="*", default=list(SORTS))
    asked = parser.parse_args()
    as_shipped()
    worst = 0
    print("sort          kills  amiss  seconds")
    for name in asked.sorts:
        with tempfile.TemporaryDirectory(prefix="kills-") as folder:
            bench = Bench(Path(folder), random.Random(f"{name} {asked.seed}"))
            begin = time.monotonic()
            for _ in range(3 * asked.number):
                if bench.hits >= asked.number:
                    break
                SORTS[name](bench)
            left = sum(1 for _ in Path(folder).rglob(".*np-part*"))
            amiss = sum(bench.amiss.values())
            worst = max(worst, amiss)
            print(f"{name:<12}{bench.hits:>7}{amiss:>7}{time.monotonic() - begin:>9.0f}"
                  f"   {left} left beside files {dict(bench.amiss) or ''}", flush=True)  # fmt: skip
    sys.exit(1 if worst else 0)


if __name__ == "__main__":
    main()
