"""Panels to read after the flowchart: faults and remedies, proofs, sources."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from render.drawing.typeset import Run, fine
from render.layout.panels import Leaf, Row
from render.wording import equipment, fixedwords, instead
from render.wording.odds import percent
from render.wording.phrasing import ranges
from render.wording.script import Script

_COMMON = "common practice"
_SHOWN_BESIDE = 2

Document = Mapping[str, Any]


def faults(script: Script) -> Leaf:
    """Every fault with its share, by the remedy it ends in: what to fit, how to prove it."""
    ends = _ends(script)
    rows = []
    for remedy, numbers in _verdicts(script).items():
        mine = [f for f in script.model["faults"] if ends.get(f["id"], ("",))[0] == remedy]
        rows += _remedy_rows(script, remedy, numbers, mine)
    rest = [fault for fault in script.model["faults"] if fault["id"] not in ends]
    if rest:
        words = fixedwords.ALIKE.format(faults="; ".join(_shares(rest)))
        rows.append(Row((Run(fine(words, "faults")),)))
    if script.usual_proofs:
        words = fixedwords.USUAL_PROOFS.format(proofs=script.usual_proofs)
        rows.append(Row((Run(words, bold=True),)))
    sources = _share_sources(script.model["faults"])
    if sources:
        rows.append(Row((Run(fixedwords.SHARES.format(sources=sources)),)))
    return Leaf("faults", fixedwords.FAULTS_TITLE, tuple(rows))


def going_on(script: Script) -> Leaf | None:
    """What going on to the part costs from each verdict, verdicts of one advice together."""
    alike: dict[str, list[int]] = {}
    for number, words in script.going_on.items():
        alike.setdefault(words, []).append(int(number.removeprefix("V")))
    rows = tuple(
        _number_row(ranges(numbers, "V"), (Run(words),)) for words, numbers in alike.items()
    )
    return Leaf("going-on", fixedwords.GOING_ON_TITLE, rows) if rows else None


def _verdicts(script: Script) -> dict[str, list[int]]:
    """The verdict numbers of every remedy on the chart, remedies in the order of the first."""
    numbers: dict[str, list[int]] = {}
    for name, node in script.chart["nodes"].items():
        if node["kind"] == "verdict" and name not in script.merged:
            number = int(script.numbers[name].removeprefix("V"))
            numbers.setdefault(node["remedy"], []).append(number)
    return dict(sorted(numbers.items(), key=lambda pair: min(pair[1])))


def _ends(script: Script) -> dict[str, tuple[str, float]]:
    """For each fault the remedy at which it ends most often, with the odds of ending there."""
    ends: dict[str, tuple[str, float]] = {}
    for node in script.chart["nodes"].values():
        for fault in node["faults"] if node["kind"] == "verdict" else ():
            odds = float(node.get("reach", 0.0)) * float(fault["p"])
            if odds > ends.get(fault["id"], ("", -1.0))[1]:
                ends[fault["id"]] = (node["remedy"], odds)
    return ends


def _remedy_rows(
    script: Script, remedy_id: str, numbers: list[int], faults_: list[Document]
) -> list[Row]:
    """The remedy with what to fit and prove, then its faults, likeliest first, a part a row."""
    remedy = next(r for r in script.model["remedies"] if r["id"] == remedy_id)
    where = f"remedy {remedy_id}"
    runs = [Run(fine(str(remedy["says"]).rstrip(". "), where), bold=True)]
    shares = _shares(faults_, str(remedy["says"]))
    beneath = [Row((Run(fine(part, where)),), marker="•") for part in shares if len(shares) > 1]
    if len(shares) == 1:
        runs.append(_with_dot(shares[0], where))
    texts = [str(remedy.get("how") or ""), *(str(c) for c in remedy.get("companions") or ())]
    words = " ".join(text.rstrip(". ") + "." for text in texts if text)
    if words:
        runs.append(_with_dot(words, where))
    names = [proof["id"] for proof in script.proofs]
    proofs_ = ranges([names.index(p) + 1 for p in remedy.get("proofs") or () if p in names], "P")
    if proofs_ != script.usual_proofs:
        runs.append(Run(f" Prove {proofs_}." if proofs_ else fixedwords.NO_PROOF))
    marker = ranges(numbers, "V")
    return [_number_row(marker, runs), *beneath]


def _number_row(marker: str, runs: Iterable[Run]) -> Row:
    """A row beside the numbers it is about; where they are many they lead it."""
    if marker.count(" ") < _SHOWN_BESIDE:
        return Row(tuple(runs), marker=marker)
    return Row((Run(marker + " ", bold=True), *runs))


def _with_dot(words: str, where: str) -> Run:
    return Run("\u00a0· " + fine(words, where))


def _shares(faults_: Iterable[Document], name_before: str = "") -> list[str]:
    """Faults with their shares by part; a part that `named` names already is not named again."""
    parts: dict[str, list[str]] = {}
    for fault in sorted(faults_, key=lambda f: -float(f["prior"])):
        part, colon, how = str(fault["says"]).rstrip(". ").partition(": ")
        name, how = (part, how) if colon else ("", part)
        parts.setdefault("" if name in name_before else name, []).append(
            f"{how} {percent(float(fault['prior']))}"
        )
    return [(f"{name}: " if name else "") + ", ".join(modes) for name, modes in parts.items()]


def _share_sources(faults_: Iterable[Document]) -> str:
    """Where the shares come from, each source once with what it is cited for."""
    uses: dict[str, set[str]] = {}
    for fault in faults_:
        for because in fault.get("because") or ():
            for source in str(because.get("source") or "").split(";"):
                name, _, what = source.strip().rstrip(".").partition(", ")
                if name:
                    uses.setdefault(name, set()).update({what} - {""})
    citations = (
        name + (f" ({', '.join(sorted(whats))})" if whats else "")
        for name, whats in sorted(uses.items())
    )
    return fine("; ".join(citations), "sources of shares")


def ways_on(script: Script) -> Leaf | None:
    """What comes where a step can't be done, by the numbers of the steps."""
    numbers_by_words: dict[str, list[int]] = {}
    steps = instead.steps_by_test(script.chart, script.numbers)
    for name, node in script.chart["nodes"].items():
        words = fine(instead.words(script.model, node, steps), f"step {name}")
        if words and name not in script.merged:
            numbers_by_words.setdefault(words, []).append(int(script.numbers[name]))
    rows = [
        _number_row(ranges(numbers, ""), (Run(words),))
        for words, numbers in sorted(numbers_by_words.items(), key=lambda pair: min(pair[1]))
    ]
    if not rows:
        return None
    rows.append(Row((Run(fixedwords.INSTEAD_TAIL, bold=True),)))
    return Leaf("instead", fixedwords.INSTEAD_TITLE, tuple(rows))


