"""A shop's cases in its database: begun, kept after every answer, found again, closed.

A case has a version that every answer raises. Who writes names the version that they know; where
another program has written since, nothing is written and they are told. Each writing is one
transaction, and it is on the disk before it is acknowledged.
"""

from __future__ import annotations

import contextlib
import uuid
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass
from typing import Any

import sqlalchemy as sa

from engine.cases import photographs, retrieval
from engine.cases.mishaps import in_words, trouble
from engine.cases.records import Case, Closing, Intake, Row, Standing
from engine.cases.tables import CASES, EVENTS, NOTES, OUTCOMES, PHOTOGRAPHS, PROOFS


@dataclass(frozen=True, slots=True)
class Shop:
    """An open database: `name` is what messages call it, `who` is at this bench, `now` the time."""

    engine: sa.Engine
    name: str
    who: str
    now: Callable[[], str]

    # ---- writing ----

    def begin(self, intake: Intake) -> tuple[int, int]:
        """A new case: its number and version. TroubleError where the database can't be written."""
        now = self.now()
        row = {
            **_intake(intake), "uid": uuid.uuid4().hex, "version": 1, "state": "open", "entry": {},
            "minutes": 0.0, "verdict": None, "faults": [], "done": "", "currency": "",
            "opened_at": now, "opened_by": self.who, "changed_at": now, "changed_by": self.who,
        }  # fmt: skip
        with self.writing() as connection:
            return _insert(connection, row), 1

    def keep(self, number: int, version: int, standing: Standing) -> int:
        """Keep how a walk stands; the case's new version.

        Events that are no longer among its own are marked as taken back, new ones added with the
        time. TroubleError CS112 if the case is not at `version` any more, CS113 if it is closed.
        """
        values = {
            "entry": dict(standing.entry), "options": dict(standing.options),
            "complaint": standing.complaint, "knowledge": standing.knowledge,
            "model_sha256": standing.model_sha256, "minutes": standing.minutes,
            "verdict": None if standing.verdict is None else dict(standing.verdict),
            "state": "open" if standing.verdict is None else "verdict",
        }  # fmt: skip
        with self.writing() as connection:
            after = self._touch(connection, number, version, values)
            self._tell(connection, number, standing.events)
            return after

    def turn_out(self, number: int, version: int, topology: str) -> int:
        """A unit that nobody had opened turned out to be of this topology; the case's new version.
        TroubleError CS112, CS113."""
        with self.writing() as connection:
            return self._touch(connection, number, version, {"topology": topology})

    def note(self, number: int, says: str) -> None:
        """Leave words with a case, whoever is at it. TroubleError CS111 for no such case."""
        with self.writing() as connection:
            self._there(connection, number)
            row = {"case_number": number, "at": self.now(), "who": self.who, "says": says}
            connection.execute(NOTES.insert().values(row))

    def label(self, number: int, entries: Mapping[str, str]) -> None:
        """Add what is printed on the unit, by name. TroubleError CS111."""
        with self.writing() as connection:
            row = self._there(connection, number)
            connection.execute(_at(number).values(label={**row["label"], **entries}))

    def photograph(self, number: int, content: bytes, says: str = "", source: str = "") -> None:
        """Keep a photograph with a case; the same one twice is kept once.

        TroubleError CS111, CS114 where the bytes are no photograph, CS115 where they are too many,
        CS117 where the case has as many as are kept.
        """
        kind = photographs.check(content, source or "photograph")
        digest = photographs.digest(content)
        with self.writing() as connection:
            self._there(connection, number)
            same = sa.and_(PHOTOGRAPHS.c.case_number == number, PHOTOGRAPHS.c.sha256 == digest)
            if connection.execute(sa.select(PHOTOGRAPHS.c.id).where(same)).first() is not None:
                return
            of_case = PHOTOGRAPHS.c.case_number == number
            query = sa.select(sa.func.count()).select_from(PHOTOGRAPHS).where(of_case)
            count = connection.execute(query).scalar_one()
            photographs.check_count(int(count), source or "photograph")
            row = {
                "case_number": number, "at": self.now(), "who": self.who, "says": says,
                "kind": kind, "size": len(content), "sha256": digest, "content": content,
            }  # fmt: skip
            connection.execute(PHOTOGRAPHS.insert().values(row))

    def close(self, number: int, version: int, closing: Closing) -> int:
        """Close a case; its new version. TroubleError CS112, CS113, CS116 for no such outcome."""
        if closing.outcome not in OUTCOMES:
            raise trouble(
                "CS116", f"case {number}", f'"{closing.outcome}" is no outcome',
                f"Write one of {', '.join(OUTCOMES)}",
            )  # fmt: skip
        now = self.now()
        values = {
            "state": "closed", "closed_at": now, "closed_by": self.who,
            "faults": list(closing.faults), "done": closing.done, "outcome": closing.outcome,
            "cost": closing.cost, "currency": closing.currency,
        }  # fmt: skip
        with self.writing() as connection:
            after = self._touch(connection, number, version, values)
            for proof in closing.proofs:
                row = {**asdict(proof), "at": proof.at or now, "who": proof.who or self.who}
                connection.execute(PROOFS.insert().values(case_number=number, **row))
            return after

    def reopen(self, number: int) -> int:
        """Open a closed case again; its new version. What was found counts no longer, the proofs
        stay. TroubleError CS111; an open case stays as it is."""
        with self.writing() as connection:
            row = self._there(connection, number)
            version = int(row["version"])
            if row["state"] != "closed":
                return version
            values: dict[str, Any] = {
                "state": "open" if row["verdict"] is None else "verdict",
                "closed_at": None, "closed_by": None, "outcome": None, "faults": [],
                "version": version + 1, "changed_at": self.now(), "changed_by": self.who,
            }  # fmt: skip
            connection.execute(_at(number).values(values))
            return version + 1

    def take_over(self, parcels: Sequence[tuple[Case, Sequence[bytes]]]) -> tuple[int, ...]:
        """Keep cases that come from elsewhere, all or none; their numbers in this shop.

        With each come the bytes of its photographs in the order of the case's. One that is here at
        the same version is passed over. TroubleError CS122 where it is here at another.
        """
        with self.writing() as connection:
            return tuple(_take_over(connection, case, contents) for case, contents in parcels)

    # ---- reading ----

    def last(self) -> int | None:
        """The case that was changed last and is not closed; None where there is none."""
        query = sa.select(CASES.c.number).where(CASES.c.state != "closed")
        with self.reading() as connection:
            newest = query.order_by(*retrieval.newest_first(self.now())).limit(1)
            return connection.execute(newest).scalar()

    def rows(self, words: Iterable[str] = (), states: Iterable[str] = ()) -> tuple[Row, ...]:
        """Cases, the last changed first: those that hold every one of `words` (case aside) in unit,
        owner's words, label, topology, complaint, faults, what was done or a note."""
        with self.reading() as connection:
            return retrieval.rows(connection, tuple(words), tuple(states), self.now())

    def case(self, number: int) -> Case:
        """All that is kept of a case. TroubleError CS111 for no such case."""
        with self.reading() as connection:
            return retrieval.case(connection, self._there(connection, number))

    def contents(self, number: int) -> tuple[bytes, ...]:
        """The bytes of a case's photographs, in the order that `case` lists them."""
        column = PHOTOGRAPHS.c.content
        query = sa.select(column).where(PHOTOGRAPHS.c.case_number == number)
        with self.reading() as connection:
            rows = connection.execute(query.order_by(PHOTOGRAPHS.c.id)).scalars()
            return tuple(bytes(content) for content in rows)

    def picture(self, number: int, sha256: str) -> tuple[str, bytes] | None:
        """The media type and bytes of the case's photograph of that hash; None for none."""
        query = sa.select(PHOTOGRAPHS.c.kind, PHOTOGRAPHS.c.content).where(
            PHOTOGRAPHS.c.case_number == number, PHOTOGRAPHS.c.sha256 == sha256
        )
        with self.reading() as connection:
            row = connection.execute(query).first()
            return None if row is None else (str(row.kind), bytes(row.content))

    def leave(self) -> None:
        """Close the connections."""
        self.engine.dispose()

    # ---- underneath ----

    @contextlib.contextmanager
    def writing(self) -> Iterator[sa.Connection]:
        """A transaction that asks for its turn to write as it begins."""
        with (
            in_words(self.name),
            self.engine.connect().execution_options(writes=True) as connection,
            connection.begin(),
        ):
            yield connection

    @contextlib.contextmanager
    def reading(self) -> Iterator[sa.Connection]:
        """A connection to read by; what the database raises comes as a TroubleError."""
        with in_words(self.name), self.engine.connect() as connection:
            yield connection

    def _touch(
        self, connection: sa.Connection, number: int, version: int, values: Mapping[str, Any]
    ) -> int:
        """Write to a case that is still at `version`, and raise it."""
        target = _at(number).where(CASES.c.version == version, CASES.c.state != "closed")
        stamp = {"version": version + 1, "changed_at": self.now(), "changed_by": self.who}
        if connection.execute(target.values({**values, **stamp})).rowcount:
            return version + 1
        row = self._there(connection, number)
        if row["state"] == "closed":
            raise trouble(
                "CS113", f"case {number}",
                f"it was closed by {row['closed_by']}, {row['closed_at']}",
                f"nextprobe cases --show {number} shows it, nextprobe close {number} --reopen "
                "opens it again",
            )  # fmt: skip
        raise trouble(
            "CS112", f"case {number}",
            f"it was changed elsewhere by {row['changed_by']}, {row['changed_at']}; what you told "
            "last is not kept",
            f"Unplug the unit, then go on with what is kept: nextprobe resume {number}",
        )  # fmt: skip

    def _there(self, connection: sa.Connection, number: int) -> sa.RowMapping:
        query = sa.select(CASES).where(CASES.c.number == number)
        row = connection.execute(query).mappings().first()
        if row is None:
            raise trouble(
                "CS111", self.name, f"there is no case {number}", "nextprobe cases lists them"
            )
        return row

    def _tell(
        self, connection: sa.Connection, number: int, events: Sequence[Mapping[str, Any]]
    ) -> None:
        standing = connection.execute(
            sa.select(EVENTS.c.id, EVENTS.c.body)
            .where(EVENTS.c.case_number == number, EVENTS.c.withdrawn_at.is_(None))
            .order_by(EVENTS.c.position)
        ).all()
        alike = 0
        while alike < min(len(standing), len(events)) and standing[alike].body == events[alike]:
            alike += 1
        now = self.now()
        stale = [row.id for row in standing[alike:]]
        if stale:
            withdrawal = EVENTS.update().where(EVENTS.c.id.in_(stale))
            connection.execute(withdrawal.values(withdrawn_at=now, withdrawn_by=self.who))
        fresh = [
            {"case_number": number, "position": place, "at": now, "who": self.who, "body": body}
            for place, body in enumerate(events[alike:], start=alike)
        ]
        if fresh:
            connection.execute(EVENTS.insert(), fresh)


