"""Does the tutorial bring a newcomer from an empty folder to a printed chart?"""

from __future__ import annotations

import re
import shlex
import shutil
import subprocess
from pathlib import Path

import pytest
from ruamel.yaml import YAML

from kb.language.schema import Topology
from tests.docs.printouts import ROOT, ran

TEXT = (ROOT / "kb" / "TUTORIAL.md").read_text(encoding="utf-8")
COMMANDS = [
    line
    for block in re.findall(r"^```sh\n(.*?)^```", TEXT, re.MULTILINE | re.DOTALL)
    for line in block.splitlines()
]
UNITS = ("hall-lamp", "shed-lamp", "shelf-strip", "desk-strip", "channel")


def run(command: str, folder: Path) -> str:
    """One line of the tutorial, run from the newcomer's folder; what it said."""
    if not command.startswith("nextprobe "):
        subprocess.run(shlex.split(command), cwd=folder, check=True, timeout=60)
        return ""
    code, printed = ran(command, folder=folder)
    assert code == 0, f"{command}\n{printed}"
    return printed


@pytest.fixture(scope="module")
def desk(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """An empty folder with the samples beside, in which the whole tutorial has been done."""
    folder = tmp_path_factory.mktemp("newcomer")
    shutil.copytree(ROOT / "samples" / "workshop", folder / "samples" / "workshop")
    (folder / "said.txt").write_text("".join(run(command, folder) for command in COMMANDS))
    return folder


def test_every_command_of_the_tutorial_does_what_it_says(desk: Path) -> None:
    """Each ends well, and each chart that it draws is there."""
    drawn = [words[words.index("-o") + 1] for c in COMMANDS if "-o" in (words := shlex.split(c))]
    assert len(drawn) >= 4
    assert [name for name in drawn if (desk / name).stat().st_size < 5000] == []
    assert (desk / "hall-lamp.pdf").read_bytes().startswith(b"%PDF")


def test_check_finds_nothing_wrong_with_the_newcomers_lamp(desk: Path) -> None:
    """As the tutorial promises."""
    assert "0 errors" in (desk / "said.txt").read_text()


@pytest.mark.parametrize("unit", UNITS)
def test_each_unit_is_written_as_the_tutorial_tells_it(desk: Path, unit: str) -> None:
    """A topology of that name that the schema takes."""
    text = (desk / "shop" / f"{unit}.yaml").read_text(encoding="utf-8")
    assert Topology.model_validate(YAML(typ="safe").load(text)).topology == unit


def test_the_tutorial_is_short() -> None:
    """A person reads it in a few minutes: under a thousand words, few commands."""
    prose = re.sub(r"```.*?```", "", TEXT, flags=re.DOTALL)
    assert len(prose.split()) < 1000
    assert len(COMMANDS) < 15
