"""What a bench is said to be without: known by name, and never all that ends a fault.

Codes: KB704 it is no supply, instrument, test or remedy; KB707 nothing is left to do about a fault.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable

from engine.deduce import offers
from engine.deduce.deduction import Deduction
from engine.model.records import Fault, Remedy
from kb.language.benchfile import lackable
from kb.language.nearest import alike
from kb.trouble import Place, Trouble, TroubleError

_TOLD = 3
"""How many names a trouble lists; for reading alone."""


def check(deduction: Deduction, without: Collection[str]) -> None:
    """Each must be a supply that can be done without, an instrument, a test or a remedy."""
    things = lackable(deduction.knowledge)
    choices = _names(deduction, offers.Test) | _names(deduction, offers.Remedy)
    for name in sorted(set(without).difference(things, choices)):
        near = alike(name, (*things, *sorted(choices)), 1)
        hint = f"one of: {', '.join(things)}; or the id of a test or a remedy"
        raise TroubleError(
            Trouble(
                "KB704", Place("command line"), f"A bench can't be without '{name}'",
                f"Write {near[0] if near else hint}",
            )
        )  # fmt: skip


def check_ends(
    deduction: Deduction,
    without: Collection[str],
    faults: Iterable[Fault],
    remedies: Iterable[Remedy],
) -> None:
    """Whatever a shop won't do, something must be left to do about every fault."""
    refusals = sorted(_names(deduction, offers.Remedy).intersection(without))
    curable = {fault for remedy in remedies for fault in remedy.cures}
    left = [fault.id for fault in faults if fault.id not in curable]
    if left and refusals:
        more = f" and {len(left) - _TOLD} more" if len(left) > _TOLD else ""
        raise TroubleError(
            Trouble(
                "KB707", Place("command line"),
                f"Without {' and '.join(refusals)} nothing is left to do about "
                f"{', '.join(left[:_TOLD])}{more}",
                "Leave out fewer remedies; scrap is the one that ends what nothing else does",
            )
        )  # fmt: skip


def _names(deduction: Deduction, view: type[offers.Test | offers.Remedy]) -> set[str]:
    return {offer.name for offer in deduction.all(view)}
