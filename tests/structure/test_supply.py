"""What comes with the program and what it leans on: licences, and no connection ever opened.

Licences by their SPDX identifiers (spdx.org/licenses) as packages' own metadata state them (core
metadata, License-Expression, License, classifiers). Connections by Python's audit events (PEP 578),
which every socket of the interpreter raises.
"""

from __future__ import annotations

import re
import subprocess
import sys
import tomllib
from collections.abc import Iterator
from importlib import metadata
from pathlib import Path

import pytest

from tests.words.cli import LANTERN, Desk

ROOT = Path(__file__).parents[2]
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
# Licences under which a package may be installed beside one under MIT; what is under the MPL or
# LGPL stays a package of its own, unchanged.
FIT = re.compile(
    r"MIT|BSD|Apache|ISC|HPND|PSF|Python Software Foundation|MPL|Mozilla|LGPL|Lesser|Zlib|CC0|"
    r"Unlicense|0BSD|Public Domain", re.IGNORECASE
)  # fmt: skip
# Its metadata name none; its repository has the MIT licence (from memory).
TOLD_ELSEWHERE = {"durable-rules": "MIT"}
FORBIDDING = """
import sys
def watch(event, arguments):
    if event in ("socket.connect", "socket.getaddrinfo", "socket.gethostbyname", "socket.sendto"):
        raise SystemExit(f"a connection: {event} {arguments!r}")
sys.addaudithook(watch)
from render.cli.commands import main
sys.argv = ["nextprobe", *sys.argv[1:]]
main()
"""


def needed(name: str, seen: set[str]) -> Iterator[str]:
    """A package's own needs, and theirs, extras left out."""
    for line in metadata.requires(name) or ():
        requirement, _, marker = line.partition(";")
        match = re.match(r"[A-Za-z0-9._-]+", requirement)
        if match is None or "extra" in marker:
            continue
        other = match[0].lower().replace("_", "-")
        if other in seen:
            continue
        seen.add(other)
        try:
            metadata.version(other)
        except metadata.PackageNotFoundError:
            continue  # for another system or an older Python
        yield other
        yield from needed(other, seen)


def licence(name: str) -> str:
    """What a package's metadata say it is under."""
    about = metadata.metadata(name)
    told = [about.get("License-Expression") or "", (about.get("License") or "")[:80]]
    told += [c for c in about.get_all("Classifier") or () if c.startswith("License")]
    return " ".join(told)


def test_every_dependency_is_under_a_licence_that_fits() -> None:
    seen: set[str] = set()
    names = sorted(needed("nextprobe", seen))
    assert len(names) > 20
    unfit = {n: licence(n) for n in names if not FIT.search(licence(n) + TOLD_ELSEWHERE.get(n, ""))}
    assert unfit == {}


def test_the_licence_comes_with_the_wheel() -> None:
    """The MIT licence's two conditions and its disclaimer (spdx.org/licenses/MIT, from memory)."""
    for file in PROJECT["license-files"]:
        assert (ROOT / file).is_file()
    text = " ".join((ROOT / PROJECT["license-files"][0]).read_text(encoding="utf-8").split())
    assert "Permission is hereby granted, free of charge" in text
    assert "shall be included in all copies or substantial portions" in text
    assert 'THE SOFTWARE IS PROVIDED "AS IS", WITHOUT WARRANTY OF ANY KIND' in text


@pytest.mark.parametrize("words", [
    ("walk", "--model", str(LANTERN), "--answers", "answers.yaml"),
    ("chart", "--model", str(LANTERN), "--depth", "stage", "-o", "lamp.pdf"),
    ("chart", "--model", str(LANTERN), "--depth", "stage", "-o", "lamp.html"),
], ids=("walk", "pdf", "html"))  # fmt: skip
def test_no_connection_is_opened(desk: Desk, words: tuple[str, ...]) -> None:
    (desk.folder / "answers.yaml").write_text("other-socket: dead\n", encoding="utf-8")
    done = subprocess.run(
        [sys.executable, "-c", FORBIDDING, *words, "--time", "0.1"], cwd=desk.folder, env=None,
        capture_output=True, text=True, check=False, timeout=120,
    )  # fmt: skip
    assert (done.returncode, "a connection" in done.stderr) == (0, False), done.stderr
