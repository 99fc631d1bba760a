"""Do signs that a terminal obeys, or that turn letters round, stay out of all that is shown?

Which signs those are is Unicode's word (general categories Cc, Cf, Cs, Zl, Zp); what they do to a
reader, Unicode Technical Report 36, section 3, and ECMA-48 for terminals.
"""

from __future__ import annotations

import base64
import hashlib
import io
import re
import sys
import unicodedata
from datetime import UTC, datetime
from pathlib import Path
from xml.etree import ElementTree

import pytest

from engine.cases.opening import open_shop
from kb import signs
from kb.language import loader
from kb.trouble import Place, Trouble, TroubleError
from render.cli.streams import Plain
from render.drawing import markup
from render.report import dress
from render.terminal.screen import Screen
from tests.cases.intakes import answer, intake, standing

CLEAR_SCREEN, BACKWARDS, BELL = "\x1b[2J", "\u202e", "\x07"
NASTY = f"lamp{CLEAR_SCREEN}{BACKWARDS}{BELL}\x9b2J\u2066\ufeff"


def test_the_signs_are_those_of_unicode() -> None:
    """All of the five categories but line end and tab, and no others."""
    obeyed = {
        code for code in range(sys.maxunicode + 1)
        if unicodedata.category(chr(code)) in ("Cc", "Cf", "Cs", "Zl", "Zp")
    } - {9, 10}  # fmt: skip
    hidden = {code for code in range(sys.maxunicode + 1) if not signs.plain(chr(code))}
    assert obeyed <= hidden
    others = {unicodedata.category(chr(code)) for code in hidden - obeyed}
    assert others <= {"Cn"}  # assigned to nobody yet


def test_a_message_spells_them() -> None:
    """Where one stands is seen, and it does nothing."""
    said = str(Trouble("KB1", Place(f"a{BELL}.yaml", 1), f"“{NASTY}” is no\nname", "Write one"))
    assert said == (
        "a\\x07.yaml:1 KB1 “lamp\\x1b[2J\\u202e\\x07\\x9b2J\\u2066\\ufeff” is no name. Write one."
    )


def test_knowledge_that_holds_one_is_refused_at_its_line(tmp_path: Path) -> None:
    """YAML writes them as escapes within quotes."""
    text = 'cautions:\n  - id: own\n    says: "stay\\e[2J \\u202eaway"\n'
    (tmp_path / "own.yaml").write_text(text, encoding="utf-8")
    with pytest.raises(TroubleError, match=r"own\.yaml:3:5 KB205 .*U\+001B"):
        loader.read((tmp_path,))


def test_a_shop_keeps_words_without_them(tmp_path: Path) -> None:
    """Those of owner, bench, meter and form alike, in columns and in what is kept as JSON."""
    shop = open_shop(tmp_path / "shop.db", who=f"Ann{BELL}", clock=lambda: datetime.now(UTC))
    number, version = shop.begin(intake(words=NASTY, unit=NASTY, label={"power": NASTY}))
    shop.keep(number, version, standing([answer("volts-TP1", NASTY)]))
    shop.note(number, NASTY + "\ud800")
    assert all(signs.first_hidden(part) == "" for part in repr(shop.case(number)).split("\\"))
    assert shop.case(number).notes[0].says == "lamp[2J2J"


@pytest.mark.parametrize("is_terminal", [False, True])
def test_what_is_printed_does_nothing_to_a_terminal(is_terminal: bool) -> None:
    """Colours pass where they are seen; nothing else does."""
    bare = io.StringIO()
    bare.isatty = lambda: is_terminal  # type: ignore[method-assign]
    Plain(bare).write(f"\x1b[31m{NASTY}\x1b[0m")
    assert bare.getvalue() == ("\x1b[31mlamp[2J2J\x1b[0m" if is_terminal else "[31mlamp[2J2J[0m")


def test_the_screen_shows_words_without_them() -> None:
    """The docket draws on the stream itself."""
    out = io.StringIO()
    screen = Screen(Plain(out))  # type: ignore[arg-type]
    screen.line("note", NASTY)
    screen.main(NASTY)
    screen.verbatim("saved", NASTY)
    assert signs.first_hidden(out.getvalue()) == ""


def test_drawings_and_pages_hold_none() -> None:
    """XML 1.0, section 2.2, admits no control character: a drawing would not even open."""
    text = markup.element("text", {"title": NASTY}, markup.words(NASTY + "\x00\ufffe<b>"))
    element = ElementTree.fromstring(text)
    assert element.text == "lamp[2J2J<b>"
    assert element.get("title") == "lamp[2J2J"
    assert markup.finish(NASTY) == "lamp[2J2J"


def test_a_report_lets_nothing_run() -> None:
    """Its policy admits its own style by hash (Content Security Policy 3, 2.3.1), and no script."""
    page = dress.html("<script>alert(1)</script>", ())
    (style,) = re.findall("<style>(.*?)</style>", page, re.DOTALL)
    digest = base64.b64encode(hashlib.sha256(style.encode()).digest()).decode()
    (policy,) = re.findall('Content-Security-Policy" content="(.*?)"', page)
    assert policy.startswith("default-src 'none'; ")
    assert f"'sha256-{digest}'" in policy
    assert "script" not in policy
    assert "<script>" not in page
