"""The two documents made ready for wording: that they belong together, and sisters merged."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence

from kb.trouble import Place, Trouble, TroubleError
from render.wording.script import Document


def agree(model: Document, chart: Document) -> None:
    """TroubleError if a document has another format, or the chart names what the model lacks."""
    for document, name in ((model, "model"), (chart, "chart")):
        form = f"nextprobe-{name}/1"
        if document.get("format") != form:
            raise TroubleError(
                Trouble(
                    "PA120",
                    Place(f"{name} document"),
                    f"The format is {document.get('format')!r}, not {form!r}",
                    "Print it again with this version of the program",
                )
            )
    tests = {test["id"] for test in model["tests"]}
    remedies = {remedy["id"] for remedy in model["remedies"]}
    for node_id, node in chart["nodes"].items():
        ids, wanted_id = (
            (tests, node["test"]) if "test" in node else (remedies, node.get("remedy"))
        )
        if wanted_id and wanted_id not in ids:
            raise TroubleError(
                Trouble(
                    "PA121",
                    Place("chart document"),
                    f"Node {node_id} names {wanted_id}, which the model document does not have",
                    "Give the two documents of the same run",
                )
            )


def sisters_merged(nodes: Mapping[str, Document]) -> tuple[dict[str, Document], dict[str, str]]:
    """Verdicts of one test with the same remedy, cautions and stores become one symbol.

    Returns the nodes to draw, and for each verdict folded into a sister the sister's name.
    """
    parents: dict[str, set[str]] = defaultdict(set)
    for node_id, node in nodes.items():
        for child in node.get("branches", {}).values():
            parents[child].add(node_id)
        if "next" in node:
            parents[node["next"]].add(node_id)
    symbols: dict[str, Document] = dict(nodes)
    sister_of: dict[str, str] = {}
    for node_id, node in nodes.items():
        sisters: dict[tuple[object, ...], list[str]] = defaultdict(list)
        for child in dict.fromkeys(node.get("branches", {}).values()):
            verdict = nodes[child]
            if verdict["kind"] == "verdict" and parents[child] == {node_id}:
                sisters[_kin(verdict)].append(child)
        for kin in sisters.values():
            if len(kin) > 1:
                symbols[kin[0]] = joint_verdict([nodes[k] for k in kin])
                sister_of.update(dict.fromkeys(kin[1:], kin[0]))
        if sister_of and "branches" in node:
            branches = {o: sister_of.get(to, to) for o, to in node["branches"].items()}
            symbols[node_id] = {**node, "branches": branches}
    for name in sister_of:
        del symbols[name]
    return symbols, sister_of


def _kin(verdict: Document) -> tuple[object, ...]:
    stores = (store for key in ("make_safe", "opening_up") for store in verdict.get(key) or ())
    names = tuple((store["part"], store.get("opening")) for store in stores)
    facts = verdict["remedy"], tuple(verdict.get("cautions", ())), names
    return *facts, *advice_of(verdict)


def advice_of(node: Document) -> tuple[bool, str | None]:
    """Whether a node says anything of going on to the part, and what it advises."""
    going_on = node.get("going_on")
    return going_on is not None, (going_on or {}).get("advice")


def joint_verdict(verdicts: Sequence[Document]) -> Document:
    """One verdict for all who come to any of those, which agree in their remedy and their advice:
    the odds of each by its share of the arrivals."""
    reach = sum(float(v.get("reach", 0.0)) for v in verdicts)
    shares = [float(v.get("reach", 0.0)) / reach if reach else 1 / len(verdicts) for v in verdicts]
    odds: dict[str, float] = defaultdict(float)
    for verdict, share in zip(verdicts, shares, strict=True):
        for fault in verdict["faults"]:
            odds[fault["id"]] += share * float(fault["p"])
    faults = [{"id": f, "p": p} for f, p in sorted(odds.items(), key=lambda item: -item[1])]
    joint = {**verdicts[0], "reach": reach, "faults": faults}
    prospects = [verdict["going_on"] for verdict in verdicts if verdict.get("going_on")]
    # Sisters agree in the advice: all of them say something of going on, or none does.
    return {**joint, "going_on": _jointly_on(prospects, shares)} if prospects else joint


def _jointly_on(prospects: Sequence[Document], shares: Sequence[float]) -> Document:
    """What the sisters say of going on, each by its share of those who come there."""
    parts: dict[str, float] = defaultdict(float)
    for one, share in zip(prospects, shares, strict=True):
        for part, p in one["parts"]:
            parts[part] += share * p
    figures = {
        key: sum(share * one[key] for one, share in zip(prospects, shares, strict=True))
        for key in ("minutes", "repair_minutes", "saved", "worth")
        if prospects[0].get(key) is not None
    }
    order = sorted(parts.items(), key=lambda item: -item[1])
    return {**prospects[0], **figures, "parts": [[part, p] for part, p in order]}
