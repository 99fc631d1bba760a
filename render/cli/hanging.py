"""All charts at once: a process for each core, finished files moved into their folder, an index.

A chart that fails is told and left out; the others are finished, and the exit code says so.
"""

from __future__ import annotations

import io
import os
import signal
import sys
import tempfile
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Future, ProcessPoolExecutor, as_completed
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from multiprocessing import get_context
from pathlib import Path
from typing import Any

from kb.trouble import Place, Trouble, TroubleError
from render.cli import drawing, failure, files, streams
from render.cli.asked import Request
from render.drawing.ink import Sheets
from render.drawing.issue import issue_date
from render.page.gallery import Drawn, Missing, index

_PICTURE_DPI = 26.0
_PICTURE_COLOURS = 16  # the index carries its pictures: each must stay small


@dataclass(frozen=True, slots=True)
class Job:
    """One chart in every format: its files go into `folder` under `name`."""

    asked: Request
    forms: tuple[str, ...]
    paper: drawing.Paper
    seconds: float
    folder: Path
    name: str


@dataclass(slots=True)
class Round:
    """What has come of the jobs so far."""

    drawn: list[Drawn] = field(default_factory=list)
    missing: list[Missing] = field(default_factory=list)
    code: int = 0


def hang(
    request: Request, depths: Sequence[str], forms: tuple[str, ...], paper: drawing.Paper,
    seconds: float, folder: Path,
) -> int:  # fmt: skip
    """Draw every topology to each depth in each format into `folder`, with an index page.

    Returns the exit code: 0, or that of the gravest failure. TroubleError where nothing can be
    begun: the folder can't be made, the knowledge can't be read.
    """
    _make(folder)
    with tempfile.TemporaryDirectory(prefix=".charts-", dir=folder) as aside:
        jobs = _jobs(request, depths, forms, paper, seconds, Path(aside))
        tally = _work_off(jobs, folder)
    files.write_text(folder / "index.html", index(tally.drawn, tally.missing, issue_date()))
    count = sum(len(names) for chart in tally.drawn for _, names in chart.files)
    print(f"{folder / 'index.html'} is written: {len(tally.drawn)} charts in {count} files.")
    if tally.missing:
        print(f"nextprobe: {len(tally.missing)} charts could not be drawn.", file=sys.stderr)
    return tally.code


def _make(folder: Path) -> None:
    try:
        folder.mkdir(exist_ok=True)
        if not os.access(folder, os.W_OK):
            raise PermissionError(13, "Permission denied")
    except OSError as wrong:
        raise TroubleError(
            Trouble(
                code="CL105",
                place=Place(str(folder)),
                what=f"the charts can't go there ({(wrong.strerror or str(wrong)).lower()})",
                mend="Name a folder with -o that is there, or whose parent is, and that you may "
                "write to",
            )
        ) from wrong


def _jobs(
    request: Request, depths: Sequence[str], forms: tuple[str, ...], paper: drawing.Paper,
    seconds: float, aside: Path,
) -> list[Job]:  # fmt: skip
    """Stages first: what they deduce is kept, and the part charts need it too."""
    from engine import library
    from render.cli.options import Depth

    volts = request.mains.partition("/")[0]
    return [
        Job(
            replace(request, topology=note.id, depth=Depth(depth)),
            forms, paper, seconds, aside, f"{note.id}-{depth}-{volts}V",
        )
        for depth in sorted(depths, reverse=True)
        for note in library.topologies((request.kb,) if request.kb else ())
    ]  # fmt: skip


def _work_off(jobs: Sequence[Job], folder: Path) -> Round:
    tally = Round()
    # Spawned, not forked: the printer's libraries and the planner keep threads and state.
    pool = ProcessPoolExecutor(
        max_workers=min(len(jobs), os.cpu_count() or 1) or 1,
        mp_context=get_context("spawn"),
        initializer=_at_work,
    )
    with pool, _bar(len(jobs)) as tell:
        waiting: dict[Future[Drawn], Job] = {pool.submit(draw, job): job for job in jobs}
        try:
            for future in as_completed(waiting):
                put_away(waiting[future], future, folder, tally)
                tell(waiting[future].name)
        except BaseException:
            pool.shutdown(wait=False, cancel_futures=True)
            raise
    return tally


