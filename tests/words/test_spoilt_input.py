"""Is what people and programs leave behind in files refused in words, whatever it is?

Each case was found by `python -m tests.bench.fuzz` and ended as a fault of the program.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from engine import calc, schematic
from engine.calc.sums import COUNT
from engine.cases import exchange
from engine.drafting import wishes
from engine.model.file import read_model
from engine.solver.network import network
from kb.language import answersfile, circuit, loader
from kb.language.loader import as_shipped
from kb.trouble import TroubleError
from render.cli import briefing, files
from render.terminal.screen import minutes
from tests.bench.fuzz import shopreaders
from tests.cases.intakes import JPEG
from tests.words.cli import LANTERN

DIGITS = "9" * 5000

YAML = {
    "a date that is none": "rules:\n  - id: 2026-02-30\n",
    "a number of thousands of digits": f"parts:\n  - kind: {DIGITS}\n",
    "a time that is none": "parts:\n  - kind: 2026-11-30T99:99:99Z\n",
    "text tagged as a number": "parts:\n  - kind: !!float x\n",
    "text tagged as bytes": "parts:\n  - kind: !!binary x\n",
    "deep nesting": "parts: " + "[" * 1000,
    "an escape that is no letter": 'parts:\n  - kind: "\\UFFFFFFFF"\n',
}


@pytest.mark.parametrize("text", YAML.values(), ids=YAML)
def test_yaml_that_makes_no_sense(tmp_path: Path, text: str) -> None:
    (tmp_path / "own.yaml").write_text(text, encoding="utf-8")
    with pytest.raises(TroubleError, match=r"own\.yaml.* KB\d"):
        loader.read((tmp_path,))


@pytest.mark.parametrize("text", ["[" * 1000, 'a: "\\UFFFFFFFF"\n', 'a: "\\U00110000"\n'])
def test_answers_that_make_no_sense(tmp_path: Path, text: str) -> None:
    file = tmp_path / "answers.yaml"
    file.write_text(text, encoding="utf-8")
    with pytest.raises(TroubleError, match=r"KB111 .*(nested too deeply|stands for no letter)"):
        answersfile.read_takes(file)


def test_a_key_twice_in_a_circuit_names_no_library(tmp_path: Path) -> None:
    (tmp_path / "own.yml").write_text("circuit: own\ncircuit: own\n", encoding="utf-8")
    with pytest.raises(TroubleError, match=r"CI102 .*line 2") as told:
        circuit.circuit("own", tmp_path)
    assert "ruamel" not in str(told.value)


@pytest.mark.parametrize("text", [
    '(kicad_sch (symbol (lib_id "R', "(kicad_sch (symbol (at 1)))", "(kicad_sch 'x",
    '(kicad_sch (lib_symbols (symbol "R" (symbol "R_1_1" (pin)))) (symbol (lib_id "R") (at 1 2)))',
    "(kicad_sch (wire (pts (xy 1) (xy a b))))", "(export (components comp) (nets (net (node",
    "(kicad_sch " + "(" * 5000,
])  # fmt: skip
def test_a_sheet_that_was_cut_short(text: str) -> None:
    with pytest.raises(TroubleError, match=r"lamp NL10[234]"):
        schematic.read_sheet(text, "lamp")


@pytest.mark.parametrize("card", ["r1", "r1 a b", "d1 a b", ".subckt", "x1", "b1 a b", "e1 a b c",
                                  "c1 a b 1e999", "v1 a b sin(", ".ends", ".param a=",
                                  "b1 a b v=" + "(" * 5000])  # fmt: skip
def test_a_card_that_the_solver_can_not_read(card: str) -> None:
    with pytest.raises(TroubleError, match="CI104"):
        network(f"{card}\n.ends\n" if card == ".subckt" else f"{card}\n")


def test_a_value_beyond_all_bounds_is_none() -> None:
    sheet = schematic.read_sheet("title\nR1 a b 1e999\nR2 b 0 10k\n", "deck")
    schematic.guess(sheet, as_shipped())
    with pytest.raises(TroubleError, match="NL103"):
        schematic.read_sheet("title\nR0 a b 1\nr1=2\n", "deck")


@pytest.mark.parametrize(("take", "text"), [
    (wishes.part, "entry R1 fuse:x line"), (wishes.part, "entry R1 fuse li&e 10 ohm"),
    (wishes.point, "TP1 (entry out here"), (wishes.board, "driver s∞ll 30 driver board"),
])  # fmt: skip
def test_a_wish_with_a_name_that_is_none(take, text: str) -> None:  # type: ignore[no-untyped-def]
    with pytest.raises(TroubleError, match=r"NW105 .*a name"):
        take(text)


def test_a_sum_of_values_that_describe_no_circuit() -> None:
    with pytest.raises(TroubleError, match="CA"):
        calc.calculate("discharge", capacitance="", voltage="325 V")


def test_a_model_of_a_depth_that_there_is_not() -> None:
    text = LANTERN.read_text(encoding="utf-8").replace('"depth": "', '"depth": "mole-', 1)
    with pytest.raises(TroubleError, match=r"MD113 depth: .*stage, part"):
        read_model(text, "lamp.json")


def test_minutes_without_end() -> None:
    """JSON lets 1e308 stand, and 1e999 is none of its numbers."""
    assert minutes(1e308).endswith(" min")
    plain = exchange.document(shopreaders.shop().case(1), (JPEG,))
    with pytest.raises(TroubleError, match="CS121"):
        exchange.unpack({**plain, "minutes": float("inf")}, "case.json")


def test_a_count_beyond_all_counting() -> None:
    name, count = next((c.name, p.name) for c in calc.calculations() for p in c.parameters
                       if p.unit == COUNT)  # fmt: skip
    with pytest.raises(TroubleError, match=f"CA4|CA3.*{count}|not a whole number"):
        calc.calculate(name, **{count: DIGITS})


@pytest.mark.parametrize("text", [f'{{"minutes": {DIGITS}}}', "[" * 100_000, "{", ""])
def test_a_document_that_is_no_json(tmp_path: Path, text: str) -> None:
    path = tmp_path / "walk.json"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(TroubleError, match="CL111"):
        briefing.as_saved(shopreaders.brief(), path)
    with pytest.raises(TroubleError, match="CS121"):
        files.read_json(path, "the case", ("CS121", "no case", ""))


def test_a_photograph_in_letters_that_are_no_base64() -> None:
    plain = exchange.document(shopreaders.shop().case(1), (JPEG,))
    plain["photographs"][0]["base64"] = "é"
    with pytest.raises(TroubleError, match=r"CS121 .*base64"):
        exchange.unpack(plain, "case.json")
