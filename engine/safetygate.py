"""No plan is shown or walked that the audit rejects.

`check` holds a chart document against its model before anything is drawn or written; `guard`
does so with each plan of a walk, by the part of the audit that is about safety. A breach is raised
as a trouble, with the rule's file and line where the model says which rule wanted the step.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import fields
from pathlib import Path
from typing import Any

from engine.audit import audit
from engine.audit.arrival import Standing, arrivals
from engine.audit.bench import Bench, Stand
from engine.audit.breach import Breach
from engine.audit.charge import CHARGING, stores_in_reach
from engine.audit.requisites import no_more_done, requirement_breaches
from engine.audit.safety import proof_breaches, safety_breaches, supply_breaches
from engine.chart import drawing
from engine.model import makesafe
from engine.model.plan import Plan, Planner, State
from engine.model.records import Because, Model, document
from kb.language import loader
from kb.language.knowledge import Knowledge
from kb.trouble import Place, Trouble, TroubleError

ORIGIN = (
    "Made from a model of unknown origin: it was held to the rules of safety, but nobody can see "
    "in a document whether its words, stores of charge and openings are those of your unit."
)

_SHOWN = 10
"""How many breaches are told; for reading alone."""


def origin_note(model: Model, from_document: bool) -> str:
    """What sheet, screen and page say of a plan whose model was not deduced here, else nothing."""
    return ORIGIN if from_document or not model.knowledge else ""


def check(
    model: Model,
    chart_document: Mapping[str, Any],
    *,
    kb: Path | None = None,
    source: Path | None = None,
    second: Model | None = None,
) -> None:
    """Nothing, where the audit finds no breach in a chart; else a TroubleError with each breach.

    `second` is the model of the chart's second START, where it has one; `source` is the model
    document's file, where the model came from one; otherwise it was deduced from the shipped
    knowledge and the folder `kb`.
    """
    breaches = audit(
        document(model), chart_document, document(second) if second is not None else None
    )
    if breaches:
        raise TroubleError(_troubles(model, chart_document, breaches, kb, source))


def guard(planner: Planner, *, kb: Path | None = None, source: Path | None = None) -> Planner:
    """As `planner`, but a plan that the audit's laws of safety reject is raised, not returned.

    Only safety is held against it: a plan in the middle of a walk starts from odds and a bench that
    its chart document does not tell. Models that differ in rows alone share their bench but for
    those rows. Linear in the plan's nodes.
    """
    benches: list[tuple[Model, Bench, tuple[Breach, ...]]] = []

    def guarding(
        model: Model,
        *,
        belief: Mapping[str, float] | None,
        state: State | None,
        withdrawn: frozenset[str],
        tests_done: frozenset[str],
        answers: tuple[tuple[str, str], ...],
    ) -> Plan:
        plan = planner(
            model, belief=belief, state=state, withdrawn=withdrawn, tests_done=tests_done,
            answers=answers,
        )  # fmt: skip
        like = next((one for one in benches if _same_but_rows(one[0], model)), None)
        if like is None:
            bench = Bench.of(document(model))
            like = (model, bench, tuple(supply_breaches(bench)))
            benches.append(like)
        base, bench, standing = like
        if model.likelihood is not base.likelihood:
            rows = model.likelihood.items()
            bench = bench.with_rows({t: r for t, r in rows if r is not base.likelihood[t]})
        chart = drawing.document(drawing.draw_up(model, plan, _outset(model, state)))
        facts = frozenset(answers)
        gone = withdrawn | (no_more_done(bench, state.opened) if state else frozenset())
        breaches = (
            *standing, *_unsafe(bench, chart, state),
            *requirement_breaches(bench, chart, facts, gone),
        )  # fmt: skip
        if breaches:
            raise TroubleError(_troubles(model, chart, breaches, kb, source))
        return plan

    return guarding


def _same_but_rows(one: Model, other: Model) -> bool:
    """Whether two models are the same records, their likelihoods aside."""
    names = (field.name for field in fields(Model) if field.name != "likelihood")
    return all(getattr(one, name) is getattr(other, name) for name in names)


def _outset(model: Model, state: State | None) -> drawing.Outset | None:
    """In mid-walk a bench was come to by the law: what is exposed on it is known."""
    return None if state is None else drawing.Outset(state, makesafe.known_at(model, state))


def _unsafe(bench: Bench, chart: Mapping[str, Any], state: State | None) -> Iterable[Breach]:
    yield from proof_breaches(bench, chart)
    standings = frozenset[Standing]()
    if state is not None:
        stand = Stand(state.opened, state.supply, state.rig)
        is_charged = bench.energy(stand.supply) in CHARGING
        low = frozenset[str]() if is_charged else frozenset(stores_in_reach(bench, stand.opened))
        standings = frozenset({Standing(stand, stand, 0.0, low)})
    came = arrivals(bench, chart, standings)
    yield from safety_breaches(bench, chart, came)


def _troubles(
    model: Model,
    chart: Mapping[str, Any],
    breaches: Iterable[Breach],
    kb: Path | None,
    source: Path | None,
) -> list[Trouble]:
    """The breaches in words, each once, at the rule or the document that brought it."""
    knowledge = None if source else loader.read((kb,) if kb else ())
    by_text: dict[str, Trouble] = {}
    for breach in breaches:
        node = chart.get("nodes", {}).get(breach.node, {})
        place = Place(str(source)) if source else _place(model, node, breach, knowledge)
        step = f"step {breach.node}" if breach.node else "the plan"
        trouble = Trouble(
            breach.code,
            place,
            f"this plan is not shown or walked: {step} breaks a law of safety or does not follow "
            f"from the model ({breach.what})",
            "Mend the document" if source else "Mend the rule or the topology",
        )
        by_text.setdefault(f"{breach.code} {breach.what}", trouble)
    return list(by_text.values())[:_SHOWN]


def _place(
    model: Model, node: Mapping[str, Any], breach: Breach, knowledge: Knowledge | None
) -> Place:
    """Where the knowledge brings a breach about: the rule behind the step, else the topology."""
    if knowledge is None:
        return Place(model.topology)
    for cause in reversed(_causes(model, node)):
        if (place := knowledge.places.get(("rules", cause.rule))) is not None:
            return place
    for name in knowledge.arrangements:
        if repr(name) in breach.what:
            return knowledge.place("arrangements", name)
    return knowledge.places.get(("topologies", model.topology), Place(model.topology))


def _causes(model: Model, node: Mapping[str, Any]) -> tuple[Because, ...]:
    """The rules that concluded what a node does: its test; its remedy and the proofs of that."""
    if node.get("kind") == "test":
        return model.test(node["test"]).because
    if node.get("kind") == "verdict":
        remedy = model.remedy(node["remedy"])
        proofs = [proof for proof in model.proofs if proof.id in remedy.proofs]
        return (*(cause for proof in proofs for cause in proof.because), *remedy.because)
    return ()
