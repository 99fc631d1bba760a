"""Does `chart` write what it was asked for, everything at once too, and say what it could not?"""

from __future__ import annotations

import json
import re
from concurrent.futures import Future
from pathlib import Path

import pytest

from engine import library
from kb.trouble import Place, Trouble, TroubleError
from render import paper as press
from render.cli import drawing, failure, hanging
from render.cli.asked import Request
from render.cli.commands import chart as charting
from render.cli.options import Depth, Mains
from render.page.gallery import Drawn, index
from tests.words.cli import LANTERN, Desk

UNIT = ("--model", str(LANTERN))


def test_the_suffix_html_writes_the_page(desk: Desk) -> None:
    """By itself, and said so."""
    run = desk.run("chart", *UNIT, "-o", "lantern.html")
    assert (run.code, run.out) == (0, "lantern.html is written.\n")
    page = (desk.folder / "lantern.html").read_text(encoding="utf-8")
    assert page.startswith("<!DOCTYPE html>")


def test_a_page_without_a_name_is_named_after_the_unit(desk: Desk) -> None:
    """As any drawing."""
    assert desk.run("chart", *UNIT, "--format", "html").code == 0
    assert (desk.folder / "gate-lantern.model.html").is_file()


def test_how_many_sheets_it_takes_is_said_before_they_are_written(desk: Desk) -> None:
    """In one sentence."""
    run = desk.run("chart", *UNIT, "-o", "lantern.svg")
    first, *written = run.out.splitlines()
    sheets = re.match(r"(\d+) sheets? of A3", first)
    assert sheets
    assert len(written) == int(sheets[1])


def test_a_poster_goes_over_tiles(desk: Desk) -> None:
    """Of A4, where nothing else is said."""
    run = desk.run("chart", *UNIT, "-o", "lantern.pdf", "--poster", "A2", "--leave-out", "faults")
    assert run.code == 0
    assert re.match(r"\d+ tiles of A4", run.out)


def test_the_editions_are_those_of_the_printer() -> None:
    assert [one.value for one in charting.Edition] == [one.value for one in press.Edition]


def test_what_can_be_left_out_is_what_the_printer_can_leave_out() -> None:
    """Named twice, so that help needs no printer."""
    assert [part.value for part in charting.Part] == [extra.value for extra in press.Extra]


def test_a_chart_has_a_second_start_for_units_after_a_bang(desk: Desk) -> None:
    """With what it costs said beside, and nothing of it where the one START is cold."""
    lamp = ("chart", "buck-lamp", "--depth", "stage", "--time", "0.5")
    desk.run(*lamp, "-o", "both.json")
    both = json.loads((desk.folder / "both.json").read_text(encoding="utf-8"))
    assert both["second"]["chart"]["complaint"] == "bang-smell-trip-damage"
    ran = desk.run(*lamp, "-o", "both.html")
    assert "Second START, after a bang, a smell, a trip or damage:" in ran.out
    cold = desk.run(*lamp, "--complaint", "burnt-smell", "--format", "json")
    assert "second" not in json.loads(cold.out)


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["--all", "buck-lamp", "-o", "charts"], "CL103"),
        (["--all", *UNIT, "-o", "charts"], "CL103"),
        (["--all", "--complaint", "dim", "-o", "charts"], "CL103"),
        (["--all"], "CL104"),
        (["--all", "-o", "-"], "CL104"),
        (["--all", "-o", "nowhere/charts"], "CL105"),
        (["--all", "-o", "file"], "CL105"),
        ([*UNIT, "--format", "html", "--format", "pdf"], "CL106"),
    ],
)
def test_what_does_not_go_together_is_told(desk: Desk, words: list[str], told: str) -> None:
    """In one sentence, with nothing written."""
    (desk.folder / "file").write_text("", encoding="utf-8")
    run = desk.run("chart", *words)
    assert run.code == 2
    assert told in run.err
    assert [path.name for path in desk.folder.iterdir() if path.suffix] == []


