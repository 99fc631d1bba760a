"""Do guide and reference tell all that a repairer may write, and does the guide's example work?"""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest

from engine.audit import audit
from kb.language import loader, schema
from kb.language.lint import STEPS, lint
from kb.language.schema.entry import Entry
from tests.docs.blocks import ROOT
from tests.docs.printouts import said

GUIDE, REFERENCE = (
    (ROOT / "kb" / name).read_text(encoding="utf-8") for name in ("README.md", "REFERENCE.md")
)
PAGE = f"{GUIDE}\n{REFERENCE}"
_FILE = re.compile(r"```yaml\n# file: (\S+)\n(.*?)```", re.DOTALL)


@pytest.fixture(scope="module")
def own_folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The worked example, copied off the page into a folder of one's own."""
    folder = tmp_path_factory.mktemp("own")
    for name, text in _FILE.findall(GUIDE):
        (folder / name).write_text(text, encoding="utf-8")
    return folder


def entries() -> list[type[Entry]]:
    """Every shape that a knowledge file can hold."""
    return [
        kind
        for kind in vars(schema).values()
        if isinstance(kind, type) and issubclass(kind, Entry)
    ]


def test_there_are_entries_to_look_for() -> None:
    """The tests below would pass on none."""
    assert {schema.Rule, schema.Topology, schema.PartFact, schema.Variant} <= {*entries()}


@pytest.mark.parametrize("entry", entries(), ids=lambda entry: entry.__name__)
def test_each_word_of_an_entry_is_told(entry: type[Entry]) -> None:
    """In code letters, or in an example."""
    untold = [name for name in entry.model_fields if not re.search(rf"`{name}\b|\b{name}:", PAGE)]
    assert untold == []


@pytest.mark.parametrize("section", [s for s in loader.SECTIONS if s != "topologies"])
def test_each_section_is_told(section: str) -> None:
    """With the word that names its entries."""
    key = loader.SECTIONS[section][0]
    assert re.search(rf"^\| `{section}` \| .* \| `{key}` \|$", PAGE, re.MULTILINE)


@pytest.mark.parametrize("step", STEPS)
def test_each_step_is_told(step: str) -> None:
    """In the table of steps."""
    assert re.search(rf"^\| `{step}` \| ", PAGE, re.MULTILINE)


def test_the_example_fits_together(own_folder: Path) -> None:
    """No trouble, not even a note."""
    assert list(lint(loader.read((own_folder,)))) == []


def test_the_example_has_the_faults_and_tests_it_promises(own_folder: Path) -> None:
    """Those of shipped rules and those of its own."""
    model = json.loads(said(f"nextprobe model one-board-lamp --kb {own_folder}"))
    tests = {test["id"] for test in model["tests"]}
    assert tests >= {"known-good-socket", "limiter-glow", "junctions-BR1", "volts-TP1", "volts-R2"}
    assert {"U1-short", "U1-short-took-R1"} <= {fault["id"] for fault in model["faults"]}
    assert "renew-U1-and-R1" in {remedy["id"] for remedy in model["remedies"]}


@pytest.mark.parametrize(
    ("fault", "answer"),
    [("LED-open-burnt", "nothing"), ("U1-short", "too-much"), ("LED-short", "as-set")],
)
def test_the_examples_own_rules_are_told(own_folder: Path, fault: str, answer: str) -> None:
    """Each fault shows what the trade says it shows."""
    told = said(f"nextprobe model one-board-lamp --kb {own_folder} --explain volts-R2 {fault}")
    assert f"That shows as the answer '{answer}'" in told


@pytest.mark.parametrize("mains", ["230/50", "120/60"])
def test_the_examples_chart_keeps_cost_and_safety(own_folder: Path, mains: str) -> None:
    """Recomputed from the two documents alone."""
    asked = f"one-board-lamp --kb {own_folder} --mains {mains} --depth stage"
    model = json.loads(said(f"nextprobe model {asked}"))
    chart = json.loads(said(f"nextprobe chart {asked} --format json"))
    cold = f"{asked} --complaint {chart['second']['chart']['complaint']}"
    assert audit(model, chart, json.loads(said(f"nextprobe model {cold}"))) == ()


def test_without_its_rules_the_example_still_loads_but_lacks_its_own_test(
    own_folder: Path, tmp_path: Path
) -> None:
    """So the two first files are enough to begin with, as the page says."""
    for name in ("regulator.yaml", "one-board-lamp.yaml"):
        (tmp_path / name).write_text((own_folder / name).read_text(encoding="utf-8"), "utf-8")
    model = json.loads(said(f"nextprobe model one-board-lamp --kb {tmp_path}"))
    tests = {test["id"] for test in model["tests"]}
    assert "volts-R2" not in tests
    assert {"limiter-glow", "volts-TP1", "junctions-BR1"} <= tests
