"""Does a case go from shop to shop as it is, and into a spreadsheet as text?"""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from jsonschema import Draft202012Validator

from engine.cases import exchange
from engine.cases.opening import open_shop
from engine.cases.records import Closing, ProofReading
from engine.cases.shop import Shop
from kb.language import formats
from kb.trouble import TroubleError
from tests.cases.intakes import JPEG, PNG, VERDICT, answer, intake, standing


@pytest.fixture
def number(shop: Shop) -> int:
    """A case with all that a case can have."""
    number, version = shop.begin(intake())
    shop.photograph(number, JPEG, "front")
    shop.note(number, "Rust at the cap")
    version = shop.keep(number, version, standing([answer("a"), answer("b", "3 V")]))
    version = shop.keep(number, version, standing([answer("a")], VERDICT))
    shop.photograph(number, PNG, "back")
    proof = ProofReading("steady", "Closed up, an hour", "steady light", "steady", True)
    shop.close(number, version, Closing("mended", ("C1-open",), "new C1", (proof,), 8.0, "EUR"))
    return number


@pytest.fixture
def other(tmp_path: Path) -> Shop:
    """Another shop, where there are cases already."""
    shop = open_shop(str(tmp_path / "other.db"), who="Bob", clock=lambda: datetime.now(UTC))
    shop.begin(intake())
    return shop


def packed(shop: Shop, number: int) -> Any:
    """The case as another program reads it."""
    return json.loads(json.dumps(exchange.document(shop.case(number), shop.contents(number))))


def take_over(shop: Shop, *documents: Any) -> tuple[int, ...]:
    """The numbers that the documents' cases get."""
    parcels = [exchange.unpack(one, "parcel.json") for one in documents]
    return shop.take_over([(parcel.case, parcel.contents) for parcel in parcels])


def test_a_case_arrives_as_it_left(shop: Shop, number: int, other: Shop) -> None:
    """All of it but the number, times and names included, what was taken back included."""
    (there,) = take_over(other, packed(shop, number))
    assert there != number
    assert replace(other.case(there), number=number) == shop.case(number)
    assert other.contents(there) == (JPEG, PNG)


def test_the_same_case_twice_is_there_once(shop: Shop, number: int, other: Shop) -> None:
    """Under the number that it has."""
    first = take_over(other, packed(shop, number))
    assert take_over(other, packed(shop, number)) == first
    assert len(other.rows()) == 2


def test_another_state_of_a_case_does_not_overwrite_it(
    shop: Shop, number: int, other: Shop
) -> None:
    """And none of those that came with it is taken in."""
    document = packed(shop, number)
    take_over(other, document)
    shop.reopen(number)
    fresh, _ = shop.begin(intake())
    with pytest.raises(TroubleError) as refused:
        take_over(other, packed(shop, fresh), packed(shop, number))
    assert [trouble.code for trouble in refused.value.troubles] == ["CS122"]
    assert len(other.rows()) == 2


def test_the_document_keeps_to_its_schema(shop: Shop, number: int) -> None:
    """By the library jsonschema."""
    schema = json.loads((formats.FOLDER / "case.json").read_text(encoding="utf-8"))
    assert list(Draft202012Validator(schema).iter_errors(packed(shop, number))) == []


def test_photographs_may_be_left_out(shop: Shop, number: int, other: Shop) -> None:
    """The case arrives without them."""
    (there,) = take_over(other, exchange.document(shop.case(number), None))
    assert other.contents(there) == ()


@pytest.mark.parametrize(
    ("change", "code"),
    [
        ({"format": "nextprobe-case/9"}, "CS121"),
        ({"uid": "../../etc"}, "CS121"),
        ({"version": 0}, "CS121"),
        ({"state": "lost"}, "CS121"),
        ({"events": [{"at": "", "who": "", "event": {"event": "eaten"}}]}, "CS121"),
        ({"minutes": "ten"}, "CS121"),
        ({"photographs": [{"base64": "?"}]}, "CS121"),
    ],
    ids=lambda value: str(value)[:20],
)
def test_what_is_no_case_is_refused(
    shop: Shop, number: int, change: dict[str, Any], code: str
) -> None:
    """With its place in the document."""
    with pytest.raises(TroubleError) as refused:
        exchange.unpack({**packed(shop, number), **change}, "parcel.json")
    assert [trouble.code for trouble in refused.value.troubles] == [code]


@pytest.mark.parametrize(("name", "value"), [("base64", "PHN2Zz4="), ("sha256", "0" * 64)])
def test_a_picture_that_is_not_what_it_says_is_refused(
    shop: Shop, number: int, name: str, value: str
) -> None:
    """Other bytes, or another hash."""
    document = packed(shop, number)
    document["photographs"][0][name] = value
    with pytest.raises(TroubleError):
        exchange.unpack(document, "parcel.json")


def test_no_cell_is_taken_for_a_formula(at_bench: Callable[[str], Shop]) -> None:
    """By a reader that knows nothing of ours; an ordinary text is as it was told."""
    shop = at_bench("Ann")
    for unit in ("=1+1", "+1", "-1", "@x", 'a "lamp", grey'):
        shop.begin(intake(unit=unit, words="ünï\nline"))
    rows = list(csv.DictReader(io.StringIO(exchange.table(shop.rows()))))
    assert {row["unit"] for row in rows} == {"'=1+1", "'+1", "'-1", "'@x", 'a "lamp", grey'}
    assert {row["words"] for row in rows} == {"ünï\nline"}
