"""Is the page one file that needs, runs and fetches nothing else, and that everyone can read?"""

from __future__ import annotations

import base64
import copy
import hashlib
import re
from collections import Counter
from itertools import pairwise, product
from pathlib import Path

import pytest

from kb.trouble import TroubleError
from render import page
from render.drawing.face import load_family
from tests.page.charts import DATE, documents, html
from tests.page.reading import tree_of, with_class, words_of

NAME = "buck-lamp-stage"
SHEETS = Path(page.__file__).parent
HOSTILE = (
    '<script>alert(1)</script><img src="http://x.invalid/a.png" onerror="b()">&amp;"\'{{ 7*7 }}'
)


def test_nothing_is_fetched() -> None:
    """Links lead inside the page, type lies in it, and there is no other address."""
    for element in tree_of(html(NAME)).iter():
        for name, value in element.attrib.items():
            assert name not in ("src", "srcset", "action", "style"), value
            assert not name.endswith("href") or value.startswith("#")
            assert not name.startswith("on")
    addresses = re.findall(r"url\(([^)]{0,30})", html(NAME))
    assert addresses
    assert {address.partition(";")[0] for address in addresses} == {"data:font/woff2"}
    assert not re.search(r"https?://|@import|<link", html(NAME))


@pytest.mark.parametrize("tag", ["style", "script"])
def test_only_the_pages_own_style_and_script_may_run(tag: str) -> None:
    """By their hashes; all else is denied."""
    tree = tree_of(html(NAME))
    (policy,) = (
        str(meta.get("content"))
        for meta in tree.iter("meta")
        if meta.get("http-equiv") == "Content-Security-Policy"
    )
    (element,) = tree.iter(tag)
    digest = base64.b64encode(hashlib.sha256(str(element.text).encode()).digest()).decode()
    assert policy.startswith("default-src 'none'; ")
    assert f"{tag}-src 'sha256-{digest}';" in policy
    assert "unsafe" not in policy


def test_words_of_the_knowledge_stay_words() -> None:
    """Markup, addresses and template signs in them are shown as they were written."""
    model, chart = copy.deepcopy(documents(NAME))
    plain = tree_of(html(NAME))
    kinds = ("tests", "remedies", "cautions", "faults", "stages", "points")
    for item in (item for kind in kinds for item in model[kind]):
        item["says"] = HOSTILE
    for question in model["entry"]:
        question["asks"] = HOSTILE
    model["says"] = HOSTILE
    chart["model_sha256"] = HOSTILE
    attacked = tree_of(page.draw(model, chart, date=DATE))
    # Long words take more lines, that is more elements, in the diagram, and nothing else does.
    tags = [
        Counter(e.tag for e in tree.iter() if not str(e.tag).endswith("}text"))
        for tree in (plain, attacked)
    ]
    assert tags[0] == tags[1]
    shown = words_of(next(with_class(attacked, "unit")))
    assert shown.startswith("<script>alert(1)</script><img src=")
    assert "{{ 7*7 }}" in shown


def test_equal_documents_give_equal_bytes() -> None:
    """Given the date."""
    assert page.draw(*documents(NAME), date=DATE) == html(NAME)


def test_the_date_is_the_one_asked_for(monkeypatch: pytest.MonkeyPatch) -> None:
    """SOURCE_DATE_EPOCH where none is given."""
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "86400")
    assert "1970-01-02" in page.draw(*documents(NAME))


def test_ids_are_there_once_and_every_pointer_finds_its_own() -> None:
    """Links, labels of sections, and signs."""
    tree = tree_of(html(NAME))
    ids = Counter(str(e.get("id")) for e in tree.iter() if e.get("id"))
    assert set(ids.values()) == {1}
    for element in tree.iter():
        for name, value in element.attrib.items():
            if name.endswith("href"):
                assert value.removeprefix("#") in ids
            elif name == "aria-labelledby":
                assert set(value.split()) <= ids.keys()


def test_without_scripts_nothing_of_the_plan_is_hidden() -> None:
    """Hidden are only empty frames and what a script works."""
    tree = tree_of(html(NAME))
    hidden = [element for element in tree.iter() if element.get("hidden") is not None]
    assert {str(e.get("class")).split()[0] for e in hidden} <= {"path", "tools", "go", "safety"}
    assert not any(list(with_class(e, "store")) for e in hidden)
    style = (SHEETS / "page.css").read_text(encoding="utf-8")
    rules = re.findall(r"([^{}]+)\{[^{}]*display: none", style)
    screens = [rule for rule in rules if ".screen" in rule or ".ending" in rule]
    assert screens
    assert all(".scripted" in part for rule in screens for part in rule.split(",")[:1])


def test_every_field_has_its_words() -> None:
    """Each box stands in a label, each group of boxes has a legend, boxes of a group one name."""
    tree = tree_of(html(NAME))
    labelled = {id(box) for label in tree.iter("label") for box in label.iter("input")}
    assert labelled == {id(box) for box in tree.iter("input")}
    for group in tree.iter("fieldset"):
        assert words_of(next(group.iter("legend")))
        assert len({box.get("name") for box in group.iter("input")}) == 1