def proofs(script: Script) -> Leaf | None:
    """The proofs after repair with their limits."""
    rows = []
    by_methods = equipment.told_by_methods(
        equipment.methods_of(script.model, equipment.Needs.of(script.model, script.chart))
    )
    for number, proof in enumerate(script.proofs, start=1):
        where = f"proof {proof['id']}"
        limit = str(proof.get("limit") or "")
        text = str(proof["says"]).rstrip(". ")
        tail = f": {limit}" if limit and limit not in text else ""
        own = "" if proof["id"] in by_methods else str(proof.get("how") or "")
        how = f". {own.rstrip('. ')}." if own else ""
        words = fine(text + tail + how, where)
        rows.append(Row((Run(words),), marker=f"P{number}", anchor=f"P{number}"))
    if not rows:
        return None
    rows.append(Row((Run(fixedwords.PROOFS_TAIL, bold=True),)))
    return Leaf("proofs", fixedwords.PROOFS_TITLE, tuple(rows))


def sources(script: Script) -> Leaf | None:
    """Who says so: every source but common practice, for the tests, remedies and proofs used."""
    nodes = script.chart["nodes"].values()
    ids = {node.get("test") or node.get("remedy") for node in nodes}
    items = [
        *(
            item
            for kind in ("tests", "remedies")
            for item in script.model[kind]
            if item["id"] in ids
        ),
        *script.proofs,
    ]
    names = {
        str(because["source"]).strip()
        for item in items
        for because in (*(item.get("because") or ()), item)
        if because.get("source")
    }
    if not names:
        return None
    rows = [Row((Run(fine(name, "source")),), marker="•") for name in sorted(names - {_COMMON})]
    if _COMMON in names:
        rows.append(Row((Run(fixedwords.SOURCES_REST if rows else fixedwords.SOURCES_ALL),)))
    return Leaf("sources", fixedwords.SOURCES_TITLE, tuple(rows))


def record(script: Script) -> Leaf | None:
    """Lines to write readings on, a line for each question by its number, volts applied first."""
    rows = tuple(
        Row((Run(fixedwords.RECORD_LINE),), marker=number)
        for number in sorted((n for n in script.numbers.values() if n.isdigit()), key=int)
    )
    lead = Row((Run(fixedwords.RECORD_LEAD),))
    return Leaf("record", fixedwords.RECORD_TITLE, (lead, *rows)) if rows else None
