"""The JSON Schemas that are kept with the knowledge, and the first lines that name them."""

from __future__ import annotations

import os
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

from engine.documents import schemas as documents
from kb.language import formats, loader, ownfolder
from kb.language.loader import SHIPPED
from tests.docs.blocks import ROOT

WORKSHOP = ROOT / "samples" / "workshop"


def made() -> Mapping[str, dict[str, Any]]:
    """Each schema as today's classes and knowledge make it, by file name."""
    return {**formats.schemas(loader.read()), **documents.schemas()}


def bound() -> Iterator[tuple[Path, str]]:
    """Each YAML file of the knowledge and of the samples with the schema it should name."""
    for folder in (SHIPPED, WORKSHOP):
        for path in sorted([*folder.rglob("*.yaml"), *folder.rglob("*.yml")]):
            yield path, schema_for(path, folder)


def schema_for(path: Path, folder: Path = SHIPPED) -> str:
    """The name of the schema that a file of a knowledge folder is bound to."""
    inside = path.relative_to(folder)
    if inside.as_posix() == ownfolder.BENCH:
        return "shop-bench.json"
    if inside.suffix == ".yml":
        return {"devices": "devices.json", "bench": "bench.json"}.get(inside.stem, "circuit.json")
    first = next(
        (line for line in path.read_text(encoding="utf-8").splitlines() if line[:1].isalpha()), ""
    )
    return "topology.json" if first.startswith("topology:") else "knowledge.json"


def line_of(path: Path, schema: str) -> str:
    """The first line that binds the file to the schema, by the way from its folder."""
    way = os.path.relpath(formats.FOLDER / schema, path.parent)
    return formats.modeline(Path(way).as_posix())


def refresh_schemas() -> None:
    """Write every schema and every first line anew, and say which changed."""
    formats.FOLDER.mkdir(exist_ok=True)
    texts = {formats.FOLDER / name: formats.text(schema) for name, schema in made().items()}
    for path, schema in bound():
        lines = path.read_text(encoding="utf-8").splitlines(keepends=True)
        rest = lines[1:] if lines and lines[0].startswith("# yaml-language-server:") else lines
        texts[path] = line_of(path, schema) + "\n" + "".join(rest)
    for path, text in texts.items():
        if not path.exists() or path.read_text(encoding="utf-8") != text:
            path.write_text(text, encoding="utf-8")
            print(f"{path.relative_to(ROOT)} is made anew")
