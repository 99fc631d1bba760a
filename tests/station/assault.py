"""The page attacked in a real browser: script in every field and photograph, forms of other sites.

    pip install playwright          (no browser of its own is needed)
    python -m tests.station.assault [--browser /usr/bin/chromium]

Not part of a plain run, for it needs a browser. Payloads are those of the OWASP cheat sheets on
cross-site scripting and on request forgery (from memory). Every text field of every form gets every
payload in turn; afterwards no page may have run one, or hold an element made of one. Forms of other
sites come from another port (same site, another origin) and another host (another site), with the
victim's session open; no case may change by them, and no page of ours may show within theirs.
"""

from __future__ import annotations

import argparse
import io
import sqlite3
import tempfile
import threading
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path

from PIL import Image, PngImagePlugin
from playwright.sync_api import Browser, Page, sync_playwright

from tests.page.drive import SWITCHES
from tests.station.house import COMPLAINT, INTAKE, serving, take_in
from tests.station.visitor import Visitor

_HIT = "window.top.hit=1;window.hit=1"
PAYLOADS = (
    f"<script>{_HIT}</script>", f'"><img class=own src=x onerror="{_HIT}">',
    f"'><svg class=own onload='{_HIT}'>", f"</title></textarea></style><script>{_HIT}</script>",
    f"javascript:{_HIT}", f'" autofocus onfocus="{_HIT}" class="own', "{{7*7}}${{7*7}}<%=7*7%>",
    f"<iframe class=own srcdoc='<script>{_HIT}</script>'></iframe>",
    f"<a class=own href=//x>{_HIT}",
    f"\\x3cscript\\x3e{_HIT}\\x3c/script\\x3e", f"--><script>{_HIT}</script><!--",
    "<base class=own href=//evil.example/><meta class=own http-equiv=refresh content=0;url=//x>",
)  # fmt: skip
_CAME_THROUGH = """() => [window.hit, document.querySelectorAll(
  ".own, [onerror], [onload], [onfocus], iframe, base, meta[http-equiv=refresh]").length,
  [...document.querySelectorAll("script:not([src]), style")].length,
  document.body.innerText.includes("49${49}")]"""
_FILL = """([form, words]) => { const f = document.forms[form];
  for (const e of f.elements) {
    if (e.matches("input[type=text], input[type=search], input:not([type]), textarea"))
      { e.removeAttribute("maxlength"); e.value = words; }
    if (e.type === "radio" && !f.querySelector(`[name="${e.name}"]:checked`)) e.checked = true;
  }
  f.noValidate = true;
  const b = f.querySelector("button"); b ? f.requestSubmit(b) : f.submit(); }"""
_BESIDE = (
    "", "/note", "/photographs", "/trail", "/known", "/known?q={}", "/cannot", "/why", "/how",
    "/more", "/worth?unit={}&minute={}&named={}", "/leave", "/close", "/undo", "/sheet", "/{}",
)  # fmt: skip


class Watch:
    """What was attempted, and what came through."""

    def __init__(self, page: Page) -> None:
        self.page, self.tries, self.through = page, Counter[str](), list[str]()
        page.on("dialog", lambda dialog: (self.through.append("a dialog"), dialog.dismiss()))
        page.set_default_timeout(120_000)

    def look(self, what: str) -> None:
        """Whether this page ran or holds anything of a payload."""
        self.tries[what] += 1
        found = self.page.evaluate(_CAME_THROUGH)
        if found != [None, 0, 0, False]:
            self.through.append(f"{what} at {self.page.url}: {found}")

    def fill_forms(self, words: str) -> None:
        """Every form of this page sent with these words in every field, the page anew each time."""
        address = self.page.url
        for form in range(self.page.evaluate("document.forms.length")):
            self.page.goto(address)
            if form >= self.page.evaluate("document.forms.length"):
                break
            action = str(self.page.evaluate(f"document.forms[{form}].getAttribute('action')"))
            with self.page.expect_navigation():
                self.page.evaluate(_FILL, [form, words])
            self.look(f"form {action.rpartition('/')[2].partition('?')[0]}")


