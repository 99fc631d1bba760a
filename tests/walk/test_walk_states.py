"""Does a walk keep its word whatever happens, in whatever order?

A state machine answers, volunteers, can't do, lacks, undoes, saves and reloads; at each step the
walk is compared with a fresh replay of its events and audited from the documents alone.
"""

from __future__ import annotations

import contextlib
import json
import math
from dataclasses import replace
from typing import Any

import pytest
from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, precondition, rule

from engine.audit import audit_walk
from engine.model.plan import Verdict
from engine.model.records import Model, document
from engine.planner import plan
from engine.readings.belief import Surprise
from engine.walk import entry, job, record, undo
from engine.walk.events import Answered, Arrived, Away, CannotDo, Known, Lacking
from engine.walk.job import Halt, Outset, Question, Setting, Walk, pending
from tests.models import stage_chain

MISREAD = {"good": {"bad": 0.03}, "bad": {"good": 0.05}}


def bench_model(seed: int) -> Model:
    """A chain of stages with set-ups and split outcomes, in which readings may be misread."""
    made = stage_chain(seed, faults=9, tests=12, splits=0.3)
    return replace(made, tests=tuple(replace(test, misread=MISREAD) for test in made.tests))


MODELS = [bench_model(seed) for seed in range(4)]


def reloaded(walk: Walk) -> Walk:
    """The walk written down as JSON, read again and replayed."""
    text = json.dumps(record.document(walk))
    saved = record.reopen(json.loads(text), "saved walk")
    return job.replay(walk.outset, saved.events, plan)


def _odds_of_all(model: Model, fault: str, findings: list[Answered | Known]) -> float:
    """Odds of all that one test told, summed over what its one truth may be."""
    row = model.row(findings[0].test, fault)
    return sum(
        row[true]
        * math.prod(
            sum(share * _told(true, outcome) for outcome, share in finding.evidence)
            for finding in findings
        )
        for true in row
    )


def _told(true: str, outcome: str) -> float:
    slips = MISREAD.get(true, {})
    return 1.0 - sum(slips.values()) if outcome == true else slips.get(outcome, 0.0)


