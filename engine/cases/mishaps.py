"""What can go wrong with a shop's database, in sentences with what to do.

| code | trouble | code | trouble |
|---|---|---|---|
| CS101 | file that is no database | CS106 | busy for too long |
| CS102 | damaged database | CS107 | disk full, or another failure of the disk |
| CS103 | database of another program | CS108 | no shop's address |
| CS104 | made by a newer nextprobe | CS109 | no driver for PostgreSQL |
| CS105 | can't be written | CS110 | server can't be reached, or refuses |
| CS111 | no such case | CS116 | no such fault, proof or outcome |
| CS117 | as many photographs as are kept | | |
| CS112 | changed by another program | CS118 | mended, though a proof failed |
| CS113 | case is closed | CS121 | no case document |
| CS114 | no photograph | CS122 | case is here at another version |
| CS115 | photograph too big | CS123 | no counts of cases |
| CS125 | cases that can't be read | CS124 | no file to salvage |
"""

from __future__ import annotations

import contextlib
import json
import sqlite3
from collections.abc import Iterator

import sqlalchemy as sa

from kb.trouble import Place, Trouble, TroubleError

_UNPLUG = "if the unit is plugged in, switch off and unplug it first"


def trouble(code: str, place: str, what: str, mend: str) -> TroubleError:
    """A trouble of a shop, ready to raise."""
    return TroubleError(Trouble(code=code, place=Place(place), what=what, mend=mend))


@contextlib.contextmanager
def in_words(place: str) -> Iterator[None]:
    """Whatever the database raises inside, as a `TroubleError`; `place` is the shop's name."""
    try:
        yield
    except sa.exc.DBAPIError as wrong:
        raise _of_sqlite(place, wrong.orig) or _of_postgresql(place, wrong.orig) from wrong
    except sqlite3.Error as wrong:  # raised while a connection is prepared
        raise _of_sqlite(place, wrong) or damage(place, str(wrong)) from wrong
    except json.JSONDecodeError as wrong:
        raise damage(place, "a field that holds JSON can't be read") from wrong


def damage(place: str, how: str) -> TroubleError:
    """A database whose content can't be trusted."""
    return trouble(
        "CS102", place, f"the shop's database is damaged ({how})",
        "Put a backup in its place; or save what can be read of it (nextprobe export --salvage "
        "-o cases.json, which leaves the file as it is) and import that into another --shop",
    )  # fmt: skip


def _of_sqlite(place: str, wrong: BaseException | None) -> TroubleError | None:
    name = getattr(wrong, "sqlite_errorname", "") or ""
    match name.split("_")[1] if name.startswith("SQLITE_") else "":
        case "NOTADB":
            return trouble(
                "CS101", place, "this file is no database",
                "Name a shop's file with --shop, or one that is not there yet",
            )  # fmt: skip
        case "CORRUPT":
            return damage(place, "SQLite finds it malformed")
        case "READONLY" | "CANTOPEN" | "PERM" | "AUTH":
            return unwritable(place, "the file or its folder does not let itself be written")
        case "BUSY" | "LOCKED":
            return trouble(
                "CS106", place, "another program has kept the shop's database to itself for long",
                f"Try again; {_UNPLUG}",
            )  # fmt: skip
        case "FULL" | "IOERR" | "NOMEM" | "TOOBIG":
            return trouble(
                "CS107", place, f"the disk failed ({wrong})",
                f"Make room or name another place with --shop; {_UNPLUG}",
            )  # fmt: skip
        case "" if not isinstance(wrong, sqlite3.Error):
            return None
        case _:
            return damage(place, str(wrong))


def unwritable(place: str, why: str) -> TroubleError:
    """A shop that can't be written to."""
    return trouble(
        "CS105", place, f"the shop can't be written to ({why})",
        "Name a file in a folder that you may write to with --shop; a walk goes without with "
        "--no-case",
    )  # fmt: skip


def _of_postgresql(place: str, wrong: BaseException | None) -> TroubleError:
    """By the class of the SQLSTATE, PostgreSQL's appendix A; none before there is a session."""
    state = getattr(wrong, "sqlstate", None) or ""
    words = " ".join(str(wrong).split())[:200]
    if state.startswith(("42501", "25006")):
        return unwritable(place, words)
    if state.startswith(("55P03", "40", "57014")):
        return trouble("CS106", place, f"the server was busy ({words})", f"Try again; {_UNPLUG}")
    if state.startswith("53"):
        return trouble("CS107", place, f"the server has no room ({words})",
                       f"Tell whoever tends it; {_UNPLUG}")  # fmt: skip
    if state.startswith(("42", "23", "22")):
        return damage(place, words)
    return trouble(
        "CS110", place, f"the server can't be reached, or refuses ({words})",
        "Check that it runs, and the name, password and database in --shop; a walk goes without "
        "with --no-case",
    )  # fmt: skip
