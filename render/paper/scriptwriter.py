"""What the chart says, symbol by symbol: two documents in, the words of every step out.

Reads the model and chart documents as plain mappings and nothing else. Set-up nodes and the test
or verdict they lead to become one step (a stack of symbols); outcomes that lead to the same place
become one branch; outcomes that no fault can show become a line in the test's own symbol.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import replace

from kb.trouble import Place, Trouble, TroubleError
from render.paper import signs
from render.paper.documents import agree, confirms_inserted, sisters_merged
from render.paper.phrasing import Phrasing, Wording, capital, ranges, said
from render.paper.script import Document, Exit, Paragraph, Part, Script, Signal, Step
from render.paper.typeset import Run, fine

SIGNAL_ORDER = ("DANGER", "WARNING", "CAUTION", "NOTICE")
START = "start"
_LEAST_SHOWN = 0.02
_AS_GOOD_AS_SURE = 0.99
_MOST_OTHERS = 2
_QUIET = "#444444"


def write_script(model: Document, chart: Document, wording: Wording = Wording.FULL) -> Script:
    """The words of every step; TroubleError if the documents don't belong together."""
    agree(model, chart)
    return _Writer(model, chart, Phrasing(wording)).script()


class _Writer:
    """Walks the chart once in reading order and words each step."""

    def __init__(self, model: Document, chart: Document, phrasing: Phrasing) -> None:
        self.model, self.chart, self.phrasing = model, chart, phrasing
        self.again: dict[str, str] = {}
        self.stores: dict[str, None] = {}
        self.nodes, self.merged = sisters_merged(confirms_inserted(chart))
        self.by_id = {
            kind: {item["id"]: item for item in model.get(kind, ())}
            for kind in ("tests", "remedies", "proofs", "cautions", "faults", "openings", "rigs")
        }
        self.arrangements = {a["id"]: a for a in model["supply"]["arrangements"]}
        self.parents = self._parents()
        self.reaches = self._reaches()
        self.states = self._states_before()
        self.heads = self._heads()
        order = self._reading_order()
        self.numbers = self._numbered(order)
        self.cautions = self._numbered_cautions(order)
        self.proofs = self._numbered_proofs(order)

    def script(self) -> Script:
        """The script, once everything is numbered."""
        steps = {START: self._start(), **{head: self._step(head) for head in self.heads}}
        return Script(
            model=self.model,
            chart=self.chart,
            root=START,
            steps=steps,
            cautions=tuple(self.by_id["cautions"][c] for c in self.cautions),
            proofs=tuple(self.by_id["proofs"][p] for p in self.proofs),
            numbers=self.numbers,
            merged=self.merged,
            wording=self.phrasing.wording,
            names=dict(sorted(self.phrasing.names.items())),
            supplies=self.phrasing.supplies,
            again=self.again,
            stores=tuple(self.stores),
            usual_proofs=ranges(self._usual_proofs(), "P"),
        )

    def _children(self, node_id: str) -> list[str]:
        node = self.nodes[node_id]
        if node["kind"] in ("setup", "confirm"):
            return [node["next"]]
        if node["kind"] == "test":
            return [c for c in dict.fromkeys(node["branches"].values()) if not self._again(c)]
        return []

    def _again(self, node_id: str) -> bool:
        return bool(self.nodes[node_id]["kind"] == "recheck")

    def _topological(self) -> list[str]:
        order: list[str] = []
        seen: set[str] = set()
        stack: list[tuple[str, bool]] = [(self.chart["root"], False)]
        while stack:
            node_id, done = stack.pop()
            if done:
                order.append(node_id)
            elif node_id not in seen:
                seen.add(node_id)
                stack.append((node_id, True))
                stack.extend((child, False) for child in self._children(node_id))
        return order[::-1]

    def _parents(self) -> dict[str, list[str]]:
        parents: dict[str, list[str]] = defaultdict(list)
        for node_id in self._topological():
            for child in self._children(node_id):
                parents[child].append(node_id)
        return parents

    def _reaches(self) -> dict[str, float]:
        """Odds of arriving under a node: its verdicts' reaches, each counted once a node."""
        below: dict[str, frozenset[str]] = {}
        for node_id in reversed(self._topological()):
            mine = frozenset([node_id]) if self.nodes[node_id]["kind"] == "verdict" else frozenset()
            below[node_id] = mine.union(*(below[child] for child in self._children(node_id)))
        return {
            node_id: sum(float(self.nodes[v].get("reach", 0.0)) for v in verdicts)
            for node_id, verdicts in below.items()
        }

    def _states_before(self) -> dict[str, set[tuple[frozenset[str], str, str]]]:
        start = self.model["start"]
        root = self.chart["root"]
        states: dict[str, set[tuple[frozenset[str], str, str]]] = defaultdict(set)
        states[root].add((frozenset(start["opened"]), start["supply"], start["rig"]))
        for node_id in self._topological():
            node = self.nodes[node_id]
            for opened, supply, rig in list(states[node_id]):
                after = (opened, supply, rig)
                if node["kind"] == "setup":
                    after = (opened | set(node["open"]), node["supply"], node["rig"])
                for child in self._children(node_id):
                    states[child].add(after)
        return states

    def _heads(self) -> dict[str, list[str]]:
        """Steps by their first node: set-ups run on into the test or verdict they prepare."""
        heads: dict[str, list[str]] = {}
        for node_id in self._topological():
            before = self.parents[node_id]
            runs_on = ("setup", "confirm")
            alone = len(before) == 1 and self.nodes[before[0]]["kind"] in runs_on
            if alone and node_id != self.chart["root"]:
                home = next(h for h, members in heads.items() if before[0] in members)
                heads[home].append(node_id)
            else:
                heads[node_id] = [node_id]
        return heads

    def _reading_order(self) -> list[str]:
        order: list[str] = []
        stack = [self.chart["root"]]
        while stack:
            node_id = stack.pop()
            if node_id in order:
                continue
            order.append(node_id)
            children = sorted(self._children(node_id), key=lambda c: self.reaches[c])
            stack.extend(children)
        return order

    def _numbered(self, order: Iterable[str]) -> dict[str, str]:
        numbers: dict[str, str] = {}
        tests = verdicts = 0
        for node_id in order:
            kind = self.nodes[node_id]["kind"]
            if kind == "test":
                tests += 1
                numbers[node_id] = str(tests)
            elif kind == "verdict":
                verdicts += 1
                numbers[node_id] = f"V{verdicts}"
        return numbers

    def _numbered_cautions(self, order: Iterable[str]) -> list[str]:
        found: dict[str, None] = {}
        for node_id in order:
            found.update(dict.fromkeys(self.nodes[node_id].get("cautions", ())))
        return [c for c in found if c in self.by_id["cautions"]]

    def _numbered_proofs(self, order: Iterable[str]) -> list[str]:
        found: dict[str, None] = {}
        for node_id in order:
            if self.nodes[node_id]["kind"] == "verdict":
                remedy = self.by_id["remedies"][self.nodes[node_id]["remedy"]]
                found.update(dict.fromkeys(remedy.get("proofs", ())))
        return [p for p in found if p in self.by_id["proofs"]]

    def _start(self) -> Step:
        name = str(self.model.get("says") or self.model["topology"])
        entry = "entry check first" if self.model.get("entry") else ""
        words = [entry] if self.phrasing.tight else [name, entry]
        told = " · ".join(word for word in words if word)
        runs = (Run("START", bold=True), Run(" " + fine(told, "topology")))
        part = Part(START, "start", (Paragraph(runs),))
        root = self.chart["root"]
        return Step(START, (part,), (Exit((), "", root, 1.0),), "", 1.0 + 1e-9, False)

    def _step(self, head: str) -> Step:
        members = self.heads[head]
        last = members[-1]
        minutes = sum(self._minutes(node_id) for node_id in members)
        parts = [self._part(node_id, minutes) for node_id in members]
        if self.phrasing.tight:
            parts = _run_together(parts)
        return Step(
            id=head,
            parts=tuple(_told_once(parts)),
            exits=tuple(self._exits(last)),
            number=self.numbers.get(self.nodes[last].get("back", last), ""),
            reach=self.reaches[head],
            shared=len(self.parents[head]) > 1,
            ways_in=max(1, len(self.parents[head])),
        )

    def _exits(self, node_id: str) -> Iterable[Exit]:
        node = self.nodes[node_id]
        if node["kind"] in ("setup", "confirm"):
            yield Exit((), "", node["next"], self.reaches[node["next"]])
            return
        if node["kind"] != "test":
            return
        outcomes = {o["id"]: o for o in self.by_id["tests"][node["test"]]["outcomes"]}
        for child in self._children(node_id):
            ids = tuple(o for o, to in node["branches"].items() if to == child)
            where = f"outcomes of {node['test']}"
            label = self.phrasing.branch([outcomes[o] for o in ids], where)
            yield Exit(ids, label, child, self.reaches[child])

    def _minutes(self, node_id: str) -> float:
        node = self.nodes[node_id]
        if node["kind"] in ("test", "confirm"):
            return float(self.by_id["tests"][node["test"]]["minutes"])
        return float(node.get("minutes", 0.0))

    def _part(self, node_id: str, minutes: float) -> Part:
        node = self.nodes[node_id]
        if node["kind"] == "setup":
            return self._setup(node_id, node)
        if node["kind"] == "test":
            return self._test(node_id, node, minutes)
        if node["kind"] == "confirm":
            return self._confirm(node_id, node, minutes)
        return self._verdict(node_id, node)

    def _setup(self, node_id: str, node: Document) -> Part:
        where = f"set-up {node_id}"
        safe = self._safe_runs(node, where)
        doings = ". ".join(capital(doing) for doing in self._changes(node_id, node, where))
        runs = (*safe, Run(". " if safe and doings else ""), Run(doings))
        return Part(
            node_id,
            "make-safe" if safe else "setup",
            (Paragraph(tuple(run for run in runs if run.text), hands=True),),
            self._signals(node),
        )

    def _safe_runs(self, node: Document, where: str) -> tuple[Run, ...]:
        points = node.get("make_safe") or ()
        if not points:
            return ()
        self.stores.update(dict.fromkeys(fine(str(p["point"]), where) for p in points))
        return Run("MAKE SAFE", bold=True), Run(": " + self.phrasing.limits(points, where))

    def _changes(self, node_id: str, node: Document, where: str) -> list[str]:
        before = self.states[node_id]
        dead = self.arrangements[node["supply"]]["energy"] == "none"
        doings = []
        for opening in node["open"]:
            doings.append(said(self.by_id["openings"].get(opening, {}), opening))
        doings += self._rigs(node["rig"], sorted({rig for _, _, rig in before} - {node["rig"]}))
        words = [self.phrasing.plain(doing, where) for doing in doings]
        supply_changes = any(supply != node["supply"] for _, supply, _ in before)
        safe = bool(node.get("make_safe"))
        if (supply_changes and not (dead and safe)) or not (doings or safe):
            words.append(self.phrasing.supply(self.arrangements[node["supply"]]))
        return words

    def _rigs(self, rig: str, worn: list[str]) -> list[str]:
        """What comes off of the rigs worn before, then what is fitted."""
        rigs, bare = self.by_id["rigs"], self.model["start"]["rig"]
        off = [
            str(rigs[old].get("off") or f"take off: {said(rigs[old], old)}")
            for old in worn
            if old != bare
        ]
        if len(off) > 1:  # come to from several places, each with its own
            off = ["take off what is fitted, and solder back what is lifted"]
        return [*off, said(rigs[rig], rig)] if worn and rig != bare else off

    def _test(self, node_id: str, node: Document, minutes: float) -> Part:
        test = self.by_id["tests"][node["test"]]
        where = f"test {test['id']}"
        point = str(test.get("point") or "")
        named = f" ({point})" if point and point not in test["says"] else ""
        runs = [
            Run(self.numbers[node_id] + "\u00a0", bold=True),
            Run(self.phrasing.plain(test["says"] + named, where) + " "),
            Run(fine(f"{minutes:g} min", where), ink=_QUIET),
        ]
        paragraphs = [Paragraph(tuple(runs), hands=True)]
        again = [o for o in test["outcomes"] if self._again(node["branches"][o["id"]])]
        if again:
            self.again[self.numbers[node_id]] = Phrasing(Wording.FULL).again(again, where)
            words = self.phrasing.again(again, where)
            if self.phrasing.tight:
                runs.append(Run(" " + words))
                paragraphs = [Paragraph(tuple(runs), hands=True)]
            else:
                paragraphs.append(Paragraph((Run(words),)))
        return Part(node_id, "test", tuple(paragraphs), self._signals(node))

    def _confirm(self, node_id: str, node: Document, minutes: float) -> Part:
        """A test done once more before its verdict, and what to do if it tells otherwise."""
        where = f"test {node['test']}"
        outcomes = {o["id"]: o for o in self.by_id["tests"][node["test"]]["outcomes"]}
        told = self.phrasing.branch([outcomes[o] for o in node["told"]], where)
        number = self.numbers[node["back"]]
        runs = (
            Run(f"{number} again", bold=True),
            Run(fine(f" {minutes:g} min", where), ink=_QUIET),
            Run(f": “{told}” as before, go on. If not, a third time: what came twice counts "),
            Run(f"at {number}?", bold=True),
        )
        return Part(node_id, "again", (Paragraph(runs, hands=True),), self._signals(node))

    def _verdict(self, node_id: str, node: Document) -> Part:
        remedy = self.by_id["remedies"][node["remedy"]]
        where = f"remedy {remedy['id']}"
        head = (
            Run(self.numbers[node_id] + "\u00a0", bold=True),
            Run(self.phrasing.plain(remedy["says"], where), bold=True),
        )
        tail = self._odds(node, remedy, where)
        proofs = [self.proofs.index(p) + 1 for p in remedy.get("proofs", ()) if p in self.proofs]
        if proofs and not (self.phrasing.tight and proofs == self._usual_proofs()):
            tail.append("prove " + ranges(proofs, "P"))
        safe = self._safe_runs(node, where)
        rest = Run("".join("\u00a0· " + words for words in tail))
        runs = (*safe, Run(" "), *head, rest) if safe else (*head, rest)
        return Part(node_id, "verdict", (Paragraph(runs),), self._signals(node))

    def _usual_proofs(self) -> list[int]:
        """What most repairs on the chart are proved with."""
        counts: dict[tuple[int, ...], int] = defaultdict(int)
        for node in self.nodes.values():
            if node["kind"] == "verdict":
                proofs: Sequence[str] = self.by_id["remedies"][node["remedy"]].get("proofs") or ()
                known = [self.proofs.index(proof) + 1 for proof in proofs if proof in self.proofs]
                counts[tuple(known)] += 1
        counts.pop((), None)
        usual: tuple[int, ...] = max(counts, key=lambda key: (counts[key], key), default=())
        return list(usual)

    def _odds(self, node: Document, remedy: Document, where: str) -> list[str]:
        """How sure the verdict is, and what else it may be."""
        cured = sum(f["p"] for f in node["faults"] if f["id"] in remedy["cures"])
        words = [fine(f"{_percent(cured)} sure", where)] if cured < _AS_GOOD_AS_SURE else []
        others = sorted(
            (f for f in node["faults"] if f["id"] not in remedy["cures"]), key=lambda f: -f["p"]
        )
        for fault in [f for f in others if f["p"] >= _LEAST_SHOWN][:_MOST_OTHERS]:
            says = said(self.by_id["faults"].get(fault["id"], {}), fault["id"])
            words.append(self.phrasing.plain(f"else {says} {_percent(fault['p'])}", where))
        return words

    def _signals(self, node: Document) -> tuple[Signal, ...]:
        grouped: dict[str, list[tuple[str, int]]] = defaultdict(list)
        for caution_id in node.get("cautions", ()):
            caution = self.by_id["cautions"].get(caution_id)
            if caution is None:
                raise TroubleError(
                    Trouble(
                        "PA122",
                        Place("chart document"),
                        f"A step names the caution {caution_id}, which the model does not have",
                        "Give the two documents of the same run",
                    )
                )
            hazard = fine(signs.in_words(str(caution["hazard"])), f"caution {caution_id}")
            entry = (hazard, self.cautions.index(caution_id) + 1)
            if entry not in grouped[str(caution["signal"]).upper()]:
                grouped[str(caution["signal"]).upper()].append(entry)
        ranked = sorted(grouped, key=lambda w: SIGNAL_ORDER.index(w) if w in SIGNAL_ORDER else 9)
        return tuple(
            Signal(word, tuple(h for h, _ in grouped[word]), tuple(n for _, n in grouped[word]))
            for word in ranked
        )


