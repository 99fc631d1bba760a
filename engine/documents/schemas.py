"""The documents as JSON Schema (draft 2020-12), for whoever reads or writes them elsewhere.

Each schema is that of the records that the document is written from: the model's
(`engine.model.records`), the chart's, the walk's and the case's (`engine.documents`). Keys with a
default may be missing; keys that are not listed are let pass, so that `/1` stays `/1` while keys
are added.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from pydantic import TypeAdapter

from engine.documents import case, chart, counts, walk
from engine.model import records
from kb.language.formats import DIALECT


def schemas() -> Mapping[str, dict[str, Any]]:
    """Each document's schema, by the file name it is kept under."""
    return {
        "model.json": _of(records.Model, records.FORMAT),
        "chart.json": _of(chart.Chart, chart.FORMAT),
        "walk.json": _of(walk.WalkRecord, walk.FORMAT),
        "counts.json": _of(counts.CountsRecord, counts.FORMAT),
        "case.json": _of(case.CaseRecord, case.FORMAT),
    }


def _of(record: Any, name: str) -> dict[str, Any]:
    schema = TypeAdapter(record).json_schema()
    defs = schema.pop("$defs", {})
    schema.pop("title", None)
    schema.pop("description", None)
    schema["properties"]["format"] = {"const": name}
    head = {"$schema": DIALECT, "title": name, "description": f"The document {name}."}
    return {**head, **schema, "$defs": defs}
