"""Are the hands told of leads, tracing and tried repairs as what they do, and once?"""

from __future__ import annotations

from functools import partial

import pytest

from engine import library
from engine.chart.drawing import document as chart_document
from engine.chart.drawing import draw_up
from engine.model.records import Mains, document
from engine.planner import plan
from engine.walk import job
from engine.walk.ending import conclude
from engine.walk.events import Answered, CannotDo
from engine.walk.job import Outset, Setting
from render.cli import synopsis
from render.wording import leads
from render.wording.scriptwriter import write_script
from render.wording.unrigging import removal

MAINS = Mains(230.0, 50.0)
ALIKE = "Unplugged and made safe: an insulated clip on each side. Ends apart."


def lead(point: str, where: str) -> dict[str, str]:
    """A lead at a point, as a model document has it."""
    return {
        "id": f"lead-{point}",
        "kind": "lead",
        "of": point,
        "says": f"bring out {point} ({where})",
        "how": f"{point}: {where}. {ALIKE}",
    }


BOARD = {"id": "driver-board", "kind": "access", "says": "draw out the driver board", "how": ""}
DRAWN = {"id": "trace-control", "kind": "tracing", "stage": "control",
         "says": "trace the light control: draw it once", "how": "Begin at U2."}  # fmt: skip


def test_leads_are_told_in_one_line_after_the_boards_that_bare_them() -> None:
    made = leads.accesses([lead("TP1", "at the bridge"), BOARD, lead("TP4", "across C1")])
    assert [access.says for access in made] == [
        "draw out the driver board", "bring out TP1, TP4 on clipped leads",
    ]  # fmt: skip


def test_what_holds_for_every_lead_is_told_once() -> None:
    (made,) = leads.accesses([lead("TP1", "at the bridge"), lead("TP4", "across C1")])
    assert made.how == f"TP1: at the bridge. TP4: across C1. {ALIKE}"


def test_a_single_lead_keeps_what_its_point_is() -> None:
    (made,) = leads.accesses([lead("TP1", "at the bridge")])
    assert made.says == "bring out TP1 (at the bridge) on clipped leads"


def test_the_bench_tells_apart_what_is_open_on_leads_and_drawn() -> None:
    told = leads.bench([BOARD, DRAWN, lead("TP1", "at the bridge"), lead("TP4", "across C1")])
    assert told == "open: driver board; on leads: TP1, TP4; drawn: control"


METER = {"id": "meter", "says": "put a meter to the leads' ends and cover the light sensor",
         "off": "take the meter off the leads"}  # fmt: skip
IN_THE_LIGHT = {**METER, "id": "lit", "says": "put a meter to the leads' ends, sensor uncovered"}
COVERED = {"id": "covered", "says": "cover the light sensor", "off": "uncover the light sensor"}
NEXT = {"id": "next", "says": "bridge Q1 with a clip lead"}


@pytest.mark.parametrize(
    ("rig", "then", "words"),
    [
        (METER, NEXT, "take the meter off the leads and uncover the light sensor"),
        (METER, COVERED, "take the meter off the leads"),
        (METER, IN_THE_LIGHT, "uncover the light sensor"),
        (COVERED, METER, ""),
        (COVERED, NEXT, "uncover the light sensor"),
    ],
)
def test_only_what_does_not_stay_comes_off(
    rig: dict[str, str], then: dict[str, str], words: str
) -> None:
    assert removal(rig, then) == words


@pytest.mark.parametrize("topology", ["buck-lamp", "light-controlled-lamp"])
def test_a_printed_set_up_names_its_leads_together(topology: str) -> None:
    """No symbol tells of two leads in two sentences."""
    model = library.model(topology, mains=MAINS, depth="stage")
    chart = chart_document(draw_up(model, plan(model, seconds=0.0, effort=4e8)))
    script = write_script(document(model), chart)
    told = [
        "".join(run.text for paragraph in part.paragraphs for run in paragraph.runs)
        for step in script.steps.values()
        for part in step.parts
    ]
    assert any("on clipped leads" in words for words in told)
    assert not any(words.casefold().count("bring out") > 1 for words in told)


def test_a_repair_that_was_tried_reads_as_done_and_to_be_proved() -> None:
    model = library.model("buck-lamp", mains=MAINS)
    kept = [remedy.says for remedy in model.remedies if remedy.id.startswith("keep-")]
    assert kept
    assert all(says.endswith(": done, and it works; prove it") for says in kept)
    rigs = {rig.id: rig.says for rig in model.rigs if rig.id.startswith("mend-")}
    assert all(says.startswith(("remake ", "renew ")) for says in rigs.values())


def test_a_part_that_could_not_be_measured_is_measured_once_it_is_out() -> None:
    """The verdict's first line says so where its own check can't be done."""
    model = library.model("buck-lamp", mains=MAINS)
    fault = "R4-open"
    walk = job.begin(Outset(model), partial(plan, seconds=0.0, effort=4e8))
    while (step := job.pending(walk)) is not None:
        if isinstance(step, Setting):
            walk = job.take(walk, step.event)
        elif step.test == "ohms-R4":
            walk = job.take(walk, CannotDo("ohms-R4"))
        else:
            row = model.row(step.test, fault)
            walk = job.take(walk, Answered(step.test, max(row, key=lambda o: row[o])))
    assert conclude(walk).remedy.id == "renew-R4"
    assert conclude(walk).unmeasured == ("R4",)


def test_a_synopsis_tells_what_must_be_shown_before() -> None:
    told = "\n".join(synopsis.lines(library.model("buck-lamp", mains=MAINS)))
    assert "What must be shown before" in told
    assert "R1 measured" in told


def test_the_derivation_of_a_cell_tells_what_it_is_asked_for() -> None:
    lines = library.explain("buck-lamp", "ohms-R4", "R4-open", mains=MAINS)
    assert "It is what these ask for: renew-R4" in lines
