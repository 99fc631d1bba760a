"""Does knowledge that grows without end stop soon, in a sentence that names the rule?"""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from engine.deduce import expressions, ruleset, templates
from engine.deduce.chaining import compile_rules
from engine.deduce.facts import Fact
from kb.language import conditions, loader, ownfolder, trees
from kb.language.schema import Rule
from kb.trouble import TroubleError


def rule(when: list[object], then: list[object]) -> Rule:
    """A rule of one's own."""
    plain = {"id": "own", "says": "A rule of one's own.", "step": "survey", "source": "own habit"}
    return Rule.model_validate({**plain, "when": when, "then": then})


def chained(own: Rule, *facts: Fact) -> None:
    """Let it fire on these facts."""
    compile_rules([own], {}).run(facts)


def grown(name: str | float) -> Fact:
    """Something that grows."""
    return Fact("grows", (("of", name),))


def test_a_rule_that_feeds_itself_with_longer_words() -> None:
    own = rule([{"grows": {"of": "$n"}}], [{"grows": {"of": "{n}{n}"}}])
    with pytest.raises(TroubleError, match=r"KB301 .*'own'.* letters"):
        chained(own, grown("word"))


def test_a_rule_that_feeds_itself_with_numbers(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(ruleset, "MOST_FIRINGS", 200)
    own = rule([{"grows": {"of": "$n"}}], [{"grows": {"of": "= n + 1"}}])
    with pytest.raises(TroubleError, match=r"KB307 Rule 'own' fires without end"):
        chained(own, grown(1))


def test_a_rule_that_joins_all_with_all(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(ruleset, "MOST_FIRINGS", 200)
    when = [{"grows": {"of": f"$n{n}"}} for n in range(4)]
    with pytest.raises(TroubleError, match=r"KB307 Rule 'own'"):
        chained(rule(when, [{"grown": {"of": "$n0"}}]), *(grown(f"w{n}") for n in range(5)))


def test_many_conditions_that_nothing_joins_are_refused_unfired() -> None:
    """As many as all shipped rules have are let pass."""
    shipped = loader.as_shipped()
    when = [{"part": {"name": f"$p{n}"}} for n in range(8)]
    own = rule(when, [{"trait": {"of": "$p0", "is": "x"}}])
    (trouble,) = (t for t in conditions.check(own, shipped) if t.code == "KB611")
    assert "'own'" in trouble.what
    assert "8 share no variable" in trouble.what
    for one in shipped.rules.values():
        assert not [t for t in conditions.check(one, shipped) if t.code == "KB611"]


@pytest.mark.parametrize("text", ["9**9**9", "-" * 5000 + "1", "(" * 500, "2**99999", "1e308*10"])
def test_arithmetic_has_an_end(text: str) -> None:
    with pytest.raises(ValueError, match=r"grows beyond|too deeply|not an expression|no number"):
        expressions.evaluate(text, {})


@pytest.mark.parametrize("text", ["{v:>999999999}", "{v:.999f}", "{= 1:>99999}", "{v.__class__}",
                                  "{v[0]}", "{v!r}"])  # fmt: skip
def test_a_text_has_an_end_and_shows_nothing_of_the_program(text: str) -> None:
    with pytest.raises(ValueError, match="no variable with the form of a number"):
        templates.fill(text, {"v": 1.5})


@pytest.mark.parametrize(("text", "filled"), [("{v:.1f} V", "1.5 V"), ("{= v * 2:.2f}", "3.00"),
                                              ("{v}", "1.5"), ("{v:6.2f}", "  1.50")])  # fmt: skip
def test_the_forms_of_numbers_stay(text: str, filled: str) -> None:
    assert templates.fill(text, {"v": 1.5}) == filled


def test_aliases_that_stand_for_millions() -> None:
    """The YAML specification, 3.2.2.2, lets one node stand anywhere: each ten times the one before.
    """  # fmt: skip
    lines = ["a0: &a0 [x]"]
    lines += [f"a{n}: &a{n} [{', '.join([f'*a{n - 1}'] * 10)}]" for n in range(1, 9)]
    with pytest.raises(trees.UnreadableError, match="aliases"):
        trees.parse("\n".join(lines))
    with pytest.raises(trees.UnreadableError, match="holds itself"):
        trees.parse("a: &a [*a]")


def test_what_is_no_plain_file_is_told_and_never_read(tmp_path: Path) -> None:
    """A pipe would be waited for, and the device of zeros never ends."""
    os.mkfifo(tmp_path / "pipe.yaml")
    (tmp_path / "zero.yaml").symlink_to("/dev/zero")
    (tmp_path / "gone.yaml").symlink_to(tmp_path / "nowhere")
    (tmp_path / ".#open.yaml").symlink_to("person@bench.1234")
    loader.fingerprint((tmp_path,))
    with pytest.raises(TroubleError) as told:
        loader.read((tmp_path,))
    assert [t.code for t in told.value.troubles] == ["KB102"] * 3
    assert "plain file" in str(told.value)
    assert "leads nowhere" in str(told.value)


def test_a_file_that_nobody_wrote_by_hand_is_not_read(tmp_path: Path) -> None:
    with (tmp_path / "huge.yaml").open("wb") as file:
        file.truncate(ownfolder.LARGEST + 1)
    with pytest.raises(TroubleError, match=r"KB102 .*larger than 4 MB"):
        loader.read((tmp_path,))


def test_a_word_of_thousands_of_letters_does_not_bury_the_sentence(tmp_path: Path) -> None:
    (tmp_path / "own.yaml").write_text(f"parts:\n  - kind: {'x' * 5000}\n", encoding="utf-8")
    with pytest.raises(TroubleError) as told:
        loader.read((tmp_path,))
    assert all(len(str(trouble)) < 500 for trouble in told.value.troubles)