def test_headings_skip_no_level() -> None:
    """From the one h1 on (WCAG 2.2, technique G141)."""
    levels = [int(e.tag[1]) for e in tree_of(html(NAME)).iter() if re.fullmatch("h[1-6]", e.tag)]
    assert levels.count(1) == 1
    assert all(after <= before + 1 for before, after in pairwise(levels))


def test_the_page_tells_its_language_and_title() -> None:
    """And does not keep a reader from zooming."""
    tree = tree_of(html(NAME))
    assert tree.get("lang") == "en"
    assert words_of(next(tree.iter("title")))
    (viewport,) = (m.get("content") for m in tree.iter("meta") if m.get("name") == "viewport")
    assert viewport == "width=device-width, initial-scale=1"


def test_the_type_in_the_page_has_every_letter_of_it() -> None:
    """So that no letter comes from elsewhere."""
    body = next(tree_of(html(NAME)).iter("body"))
    assert set(words_of(body)) <= set(load_family().regular.advances)


def test_letters_that_the_type_lacks_are_told() -> None:
    """In a sentence that names the place."""
    model, chart = copy.deepcopy(documents(NAME))
    used = {node.get("test") for node in chart["nodes"].values()}
    asked = next(test for test in model["tests"] if test["id"] in used)
    asked["how"] = "\u4e2d"
    with pytest.raises(TroubleError) as told:
        page.draw(model, chart, date=DATE)
    (trouble,) = told.value.troubles
    assert trouble.code == "PA111"
    assert asked["id"] in str(trouble)


def test_documents_of_different_runs_are_refused() -> None:
    """As for paper."""
    model, chart = copy.deepcopy(documents(NAME))
    model["tests"] = []
    with pytest.raises(TroubleError) as told:
        page.draw(model, chart, date=DATE)
    assert told.value.troubles[0].code == "PA121"


# -- contrast (WCAG 2.2, 1.4.3 and 1.4.11; formula of its relative luminance) --------------------


def _luminance(colour: str) -> float:
    digits = colour.removeprefix("#")
    digits = "".join(2 * d for d in digits) if len(digits) == 3 else digits
    parts = [int(digits[i : i + 2], 16) / 255 for i in (0, 2, 4)]
    linear = [p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def _contrast(one: str, other: str) -> float:
    high, low = sorted((_luminance(one), _luminance(other)), reverse=True)
    return (high + 0.05) / (low + 0.05)


def _themes(name: str) -> list[dict[str, str]]:
    """The colours of a style sheet, light and dark."""
    style = (SHEETS / name).read_text(encoding="utf-8")
    roots = re.findall(r":root \{([^}]*)\}", style)[:2]
    return [dict(re.findall(r"--([a-z-]+): (#[0-9a-f]+)", root)) for root in roots]


def test_the_formula_gives_the_published_contrasts() -> None:
    """WCAG 2.2: black on white 21, #767676 on white 4.54, #949494 on white 3.03."""
    found = [_contrast(c, "#ffffff") for c in ("#000000", "#767676", "#949494")]
    assert found == pytest.approx([21.0, 4.542, 3.034], abs=1e-3)


@pytest.mark.parametrize("dark", [0, 1])
@pytest.mark.parametrize("sheet", ["page.css", "gallery.css"])
def test_words_can_be_read_on_every_ground(sheet: str, dark: int) -> None:
    """At least 4.5 to 1."""
    colours = _themes(sheet)[dark]
    grounds = [colours[g] for g in ("ground", "sheet", "tint") if g in colours]
    inks = [colours[i] for i in ("ink", "quiet", "touch", "alarm") if i in colours]
    for ink, ground in product(inks, grounds):
        assert _contrast(ink, ground) >= 4.5, (ink, ground)
    if "on-touch" in colours:
        assert _contrast(colours["on-touch"], colours["touch"]) >= 4.5


@pytest.mark.parametrize("dark", [0, 1])
def test_what_can_be_touched_stands_out(dark: int) -> None:
    """Frames of answers, fields and bars: at least 3 to 1."""
    colours = _themes("page.css")[dark]
    for part in ("touch", "line", "bar"):
        assert _contrast(colours[part], colours["sheet"]) >= 3.0, part


def test_signal_words_can_be_read_on_their_colours() -> None:
    """Whatever the theme."""
    style = (SHEETS / "page.css").read_text(encoding="utf-8")
    pairs = re.findall(r"^\.[a-z. ]+\{ background: (#[0-9a-f]+); color: (#[0-9a-f]+)", style, re.M)
    assert len(pairs) == 4
    assert all(_contrast(*pair) >= 4.5 for pair in pairs)


def test_cautions_say_their_signal_word_in_letters() -> None:
    """Colour tells nothing that the letters don't."""
    said = [words_of(e) for e in with_class(tree_of(html(NAME)), "caution") if e.tag == "li"]
    assert said
    assert all(words.split()[0] in ("DANGER", "WARNING", "CAUTION", "NOTICE") for words in said)