def _at_work() -> None:
    """Let an interrupt end a worker at once, and keep its lines of waiting off the bar."""
    signal.signal(signal.SIGINT, signal.SIG_DFL)
    sys.stderr = open(os.devnull, "w", encoding="utf-8")  # noqa: SIM115 (for the worker's life)


def put_away(job: Job, future: Future[Drawn], folder: Path, tally: Round) -> None:
    """Move a finished chart's files into the folder, or tell and note why there are none."""
    wrong = future.exception()
    if wrong is None:
        chart = future.result()
        for _, names in chart.files:
            for name in names:
                (job.folder / name).replace(folder / name)
        tally.drawn.append(chart)
        return
    why = _message(wrong)
    for line in why:
        print(f"nextprobe: {job.name}: {line}", file=sys.stderr)
    request = job.asked
    tally.missing.append(Missing(str(request.topology), request.depth.value, why))
    tally.code = max(tally.code, failure.GIVEN if isinstance(wrong, TroubleError) else failure.BUG)


def _message(wrong: BaseException) -> tuple[str, ...]:
    if isinstance(wrong, TroubleError):
        return tuple(str(trouble) for trouble in wrong.troubles)
    if isinstance(wrong, Exception):
        return (failure.log_fault(wrong),)
    raise wrong


def draw(job: Job) -> Drawn:
    """Plan one chart and draw it in every format, in the job's folder."""
    draft = drawing.draft_of(job.asked, job.forms, job.paper, job.seconds)
    model, chart = draft.model, draft.chart
    files_of = {
        form: drawing.put_down(draft, form, job.folder / f"{job.name}.{form}") for form in job.forms
    }
    kinds = Counter(node["kind"] for node in chart["nodes"].values())
    return Drawn(
        topology=model["topology"],
        says=model["says"] or model["topology"],
        depth=model["depth"],
        volts=model["mains"]["volts"],
        hertz=model["mains"]["hertz"],
        paper=draft.sheets.paper if draft.sheets else "",
        minutes=chart["expected_minutes"],
        cost=chart["expected_cost"],
        lower_bound=chart["lower_bound"],
        proved=chart["proved_optimal"],
        checks=kinds["test"],
        verdicts=kinds["verdict"],
        sheets=len(draft.sheets.sheets) if draft.sheets else 0,
        files=tuple((form, tuple(path.name for path in paths)) for form, paths in files_of.items()),
        picture=_picture(draft.sheets, files_of.get("pdf", ())),
    )


def _picture(sheets: Sheets | None, files_of: Sequence[Path]) -> bytes:
    """A small picture of the first sheet of the flowchart; nothing where no PDF is drawn."""
    if sheets is None or not files_of:
        return b""
    import pypdfium2

    flow = next((n for n, sheet in enumerate(sheets.sheets) if sheet.drawing.flows), 0)
    picture = pypdfium2.PdfDocument(files_of[0])[flow].render(scale=_PICTURE_DPI / 72).to_pil()
    buffer = io.BytesIO()
    picture.quantize(_PICTURE_COLOURS).save(buffer, "PNG", optimize=True)
    return buffer.getvalue()


@contextmanager
def _bar(total: int) -> Iterator[Callable[[str], Any]]:
    """A bar on standard error that counts what is done; nothing where no one looks."""
    if not sys.stderr.isatty():
        yield lambda name: None
        return
    from rich.console import Console
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeElapsedColumn

    columns = (
        TextColumn("{task.description}"), BarColumn(), MofNCompleteColumn(), TimeElapsedColumn(),
    )  # fmt: skip
    console = Console(file=streams.bare(sys.stderr))
    with Progress(*columns, console=console, transient=True) as progress:
        task = progress.add_task("drawing", total=total)
        yield lambda name: progress.update(task, advance=1, description=f"{name} done")
