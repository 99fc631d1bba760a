"""Can a newcomer do what the front page says, and is everything on it there?"""

from __future__ import annotations

import json
import re
import shlex
import tomllib
from pathlib import Path

import pytest

from tests.docs.blocks import DOCUMENTS, ROOT, commands, options
from tests.docs.printouts import PORCH, ran

PAGE = (ROOT / "README.md").read_text(encoding="utf-8")
_SHELL = re.compile(r"```sh\n(.*?)```", re.DOTALL)
_LINK = re.compile(r"\]\(([^)\s]+)\)")
_HEADING = re.compile(r"^#+ (.+)$", re.MULTILINE)
LARGEST_PICTURE = 700_000


def shell_lines(start: str) -> list[str]:
    """Each line of the page's shell examples that begins so, without its comment."""
    lines = "\n".join(_SHELL.findall(PAGE)).splitlines()
    return [line.partition("  #")[0].rstrip() for line in lines if line.startswith(start)]


@pytest.mark.parametrize("line", shell_lines("nextprobe "))
def test_each_command_of_the_page_works(line: str, tmp_path: Path) -> None:
    """As it stands there, but that what it writes goes aside, and that a walk has its answers."""
    words = shlex.split(line)
    if "-o" in words:
        place = words.index("-o") + 1
        words[place] = str(tmp_path / words[place])
    if words[1] == "walk" and "--answers" not in words:
        words += ["--answers", PORCH[2]]
    code, printed = ran(shlex.join(words))
    assert code == 0
    assert printed


@pytest.mark.parametrize("line", shell_lines("bash "))
def test_each_script_of_the_page_is_there(line: str) -> None:
    """And says so in its first line."""
    script = ROOT / line.split()[1]
    assert script.read_text(encoding="utf-8").startswith("#!/usr/bin/env bash\n")


@pytest.mark.parametrize("command", sorted(commands()))
def test_each_command_stands_with_the_samples(command: str) -> None:
    """In the table of commands, to which the page leads."""
    samples = (ROOT / "samples" / "README.md").read_text(encoding="utf-8")
    assert "(samples/README.md#all-commands)" in PAGE
    assert f"| `nextprobe {command}` |" in samples


@pytest.mark.parametrize("command", sorted(commands()))
def test_the_help_of_a_command_tells_each_of_its_options(command: str) -> None:
    """By every way it is written, with a sentence, and with the words it takes, if some only."""
    code, printed = ran(f"nextprobe {command} --help", columns=400)
    shown = " ".join(re.sub("[│╭╮╰╯─]", " ", printed).split())
    assert code == 0
    for option in options(command):
        assert all(written in shown.split() for written in option.written)
        assert re.match(r"\S+ .*\w.*\.$", option.says), option.written
        assert option.says in shown
        assert "|".join(option.choices).lower() in shown.lower()


def anchors(path: Path) -> set[str]:
    """The anchors that a page's headings make."""
    headings = _HEADING.findall(path.read_text(encoding="utf-8"))
    return {re.sub(r"[^\w\- ]", "", heading.lower()).replace(" ", "-") for heading in headings}


@pytest.mark.parametrize("page", DOCUMENTS, ids=lambda page: str(page.relative_to(ROOT)))
def test_each_link_leads_somewhere(page: Path) -> None:
    """To a file that is there, and to a heading in it."""
    for link in _LINK.findall(page.read_text(encoding="utf-8")):
        if link.startswith("https://"):
            continue
        name, _, anchor = link.partition("#")
        target = (page.parent / name).resolve() if name else page
        assert target.exists(), link
        assert not anchor or anchor in anchors(target), link


@pytest.mark.parametrize("page", DOCUMENTS, ids=lambda page: str(page.relative_to(ROOT)))
def test_each_json_example_is_json(page: Path) -> None:
    """Whole, so that it can be tried."""
    for example in re.findall(r"```json\n(.*?)```", page.read_text(encoding="utf-8"), re.DOTALL):
        json.loads(example)


@pytest.mark.parametrize("picture", sorted((ROOT / "samples" / "pictures").glob("*")), ids=str)
def test_pictures_stay_small(picture: Path) -> None:
    """A clone should not wait for them."""
    assert picture.stat().st_size < LARGEST_PICTURE


def test_the_licence_is_the_one_declared() -> None:
    """By its SPDX id in the project file, by its text where the page links to."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    assert project["license"] == "MIT"
    assert "(kb/LICENSE.txt)" in PAGE
    text = (ROOT / "kb" / "LICENSE.txt").read_text(encoding="utf-8")
    assert "Permission is hereby granted, free of charge" in " ".join(text.split())
