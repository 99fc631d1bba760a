"""Do list, model, check, chart and walk do their job on the shipped knowledge?"""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from engine import library
from engine.audit import audit, audit_walk
from engine.model.file import read_model
from engine.model.records import Mains as MainsRecord
from engine.walk import job
from engine.walk.events import Arrived, Known, Lacking
from engine.walk.job import Outset
from render.cli import failure, foresight, outset
from render.cli.briefing import Brief
from render.cli.options import Depth, Mains
from tests.words.cli import LANTERN, Desk

LAMP = "buck-lamp"
PASSED = "refused-kinds: no\nfixed-wiring: no\nwet-or-melted: no\nwhole: yes\nbang-smell-trip: no\n"



def test_list_names_the_shipped_topologies(desk: Desk) -> None:
    """With what they are; the same as JSON."""
    listed = json.loads(desk.run("list", "--json").out)
    assert {"buck-lamp", "light-controlled-lamp"} <= {note["id"] for note in listed}
    out = desk.run("list").out
    for note in listed:
        assert note["id"] in out
        assert note["says"] in " ".join(out.split())


def test_model_prints_a_document_that_reads_back(desk: Desk) -> None:
    """On standard output, or into a file."""
    out = desk.run("model", LAMP).out
    assert read_model(out, "stdout").topology == LAMP
    desk.run("model", LAMP, "-o", "lamp.json")
    assert (desk.folder / "lamp.json").read_text(encoding="utf-8") == out


def test_mains_change_the_model(desk: Desk) -> None:
    """By option or by the shop's own setting."""
    by_option = json.loads(desk.run("model", LAMP, "--mains", "120/60").out)
    assert by_option["mains"] == {"volts": 120.0, "hertz": 60.0}
    by_setting = desk.program("model", LAMP, NEXTPROBE_MAINS="120/60")
    assert json.loads(by_setting.out) == by_option


def test_explain_prints_rules_and_facts_behind_a_cell(desk: Desk) -> None:
    """For the first test and the first fault of a part."""
    model = read_model(desk.run("model", LAMP).out, "stdout")
    fault = next(fault for fault in model.faults if fault.parts)
    out = desk.run("model", LAMP, "--explain", model.tests[0].id, fault.id).out
    assert "Why this test is offered" in out
    assert model.tests[0].because[0].rule in out


def test_check_finds_nothing_wrong_in_what_is_shipped(desk: Desk) -> None:
    """And ends well."""
    ran = desk.run("check")
    assert ran.code == 0, ran.out
    assert "0 errors" in ran.out


def test_check_ends_badly_where_there_are_errors(desk: Desk) -> None:
    """Each told with its file and line, also as JSON."""
    (desk.folder / "mine").mkdir()
    (desk.folder / "mine" / "lamp.yaml").write_text("topology: [\n", encoding="utf-8")
    ran = desk.run("check", "mine")
    assert ran.code == failure.GIVEN
    assert "lamp.yaml:" in ran.out
    told = json.loads(desk.run("check", "mine", "--json").out)
    assert told["errors"] == len(told["troubles"]) > 0
    assert all(trouble["what"] and trouble["mend"] for trouble in told["troubles"])


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["walk", "toaster"], "buck-lamp"),
        (["chart", "toaster", "-o", "x.pdf"], "buck-lamp"),
        (["model", "toaster"], "buck-lamp"),
        (["model", LAMP, "--complaint", "sings"], "'sings' is no complaint"),
        (["model", LAMP, "--explain", "tea", "no-fault"], "no test 'tea'"),
        (["model", LAMP, "--kb", "nowhere"], "nowhere"),
    ],
    ids=lambda value: " ".join(value) if isinstance(value, list) else None,
)
def test_unknown_names_are_told_with_the_known_ones(
    desk: Desk, words: list[str], told: str
) -> None:
    """With code 2."""
    ran = desk.run(*words)
    assert ran.code == failure.GIVEN
    assert told in ran.err


def test_chart_prints_json_that_audits_clean(desk: Desk) -> None:
    """From a topology and from its model document alike."""
    desk.run("model", LAMP, "--depth", "stage", "-o", "lamp.json")
    chart = desk.run("chart", LAMP, "--depth", "stage", "--format", "json").out
    model = json.loads((desk.folder / "lamp.json").read_text(encoding="utf-8"))
    complaint = json.loads(chart)["second"]["chart"]["complaint"]
    cold = desk.run("model", LAMP, "--depth", "stage", "--complaint", complaint).out
    assert audit(model, json.loads(chart), json.loads(cold)) == ()
    again = desk.run("chart", "--model", "lamp.json", "--format", "json").out
    # A document may lie, so that more is measured and told; the plan is the same.
    first, second = (
        [(n["kind"], n.get("test"), n.get("remedy")) for n in json.loads(text)["nodes"].values()]
        for text in (chart, again)
    )
    assert [node for node in first if node[0] != "setup"] == [
        node for node in second if node[0] != "setup"
    ]


