"""Does a bench sheet say what was found, done and proven, and warn where it was not?"""

from __future__ import annotations

import io
from dataclasses import replace
from datetime import UTC, datetime
from functools import partial
from pathlib import Path

import pypdf
import pytest
from PIL import Image

from engine.cases.opening import open_shop
from engine.cases.records import Case, Closing, Photograph, ProofReading
from engine.cases.sitting import Sitting
from engine.model.file import read_model
from engine.planner import plan
from engine.walk import job
from engine.walk.ending import conclude
from engine.walk.events import Answered
from engine.walk.job import Outset, Question, Setting
from render.benchsheet import content, press
from tests.cases.intakes import intake
from tests.words.cli import LANTERN, Desk

MODEL = read_model(LANTERN.read_text(encoding="utf-8"), "lantern")
FAULT = "driver-dead"


def mended(folder: Path, outcome: str = "mended", passed: int = 99, failed: bool = False) -> Case:
    """A case that was walked to its verdict and closed, so many of its proofs done."""
    shop = open_shop(str(folder / "shop.db"), who="Ann", clock=lambda: datetime.now(UTC))
    told = intake(words="It <b>won't</b> light & smells", topology=MODEL.topology)
    sitting = Sitting.begin(shop, told)
    sitting.keep(job.begin(Outset(MODEL), partial(plan, seconds=1.0)))
    ahead = sitting.ahead
    while ahead is not None:
        if isinstance(ahead, Setting):
            ahead = sitting.take(ahead.event)
            continue
        assert isinstance(ahead, Question)
        row = MODEL.row(ahead.test, FAULT)
        ahead = sitting.take(Answered(ahead.test, max(row, key=lambda name: row[name])))
    proofs = tuple(
        ProofReading(proof.id, proof.says, proof.limit, "read", not failed)
        for proof in conclude(sitting.walk).proofs[:passed]
    )
    closing = Closing(outcome, (FAULT,), "new driver, 9 W", proofs, 8.5, "EUR")
    shop.close(sitting.number, sitting.version, closing)
    return shop.case(sitting.number)


def text_of(case: Case) -> tuple[int, str]:
    """Pages and words of the printed sheet."""
    pdf = pypdf.PdfReader(io.BytesIO(press.pdf(content.content(case, MODEL), "2031-05-05")))
    return len(pdf.pages), " ".join(" ".join(page.extract_text() for page in pdf.pages).split())


def test_a_proven_unit_fits_a_page_without_a_label(tmp_path: Path) -> None:
    """With the owner's words as they are, every proof with limit, and the trail."""
    pages, text = text_of(mended(tmp_path))
    assert pages == 1
    for words in ("Mended and proven", "It <b>won't</b> light & smells", "new driver, 9 W",
                  "Replace the driver", "passed", "steady light", "8.50 EUR", "Ann: answered",
                  "What to watch for"):  # fmt: skip
        assert words in text
    assert "Do not plug in" not in text


@pytest.mark.parametrize(
    ("outcome", "passed", "failed"),
    [("mended", 0, False), ("mended", 1, False), ("unmended", 9, True), ("scrapped", 0, False)],
)
def test_a_unit_that_is_not_proven_has_its_label(
    tmp_path: Path, outcome: str, passed: int, failed: bool
) -> None:
    """Whatever somebody called it: a proof that is owed was not done, or failed."""
    case = mended(tmp_path, outcome, passed, failed)
    sheet = content.content(case, MODEL)
    assert sheet.label == content.NOT_PROVEN
    assert sheet.state != content.PROVEN
    assert sheet.watch == ()
    assert "Cut out and tie" in text_of(case)[1]


def test_a_case_under_way_has_its_label_too(tmp_path: Path) -> None:
    """It lies about open."""
    case = replace(mended(tmp_path), closing=None, closed_at=None)
    sheet = content.content(case, MODEL)
    assert sheet.label == content.NOT_PROVEN
    assert {proof.result for proof in sheet.proofs} == {"not done"}


def test_each_finding_stands_beside_what_a_good_unit_shows(tmp_path: Path) -> None:
    """Once, as it was answered last."""
    sheet = content.content(mended(tmp_path), MODEL)
    asks = [finding.asks for finding in sheet.findings]
    assert len(asks) == len(set(asks)) > 0
    assert all(finding.shows for finding in sheet.findings)


def test_the_command_prints_it(desk: Desk) -> None:
    """Under the name told; another ending is refused."""
    typed = "done\ndead\ndone\n2 V\ndone\nall lit\ndone\ndone\nb\n\n"
    said = desk.run("walk", "--model", str(LANTERN), typed=typed)
    assert "nextprobe sheet 1" in said.out
    assert desk.run("sheet", "1", "-o", "s.pdf").code == 0
    assert (desk.folder / "s.pdf").read_bytes()[:5] == b"%PDF-"
    assert " CL152 " in desk.run("sheet", "1", "-o", "s.doc").err


def test_photographs_stand_on_the_sheet_and_the_rest_are_counted(tmp_path: Path) -> None:
    """One that can't be read is left out; the page is printed all the same."""
    case, contents = mended(tmp_path), []
    for colour in ("red", "green", "blue"):
        file = io.BytesIO()
        Image.new("RGB", (400, 300), colour).save(file, "JPEG")
        contents.append(file.getvalue())
    broken = b"\xff\xd8\xff" + bytes(9)
    contents = [broken, *contents]
    photographs = tuple(
        Photograph("", "Ann", f"side {n}", "image/jpeg", len(one), f"{n}")
        for n, one in enumerate(contents)
    )
    sheet = content.content(replace(case, photographs=photographs), MODEL, contents)
    pdf = pypdf.PdfReader(io.BytesIO(press.pdf(sheet, "2031-05-05")))
    text = " ".join(pdf.pages[0].extract_text().split())
    assert len(pdf.pages[0].images) == content.MOST_PICTURES - 1
    assert "side 1" in text
    assert "1 more photograph is kept with the case" in text