def pictures() -> Iterator[tuple[str, bytes]]:
    """Photographs that are something else, too, and things that are none."""
    image, text = Image.new("RGB", (40, 30), "sienna"), PngImagePlugin.PngInfo()
    text.add_text("Title", PAYLOADS[0])
    for kind, how in (("JPEG", {"comment": PAYLOADS[0]}), ("PNG", {"pnginfo": text})):
        held = io.BytesIO()
        image.save(held, kind, **how)  # type: ignore[arg-type]
        yield f"x.{kind.lower()}", held.getvalue() + f"<html>{PAYLOADS[0]}".encode()
    yield "x.svg", f"<svg xmlns='http://www.w3.org/2000/svg' onload='{_HIT}'/>".encode()
    yield "x.html", f"<html>{PAYLOADS[0]}".encode()
    yield "x.gif", b"GIF89a/*" + b"\0" * 20 + f"*/=1;{_HIT}".encode()


def script_in_fields(browser: Browser, address: str) -> Watch:
    """Every field, every payload; then photographs."""
    watch = Watch(browser.new_context().new_page())
    page = watch.page
    page.set_content(f"<p>{PAYLOADS[1]}</p>")
    assert page.evaluate(_CAME_THROUGH) != [None, 0, 0, False], "what came through is not seen"
    for words in PAYLOADS:
        visitor = Visitor(address)
        visitor.go("/take-in").send("/take-in/meaning", **{**INTAKE, "unit": words, "words": words})
        visitor.send("/take-in", complaint=COMPLAINT)
        case = visitor.path
        for path in ("/", f"/?q={words}", "/take-in", "/round/take-in", "/wall", f"/{words}"):
            page.goto(address + path)
            watch.look("page")
            watch.fill_forms(words)
        for beside in _BESIDE:
            page.goto(address + case + beside.replace("{}", words.replace("/", "%2F")))
            watch.look("case page")
            watch.fill_forms(words)
        for path in ("/", case, f"{case}/trail", f"{case}/close"):
            page.goto(address + path)
            watch.look("page afterwards")
    _photographs(watch, address)
    return watch


def _photographs(watch: Watch, address: str) -> None:
    page = watch.page
    case = f"/case/{take_in(Visitor(address))}"
    for name, content in pictures():
        for title in (name, f"{PAYLOADS[1]}.jpg", "..\\..\\x.jpg"):
            page.goto(f"{address}{case}/photographs")
            page.set_input_files(
                "#picture", {"name": title, "mimeType": "image/jpeg", "buffer": content}
            )
            page.fill("#says", PAYLOADS[1])
            with page.expect_navigation():
                page.click("button.big")
            watch.look("photograph sent")
    page.goto(f"{address}{case}/photographs")
    watch.look("photographs shown")
    links = page.eval_on_selector_all(".pictures img", "all => all.map((e) => e.src)")
    assert links, "no photograph was taken"
    for link in links:
        reply = page.goto(link)
        assert reply is not None
        kind, sniff = (reply.headers.get(n, "") for n in ("content-type", "x-content-type-options"))
        if not kind.startswith("image/") or sniff != "nosniff" or page.evaluate("window.hit"):
            watch.through.append(f"photograph {link}: {kind} {sniff}")
        watch.tries["photograph by itself"] += 1


@contextmanager
def other_site(pages: dict[str, str]) -> Iterator[int]:
    """A site of somebody else; its port."""

    class Handler(BaseHTTPRequestHandler):
        def do_GET(self) -> None:
            body = pages.get(self.path, "").encode()
            self.send_response(200)
            self.send_header("Content-Type", "text/html; charset=utf-8")
            self.end_headers()
            self.wfile.write(body)

        def log_message(self, *words: object) -> None:
            """Quiet."""

    server = ThreadingHTTPServer(("127.0.0.1", 0), Handler)
    threading.Thread(target=server.serve_forever, daemon=True).start()
    try:
        yield server.server_port
    finally:
        server.shutdown()


