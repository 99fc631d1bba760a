"""What can still be read of a damaged shop, as documents; its file is not touched.

A copy is read, case by case, so that one bad page costs the cases on it and no others. Each
document is read back before it counts. What SQLite can't see stays unseen: a letter changed within
a text.
"""

from __future__ import annotations

import json
import shutil
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import sqlalchemy as sa

from engine.cases import exchange, opening
from engine.cases.mishaps import damage, trouble, unwritable
from engine.cases.shop import Shop
from engine.cases.tables import CASES, EVENTS
from kb.trouble import TroubleError

_BESIDE = ("-wal",)
"""What SQLite keeps beside a file and belongs to it (sqlite.org/wal.html)."""
_NO_SHAPE = (TroubleError, ValueError, TypeError, KeyError, LookupError, AttributeError)
"""What a case raises whose fields hold anything at all."""


@dataclass(frozen=True, slots=True)
class Salvage:
    """Documents of the cases that can be read; numbers of those without their photographs' bytes,
    and of those that can't be read."""

    documents: tuple[dict[str, Any], ...]
    bare: tuple[int, ...]
    lost: tuple[int, ...]


def salvage(place: str | Path | None) -> Salvage:
    """All that can be read of the shop in a file. TroubleError CS124 for a server, CS102 where
    nothing can be read, CS105 where the file can't be copied."""
    file = opening.file_of(place)
    if file is None:
        raise trouble(
            "CS124", "--salvage", "it reads a shop's file, and this shop is on a server",
            "Use the server's own tools (pg_dump), or name a file with --shop",
        )  # fmt: skip
    if not file.is_file():
        raise trouble("CS124", str(file), "there is no such file", "Name the shop with --shop")
    with tempfile.TemporaryDirectory(prefix="nextprobe-") as folder:
        copy = Path(folder) / "shop.db"
        try:
            shutil.copyfile(file, copy)
            for suffix in _BESIDE:
                if (beside := Path(f"{file}{suffix}")).is_file():
                    shutil.copyfile(beside, f"{copy}{suffix}")
        except OSError as wrong:
            raise unwritable(str(file), f"no copy can be made: {wrong.strerror}") from wrong
        engine = sa.create_engine(sa.URL.create("sqlite", database=str(copy)))
        try:
            return _of_copy(Shop(engine, str(file), "", str))
        finally:
            engine.dispose()


def _of_copy(shop: Shop) -> Salvage:
    documents, bare, lost = [], [], []
    for number in sorted(_numbers(shop)):
        for with_pictures in (True, False):
            try:
                documents.append(_document(shop, number, with_pictures))
            except _NO_SHAPE:
                continue
            if not with_pictures:
                bare.append(number)
            break
        else:
            lost.append(number)
    if not documents:
        raise damage(shop.name, "no case in it can be read")
    return Salvage(tuple(documents), tuple(bare), tuple(lost))


def _document(shop: Shop, number: int, with_pictures: bool) -> dict[str, Any]:
    contents = shop.contents(number) if with_pictures else None
    document = exchange.document(shop.case(number), contents)
    exchange.unpack(json.loads(json.dumps(document)), shop.name)
    return document


def _numbers(shop: Shop) -> set[int]:
    """Numbers of cases, from either end up to what can't be read, and those that events name."""
    queries = (
        sa.select(CASES.c.number).order_by(CASES.c.number),
        sa.select(CASES.c.number).order_by(CASES.c.number.desc()),
        sa.select(EVENTS.c.case_number).order_by(EVENTS.c.id),
        sa.select(EVENTS.c.case_number).order_by(EVENTS.c.id.desc()),
    )
    return {number for query in queries for number in _until_damage(shop, query)}


def _until_damage(shop: Shop, query: sa.Select[tuple[int]]) -> Iterator[int]:
    try:
        with shop.reading() as connection:
            for number in connection.execution_options(yield_per=1).execute(query).scalars():
                if isinstance(number, int):
                    yield number
    except TroubleError:
        return