def _at(number: int) -> sa.Update:
    return CASES.update().where(CASES.c.number == number)


def _insert(connection: sa.Connection, row: Mapping[str, Any]) -> int:
    """The number that the new case was given."""
    key = connection.execute(CASES.insert().values(row)).inserted_primary_key
    assert key is not None
    return int(key[0])


def _intake(intake: Intake) -> dict[str, Any]:
    volts, hertz = intake.mains
    return {
        "unit": intake.unit, "label": dict(intake.label), "words": intake.words,
        "topology": intake.topology, "volts": volts, "hertz": hertz, "depth": intake.depth,
        "complaint": intake.complaint, "options": dict(intake.options),
        "knowledge": intake.knowledge, "model_sha256": intake.model_sha256,
    }  # fmt: skip


def _take_over(connection: sa.Connection, case: Case, contents: Sequence[bytes]) -> int:
    here = sa.select(CASES.c.number, CASES.c.version).where(CASES.c.uid == case.uid)
    if (there := connection.execute(here).first()) is not None:
        if there.version == case.version:
            return int(there.number)
        raise trouble(
            "CS122", f"case {there.number}",
            f"it is here at version {there.version} and comes in at version {case.version}",
            "Keep this one and take that out of the file, or import into another shop with --shop",
        )  # fmt: skip
    closing, standing = case.closing or Closing(""), case.standing
    row = {
        **_intake(case.intake), "uid": case.uid, "version": case.version, "state": case.state,
        "entry": dict(standing.entry), "minutes": standing.minutes,
        "verdict": None if standing.verdict is None else dict(standing.verdict),
        "opened_at": case.opened_at, "opened_by": case.opened_by,
        "changed_at": case.changed_at, "changed_by": case.changed_by,
        "closed_at": case.closed_at, "closed_by": case.closed_by,
        "faults": list(closing.faults), "done": closing.done,
        "outcome": closing.outcome or None, "cost": closing.cost, "currency": closing.currency,
    }  # fmt: skip
    number = _insert(connection, row)
    _copy(connection, number, case, contents)
    return number


def _copy(connection: sa.Connection, number: int, case: Case, contents: Sequence[bytes]) -> None:
    """The rows that hang on a case, as they were told elsewhere."""
    place = 0
    for happening in case.happenings:
        row = {**asdict(happening), "case_number": number, "position": place}
        connection.execute(EVENTS.insert().values(row))
        place += happening.withdrawn_at is None
    for note in case.notes:
        connection.execute(NOTES.insert().values(case_number=number, **asdict(note)))
    for photograph, content in zip(case.photographs, contents, strict=True):
        row = {**asdict(photograph), "content": content, "case_number": number}
        connection.execute(PHOTOGRAPHS.insert().values(row))
    for proof in case.closing.proofs if case.closing else ():
        connection.execute(PROOFS.insert().values(case_number=number, **asdict(proof)))
