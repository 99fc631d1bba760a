"""The dialogue of a walk: one question at a time, commands at any time, saved after every answer.

A session knows how to ask and show; what follows from an answer is `engine.walk`'s. Where lines
come from is an argument, so that a pipe, a test and a person are served by the same code.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable
from dataclasses import dataclass, field

from engine.model import tracing
from engine.model.records import Arrangement, Test
from engine.readings.bands import Answer
from engine.walk import explain, fitting, job, warned
from engine.walk.acquaintance import reacquaint
from engine.walk.ending import conclude
from engine.walk.events import (
    Answered,
    Arrived,
    Known,
    Lacking,
    NotFitted,
    Traced,
    Unmended,
)
from engine.walk.goingon import GoingOn
from engine.walk.inquiry import good_tests, worth_asking
from engine.walk.job import Halt, Measured, Question, Setting, Walk
from kb.trouble import TroubleError
from render.terminal import (
    docket,
    known,
    lacks,
    lookups,
    makesafe,
    replies,
    setups,
    verdict,
    whereabouts,
    words,
)
from render.terminal.helplines import HELP
from render.terminal.leaving import BackAtEntryError, Left
from render.terminal.purse import Purse
from render.terminal.replies import LETTERS, Command, Told, Unclear
from render.terminal.screen import Screen, minutes
from render.terminal.setups import SetUps
from render.terminal.takeback import Remarks

Lines = Callable[[str], str]
# The runners-up of the test that is due, and the minutes that doing without it adds.
Prices = Callable[[Walk], tuple[Iterable[explain.RunnerUp], float | None]]
# The walk on a model made without what is lacking, where one can be made.
DoWithout = Callable[[Walk, Lacking], Walk | None]
# The walk on a model made for a unit of which more is known, where one can be made.
Acquaint = Callable[[Walk, Collection[str]], Walk | None]
# What going on from a verdict that is no end would take.
Onward = Callable[[Walk], GoingOn | None]


@dataclass(frozen=True, slots=True)
class Session:
    """Where lines come from, where they go, how a walk is saved, who prices other ways, and who
    can make the model anew without something that is lacking, or with more known of the unit;
    `onward` reckons what going on to the part would take; `settles`: an unopened unit is known;
    `past` are kinds and parts of what was asked of the unit itself, each once; `purposes` what the
    last set-up was for; `kept` holds the
    walk as it was last saved: nothing is acknowledged before that; `undoes_entry`: whom this was
    begun by can put the entry check's last question again."""

    screen: Screen
    lines: Lines
    save: Callable[[Walk], None]
    prices: Prices = lambda walk: ((), None)
    do_without: DoWithout = lambda walk, lack: None
    acquaint: Acquaint = lambda walk, given: None
    origin: str = ""
    onward: Onward = lambda walk: None
    settles: Callable[[Walk], bool] = lambda walk: False
    remarks: Remarks = field(default_factory=Remarks)
    past: set[tuple[str, str]] = field(default_factory=set)
    purposes: list[str] = field(default_factory=list)
    purse: Purse = field(default_factory=Purse)
    undoes_entry: bool = False
    kept: list[Walk] = field(default_factory=list)

    def run(self, walk: Walk) -> Walk:
        """Ask until the verdict stands and the person is content with it."""
        self.save(walk)
        docket.show_opening(self.screen, walk, self.origin)
        while not self.settles(walk):
            before = walk
            try:
                walk = self._step(walk)
                if walk is not before:
                    self._keep(walk)
            except (EOFError, KeyboardInterrupt) as stopped:
                raise Left(before) from stopped
            except TroubleError:  # nothing goes on from here, and the unit may be plugged in
                docket.show_leaving(self.screen, walk)
                raise
            if walk is before and job.pending(walk) is None:
                break
        return walk

    def _keep(self, walk: Walk) -> None:
        """Save a walk, unless it is what was saved last."""
        if not any(walk is one for one in self.kept):
            self.save(walk)
            self.kept[:] = [walk]

    def _acknowledge(self, walk: Walk, text: str) -> None:
        """Say that something was heard: once it is on the disk."""
        self._keep(walk)
        self.screen.say(text, style="green")

    def _step(self, walk: Walk) -> Walk:
        """Show what comes next and wait until something is done about it."""
        match job.pending(walk):
            case Setting() as setting:
                return self._set_up(walk, setting)
            case Question() as question:
                return self._question(walk, walk.model.test(question.test))
            case Halt() as halt:
                return self._halt(walk, halt)
            case None:
                return self._verdict(walk)

    def _set_up(self, walk: Walk, setting: Setting) -> Walk:
        model, screen, ahead = walk.model, self.screen, setups.ahead(walk, setting)
        if setting.returns:
            screen.heading("back at the bench", minutes(walk.minutes))
            screen.main(BACK)
        else:
            steps = len(ahead.steps) + (ahead.test is not None)
            self._head(walk, "set up, do" if ahead.test else "set up", steps)
            self._show_purpose(walk, ahead)
        docket.show_set_ups(screen, ahead)
        for before, step in ahead.steps:
            screen.cautions(docket.named_cautions(model, warned.at_setup(before, step)))
        if ahead.test is not None:
            return self._question(ahead.carried_out({}), ahead.test, walk)
        reply = makesafe.confirm(screen, self.lines, ahead.last.make_safe)
        if not isinstance(reply, Command):
            return ahead.carried_out(reply)
        if reply.name == "can't" and (setting.returns or not setting.test):
            return self._cannot_go_on(walk, setting)
        return self._command(walk, reply)

    def _show_purpose(self, walk: Walk, ahead: SetUps) -> None:
        """What is opened or fitted for which check, once."""
        purpose = "" if ahead.test else docket.purpose(walk.model, ahead)
        if purpose and self.purposes != [purpose]:
            self.screen.line("for", purpose)
            self.purposes[:] = [purpose]

    def _cannot_go_on(self, walk: Walk, setting: Setting) -> Walk:
        """No way round a step that makes the bench safe: an opening that can't be made is noted."""
        if setting.returns or not setting.opened:
            self.screen.say("First this: nothing else is safe to go on with. Else type stop.")
            return walk
        return job.take(walk, Lacking("opening", setting.opened[0]))

    def _halt(self, walk: Walk, halt: Halt) -> Walk:
        """Nothing shows a store that may be charged: stop, unless it can be measured after all."""
        screen = self.screen
        screen.heading("stop", minutes(walk.minutes))
        screen.main(LEFT_ALONE)
        for store in halt.stores:
            screen.line("charged?", f"{store.part}, up to {store.max_volts:g} V")
        screen.line("label it", LABEL_CHARGED)
        while True:
            text = self.lines(screen.prompt("stop, or measured if you can reach it after all"))
            if text.strip().casefold() in ("measured", "m"):
                reading = makesafe.measure(screen, self.lines, halt.stores)
                if isinstance(reading, Command):
                    return walk
                return job.take(walk, measured_here(walk, reading))
            reply = replies.to_choice(text, ())
            if isinstance(reply, Command) and reply.name == "stop":
                raise Left(walk)
            if isinstance(reply, Command) and reply.name in ("how", "help"):
                self._command(walk, reply)
            else:
                screen.say("Type stop, or measured.")

    def _question(self, walk: Walk, test: Test, before: Walk | None = None) -> Walk:
        """Ask a check until something is said of it. `before` is the walk before set-ups that its
        answer confirms; whoever leaves or says anything else is taken to have carried them out."""
        screen = self.screen
        self.purposes.clear()
        stands = docket.bench_mark(walk)
        self._head(walk, stands.word) if before is None else screen.blank()
        docket.show_question(screen, walk, test)
        if before is not None and docket.bench_mark(before) == stands:
            docket.show_bench(screen, walk)
        ask = worth_asking(walk, test, self.past)
        self.past.update([(ask.kind, ask.part)] if ask is not None else ())
        screen.line("look first", known.inquiry(walk.model, ask))
        screen.cautions(docket.named_cautions(walk.model, warned.at_test(walk, test.id)))
        screen.blank()
        show_choices = docket.show_choices_again
        while True:
            show_choices(screen, walk, test)
            try:
                reply = self._reply(walk, test, before)
            except (EOFError, KeyboardInterrupt) as stopped:
                self._keep(walk)
                raise Left(walk) from stopped
            if reply is None:
                return walk
            if isinstance(reply, Told):
                return self._take(walk, Answered, reply.answer)
            if reply.name == "can't" and before is not None:
                return self._cannot(before, walk)
            if reply.name == "more":
                lookups.show_more(screen, before or walk, self.onward(walk))
                after = walk
            else:
                after = self._command(walk, reply)
            if after is not walk:
                return after
            screen.heading(f"{len(walk.steps) + 1}  {stands.word}, again")
            screen.main(test.says)
            show_choices = docket.show_choices

    def _reply(self, walk: Walk, test: Test, before: Walk | None) -> Command | Told | None:
        """What was typed at a test, asked until it is understood; None: its set-ups are done."""
        screen = self.screen
        while True:
            text = self.lines(screen.prompt(_asking(walk, test, before is not None)))
            if before is not None and replies.is_done(text):
                return None
            reply = replies.to_test(text, test, _supply(walk))
            match reply:
                case Unclear():
                    screen.say(reply.says)
                case _:
                    return reply

    def _take(self, walk: Walk, kind: type[Answered] | type[Known], answer: Answer) -> Walk:
        shares = answer.shares if answer.straddles else ()
        event = kind(answer.test, answer.outcome, answer.reading or None, shares)
        try:
            after = job.take(walk, event)
        except TroubleError as wrong:
            self.screen.say(replies.sentences(wrong))
            return walk
        test = walk.model.test(answer.test)
        taken = test.outcome(answer.outcome).says
        if answer.straddles:
            taken = " or ".join(test.outcome(outcome).says for outcome, _ in answer.shares)
        read = f" ({answer.reading})" if answer.reading else ""
        self._acknowledge(after, docket.receipt(walk, test, answer.outcome, f"{taken}{read}"))
        self.screen.line("unlike", docket.unlike(walk, after))
        self.screen.line("look again", LOOK_AGAIN if after.steps[-1].surprise else "")
        return after

    def _mark(self, walk: Walk, rest: str) -> Walk:
        """A marking read off the unit, or how it is built: readings are weighed for designs that
        have it, the ones taken already, too."""
        try:
            if fitting.is_build(rest):
                after = job.take(walk, fitting.build_event(walk, rest))
            else:
                marks = rest.split()
                after = self.acquaint(walk, marks) or reacquaint(walk, marks, {})
        except TroubleError as wrong:
            self.screen.say(replies.sentences(wrong))
            return walk
        self._acknowledge(after, f"Noted: {rest.strip()}.")
        self.screen.line("unlike", docket.unlike(walk, after))
        return self.remarks.note(rest.strip(), walk, after)

    def _head(self, walk: Walk, verb: str, steps: int = 1) -> None:
        self.screen.heading(f"{number(walk, steps)}  {verb}", minutes(walk.minutes))

    def _command(self, walk: Walk, command: Command) -> Walk:
        match command.name:
            case "why":
                lookups.show_purpose(self.screen, walk, *self.prices(walk))
            case "more":
                lookups.show_more(self.screen, walk, self.onward(walk))
            case "proofs":
                lookups.show_proofs(self.screen, walk)
            case "how":
                account = words.account(walk.model, explain.how(walk))
                lookups.tell(self.screen, account, "how do you know")
            case "can't":
                return self._cannot(walk)
            case "undo":
                return self._undo(walk)
            case "known":
                return self._know(walk, command.rest)
            case "good":
                return self._good_unit(walk)
            case "traced":
                return self._trace(walk, command.rest)
            case "where":
                whereabouts.show(self.screen, walk.model, command.rest)
            case "worth":
                lines = self.purse.lines(walk, command.rest)
                lookups.tell(self.screen, lines, "is it worth going on")
            case "help":
                lookups.tell(self.screen, HELP, "help")
            case "still":
                self.screen.say("That is for the verdict, once its remedy was carried out.")
            case _:
                raise Left(walk)
        return walk

    def _undo(self, walk: Walk) -> Walk:
        back, says = self.remarks.take_back(walk)
        if not says and self.undoes_entry and walk.outset.entry:
            raise BackAtEntryError(walk)
        if not says:
            self.screen.say("There is nothing to undo yet.")
            return walk
        self._acknowledge(
            back, f"Taken back: {says.rstrip('.')}. The bench stays as it is."
        )
        return back

    def _cannot(self, walk: Walk, set_up: Walk | None = None) -> Walk:
        """What can't be done of the check that is due. `set_up` is the walk after its set-ups,
        where they may be carried out: all but who lacks a thing for them goes on from there."""
        node = job.due(walk)
        if node is None:
            self.screen.say("There is nothing to be done just now.")
            return walk
        after = set_up or walk
        choice = lacks.choose(self.screen, self.lines, list(lacks.of(walk, node)))
        if isinstance(choice, Command):
            if choice.name == "stop":
                raise Left(after)
            return after
        return self._withdrawn(walk if isinstance(choice, Lacking) else after, choice)

    def _withdrawn(self, walk: Walk, event: lacks.Lack) -> Walk:
        anew = self.do_without(walk, event) if isinstance(event, Lacking) else None
        if anew is not None:
            self._acknowledge(anew, "Noted: planned anew with what this bench has.")
            return anew
        try:
            after = job.take(walk, event)
        except TroubleError as wrong:
            self.screen.say(replies.sentences(wrong))
            return walk
        if isinstance(event, NotFitted):
            self._acknowledge(after, f"Noted: this unit has no {event.part}.")
            return after
        count = len(after.withdrawn - walk.withdrawn)
        tests = "that test" if count == 1 else f"{count} tests"
        self._acknowledge(after, f"Noted: without {tests} from here on.")
        return after

    def _know(self, walk: Walk, rest: str) -> Walk:
        if "=" in rest:
            return self._mark(walk, rest)
        answer = known.ask(self.screen, self.lines, walk, rest)
        return walk if answer is None else self._take(walk, Known, answer)

    def _good_unit(self, walk: Walk) -> Walk:
        """What a second, working unit reads where this one is to be read."""
        node = job.due(walk)
        tests = good_tests(walk, walk.model.test(node.test)) if node is not None else ()
        if not tests:
            self.screen.say("Nothing that comes next is read off a point that makers differ in.")
            return walk
        words = known.good_readings(self.screen, self.lines, walk, tests)
        return self._mark(walk, " ".join(words)) if words else walk

    def _trace(self, walk: Walk, rest: str) -> Walk:
        """There is a drawing of a stage: the one named, or the only one that is of use."""
        stages = tracing.stages(walk.model)
        stage = rest.strip() or (stages[0] if len(stages) == 1 else "")
        if not stage:
            choice = f"traced and one of {', '.join(stages)}" if stages else ""
            self.screen.say(f"Type {choice}." if choice else "Nothing here needs a drawing.")
            return walk
        try:
            after = job.take(walk, Traced(stage))
        except TroubleError as wrong:
            self.screen.say(replies.sentences(wrong))
            return walk
        self._acknowledge(after, f"Noted: there is a drawing of {stage}.")
        return after

    def _verdict(self, walk: Walk) -> Walk:
        while True:
            # Whatever was looked up meanwhile, the verdict stands above the prompt again.
            verdict.show(self.screen, walk, self.onward(walk))
            text = self.lines(
                self.screen.prompt("Enter to finish, or proofs more how still undo known stop")
            )
            if not text.strip() or text.strip().casefold() in ("done", "ok"):
                return walk
            reply = replies.to_choice(text, ())
            if isinstance(reply, Command) and reply.name == "still":
                return self._no_help(walk)
            if isinstance(reply, Command) and reply.name != "stop":
                after = self._command(walk, reply)
                if after is not walk:
                    return after
            elif isinstance(reply, Command):
                return walk
            else:
                self.screen.say("Press Enter to finish, or type still, how, undo, known or help.")

    def _no_help(self, walk: Walk) -> Walk:
        """The remedy was carried out and the unit is as it was; the next step makes it safe."""
        after = job.take(walk, Unmended(conclude(walk).remedy.id))
        self._acknowledge(after, "Noted: that was not it, or not all of it.")
        return after


