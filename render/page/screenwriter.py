"""What the page says, screen by screen: two documents in, the records of `screens` out.

Checks and verdicts bear the numbers they have on paper. Verdicts that paper folds into one symbol
stay apart here, told apart by a letter, so that each keeps the odds of the document.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace

from engine.chart.ways import below
from render.drawing import signs
from render.drawing.bench_marks import MILDEST_FIRST, Bench
from render.drawing.typeset import fine
from render.page import diagram, frontwriter, pagewords, scales
from render.page.forecast import Forecast, Outset, forecasts
from render.page.outline import outline
from render.page.screens import (
    Answer,
    Check,
    Doing,
    Page,
    Proof,
    Recheck,
    SafePoint,
    Screen,
    SetUp,
    Share,
    Standing,
    Third,
    Verdict,
    WayOn,
)
from render.wording import bands, instead, leads, onward
from render.wording.confirms import with_confirms
from render.wording.course import likeliest_first, mark_at
from render.wording.equipment import Needs, have_ready
from render.wording.leads import Access
from render.wording.notices import Notice, gravest_first, notice
from render.wording.phrasing import capital, lower, minutes, words_of
from render.wording.script import Document, Script
from render.wording.scriptwriter import write_script
from render.wording.turn import Turn
from render.wording.unrigging import removal

_STAGES_SHOWN = 5


class Writer:
    """Words each node of one chart once.

    `first` is the script of the chart that this one follows on, as a second START that `says` after
    what. A chart that begins amid another one, as `begin` has it, puts `of` before its numbers.
    """

    def __init__(
        self,
        model: Document,
        chart: Document,
        first: Script | None = None,
        says: str = "",
        begin: Outset | None = None,
        of: str = "",
    ) -> None:
        self.model, self.chart = model, chart
        self.ways_on: Mapping[str, WayOn] = {}
        self.says = fine(pagewords.SECOND_STARTS.format(says), "second START") if says else ""
        self.nodes: Mapping[str, Document] = with_confirms(chart)
        self.script = write_script(model, chart, first=first, says=says)
        numbers = {name: of + number for name, number in self.script.numbers.items()}
        self.labels = _labels(self.nodes, numbers, self.script.merged)
        inner = {name: label[:1].lower() + label[1:] for name, label in self.labels.items()}
        self.steps = instead.steps_by_test({"nodes": self.nodes}, inner)
        self.forecasts = forecasts(model, chart, begin)
        self.by_id = {
            kind: {item["id"]: item for item in model.get(kind, ())}
            for kind in ("tests", "remedies", "proofs", "cautions", "faults", "openings", "rigs",
                         "stages")
        }  # fmt: skip
        self.supplies = {a["id"]: a for a in model["supply"]["arrangements"]}
        self.bench = Bench.of(model)
        self.needs = Needs.of(model, chart)
        self.dead = next(a for a in self.supplies.values() if a["energy"] == "none")

    def page(self, date: str) -> Page:
        """The page, its screens in the order in which paper numbers them."""
        screens = self.screens()
        return Page(
            title=fine(str(self.model.get("says") or self.model["topology"]), "topology"),
            facts=frontwriter.facts(self.model, self.chart),
            plan=frontwriter.plan(self.chart),
            versions=frontwriter.versions(self.model, self.chart, date),
            digest=frontwriter.digest(self.chart),
            root=str(self.chart["root"]),
            instruments=have_ready(self.model, self.needs),
            entry=frontwriter.entry(self.model, self.chart),
            dead=self._doing(self.dead, "supply"),
            screens=screens,
            outline=outline(str(self.chart["root"]), screens, self.says),
            diagram=diagram.draw(self.model),
            lines=diagram.sentences(self.model),
            points=frontwriter.points(self.model),
            locations=frontwriter.locations(self.model),
            faults=self._faults(),
            sources=frontwriter.sources(self.model),
            origin=fine(str(self.model.get("origin") or ""), "origin"),
            marks=tuple(m for m in MILDEST_FIRST if m in {s.here.mark for s in screens}),
            repair=self.repair(),
            methods=frontwriter.methods(self.model, self.needs),
            second_says=self.says,
            grammar=scales.grammar(),
        )

    def screens(self) -> tuple[Screen, ...]:
        """The screens, in the order in which paper numbers them."""
        return tuple(self._screen(name) for name in self._in_order())

    def repair(self) -> tuple[Notice, ...]:
        """The cautions that are told once for every repair."""
        return self._notices((self.chart.get("grouped") or {}).get("verdict", ()))

    def _in_order(self) -> tuple[str, ...]:
        """From the root, the likeliest branch first, all of it before the next."""
        reaches = {name: forecast.reach for name, forecast in self.forecasts.items()}
        root = str(self.chart["root"])
        return likeliest_first(root, lambda n: dict.fromkeys(below(self.nodes[n])), reaches)

    def _screen(self, name: str) -> Screen:
        node = self.nodes[name]
        match node["kind"]:
            case "setup":
                return self._setup(name, node)
            case "test":
                return self._check(name, node)
            case "verdict":
                return self._verdict(name, node)
            case "third":
                return self._third(name, node)
        return self._recheck(name, node)

    def _standing(self, name: str, heading: str, own_minutes: float) -> Standing:
        node, forecast = self.nodes[name], self.forecasts[name]
        return Standing(
            node=name,
            label=self.labels[name],
            heading=heading,
            minutes=own_minutes,
            ahead=forecast.ahead,
            reach=forecast.reach,
            notices=self._notices(node.get("cautions", ())),
            shares=self._shares(forecast),
            mark=mark_at(node, frozenset(forecast.stands), self.bench),
            still=self._still(node.get("standing") or ()),
        )

    def _still(self, ids: Iterable[str]) -> tuple[str, ...]:
        """The hazards that stand from before, in a few words each."""
        hazards = (str(self.by_id["cautions"][caution]["hazard"]) for caution in ids)
        return tuple(fine(signs.in_words(hazard), "standing caution") for hazard in hazards)

    def _setup(self, name: str, node: Document) -> SetUp:
        before, after = self._doings(name, node)
        points = tuple(
            _safe_point(p, onward=not after and self._bared_next(p, node))
            for p in node.get("make_safe") or ()
        )
        first, *rest = [doing.says for doing in (*before, *after)] or [pagewords.MEASURE_STORES]
        heading = "; ".join((first, *(lower(says) for says in rest)))
        return SetUp(
            here=self._standing(name, heading, float(node["minutes"])),
            before=before,
            points=points,
            after=after,
            opens=bool(node["open"]),
            next=str(node["next"]),
            leads=self._leads(node["next"]),
        )

    def _bared_next(self, point: Document, node: Document) -> bool:
        """Whether the very next step is an opening that brings that store within reach."""
        follows = self.nodes[node["next"]]
        opens = set(follows["open"]) if follows["kind"] == "setup" else set()
        stores = [s for s in self.model["stores"] if s["part"] == point.get("part")]
        return any(opens.intersection(store.get("exposed_by") or ()) for store in stores)

    def _doings(self, name: str, node: Document) -> tuple[tuple[Doing, ...], tuple[Doing, ...]]:
        """What to do before stores are measured and after: dead first, live last.

        What is opened comes before measuring, for a closed unit's stores are out of reach.
        """
        turn = Turn.of(self.model, node, self.forecasts[name].stands)
        rigging = tuple(self._rigging(turn, node["rig"]))
        with_supply = turn.supply or not (turn.accesses or rigging or node.get("make_safe"))
        return turn.in_order(
            supply=[self._doing(self.supplies[node["supply"]], "supply")] if with_supply else [],
            opening=[self._access(access) for access in turn.accesses],
            rigging=rigging,
        )

    def _rigging(self, turn: Turn, rig: str) -> Iterable[Doing]:
        for old in turn.off:
            off = removal(self.by_id["rigs"][old], self.by_id["rigs"].get(rig))
            if off:
                yield Doing(capital(fine(off, f"rig {old}")), "")
        if turn.fit:
            yield self._doing(self.by_id["rigs"][rig], "rig")

    def _doing(self, item: Document, where: str) -> Doing:
        place = f"{where} {item['id']}"
        how = fine(str(item.get("how") or ""), place)
        return Doing(capital(fine(words_of(item, str(item["id"])), place)), how)

    def _access(self, access: Access) -> Doing:
        place = f"opening {access.names[0]}"
        return Doing(capital(fine(access.says, place)), fine(access.how, place))

    def _check(self, name: str, node: Document) -> Check:
        test = self.by_id["tests"][node["test"]]
        where = f"test {test['id']}"
        facts = [minutes(test["minutes"]), test.get("instrument"), test.get("point")]
        return Check(
            here=self._standing(name, fine(test["says"], where), float(test["minutes"])),
            facts=tuple(fine(str(fact), where) for fact in facts if fact),
            how=fine(str(test.get("how") or ""), where),
            good=fine(_good(test, node), where),
            instead=fine(instead.words(self.model, node, self.steps), where),
            way_on=self.ways_on.get(name),
            bench=self._bench(name),
            answers=tuple(
                self._answer(name, outcome, node["branches"][outcome["id"]], where)
                for outcome in test["outcomes"]
            ),
            scale=scales.scale(test, self.supplies[self.forecasts[name].stands[0].supply]),
        )

    def _answer(self, name: str, outcome: Document, to: str, where: str) -> Answer:
        says, band = bands.words_and_band(outcome)
        return Answer(
            outcome=str(outcome["id"]),
            says=fine(says, where),
            band=fine(band, where),
            odds=self.forecasts[name].answers[outcome["id"]],
            to=to,
            leads=self._leads(to),
        )

    def _leads(self, name: str) -> str:
        if self.nodes[name]["kind"] == "recheck":
            return pagewords.AGAIN_LEADS
        return pagewords.LEADS.format(label=self.labels[name][:1].lower() + self.labels[name][1:])

    def _bench(self, name: str) -> tuple[str, ...]:
        """How the bench stands on arrival: supply, what is open whichever way one came, rig."""
        stands = self.forecasts[name].stands
        openings = frozenset.intersection(*(stand.opened for stand in stands))
        supply = words_of(self.supplies[stands[0].supply], stands[0].supply)
        words = [supply]
        if openings:
            accesses = leads.accesses(o for o in self.model["openings"] if o["id"] in openings)
            words.append("done: " + ", ".join(access.says for access in accesses))
        if stands[0].rig != self.model["start"]["rig"]:
            words.append("rig: " + words_of(self.by_id["rigs"][stands[0].rig], stands[0].rig))
        return tuple(fine(word, f"step {name}") for word in words)

    def _verdict(self, name: str, node: Document) -> Verdict:
        remedy = self.by_id["remedies"][node["remedy"]]
        where = f"remedy {remedy['id']}"
        faults = [self._fault(f["id"], float(f["p"])) for f in node["faults"]]
        cures = set(remedy["cures"])
        facts = (str(remedy["kind"]), pagewords.REMEDY_MINUTES.format(minutes(remedy["minutes"])))
        return Verdict(
            here=self._standing(name, fine(words_of(remedy, remedy["id"]), where), 0.0),
            points=tuple(_safe_point(p) for p in node.get("make_safe") or ()),
            first=tuple(self._before_the_repair(name, node)),
            facts=tuple(fine(fact, where) for fact in facts),
            sure=sum(fault.odds for fault in faults if fault.id in cures),
            how=fine(str(remedy.get("how") or ""), where),
            companions=tuple(fine(c, where) for c in remedy.get("companions") or ()),
            cured=tuple(fault for fault in faults if fault.id in cures),
            others=tuple(fault for fault in faults if fault.id not in cures),
            proofs=tuple(self._proof(self.by_id["proofs"][p]) for p in remedy["proofs"]),
            onward=tuple(fine(words, where) for words in _onward(node)),
        )

    def _before_the_repair(self, name: str, node: Document) -> Iterable[str]:
        """What is switched off for a repair, and the stores that it brings into reach."""
        if any(self.bench.is_energised(stand.supply) for stand in self.forecasts[name].stands):
            yield pagewords.UNPLUG_FIRST
        for store in node.get("opening_up") or ():
            names = {"opening": signs.in_words(str(store["opening"])), "part": store["part"]}
            words = pagewords.AS_YOU_OPEN.format(**names, limit=_safe_point(store).limit)
            yield fine(words, f"verdict {name}")

    def _fault(self, fault: str, odds: float) -> Share:
        item = self.by_id["faults"][fault]
        return Share(fault, fine(words_of(item, fault), f"fault {fault}"), odds)

    def _proof(self, proof: Document) -> Proof:
        where = f"proof {proof['id']}"
        facts = [words_of(self.supplies[proof["supply"]], proof["supply"])]
        if proof.get("minutes"):
            facts.append(minutes(proof["minutes"]))
        return Proof(
            id=str(proof["id"]),
            says=fine(words_of(proof, proof["id"]), where),
            limit=fine(str(proof.get("limit") or ""), where),
            how=fine(str(proof.get("how") or ""), where),
            facts=tuple(fine(fact, where) for fact in facts),
            notices=self._notices(proof.get("cautions") or ()),
        )

    def _recheck(self, name: str, node: Document) -> Recheck:
        repeats = tuple(
            (asker, self.labels[asker])
            for asker in self._in_order()
            if name in self.nodes[asker].get("branches", {}).values()
        )
        says = fine(str(node["says"]), "recheck")
        return Recheck(self._standing(name, pagewords.RECHECK, 0.0), says, repeats)

    def _third(self, name: str, node: Document) -> Third:
        outcomes = {o["id"]: o for o in self.by_id["tests"][node["test"]]["outcomes"]}
        told = fine(bands.outcome_words(outcomes[node["told"][0]]), f"test {node['test']}")
        same = pagewords.THIRD_SAME.format(told=told)
        ways = (("same", same, node["to"]), ("other", pagewords.THIRD_OTHER, node["back"]))
        return Third(
            here=self._standing(name, pagewords.THIRD_HEADING, 0.0),
            says=pagewords.THIRD_SAYS,
            answers=tuple(Answer(o, words, "", None, to, self._leads(to)) for o, words, to in ways),
        )

    def _notices(self, ids: Sequence[str]) -> tuple[Notice, ...]:
        """Full cautions, the gravest signal word first."""
        plain = (notice(self.by_id["cautions"][caution]) for caution in ids)
        notices = (replace(one, hazard=capital(one.hazard)) for one in plain)
        return gravest_first(notices)

    def _shares(self, forecast: Forecast) -> tuple[Share, ...]:
        stageless = {name: {"says": words} for name, words in pagewords.STAGELESS.items()}
        stages = {**stageless, **self.by_id["stages"]}
        shares = [
            Share(stage, capital(fine(words_of(stages.get(stage, {}), stage), f"stage {stage}")), p)
            for stage, p in forecast.stages.items()
        ]
        likely = sorted(shares, key=lambda share: -share.odds)[:_STAGES_SHOWN]
        return tuple(share for share in likely if share.odds > 0)

    def _faults(self) -> tuple[tuple[Share, tuple[tuple[str, str], ...]], ...]:
        """Every fault by how often, with the verdicts that the plan ends in for it."""
        ends: dict[str, list[tuple[str, str]]] = defaultdict(list)
        for name in self._in_order():
            for fault in self.nodes[name].get("faults", ()):
                ends[fault["id"]].append((name, self.labels[name]))
        faults = sorted(self.model["faults"], key=lambda fault: -float(fault["prior"]))
        return tuple(
            (self._fault(fault["id"], float(fault["prior"])), tuple(ends[fault["id"]]))
            for fault in faults
        )


def _labels(
    nodes: Mapping[str, Document], numbers: Mapping[str, str], sisters_of: Mapping[str, str]
) -> dict[str, str]:
    """What each screen is called: Check 7, Verdict V3, and a letter where paper folds several."""
    sisters: dict[str, list[str]] = defaultdict(list)
    for name in nodes:
        sisters[sisters_of.get(name, name)].append(name)
    labels = {}
    for first, kin in sisters.items():
        for place, name in enumerate(kin):
            kind = nodes[name]["kind"]
            letter = _letters(place) if len(kin) > 1 and first in numbers else ""
            word = pagewords.KINDS["make-safe" if nodes[name].get("make_safe") and
                                   kind == "setup" else kind]  # fmt: skip
            labels[name] = f"{word} {numbers.get(first, '')}{letter}".strip()
    again = {
        name: pagewords.AGAIN_LABEL.format(label=labels[node["again"]])
        for name, node in nodes.items()
        if node["kind"] == "test" and "again" in node
    }
    return {**labels, **again}


def _letters(place: int) -> str:
    """a to z, then aa to zz: what tells sisters apart, by their place."""
    more, last = divmod(place, 26)
    return (_letters(more - 1) if more else "") + chr(ord("a") + last)


def _onward(node: Document) -> Iterable[str]:
    """The likeliest parts, and whether going on to the part pays."""
    going_on = node.get("going_on")
    if going_on:
        yield pagewords.LIKELIEST.format(parts=onward.likeliest(going_on))
        yield capital(onward.advice(going_on)) + "."


def _safe_point(point: Document, *, onward: bool = False) -> SafePoint:
    limit = fine(f"below {bands.limit(point)}", "make safe")
    return SafePoint(fine(str(point["point"]), "make safe"), limit, float(point["below"]), onward)


def _good(test: Document, node: Document) -> str:
    """What a good unit shows, and where makers differ that one beside this tells more."""
    return " ".join(filter(None, (str(test.get("good") or ""), bands.comparison(node))))