def test_all_charts_are_drawn_at_once_with_an_index(desk: Desk) -> None:
    """A file of each format for each topology, linked from the index, and nothing besides."""
    run = desk.run(
        "chart", "--all", "-o", "charts", "--depth", "stage", "--format", "json", "--time", "0.5"
    )
    names = {f"{note.id}-stage-230V.json" for note in library.topologies()}
    folder = desk.folder / "charts"
    assert run.code == 0, run.err
    assert {path.name for path in folder.iterdir()} == {*names, "index.html"}
    index = (folder / "index.html").read_text(encoding="utf-8")
    assert set(re.findall(r'href="([^"#]+)"', index)) == names
    depths = {json.loads((folder / name).read_text(encoding="utf-8"))["depth"] for name in names}
    assert depths == {"stage"}


def test_a_chart_that_fails_is_told_and_the_others_are_kept(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The exit code is that of the gravest failure; a finished chart's files stay."""
    aside, folder, done = tmp_path / "aside", tmp_path / "charts", hanging.Round()
    aside.mkdir()
    folder.mkdir()
    (aside / "good.json").write_text("{}", encoding="utf-8")
    good, bad = (_job(aside, name) for name in ("good", "bad"))
    trouble = TroubleError(Trouble("PA111", Place("test bad"), "No shape", "Reword it"))
    for job, ended in ((bad, trouble), (good, _drawn("good"))):
        hanging.put_away(job, _finished(ended), folder, done)
    assert done.code == failure.GIVEN
    assert [path.name for path in folder.iterdir()] == ["good.json"]
    assert [chart.topology for chart in done.drawn] == ["good"]
    assert [one.topology for one in done.missing] == ["bad"]
    assert "bad: test bad PA111 No shape" in capsys.readouterr().err
    assert "PA111" in index(done.drawn, done.missing, "2026-11-25")


def _job(aside: Path, name: str) -> hanging.Job:
    asked = Request(name, Mains.EUROPE, Depth.STAGE, None, None, (), None)
    paper = drawing.Paper("A3", "auto", "0.7m")
    return hanging.Job(asked, ("json",), paper, 1.0, aside, name)


def _drawn(name: str) -> Drawn:
    return Drawn(
        topology=name, says=name, depth="stage", volts=230.0, hertz=50.0, paper="", minutes=1.0,
        cost=2.0, lower_bound=2.0, proved=True, checks=1, verdicts=2, sheets=0,
        files=(("json", (f"{name}.json",)),),
    )  # fmt: skip


def _finished(ended: Drawn | Exception) -> Future[Drawn]:
    future: Future[Drawn] = Future()
    if isinstance(ended, Drawn):
        future.set_result(ended)
    else:
        future.set_exception(ended)
    return future


def test_a_chart_tells_what_its_plan_loses(desk: Desk) -> None:
    """Where it is asked for; standard output stays a document where that goes there."""
    run = desk.run("chart", *UNIT, "--ranges", "3", "-o", "lantern.json")
    assert "On 3 other benches" in run.out
    plain = json.loads((desk.folder / "lantern.json").read_text(encoding="utf-8"))
    assert plain["ranges"]["benches"] == 3
    assert "sturdy" not in plain
    piped = json.loads(desk.run("chart", *UNIT, "--ranges", "3", "--format", "json").out)
    assert piped["ranges"] == plain["ranges"]


def test_the_sturdiest_plan_is_told_of(desk: Desk) -> None:
    """How many plans it was held against, and how far from the least it is."""
    run = desk.run("chart", *UNIT, "--sturdy", "--ranges", "3", "-o", "lantern.json")
    assert run.code == 0, run.err
    plain = json.loads((desk.folder / "lantern.json").read_text(encoding="utf-8"))
    sturdy = plain["sturdy"]
    assert sturdy["of"] >= 1
    assert plain["expected_cost"] <= plain["lower_bound"] * 1.01 + 1e-6
    assert sturdy["gap_minutes"] == plain["expected_cost"] - plain["lower_bound"]
    assert "within 1 %" in run.out