def _told_once(parts: Iterable[Part]) -> Iterable[Part]:
    """Within one stack a caution stands at the first symbol it belongs to, on top of the rest."""
    told: set[int] = set()
    for part in parts:
        signals = []
        for signal in part.signals:
            fresh = [n for n in range(len(signal.numbers)) if signal.numbers[n] not in told]
            if fresh:
                signals.append(
                    Signal(
                        signal.word,
                        tuple(signal.hazards[n] for n in fresh),
                        tuple(signal.numbers[n] for n in fresh),
                    )
                )
        told.update(n for signal in signals for n in signal.numbers)
        yield replace(part, signals=tuple(signals))


def _run_together(parts: Sequence[Part]) -> list[Part]:
    """Set-ups that follow each other in one symbol; a test's cautions at the set-up before it."""
    joined: list[Part] = []
    for part in parts:
        before = joined[-1] if joined else None
        if before and before.kind == part.kind == "setup":
            runs = (*before.paragraphs[0].runs, Run(". "), *part.paragraphs[0].runs)
            signals = _grouped((*before.signals, *part.signals))
            joined[-1] = replace(before, paragraphs=(Paragraph(runs, hands=True),), signals=signals)
        elif before and before.kind == "setup" and part.kind in ("test", "again"):
            joined[-1] = replace(before, signals=_grouped((*before.signals, *part.signals)))
            joined.append(replace(part, signals=()))
        else:
            joined.append(part)
    return joined


def _grouped(signals: Iterable[Signal]) -> tuple[Signal, ...]:
    found: dict[str, dict[int, str]] = defaultdict(dict)
    for signal in signals:
        found[signal.word].update(zip(signal.numbers, signal.hazards, strict=True))
    ranked = sorted(found, key=lambda w: SIGNAL_ORDER.index(w) if w in SIGNAL_ORDER else 9)
    return tuple(
        Signal(word, tuple(found[word].values()), tuple(found[word].keys())) for word in ranked
    )


def _percent(odds: float) -> str:
    return f"{max(1, round(odds * 100))} %"