def _forged(address: str, number: int) -> dict[str, str]:
    case = f"{address}/case/{number}"
    forms = {
        f"{case}/note": "says=forged", f"{case}/undo": "at=1&to=0", f"{case}/cannot": "at=1&why=0",
        f"{case}/close": "at=1&outcome=scrapped", f"{address}/who": "who=Mallory&to=/",
        f"{case}/answer": "at=1&outcome=0", f"{case}/entry": "at=1&answer=0",
        f"{case}/setup": "at=1&did=0",
        f"{address}/take-in": "topology=buck-lamp&unit=forged&once=1",
    }  # fmt: skip
    pages = {}
    for action, fields in forms.items():
        inputs = "".join(
            f'<input name="{name}" value="{value}">'
            for name, value in (pair.split("=") for pair in fields.split("&"))
        )
        for how in ("application/x-www-form-urlencoded", "text/plain", "multipart/form-data"):
            pages[f"/{len(pages)}"] = (
                f'<form method=post enctype="{how}" action="{action}">{inputs}</form>'
                "<script>document.forms[0].submit()</script>"
            )
        pages[f"/{len(pages)}"] = (
            f"<script>fetch('{action}', {{method: 'POST', credentials: 'include', mode: 'no-cors',"
            f"headers: {{'Content-Type': 'application/x-www-form-urlencoded'}}, body: '{fields}'}})"
            f".finally(() => location = '/done')</script><img src='{action}?{fields}'>"
        )
    pages["/frame"] = f"<iframe src='{case}' width=400 height=400></iframe>"
    return pages


def forms_of_others(browser: Browser, address: str, place: Path) -> Watch:
    """Whether any changes a case, with the victim's session there."""
    watch = Watch(browser.new_context().new_page())
    page, number = watch.page, take_in(Visitor(address))
    page.goto(f"{address}/case/{number}")
    before = _state(place)
    pages = _forged(address, number)
    with other_site(pages) as port:
        for host in ("127.0.0.1", "localhost"):
            for path in pages:
                page.goto(f"http://{host}:{port}{path}")
                page.wait_for_load_state("networkidle")
                watch.tries[f"forged from {host}"] += 1
                if path == "/frame" and any(
                    frame.url.startswith(address) and frame.locator("h1").count()
                    for frame in page.frames[1:]
                ):
                    watch.through.append("our page shows within another")
                if _state(place) != before:
                    watch.through.append(f"a case was changed by {host}{path}: {pages[path][:120]}")
                    before = _state(place)
    return watch


def _state(place: Path) -> list[tuple[object, ...]]:
    with sqlite3.connect(place) as connection:
        rows = connection.execute("select number, version, state, changed_by from cases").fetchall()
        return [*rows, *connection.execute("select count(*) from notes").fetchall()]


def main() -> int:
    """Attack it, and print what was attempted and what came through."""
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--browser", default="/usr/bin/chromium")
    choice = options.parse_args()
    amiss = 0
    with sync_playwright() as engine, tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        browser = engine.chromium.launch(executable_path=choice.browser, args=list(SWITCHES))
        with serving(folder, str(folder / "shop.db")) as server:
            for watch in (
                script_in_fields(browser, server.address),
                forms_of_others(browser, server.address, folder / "shop.db"),
            ):
                for what, count in sorted(watch.tries.items()):
                    print(f"{count:>6}  {what}")
                print(f"came through: {watch.through or 'nothing'}", flush=True)
                amiss += len(watch.through)
        browser.close()
    return 1 if amiss else 0


if __name__ == "__main__":
    raise SystemExit(main())
