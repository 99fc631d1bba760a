"""The file of a shop's bench: what it may say, and how it tells of what it may not."""

import re
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from kb.language import benchfile, loader, ownfolder
from kb.language.benchfile import ShopBench
from kb.language.benchtext import bench_text
from kb.trouble import TroubleError
from tests.docs.blocks import ROOT

PAGE = (ROOT / "kb" / "README.md").read_text(encoding="utf-8")
WHERE = Path("shop/bench.yaml")
WHOLE = """\
format: nextprobe-bench/1
has: [esr-meter]   # lent by a friend
lacks:
  - isolated-limited
minutes:
  factor: 1.2
  actions: {ohms: 1.5}
  openings: {diffuser: 4}
  remedies: {buck-lamp/swap-driver: 20}
spares: [buck-lamp/driver, enabled-lamp]
traced: {light-controlled-lamp: [control]}
worth: {minute: 0.5, currency: EUR, units: {buck-lamp: 12}}
"""


def troubles(text):
    """All that is wrong with a bench file, its shape first, then its names."""
    try:
        found = benchfile.parse(text, WHERE)
    except TroubleError as error:
        return error.troubles
    return tuple(benchfile.troubles(found, loader.as_shipped()))


def test_a_whole_file_is_read_as_it_says():
    """Spares and traced stages by the unit they belong to."""
    found = benchfile.parse(WHOLE, WHERE)
    assert troubles(WHOLE) == ()
    assert found.spares_of("buck-lamp") == {"driver"}
    assert found.spares_of("enabled-lamp") == {"unit"}
    assert found.traced_of("light-controlled-lamp") == {"control"}
    assert found.says.minutes.actions == {"ohms": 1.5}


def test_the_example_of_the_page_is_a_bench_file():
    """Every name in it is known."""
    (text,) = re.findall(r"```yaml\n(format: nextprobe-bench.*?)```", PAGE, re.DOTALL)
    assert troubles(text) == ()


@pytest.mark.parametrize(
    ("before", "after", "code", "line", "mend"),
    [
        ("has: [esr-meter]", "has: [esr-metre]", "KB125", 2, "Write esr-meter"),
        ("has: [", "hass: [", "KB123", 2, "Write has"),
        ("factor: 1.2", "factr: 1.2", "KB123", 6, "Write factor"),
        ("factor: 1.2", "factor: 9", "KB124", 6, "bench file"),
        ("factor: 1.2", "factor: .nan", "KB124", 6, "bench file"),
        ("{ohms: 1.5}", "{ohm: 1.5}", "KB125", 7, "Write ohms"),
        ("{ohms: 1.5}", "{ohms: 0}", "KB124", 7, "bench file"),
        ("{diffuser: 4}", "{difuser: 4}", "KB125", 8, "Write diffuser"),
        ("swap-driver", "swp-driver", "KB125", 9, "renew-{p}"),
        ("buck-lamp/swap", "back-lamp/swap", "KB125", 9, "Write buck-lamp"),
        ("buck-lamp/driver,", "buck-lamp/drver,", "KB125", 10, "Write buck-lamp/driver"),
        ("[control]", "[contrl]", "KB125", 11, "Write control"),
        ("{buck-lamp: 12}", "{buk-lamp: 12}", "KB125", 12, "Write buck-lamp"),
        ("minute: 0.5", "minute: dear", "KB124", 12, "bench file"),
        ("- isolated-limited", "- esr-meter", "KB126", 4, "one of the two"),
        ("- isolated-limited", "- unplugged", "KB125", 4, "Write one of"),
        ("[control]", "[control, control]", "KB126", 11, "Take one"),
        ("nextprobe-bench/1", "nextprobe-bench/2", "KB122", 1, "nextprobe-bench/1"),
        ("has: [esr-meter]", "has: [esr-meter", "KB121", 3, "quotes"),
    ],
)
def test_each_mistake_is_told_at_its_line_with_a_way_to_mend_it(before, after, code, line, mend):
    """And the nearest word where one is near."""
    assert before in WHOLE
    (found, *_) = troubles(WHOLE.replace(before, after))
    assert (found.code, found.place.line, found.place.source) == (code, line, str(WHERE))
    assert mend in found.mend


@given(st.integers(0, len(WHOLE) - 1), st.sampled_from(" :[]{},-#x9/\n\t'\"&*"), st.booleans())
@settings(max_examples=300, deadline=None)
def test_whatever_is_mistyped_is_read_or_told_never_an_error_of_ours(at, letter, instead):
    """One letter more, or another one, anywhere."""
    for found in troubles(WHOLE[:at] + letter + WHOLE[at + instead :]):
        assert re.fullmatch(r"KB12[1-6]", found.code)
        assert found.what
        assert found.mend


def test_a_bench_file_is_no_knowledge_and_a_folder_with_nothing_else_has_no_edition(tmp_path):
    """The loader reads past it; in a folder below it would be read."""
    (tmp_path / ownfolder.BENCH).write_text(WHOLE, encoding="utf-8")
    assert loader.read((tmp_path,)).edition == loader.as_shipped().edition
    assert loader.fingerprint((tmp_path,)) == loader.fingerprint()
    assert benchfile.of(tmp_path) == benchfile.parse(WHOLE, tmp_path / ownfolder.BENCH)
    assert benchfile.of(tmp_path / "nowhere") is None


def test_a_file_written_anew_keeps_what_its_owner_wrote_beside_it():
    """Comment and order of all that did not change."""
    before = benchfile.parse(WHOLE, WHERE)
    slower = before.says.minutes.model_copy(update={"factor": 1.5})
    says = before.says.model_copy(update={"minutes": slower})
    text = bench_text(says, before, "schema.json")
    assert text.replace("factor: 1.5", "factor: 1.2").splitlines()[:2] == WHOLE.splitlines()[:2]
    assert "lent by a friend" in text
    assert benchfile.parse(text, WHERE).says == says


_NAMES = st.lists(st.sampled_from(["esr-meter", "bench-low", "battery"]), unique=True).map(tuple)
_FIGURES = st.dictionaries(st.sampled_from(["ohms", "volts"]), st.floats(0.05, 600))
_SAYS = st.builds(
    lambda has, factor, actions, minute: ShopBench.model_validate(
        {
            "format": benchfile.FORMAT, "has": has, "worth": {"minute": minute},
            "minutes": {"factor": factor, "actions": actions},
        }
    ),
    _NAMES, st.floats(0.25, 4), _FIGURES, st.none() | st.floats(0, 100),
)  # fmt: skip


@pytest.mark.parametrize("minute", [1.6281130790901357e-198, 5e-324, 1.25e-7])
def test_a_tiny_number_stays_what_it_was_when_the_file_is_written_over(minute):
    """The writer of YAML rounds exponents that it has read."""
    says = ShopBench.model_validate({"format": benchfile.FORMAT, "worth": {"minute": minute}})
    text = bench_text(says, None, "schema.json")
    assert benchfile.parse(bench_text(says, benchfile.parse(text, WHERE), "s"), WHERE).says == says


@given(_SAYS, _SAYS)
@settings(max_examples=100, deadline=None)
def test_what_is_written_is_read_back(says, other):
    """Anew, and in place of whatever stood there."""
    text = bench_text(says, None, "schema.json")
    assert benchfile.parse(text, WHERE).says == says
    again = bench_text(other, benchfile.parse(text, WHERE), "schema.json")
    assert benchfile.parse(again, WHERE).says == other