BACK = "Whatever was done since: make sure the unit is unplugged, then measure."
LEFT_ALONE = "Leave the unit alone: it may be charged, and nothing shows where to measure."
LOOK_AGAIN = (
    "Nothing still in question shows this. Do the test once more; if it shows something else, undo "
    "and answer anew. If it stands, an earlier answer was misread or the fault is not a listed "
    "one; the rest is planned with all of them in mind."
)
LABEL_CHARGED = "“Charged inside: do not open, do not plug in.” It is not returned."


def measured_here(walk: Walk, volts: makesafe.Volts) -> Arrived:
    """Stores measured on the bench as it stands."""
    bench = walk.dead_bench
    measurements = tuple(Measured(part, read) for part, read in volts.items())
    return Arrived(tuple(sorted(bench.opened)), bench.supply, bench.rig, measurements)


def _asking(walk: Walk, test: Test, is_set_up_first: bool) -> str:
    """What may be typed at a test; that there is help, until something was answered."""
    first = "set it up, then " if is_set_up_first else ""
    reading = ", reading" if any(o.unit for o in test.outcomes) else ""
    more = "" if any(step.kind == "test" for step in walk.steps) else ", help"
    return f"{first}{LETTERS[0]}-{LETTERS[len(test.outcomes) - 1]}{reading}{more}"


def number(walk: Walk, steps: int) -> str:
    """The number of the step that comes next, or of the first and the last of several."""
    first = len(walk.steps) + 1
    return str(first) if steps == 1 else f"{first}-{first + steps - 1}"


def _supply(walk: Walk) -> Arrangement:
    return walk.model.arrangement(walk.bench.supply)
