"""Getting a probe onto the right part: what that adds to tests and rigs, and the openings it takes.

Whatever is done by hand at a part or point begins with finding it (`engine.deduce.whereabouts`). A
rig that is fitted there finds it once for all that is done in it; a test without such a rig finds
it itself. What only a drawing shows needs the tracing of its stage, which is made like an opening:
once, unplugged, behind whatever shows the stage. It brings nothing new within reach, so no store of
charge is exposed by it.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass

from engine.deduce.deduction import Deduction
from engine.deduce.facts import Fact
from engine.model.finds import Find
from engine.model.records import Opening, Test
from engine.model.tracing import TRACING

LEAD = "lead"


@dataclass(frozen=True, slots=True)
class Search:
    """What finding something takes: minutes, the tracings it stands behind, and words.

    `fact` is the fact it follows from, None where nothing is looked for.
    """

    minutes: float = 0.0
    behind: tuple[str, ...] = ()
    says: str = ""
    fact: Fact | None = None

    def before(self, how: str) -> str:
        """Words for how something is done, the finding first."""
        return f"{self.says} {how}" if self.says else how


NOTHING = Search()


class Finder:
    """The searches of a deduced unit."""

    def __init__(self, deduction: Deduction) -> None:
        self._knowledge = deduction.knowledge
        self._finds = {(f.text("of"), f.text("at")): f for f in deduction.of("finds")}
        self._rigs = {rig.text("name"): rig for rig in deduction.of("rig")}
        self._tests = {test.text("name"): dict(test.fields) for test in deduction.of("test")}
        self._traces = deduction.of("traces")
        self._leads = {lead.text("name"): lead for lead in deduction.of("lead")}

    def of(self, name: str, side: str = "") -> Search:
        """What finding a part or point takes, or a stage's side; nothing for what is no such."""
        find = self._finds.get((name, side))
        if find is None:
            return NOTHING
        behind = (find.text("behind"),) if find.text("behind") else ()
        label = f"{name} {side}" if side else name
        return Search(find.number("minutes"), behind, f"{label}: {find.text('where')}.", find)

    def of_rig(self, rig: str) -> Search:
        """What fitting a rig begins with: nothing where no hands come to the circuit for it."""
        rig_fact = self._rigs.get(rig)
        if rig_fact is None:
            return NOTHING
        word = self._knowledge.doings.get(rig_fact.text("does"))
        if word is None or not word.hands:
            return NOTHING
        on = rig_fact.text("on")
        return self.of(on) if (on, "") in self._finds else self.of(on, word.side)

    def of_test(self, fields: Mapping[str, object]) -> Search:
        """What the hands look for in a test beyond its rig: nothing where it is only watched."""
        word = self._knowledge.actions.get(str(fields["action"]))
        if (word is not None and word.hands == "never") or fields.get("lead"):
            return NOTHING
        rig = self._rigs.get(str(fields["rig"]))
        at = str(fields.get("on") or fields.get("point") or "")
        return NOTHING if rig is not None and rig.text("on") == at else self.of(at)

    def openings(
        self, names: Collection[str], cautions: Mapping[str, tuple[str, ...]]
    ) -> tuple[Opening, ...]:
        """The tracings that any test needs, as openings."""
        return tuple(_opening(f, cautions) for f in self._traces if f.text("name") in names)

    def notes(self, tests: Iterable[Test]) -> tuple[Find, ...]:
        """What is looked for in these tests, their rigs and leads, and the tracings for it."""
        in_tests: defaultdict[Fact, list[str]] = defaultdict(list)
        in_rigs: defaultdict[Fact, dict[str, None]] = defaultdict(dict)
        names: set[str] = set()
        for test in tests:
            names.update(test.opened)
            search, rig_search = self.of_test(self._tests[test.id]), self.of_rig(test.rig)
            if search.fact is not None:
                in_tests[search.fact].append(test.id)
            if rig_search.fact is not None:
                in_rigs[rig_search.fact][test.rig] = None
        in_leads: defaultdict[Fact, list[str]] = defaultdict(list)
        for name, lead in self._leads.items():
            lead_find = self.of(lead.text("of")).fact
            if name in names and lead_find is not None:
                in_leads[lead_find].append(name)
        finds = [f for f in self._finds.values() if f in in_tests or f in in_rigs or f in in_leads]
        return (
            *(
                _find(find, tuple(in_tests[find]), tuple(in_rigs[find]), tuple(in_leads[find]))
                for find in finds
            ),
            *(_trace_find(find) for find in self._traces if find.text("name") in names),
        )

    def lead_of(self, fields: Mapping[str, object]) -> tuple[str, ...]:
        """The lead that a test is read at, after the tracing that its point takes."""
        lead = str(fields.get("lead", ""))
        return (*self.of(self._leads[lead].text("of")).behind, lead) if lead else ()

    def leads(
        self,
        names: Collection[str],
        cautions: Mapping[str, tuple[str, ...]],
        chain_of: Callable[[str], tuple[str, ...]],
    ) -> Iterator[Opening]:
        """The points brought out for some test, each with the finding of it; `chain_of` gives an
        opening with all before it."""
        how = next((word.how for word in self._knowledge.doings.values() if word.how), "")
        for name, lead in self._leads.items():
            if name not in names:
                continue
            of = lead.text("of")
            search = self.of(of)
            after = (*chain_of(lead.text("behind"))[-1:], *search.behind)
            yield Opening(
                name, lead.number("minutes") + search.minutes, after, lead.text("says"),
                search.before(how), cautions[name], kind=LEAD, of=of,
            )  # fmt: skip


def _find(
    find: Fact, tests: tuple[str, ...], rigs: tuple[str, ...], openings: tuple[str, ...]
) -> Find:
    return Find(
        " ".join(part for part in (find.text("of"), find.text("at")) if part), find.text("by"),
        find.number("minutes"), find.number("least"), find.number("most"), tests, rigs, openings,
    )  # fmt: skip


def _trace_find(trace: Fact) -> Find:
    return Find(
        trace.text("stage"), "stage", trace.number("minutes"), trace.number("least"),
        trace.number("most"), openings=(trace.text("name"),),
    )  # fmt: skip


def _opening(trace: Fact, cautions: Mapping[str, tuple[str, ...]]) -> Opening:
    name, behind = trace.text("name"), trace.text("behind")
    return Opening(
        name, trace.number("minutes"), (behind,) if behind else (), trace.text("says"),
        trace.text("how"), cautions[name], kind=TRACING, stage=trace.text("stage"),
    )  # fmt: skip
