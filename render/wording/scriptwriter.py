"""What the chart says, symbol by symbol: two documents in, the words of every step out.

Reads the model and chart documents as plain mappings and nothing else. Set-up nodes and the test
or verdict they lead to become one step (a stack of symbols); outcomes that lead to the same place
become one branch; outcomes that no fault can show become a line in the test's own symbol.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import replace

from engine.chart import secondstart
from render.drawing.bench_marks import MILDEST_FIRST, Bench, BenchMark
from render.drawing.typeset import Run, fine
from render.wording import bands, onward, phrasing, setupwords
from render.wording.confirms import confirms_folded, with_confirms
from render.wording.course import Course, numbers_of
from render.wording.documents import agree, sisters_merged
from render.wording.odds import percent
from render.wording.phrasing import Phrasing, Wording, ranges, words_of
from render.wording.script import Document, Exit, Paragraph, Part, Script, Signal, Step
from render.wording.signals import run_together, signals_of, told_once
from render.wording.twins import twins_merged

START, SECOND = "start", "second-start"
_LEAST_SHOWN = 0.02
_AS_GOOD_AS_SURE = 0.99
_MOST_OTHERS = 2
_MOST_PARTS = 3
_QUIET = "#444444"


def write_script(
    model: Document,
    chart: Document,
    wording: Wording = Wording.FULL,
    *,
    first: Script | None = None,
    says: str = "",
) -> Script:
    """The words of every step; TroubleError if the documents don't belong together.

    Where `first` is given, this is the second START of its sheets, for what it `says`: numbers go
    on from those of the first, and what both number has the same number.
    """
    agree(model, chart)
    return _Writer(model, chart, Phrasing(wording), first, says).script()


class _Writer:
    """Walks the chart once in reading order and words each step."""

    def __init__(
        self,
        model: Document,
        chart: Document,
        phrasing: Phrasing,
        first: Script | None = None,
        says: str = "",
    ) -> None:
        self.model, self.chart, self.phrasing = model, chart, phrasing
        self.first, self.says = first, says
        self.start = SECOND if first is not None else START
        self.again: dict[str, str] = {}
        self.stores: dict[str, None] = {}
        self.upon: dict[str, None] = {}
        self.going_on: dict[str, str] = {}
        self.bench = Bench.of(model)
        whole = confirms_folded(with_confirms(chart))
        plain, twins = twins_merged(str(chart["root"]), whole, model["start"], self.bench)
        self.nodes, sisters = sisters_merged(plain)
        self.merged = {n: sisters.get(twin, twin) for n, twin in twins.items()} | sisters
        self.by_id = {
            kind: {item["id"]: item for item in model.get(kind, ())}
            for kind in ("tests", "remedies", "proofs", "cautions", "faults", "openings", "rigs")
        }
        self.course = Course.of(chart["root"], self.nodes, model["start"])
        order = self.course.reading_order()
        self.numbers = numbers_of(order, self.nodes, first.numbers.values() if first else ())
        at_every_repair = (chart.get("grouped") or {}).get("verdict", ())
        self.grouped = [c for c in at_every_repair if c in self.by_id["cautions"]]
        self.cautions = self._numbered_cautions(order)
        self.proofs = self._numbered_proofs(order)

    def script(self) -> Script:
        """The script, once everything is numbered."""
        steps = {head: self._step(head) for head in self.course.heads}
        return Script(
            model=self.model,
            chart=self.chart,
            root=self.start,
            steps={self.start: self._start(), **steps},
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
            grouped=tuple(self.by_id["cautions"][c] for c in self.grouped),
            marks=self._marks(),
            after=self.says,
            upon=tuple(self.upon),
            going_on=self.going_on,
        )

    def _marks(self) -> tuple[BenchMark, ...]:
        """The bench's marks that the chart's nodes stand under, the mildest first."""
        marks = {self.course.mark(name, self.bench) for name in self.course.order}
        return tuple(mark for mark in MILDEST_FIRST if mark in marks)

    def _numbered_cautions(self, order: Iterable[str]) -> list[str]:
        """Every caution that a step demands, told there, before it or once for all repairs."""
        ids = self._as_in_first("cautions")
        for node_id in order:
            node = self.nodes[node_id]
            here = (*node.get("cautions", ()), *(node.get("standing") or ()))
            ids.update(dict.fromkeys(here))
        ids.update(dict.fromkeys(self.grouped))
        return [c for c in ids if c in self.by_id["cautions"]]

    def _as_in_first(self, kind: str) -> dict[str, None]:
        """What has a number on the first START's sheets, in that order."""
        items = getattr(self.first, kind) if self.first is not None else ()
        return dict.fromkeys(str(item["id"]) for item in items)

    def _numbered_proofs(self, order: Iterable[str]) -> list[str]:
        ids = self._as_in_first("proofs")
        for node_id in order:
            if self.nodes[node_id]["kind"] == "verdict":
                remedy = self.by_id["remedies"][self.nodes[node_id]["remedy"]]
                ids.update(dict.fromkeys(remedy.get("proofs", ())))
        return [p for p in ids if p in self.by_id["proofs"]]

    def _start(self) -> Step:
        name = str(self.model.get("says") or self.model["topology"])
        entry = "entry check first" if self.model.get("entry") else ""
        second = secondstart.second_of(self.chart)
        after = f"after {self.says}" if self.says else ""
        other = f"after {second[0]}: the second START" if second else ""
        words = [after, entry, other] if self.phrasing.tight else [after, name, entry, other]
        line = " · ".join(word for word in words if word)
        word = "SECOND START" if after else "START"
        runs = (Run(word, bold=True), Run(" " + fine(line, "start")))
        part = Part(self.start, "start", (Paragraph(runs),))
        root = self.chart["root"]
        return Step(self.start, (part,), (Exit((), "", root, 1.0),), "", 1.0 + 1e-9, False)

    def _step(self, head: str) -> Step:
        members = self.course.heads[head]
        last = members[-1]
        minutes = sum(self._minutes(node_id) for node_id in members)
        parts = [self._with_mark(self._part(node_id, minutes)) for node_id in members]
        if self.phrasing.tight:
            parts = run_together(parts)
        return Step(
            id=head,
            parts=tuple(told_once(parts)),
            exits=tuple(self._exits(last)),
            number=self.numbers.get(self.nodes[last].get("back", last), ""),
            reach=self.course.reaches[head],
            shared=len(self.course.parents[head]) > 1,
            ways_in=max(1, len(self.course.parents[head])),
        )

    def _exits(self, node_id: str) -> Iterable[Exit]:
        node = self.nodes[node_id]
        if node["kind"] in ("setup", "confirm"):
            yield Exit((), "", node["next"], self.course.reaches[node["next"]])
            return
        if node["kind"] != "test":
            return
        outcomes = {o["id"]: o for o in self.by_id["tests"][node["test"]]["outcomes"]}
        for child in self.course.children(node_id):
            ids = tuple(o for o, to in node["branches"].items() if to == child)
            where = f"outcomes of {node['test']}"
            label = self.phrasing.branch([outcomes[o] for o in ids], where)
            yield Exit(ids, label, child, self.course.reaches[child])

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

    def _with_mark(self, part: Part) -> Part:
        """The part under the bench's mark, told in a word where it begins.

        A verdict bears none: a repair is done unplugged, and its words say what is to be switched
        off for it. A live mark beside it would read as leave to work on it so.
        """
        if part.kind == "verdict":
            return part
        begins = self.course.begins(part.node, self.bench)
        return replace(part, mark=self.course.mark(part.node, self.bench), begins=begins)

    def _setup(self, node_id: str, node: Document) -> Part:
        where = f"set-up {node_id}"
        doings = setupwords.doings(
            self.model, node, self.course.stands[node_id], self.bench, self.phrasing, where
        )
        safe = self._safe_runs(node, where)
        runs: list[Run] = []
        for words in ((Run(doings.before),), safe, (Run(doings.after),)):
            stretch = [run for run in words if run.text]
            runs += [Run(". "), *stretch] if runs and stretch else stretch
        return Part(
            node_id,
            "make-safe" if safe else "setup",
            (Paragraph(tuple(runs), hands=True),),
            self._signals(node),
        )

    def _safe_runs(self, node: Document, where: str) -> tuple[Run, ...]:
        """What is measured before hands go in, where anything is."""
        points = node.get("make_safe") or ()
        if not points:
            return ()
        self.stores.update(dict.fromkeys(fine(str(p["point"]), where) for p in points))
        lead = Run(setupwords.MEASURE_FIRST, bold=True)
        return lead, Run(": " + self.phrasing.limits(points, where))

    def _test(self, node_id: str, node: Document, minutes: float) -> Part:
        test = self.by_id["tests"][node["test"]]
        where = f"test {test['id']}"
        point = str(test.get("point") or "")
        at_point = f" ({point})" if point and point not in test["says"] else ""
        runs = [
            Run(self.numbers[node_id] + "\u00a0", bold=True),
            Run(self.phrasing.plain(test["says"] + at_point, where)),
        ]
        if compare := bands.comparison(node):
            runs.append(Run(" " + fine(compare, where)))
        paragraphs = [Paragraph(tuple(runs), hands=True)]
        if test.get("good"):
            paragraphs.append(Paragraph((Run(self.phrasing.good(str(test["good"]), where)),)))
        again = [o for o in test["outcomes"] if self.course.again(node["branches"][o["id"]])]
        if again:
            self.again[self.numbers[node_id]] = Phrasing(Wording.FULL).again(again, where)
            words = self.phrasing.again(again, where)
            if self.phrasing.tight and len(paragraphs) > 1:
                paragraphs[-1] = Paragraph((*paragraphs[-1].runs, Run(" " + words)))
            else:
                paragraphs.append(Paragraph((Run(words),)))
        tail = (Run(fine(phrasing.minutes(minutes), where), ink=_QUIET),)
        return Part(node_id, "test", tuple(paragraphs), self._signals(node), tail=tail)

    def _confirm(self, node_id: str, node: Document, minutes: float) -> Part:
        """A test done once more before its verdict, and what to do if it tells otherwise."""
        where = f"test {node['test']}"
        outcomes = {o["id"]: o for o in self.by_id["tests"][node["test"]]["outcomes"]}
        answer = self.phrasing.branch([outcomes[o] for o in node["told"]], where)
        number = self.numbers[node["back"]]
        runs = (
            Run(f"{number} again", bold=True),
            Run(f": “{answer}” as before, go on. If not, a third time: what came twice counts "),
            Run(f"at {number}?", bold=True),
        )
        tail = (Run(fine(phrasing.minutes(minutes), where), ink=_QUIET),)
        paragraphs = (Paragraph(runs, hands=True),)
        return Part(node_id, "again", paragraphs, self._signals(node), tail=tail)

    def _verdict(self, node_id: str, node: Document) -> Part:
        remedy = self.by_id["remedies"][node["remedy"]]
        where = f"remedy {remedy['id']}"
        head = (
            Run(self.numbers[node_id] + "\u00a0", bold=True),
            Run(self.phrasing.plain(remedy["says"], where), bold=True),
        )
        tail = self._odds(node, remedy, where)
        tail += self._going_on(node_id, node, where)
        proofs = [self.proofs.index(p) + 1 for p in remedy.get("proofs", ()) if p in self.proofs]
        if proofs and not (self.phrasing.tight and proofs == self._usual_proofs()):
            tail.append("prove " + ranges(proofs, "P"))
        runs = [*head, Run("".join("\u00a0· " + words for words in tail))]
        for words in self._before_the_repair(node_id, node, where):
            runs += [Run("\u00a0· "), *words]
        return Part(node_id, "verdict", (Paragraph(tuple(runs)),), self._signals(node))

    def _going_on(self, node_id: str, node: Document, where: str) -> Iterable[str]:
        """The likeliest parts, and whether going on to the part pays."""
        going_on = node.get("going_on")
        if not going_on:
            return
        yield fine(f"likeliest {onward.likeliest(going_on, _MOST_PARTS)}", where)
        advice = fine(onward.advice(going_on), where)
        if self.phrasing.tight:
            self.going_on[self.numbers[node_id]] = advice
            advice = fine(str(going_on.get("advice") or ""), where)
        if advice:
            yield advice

    def _before_the_repair(
        self, node_id: str, node: Document, where: str
    ) -> Iterable[tuple[Run, ...]]:
        """What makes the unit safe for the repair: the plug, stores in reach, stores to come."""
        # Short words do, and where room is short the legend says it for every verdict.
        off = setupwords.switching_off(self.bench, self.course.stands[node_id], Wording.TIGHT)
        if off and not self.phrasing.tight:
            yield (Run(off),)
        safe = self._safe_runs(node, where)
        if safe:
            yield safe
        opening_up = node.get("opening_up") or ()
        if opening_up and self.phrasing.tight:
            self.upon.update(dict.fromkeys(self.phrasing.each_opening(opening_up, where)))
        elif opening_up:
            yield (Run(self.phrasing.opening_up(opening_up, where)),)

    def _usual_proofs(self) -> list[int]:
        """What most repairs on the chart are proved with."""
        counts: dict[tuple[int, ...], int] = defaultdict(int)
        for node in self.nodes.values():
            if node["kind"] == "verdict":
                proofs: Sequence[str] = self.by_id["remedies"][node["remedy"]].get("proofs") or ()
                numbers = [self.proofs.index(proof) + 1 for proof in proofs if proof in self.proofs]
                counts[tuple(numbers)] += 1
        counts.pop((), None)
        usual: tuple[int, ...] = max(counts, key=lambda key: (counts[key], key), default=())
        return list(usual)

    def _odds(self, node: Document, remedy: Document, where: str) -> list[str]:
        """How sure the verdict is, and what else it may be."""
        sure = sum(f["p"] for f in node["faults"] if f["id"] in remedy["cures"])
        words = [fine(f"{percent(sure)} sure", where)] if sure < _AS_GOOD_AS_SURE else []
        others = sorted(
            (f for f in node["faults"] if f["id"] not in remedy["cures"]), key=lambda f: -f["p"]
        )
        for fault in [f for f in others if f["p"] >= _LEAST_SHOWN][:_MOST_OTHERS]:
            says = words_of(self.by_id["faults"].get(fault["id"], {}), fault["id"])
            words.append(self.phrasing.plain(f"else {says} {percent(fault['p'])}", where))
        return words

    def _signals(self, node: Document) -> tuple[Signal, ...]:
        numbers = {caution: n for n, caution in enumerate(self.cautions, start=1)}
        return signals_of(node.get("cautions", ()), self.by_id["cautions"], numbers)
