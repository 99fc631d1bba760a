"""`nextprobe close`: how a case ended: what it really was, what was done, the proofs."""

from __future__ import annotations

from enum import StrEnum
from typing import TYPE_CHECKING, Annotated

import typer

from render.cli.options import CaseNumber, ShopOption, Who

if TYPE_CHECKING:
    from engine.cases.records import ProofReading
    from engine.model.records import Model


class Outcome(StrEnum):
    """What became of the unit."""

    REPAIR = "mended"
    NO_REPAIR = "unmended"
    SCRAP = "scrapped"
    NO_FAULT = "no-fault"


_PROOF = "A proof and what it read, such as insulation='over 100 Mohm'; may be given several times."


def close(
    number: CaseNumber = None,
    outcome: Annotated[
        Outcome | None, typer.Option(help="What became of the unit.", show_default=False)
    ] = None,
    fault: Annotated[
        list[str] | None,
        typer.Option(
            metavar="FAULT",
            help="The fault that was really there, as nextprobe model names it; may be given "
            "several times. Without it the shop learns nothing from the case.",
        ),
    ] = None,
    done: Annotated[str, typer.Option(metavar="WORDS", help="What was done.")] = "",
    passed: Annotated[list[str] | None, typer.Option(metavar="PROOF=READING", help=_PROOF)] = None,
    failed: Annotated[
        list[str] | None,
        typer.Option(metavar="PROOF=READING", help="As --passed, for a proof that failed."),
    ] = None,
    cost: Annotated[float | None, typer.Option(min=0, help="What it cost the owner.")] = None,
    currency: Annotated[str, typer.Option(metavar="NAME", help="Of what money.")] = "",
    reopen: Annotated[
        bool, typer.Option("--reopen", help="Open a closed case again: it counts no longer.")
    ] = False,
    shop: ShopOption = None,
    who: Who = None,
) -> None:
    """Close a case: what it really was, what was done, the proofs with their readings, the outcome.

    Example: nextprobe close 12 --outcome mended --fault C3-open --done "new C3, 10 µF 400 V"
    --passed polarity="as marked"

    Example: nextprobe close 12 --reopen
    """
    from engine.cases.mishaps import trouble
    from engine.cases.records import Closing
    from render.cli import casework, keeping

    books = keeping.open_shop(shop, who)
    case = casework.fetch(books, number)
    if reopen:
        books.reopen(case.number)
        print(f"Case {case.number} is open again.")
        return
    if outcome is None:
        raise trouble(
            "CS116", f"case {case.number}", "no outcome is told",
            f"Write --outcome and one of {', '.join(one.value for one in Outcome)}",
        )  # fmt: skip
    model = casework.model_of(case, books) if fault or passed or failed else None
    proofs = (*_proofs(model, passed or [], True), *_proofs(model, failed or [], False))
    closing = casework.closing_of(
        case, model, Closing(outcome.value, tuple(fault or ()), done, proofs, cost, currency)
    )
    books.close(case.number, case.version, closing)
    print(f"Case {case.number} is closed as {outcome.value}.")


def _proofs(model: Model | None, texts: list[str], passed: bool) -> tuple[ProofReading, ...]:
    from engine.cases.mishaps import trouble
    from engine.cases.records import ProofReading

    ids = {proof.id: proof for proof in model.proofs} if model else {}
    readings = []
    for text in texts:
        name, _, reading = text.partition("=")
        if name not in ids or not reading:
            raise trouble(
                "CS116", "command line", f'"{text}" is no proof with its reading',
                f"Write PROOF=READING with one of {', '.join(ids)}",
            )  # fmt: skip
        proof = ids[name]
        readings.append(ProofReading(name, proof.says, proof.limit, reading, passed))
    return tuple(readings)
