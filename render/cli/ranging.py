"""What `chart` and `trial` tell of minutes and shares that are ranges: keys and lines."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import asdict
from typing import TYPE_CHECKING, Any

from engine.documents.chart import Loss, Ranges, Sturdy
from engine.model.plan import Plan
from engine.model.records import Model
from render.cli.columns import count_words, hanging
from render.cli.waiting import status
from render.wording.odds import share

if TYPE_CHECKING:
    from engine.studies.trial.ranges import Ranges as Measure

Drafting = Callable[[Model, Plan], dict[str, Any]]
"""From a model and its plan to the chart document."""
BENCHES = 20
"""Benches where only a sturdy plan is asked for, and those of a trial."""


def drafting(many: int, sturdy: bool, after: Drafting) -> Drafting:
    """As `after`, with what the plan loses on `many` benches, and the sturdiest where wanted."""

    def draft_of(model: Model, plan: Plan) -> dict[str, Any]:
        if not sturdy:
            return after(model, plan) | {"ranges": losses(model, plan, many)}
        from engine.studies.trial.ranges import sturdy_plan

        with status("looking for the plan that loses least on other benches"):
            choice = sturdy_plan(model, plan, many=many or BENCHES)
        return after(model, choice.plan) | {
            "ranges": _record(choice.ranges).plain(),
            "sturdy": Sturdy(
                of=choice.of, within=choice.within, gap_minutes=choice.gap_minutes,
                changed=choice.changed, optimum_proved=plan.proof.proved_optimal,
                first=_record(choice.first),
            ).plain(),
        }  # fmt: skip

    return draft_of


def losses(model: Model, plan: Plan, many: int, seed: int = 1) -> dict[str, Any]:
    """What the plan loses on other benches, as the documents have it."""
    from engine.studies.trial.ranges import ranges

    with status(f"planning for {count_words(many, 'other bench', 'other benches')}"):
        return _record(ranges(model, plan, many=many, seed=seed)).plain()


def _record(ranges: Measure) -> Ranges:
    """The ranges as they stand in a document."""
    return Ranges(
        benches=ranges.benches, seed=ranges.seed, closed=ranges.closed,
        loses=Loss(**asdict(ranges.loses)), at_most=Loss(**asdict(ranges.at_most)),
    )  # fmt: skip


def lines(document: Mapping[str, Any]) -> Iterator[str]:
    """What a chart or a trial tells of its ranges; nothing where none were asked for."""
    if sturdy := document.get("sturdy"):
        yield from hanging(_sturdy(sturdy))
    if ranges := document.get("ranges"):
        yield from hanging(_ranges(ranges))


def _ranges(ranges: Mapping[str, Any]) -> str:
    many, proofs = ranges["benches"], ranges["closed"]
    words = (
        f"On {count_words(many, 'other bench', 'other benches')}, minutes and shares within their "
        f"ranges, this plan loses {_loss(ranges['loses'])}."
    )
    if proofs == many:
        return words
    return (
        f"{words} The best plan was proved on {proofs} of them; held against what is proved, it "
        f"loses at most {_loss(ranges['at_most'])}."
    )


def _loss(loss: Mapping[str, float]) -> str:
    return (
        f"{loss['median']:.1f} min ({share(loss['median_share'])}) in the middle and "
        f"{loss['in_19_of_20']:.1f} min ({share(loss['share_in_19_of_20'])}) in 19 of 20"
    )


def _sturdy(sturdy: Mapping[str, Any]) -> str:
    within = f"{100 * sturdy['within']:g} %"
    if sturdy["of"] == 1:
        return f"No other plan was found within {within} of the least: this one stands."
    verdict = "this one loses least" if sturdy["changed"] else "the plan of least cost loses least"
    words = f"Of {sturdy['of']} plans within {within}, {verdict}"
    if not sturdy["changed"]:
        return f"{words}; it stands."
    return f"{words}; in expectation it costs {sturdy['gap_minutes']:.2f} min more than the least."