class Bench(RuleBasedStateMachine):
    """A person who does what they please."""

    @initialize(model=st.sampled_from(MODELS), decision=st.sampled_from(["go-on", "cold-first"]))
    def begin(self, model: Model, decision: str) -> None:
        """Take the unit in, as usual or after a bang."""
        admission = entry.Admission(decision)
        barred, cold = entry.barred_tests(model, admission), entry.cold_checks(model, admission)
        self.walk = job.begin(Outset(model, barred, cold_first=cold), plan)

    def take(self, event: Any) -> None:
        """One event more; findings that no fault explains are refused and change nothing."""
        with contextlib.suppress(Surprise):
            self.walk = job.take(self.walk, event)

    @property
    def open_tests(self) -> list[Any]:
        """Tests without an answer yet."""
        return [t for t in self.walk.model.tests if t.id not in self.walk.done]

    @precondition(lambda self: isinstance(pending(self.walk), Setting))
    @rule()
    def set_up(self) -> None:
        """Carry the setup step out."""
        setting = pending(self.walk)
        assert isinstance(setting, Setting)
        self.take(setting.event)

    @precondition(lambda self: isinstance(pending(self.walk), Question))
    @rule(draw=st.data())
    def answer(self, draw: st.DataObject) -> None:
        """Answer what is asked."""
        question = pending(self.walk)
        assert isinstance(question, Question)
        outcomes = [o.id for o in self.walk.model.test(question.test).outcomes]
        self.take(Answered(question.test, draw.draw(st.sampled_from(outcomes))))

    @precondition(lambda self: self.open_tests)
    @rule(draw=st.data())
    def volunteer(self, draw: st.DataObject) -> None:
        """Say what is known of any test."""
        test = draw.draw(st.sampled_from(self.open_tests))
        outcome = draw.draw(st.sampled_from(test.outcomes)).id
        self.take(Known(test.id, outcome))

    @precondition(lambda self: self.open_tests)
    @rule(draw=st.data())
    def straddle(self, draw: st.DataObject) -> None:
        """Give a reading that leaves open which of two outcomes it is."""
        test = draw.draw(st.sampled_from(self.open_tests))
        first, second = (o.id for o in test.outcomes[:2])
        self.take(Known(test.id, first, "1 to 2", ((first, 0.7), (second, 0.3))))

    @precondition(lambda self: not isinstance(pending(self.walk), Halt | None))
    @rule()
    def cannot(self) -> None:
        """Be unable to do the test that is asked."""
        step = pending(self.walk)
        assert isinstance(step, Setting | Question)
        self.take(CannotDo(step.test))

    @rule(kind=st.sampled_from(["supply", "rig", "opening"]), draw=st.data())
    def lack(self, kind: str, draw: st.DataObject) -> None:
        """Find that something is not to be had."""
        model = self.walk.model
        things = {
            "supply": [a.id for a in model.supply.arrangements if a.energy != "none"],
            "rig": [r.id for r in model.rigs if r.id != model.start.rig],
            "opening": [o.id for o in model.openings],
        }[kind]
        self.take(Lacking(kind, draw.draw(st.sampled_from(things))))

    @rule()
    def undo(self) -> None:
        """Take the last words back; the bench stays."""
        before = self.walk
        self.walk = undo.undo(before)
        assert self.walk.bench == before.bench
        words = [e for e in before.events if not isinstance(e, Arrived | Away)]
        kept = [e for e in self.walk.events if not isinstance(e, Arrived | Away)]
        assert kept == words[:-1]
        assert self.walk.unsettled or not (before.is_ended or before.unsettled)
        assert sum(isinstance(e, Arrived) for e in self.walk.events) == sum(
            isinstance(e, Arrived) for e in before.events
        )

    @rule()
    def stop_and_resume(self) -> None:
        """Save, read back, go on."""
        self.walk = reloaded(self.walk)

    @invariant()
    def equals_a_fresh_replay(self) -> None:
        """Nothing is remembered but the events."""
        if hasattr(self, "walk"):
            assert self.walk == job.replay(self.walk.outset, self.walk.events, plan)

    @invariant()
    def audits_clean(self) -> None:
        """Minutes, stands and belief, recomputed from the documents alone."""
        if hasattr(self, "walk"):
            plain = json.loads(json.dumps(record.document(self.walk)))
            breaches = audit_walk(document(self.walk.model), plain)
            if not self.walk.is_ended:
                breaches = tuple(b for b in breaches if "ends in no remedy" not in b.what)
            assert breaches == ()

    @invariant()
    def believes_the_posterior(self) -> None:
        """The belief is the posterior of all findings; those of one test share one truth."""
        if hasattr(self, "walk"):
            model = self.walk.model
            findings = [e for e in self.walk.events if isinstance(e, (Answered, Known))]
            expected = {
                fault.id: fault.prior
                * math.prod(
                    _odds_of_all(model, fault.id, [e for e in findings if e.test == test])
                    for test in {e.test for e in findings}
                )
                for fault in model.faults
            }
            total = sum(expected.values())
            expected = {fault: odds / total for fault, odds in expected.items()}
            assert self.walk.belief == pytest.approx(expected, abs=1e-9)

    @invariant()
    def asks_only_what_can_be_done(self) -> None:
        """No test withdrawn or out of reach; one done before only as the one to do again."""
        step = pending(self.walk) if hasattr(self, "walk") else None
        if isinstance(step, Setting | Question) and step.test:
            assert step.test not in self.walk.unavailable
            assert step.test not in self.walk.done or step.test == self.walk.again
            test = self.walk.model.test(step.test)
            closed_only = self.walk.model.arrangement(test.supply).closed_only
            assert not (closed_only and self.walk.bench.opened)

    @invariant()
    def keeps_a_unit_that_went_bang_cold_until_it_is_checked(self) -> None:
        """No plain mains ever; no mains or hvdc for a test before the cold checks."""
        if not hasattr(self, "walk") or not self.walk.outset.cold_first:
            return
        step, model = pending(self.walk), self.walk.model
        if isinstance(step, Setting | Question) and step.test:
            arrangement = model.arrangement(model.test(step.test).supply)
            waiting = self.walk.outset.cold_first - self.walk.done - self.walk.withdrawn
            assert not arrangement.closed_only
            assert arrangement.energy not in ("mains", "hvdc") or not waiting

    @invariant()
    def stands_at_the_verdict_of_its_plan(self) -> None:
        """There is a next step exactly until the verdict."""
        if hasattr(self, "walk"):
            at_verdict = isinstance(self.walk.plan.nodes[self.walk.node], Verdict)
            at_verdict = at_verdict and self.walk.again is None
            assert at_verdict == self.walk.is_ended == (pending(self.walk) is None)


Bench.TestCase.settings = settings(
    max_examples=25, stateful_step_count=20, deadline=None, print_blob=True
)
TestBench = Bench.TestCase