@pytest.mark.parametrize(
    ("suffix", "begins"), [("pdf", b"%PDF-"), ("svg", b"<"), ("png", b"\x89PNG"), ("json", b"{")]
)
def test_chart_writes_the_format_of_the_suffix(desk: Desk, suffix: str, begins: bytes) -> None:
    """And says so."""
    ran = desk.run("chart", "--model", str(LANTERN), "-o", f"lamp.{suffix}")
    assert ran.code == 0, ran.err
    files = sorted(Path(desk.folder).glob(f"lamp*.{suffix}"))
    assert files
    for file in files:
        assert file.read_bytes().startswith(begins)
        assert f"{file.name} is written." in ran.out


def test_a_walk_of_a_topology_runs_from_answers(desk: Desk) -> None:
    """The entry questions may stand among them; the document audits clean."""
    (desk.folder / "answers.yaml").write_text(PASSED, encoding="utf-8")
    ran = desk.run("walk", LAMP, "--answers", "answers.yaml", "--json", "--time", "0.1")
    walk = json.loads(ran.out)
    assert walk["entry"]["whole"] == "yes"
    assert audit_walk(json.loads(desk.run("model", LAMP).out), walk) == ()


def test_the_entry_check_of_the_shipped_knowledge_refuses(desk: Desk) -> None:
    """A microwave oven gets no further."""
    (desk.folder / "answers.yaml").write_text("refused-kinds: yes\n", encoding="utf-8")
    ran = desk.run("walk", LAMP, "--answers", "answers.yaml", "--json")
    walk = json.loads(ran.out)
    assert (walk["verdict"]["kind"], walk["steps"]) == ("refuse", [])


def test_after_a_bang_the_shipped_lamp_never_meets_plain_mains(desk: Desk) -> None:
    """Nor do the proofs come before the repair."""
    text = PASSED.replace("bang-smell-trip: no", "bang-smell-trip: a bang or flash")
    (desk.folder / "answers.yaml").write_text(text, encoding="utf-8")
    ran = desk.run("walk", LAMP, "--answers", "answers.yaml", "--json", "--time", "0.1")
    assert "normal-mains" not in {step["supply"] for step in json.loads(ran.out)["steps"]}


def test_a_bench_without_something_is_not_asked_for_it(desk: Desk) -> None:
    """Neither the model nor the walk names it."""
    model = json.loads(desk.run("model", LAMP, "--without", "isolated-limited").out)
    assert "isolated-limited" not in {a["id"] for a in model["supply"]["arrangements"]}


def test_a_supply_found_lacking_is_replaced_by_another_where_there_is_one() -> None:
    """No isolating transformer: the limited checks move to the tested RCD; what was found stays."""
    told = Brief(LAMP, Mains.EUROPE, Depth.PART, None, None, (), None)
    planner = foresight.patient(0.1)
    unit = library.model(LAMP, mains=MainsRecord(230, 50))
    known = Known("how-is-it-used", "plain")
    walk = job.take(job.begin(Outset(unit), planner), known)
    lack = Lacking("supply", "isolated-limited")
    anew = outset.without_supply(told, walk, lack, planner)
    assert anew is not None
    moved = {test.id for test in unit.tests if test.supply == "isolated-limited"}
    assert moved
    assert {test.supply for test in anew.model.tests if test.id in moved} == {"rcd-limited"}
    assert anew.events == (known, lack)
    assert dict(anew.outset.options)["without"] == "isolated-limited"
    assert anew.withdrawn == walk.withdrawn


def test_a_supply_used_already_is_not_wished_away() -> None:
    """Then the tests that need it are withdrawn, and no more."""
    told = Brief(LAMP, Mains.EUROPE, Depth.PART, None, None, (), None)
    planner = foresight.patient(0.1)
    walk = job.begin(Outset(library.model(LAMP, mains=MainsRecord(230, 50))), planner)
    walk = job.take(walk, Arrived((), "isolated-limited", walk.bench.rig))
    lack = Lacking("supply", "isolated-limited")
    assert outset.without_supply(told, walk, lack, planner) is None
    assert job.take(walk, lack).withdrawn
