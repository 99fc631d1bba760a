"""The sums of the bench that a step wants, worked out of the unit's own values."""

from __future__ import annotations

from engine.calc import in_a_line
from engine.deduce import anatomy, offers
from engine.deduce.deduction import Deduction
from engine.deduce.facts import views_of
from kb.trouble import Trouble, TroubleError


def sums_of(deduction: Deduction, topology: str, test: str) -> list[str]:
    """Each sum that a test or a supply arrangement wants, as `NAME (results)`.

    TroubleError at the line of the part whose value a sum can't be worked with: nobody can mend
    the sum.
    """
    lines = []
    for own in deduction.all(offers.Sum):
        if own.test == test:
            try:
                line = in_a_line(own.sum, own.given, own.tells)
            except TroubleError as error:
                raise TroubleError(
                    [_at_its_part(deduction, topology, own, trouble) for trouble in error.troubles]
                ) from error
            lines.append(line.replace(": ", " (", 1) + ")")
    return lines


def _at_its_part(
    deduction: Deduction, topology: str, own: offers.Sum, trouble: Trouble
) -> Trouble:
    cause = deduction.once.causes.get(own.fact)
    facts = cause.facts if cause is not None else ()
    parts = list(views_of(anatomy.Part, facts))
    path = ("stages", parts[0].stage, "parts", parts[0].name) if parts else ()
    whose = f" of {' or '.join(part.name for part in parts)}" if parts else ""
    return Trouble(
        "KB512", deduction.knowledge.at("topologies", topology, *path),
        f"In {topology}, the sum {own.sum} that '{own.test}' wants can't be worked with the value"
        f"{whose}: {trouble.what}",
        f"Look at the values of these parts. {trouble.mend}",
    )  # fmt: skip
