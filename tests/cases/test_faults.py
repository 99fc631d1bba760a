"""A damaged shop, one that can only be read, a server that goes and comes back: what then?

SQLite's pages and what it says of malformed ones: sqlite.org/fileformat.html and rescode.html (from
memory).
"""

from __future__ import annotations

import contextlib
import json
import os
import shutil
import sqlite3
import tempfile
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

import pytest

from engine.cases import opening
from engine.cases.salvage import salvage
from engine.cases.shop import Shop
from kb.trouble import TroubleError
from tests.cases.intakes import JPEG, answer, intake, standing
from tests.cases.server import cluster
from tests.words.cli import LANTERN, Desk

CASES = 24


def opened(place: str | Path) -> Shop:
    """The shop at a place, with Ann at the bench."""
    return opening.open_shop(place, who="Ann", clock=lambda: datetime.now(UTC))


def damaged(folder: Path) -> Path:
    """A shop of two dozen cases with one leaf page of its cases overwritten."""
    file = folder / "shop.db"
    shop = opened(file)
    for number in range(1, CASES + 1):
        case, version = shop.begin(intake(unit=f"lamp {number}"))
        shop.keep(case, version, standing([answer("volts-TP1", "3 V")] * 3))
    shop.photograph(1, JPEG)
    shop.leave()
    content = bytearray(file.read_bytes())
    size = int.from_bytes(content[16:18], "big")
    at = content.index(b"lamp 17") // size * size  # the page that holds its row
    content[at : at + size] = b"\xa5" * size
    file.write_bytes(content)
    return file


def test_what_can_be_read_of_a_damaged_shop_goes_to_another(desk: Desk) -> None:
    """The other cases, whole; those that are lost are named; the file stays as it is."""
    file = damaged(desk.folder)
    before = file.read_bytes()
    said = desk.run("cases", "--shop", str(file))
    assert " CS102 " in said.err
    assert "--salvage" in said.err
    done = desk.run("export", "--salvage", "--shop", str(file), "-o", "saved.json")
    assert (done.code, " CS125 " in done.err) == (2, True)
    documents = json.loads((desk.folder / "saved.json").read_text(encoding="utf-8"))
    there = {one["unit"]: len(one["events"]) for one in documents}
    assert CASES > len(there) > CASES / 2
    assert "lamp 17" not in there
    assert set(there.values()) == {3}
    lost = done.err.rpartition("can't be read: ")[2].partition(". ")[0].split(", ")
    assert "17" in lost
    assert len(lost) + len(there) == CASES
    assert f"{len(there)} new" in desk.run("import", "saved.json", "--shop", "new.db").out
    assert file.read_bytes() == before


def test_what_another_program_wrote_last_is_salvaged_too(tmp_path: Path) -> None:
    """It lies beside the file until SQLite moves it over."""
    shop = opened(tmp_path / "shop.db")
    shop.begin(intake())
    assert (tmp_path / "shop.db-wal").stat().st_size
    assert [one["number"] for one in salvage(tmp_path / "shop.db").documents] == [1]
    shop.leave()


@pytest.mark.parametrize("place", ["postgresql://bench@127.0.0.1:1/shop", "not-there.db"])
def test_only_a_file_that_is_there_can_be_salvaged(place: str) -> None:
    with pytest.raises(TroubleError, match="CS124"):
        salvage(place)


def test_a_file_of_which_nothing_can_be_read_is_said_to_be_one(tmp_path: Path) -> None:
    (tmp_path / "shop.db").write_bytes(b"SQLite format 3\0" + b"\xa5" * 9000)
    with pytest.raises(TroubleError, match=r"CS102 .*no case in it can be read"):
        salvage(tmp_path / "shop.db")


def test_letters_that_are_no_text_are_damage(tmp_path: Path) -> None:
    """Python's driver, not SQLite, finds them."""
    shop = opened(tmp_path / "shop.db")
    number, _ = shop.begin(intake())
    with sqlite3.connect(tmp_path / "shop.db") as connection:
        connection.execute("update cases set unit = cast(x'ff80' as text)")
    with pytest.raises(TroubleError, match="CS102"):
        shop.case(number)
    shop.leave()


@contextlib.contextmanager
def without_rights(folder: Path) -> Iterator[None]:
    """Nobody may write there; root, who may, is somebody else meanwhile."""
    for path in folder.iterdir():
        path.chmod(0o444)
    folder.chmod(0o555)
    is_root = os.geteuid() == 0
    if is_root:
        os.seteuid(65534)
    try:
        yield
    finally:
        if is_root:
            os.seteuid(0)
        folder.chmod(0o755)


def test_a_shop_that_can_only_be_read_is_read(monkeypatch: pytest.MonkeyPatch) -> None:
    """As a backup on a disk that is write-protected; nothing is told to it."""
    folder = Path(tempfile.mkdtemp(prefix="shop-"))  # pytest's own folders are closed to others
    try:
        shop = opened(folder / "shop.db")
        number, _ = shop.begin(intake(unit="grey lamp"))
        shop.leave()
        with without_rights(folder):
            backup = opening.open_to_read(
                folder / "shop.db", who="Ann", clock=lambda: datetime.now(UTC)
            )
            assert backup.case(number).intake.unit == "grey lamp"
            with pytest.raises(TroubleError, match="CS105"):
                backup.note(number, "hello")
            with pytest.raises(TroubleError, match="CS105"):
                opened(folder / "shop.db")
        assert [path.name for path in folder.iterdir()] == ["shop.db"]
    finally:
        shutil.rmtree(folder)


def test_a_server_that_goes_and_comes_back_in_the_middle_of_a_case(desk: Desk) -> None:
    """What was acknowledged stays, what was not is told, and the same program goes on."""
    with cluster() as server:
        address = f"{server.address}/postgres"
        shop = opened(address)
        number, version = shop.begin(intake())
        version = shop.keep(number, version, standing([answer("first")]))
        server.stop()
        with pytest.raises(TroubleError, match="CS110"):
            shop.keep(number, version, standing([answer("first"), answer("second")]))
        gone = desk.run("walk", "--model", str(LANTERN), "--shop", address, typed="done\n")
        assert (gone.code, " CS110 " in gone.err) == (2, True)
        server.start()
        assert len(shop.case(number).happenings) == 1
        shop.keep(number, version, standing([answer("first"), answer("second")]))
        assert [h.body["test"] for h in shop.case(number).happenings] == ["first", "second"]
        shop.leave()
