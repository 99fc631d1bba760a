"""A whole job in a real browser, the server killed in the middle; every page looked at.

    pip install playwright          (no browser of its own is needed)
    python -m tests.station.drive [--browser /usr/bin/chromium] [--pictures FOLDER]
        [--postgresql] [--axe axe.min.js]

Not part of a plain run, for it needs a browser. On every page, in both sizes and schemes: nothing
is wider than the screen, what is tapped is large enough, every field has a label, headings and
landmarks are there, and the console is silent. With `--axe` each page is put to axe-core, too.
"""

from __future__ import annotations

import argparse
import contextlib
import io
import re
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

from PIL import Image
from playwright.sync_api import Browser, Page, sync_playwright

from engine import library
from engine.model.records import Mains, Model
from tests.cases.server import postgresql
from tests.page.drive import SWITCHES
from tests.station.house import FAULT, INTAKE, Server, model, outcome_of, start
from tests.walk.test_unopened import BY_A_CAP

_PATIENCE = 180_000
"""Milliseconds: a busy machine plans for long."""
PHONE, DESK = {"width": 360, "height": 740}, {"width": 1280, "height": 800}
SMALL = """() => [...document.querySelectorAll("button, a, input, summary, textarea")]
  .filter((e) => e.checkVisibility({ contentVisibilityAuto: true }) && !e.closest(".skip"))
  .filter((e) => !e.closest("details:not([open]) > :not(summary)") && e.type !== "hidden")
  .map((e) => [e.outerHTML.slice(0, 90), (e.closest("label") ?? e).getBoundingClientRect(), e])
  .filter(([, box, e]) => box.height < 24 && getComputedStyle(e).display !== "inline")
  .map(([html]) => html)"""
WIDE = "() => document.documentElement.scrollWidth - document.documentElement.clientWidth"
BARE = """() => [...document.querySelectorAll("input:not([type=hidden]), textarea")]
  .filter((e) => !e.labels.length && !e.getAttribute("aria-label")).map((e) => e.outerHTML)"""
MARKS = """() => [document.querySelectorAll("h1").length, document.querySelectorAll("main").length,
  document.querySelectorAll("header").length, document.documentElement.lang,
  document.title !== ""]"""


class Drive:
    """One browser at one server."""

    def __init__(self, page: Page, pictures: Path | None, axe: str) -> None:
        self.page, self.pictures, self.axe = page, pictures, axe
        self.noise: list[str] = []
        self.seen: set[str] = set()
        page.on("console", lambda message: self.noise.append(message.text))
        page.on("pageerror", lambda error: self.noise.append(str(error)))

    def look(self, name: str) -> None:
        """Hold the page to what every page must be; take its picture, once for each name."""
        if name in self.seen:
            return
        self.seen.add(name)
        for size, width in (("phone", PHONE), ("desk", DESK)):
            self.page.set_viewport_size(width)  # type: ignore[arg-type]
            for scheme in ("light", "dark"):
                self.page.emulate_media(color_scheme=scheme)  # type: ignore[arg-type]
                assert self.page.evaluate(WIDE) <= 0, (name, size)
                assert self.page.evaluate(SMALL) == [], name
                if self.pictures:
                    path = self.pictures / f"{name}-{size}-{scheme}.png"
                    self.page.screenshot(path=path, full_page=True)
                if self.axe:
                    self.put_to_axe(name)
        assert self.page.evaluate(BARE) == [], name
        assert self.page.evaluate(MARKS) == [1, 1, 1, "en", True], (name, self.page.evaluate(MARKS))
        self.page.set_viewport_size(PHONE)  # type: ignore[arg-type]
        self.page.emulate_media(color_scheme="light")

    def put_to_axe(self, name: str) -> None:
        """No violation of WCAG 2.2 A and AA that axe-core knows."""
        self.page.evaluate(self.axe)  # by the debugger, past the page's policy
        tags = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
        result: Any = self.page.evaluate(
            "(tags) => axe.run({runOnly: {type: 'tag', values: tags}})", tags
        )
        found = [(v["id"], [n["html"][:120] for n in v["nodes"]]) for v in result["violations"]]
        assert found == [], (name, found)

    def go(self, act: Callable[[], object]) -> None:
        """Do what leads to another page, and wait until it is there."""
        with self.page.expect_navigation():
            act()

    def press(self, what: str) -> None:
        """As `go`, by a click."""
        self.go(lambda: self.page.click(what))

    @property
    def step(self) -> str:
        """The step that the page's forms name."""
        return self.page.locator('input[name="step"]').first.get_attribute("value") or ""


def take_in(drive: Drive, server: Server) -> int:
    """By the forms, as a person fills them in."""
    page = drive.page
    page.goto(server.address)
    drive.look("cases")
    drive.press("text=Take a unit in")
    drive.look("take-in")
    page.fill("#unit", INTAKE["unit"])
    page.fill("#words", INTAKE["words"])
    page.check(f'input[value="{INTAKE["topology"]}"]')
    drive.press("text=Go on")
    drive.look("meaning")
    page.check('input[value="never-lights"]')
    drive.press("text=Begin the case")
    return int(page.url.rpartition("/")[2])


def one_step(drive: Drive, unit: Model) -> None:
    """Whatever the page asks."""
    page, step = drive.page, drive.step
    kind = step.partition(" ")[0]
    if kind == "entry":
        drive.look("entry")
        drive.go(page.locator(".answers button").first.click)
    elif kind == "setup":
        ticks = page.locator('input[name="did"]')
        volts = page.locator('.volts input[name^="volts-"]')
        guard = "guarded" if ticks.count() else "dead"
        drive.look(f"setup-{guard}{'-volts' if volts.count() else ''}")
        if (ticks.count() or volts.count()) and f"amiss-{guard}" not in drive.seen:
            drive.press("button.big")  # nothing ticked, nothing measured: not taken
            assert page.locator(".amiss").is_visible()
            assert drive.step == step
            drive.look(f"amiss-{guard}")
            drive.noise = [n for n in drive.noise if "422" not in n]
        for tick in ticks.all():
            tick.check()
        for box in volts.all():
            box.fill("0.4 V")
        drive.press("button.big")
    else:
        test = unit.test(step.removeprefix("test "))
        kind = "read" if page.locator("#reading").count() else "eye"
        mark = page.locator(".bench b").first.inner_text().partition(",")[0].lower()
        drive.look(f"question-{kind}-{mark}")
        number = outcome_of(unit, step)
        outcome = test.outcomes[int(number)]
        if kind == "read" and outcome.unit and "typed" not in drive.seen:
            drive.seen.add("typed")
            low = outcome.low if outcome.low is not None else (outcome.high or 1.0) / 2
            page.fill("#reading", f"{low * 1.05:g} {outcome.unit}")
            page.wait_for_selector(".echo.taken")
            drive.look("typed-echo")
            drive.go(lambda: page.press("#reading", "Enter"))
        else:
            # By its letter and Enter, as with a keyboard.
            key = page.locator(".answers button").nth(int(number)).get_attribute("data-key")
            page.locator("h1").click()
            page.keyboard.press(key or "")
            drive.go(lambda: page.keyboard.press("Enter"))
    assert page.locator(".amiss").count() == 0, page.inner_text("main")


def aside(drive: Drive, number: int) -> None:
    """The pages beside a step, and back."""
    for name in (
        "why", "how", "more", "worth", "worth?unit=12&minute=0.3&parts=1&named=x", "cannot",
        "known", "known?q=volts", "note", "photographs", "trail", "leave", "close",
    ):  # fmt: skip
        drive.page.goto(re.sub(r"/case/.*", f"/case/{number}/{name}", drive.page.url))
        drive.look(re.sub(r"\W+", "-", name))
    photograph(drive, number)
    drive.page.goto(re.sub(r"/case/.*", f"/case/{number}", drive.page.url))


def photograph(drive: Drive, number: int) -> None:
    """One that is none, and one."""
    page = drive.page
    page.goto(re.sub(r"/case/.*", f"/case/{number}/photographs", page.url))
    image = io.BytesIO()
    Image.new("RGB", (640, 480), "sienna").save(image, "JPEG")
    for name, content in (("x.jpg", b"none"), ("board.jpg", image.getvalue())):
        page.set_input_files("#picture", {"name": name, "mimeType": "image/jpeg",
                                          "buffer": content})  # fmt: skip
        page.fill("#says", "the board, from below")
        drive.press("button.big")
        drive.look(f"photographs-{name}")
    drive.noise = [n for n in drive.noise if "422" not in n]
    assert page.locator(".pictures img").evaluate("e => e.naturalWidth") == 640


def a_round(drive: Drive, server: Server) -> None:
    """Several units at once, and what is due at each."""
    page = drive.page
    page.goto(f"{server.address}/round/take-in")
    drive.look("round-take-in")
    page.fill("#units", "grey porch lamp; it never comes on\nStube 7; flickers\nthe third")
    page.check('input[value="buck-lamp"]')
    drive.press("text=Go on")
    drive.look("round-meaning")
    drive.press("text=Begin 3 cases")
    drive.look("round")
    page.goto(f"{server.address}/?q=porch")
    drive.look("cases-search")


def unknown_unit(drive: Drive, server: Server) -> None:
    """A lamp that nobody has opened, as far as what it is; another that is turned away."""
    page = drive.page
    for answer in ("first", "last"):
        page.goto(f"{server.address}/take-in")
        page.check('input[value="unknown-lamp"]')
        drive.press("text=Go on")
        drive.press("text=Begin the case")
        if answer == "last":
            while page.locator("form[action$=entry]").count():
                drive.go(page.locator(".answers button").nth(1).click)
            drive.look("refusal")
            return
        while not drive.step.startswith("turned-out"):
            _look_at(drive)
        drive.look("turned-out")
        drive.press("text=Go on")
        drive.look("after-turned-out")


def _look_at(drive: Drive) -> None:
    page, test = drive.page, drive.step.removeprefix("test ")
    if test in BY_A_CAP:
        drive.look(f"look-{test}" if test.startswith("see-") else "look")
        lamp = library.model("unknown-lamp", mains=Mains(230, 50))
        answers = [outcome.id for outcome in lamp.test(test).outcomes]
        drive.go(page.locator(".answers button").nth(answers.index(BY_A_CAP[test])).click)
    elif page.locator("text=Nobody can say").count():
        drive.press("text=Nobody can say")
    elif page.locator("form[action$=setup]").count():
        for tick in page.locator('input[name="did"]').all():
            tick.check()
        for box in page.locator('.volts input[name^="volts-"]').all():
            box.fill("0.4 V")
        drive.press("button.big")
    else:
        drive.go(page.locator(".answers button").first.click)


def behind_the_door(browser: Browser, pictures: Path | None, axe: str, folder: Path) -> None:
    """The page of the passcode, and what is said to a wrong one."""
    place, passcode = str(folder / "door.db"), "lamp-on-a-bench"
    server = start(folder, place, "--network", NEXTPROBE_PASSCODE=passcode)
    context = browser.new_context(viewport=PHONE)  # type: ignore[arg-type]
    drive = Drive(context.new_page(), pictures, axe)
    try:
        drive.page.goto(f"http://127.0.0.1:{server.port}/")
        drive.look("passcode")
        drive.page.fill("#passcode", "wrong one")
        drive.press("button.big")
        drive.look("passcode-amiss")
    finally:
        context.close()
        server.kill()


def whole_job(browser: Browser, pictures: Path | None, axe: str, place: str, folder: Path) -> None:
    """From take-in to closed, killed in the middle."""
    unit = model()
    server = start(folder, place)
    context = browser.new_context(viewport=PHONE)  # type: ignore[arg-type]
    drive = Drive(context.new_page(), pictures, axe)
    page = drive.page
    page.set_default_timeout(_PATIENCE)
    try:
        number = take_in(drive, server)
        answers = 0
        while answers < 2:
            is_test = drive.step.startswith("test")
            if is_test and answers == 1:
                aside(drive, number)
            one_step(drive, unit)
            answers += is_test
        server.kill()
        server = start(folder, place, port=server.port)
        drive.noise = [n for n in drive.noise if "ERR_CONNECTION" not in n]  # the kill's own
        page.goto(f"{server.address}/case/{number}")
        assert "Back at the bench" in page.inner_text("h1")
        drive.look("back")
        while drive.step != "verdict":
            one_step(drive, unit)
        drive.look("verdict")
        page.goto(f"{server.address}/wall")
        drive.look("wall")
        page.go_back()
        drive.press("text=Prove and close")
        drive.look("close-proofs")
        for box in page.locator('input[name^="read-"]').all():
            box.fill("as it should be")
        for box in page.locator('input[name^="pass-"][value="yes"]').all():
            box.check()
        page.check('input[value="mended"]')
        box = page.locator(f'input[value="{FAULT}"]')
        if not box.is_visible():
            page.click("text=Another fault")
        box.check()
        page.fill("#done", "New wires to the LED board")
        drive.press("button.big")
        assert "Closed" in page.inner_text("main")
        drive.look("archive")
        a_round(drive, server)
        unknown_unit(drive, server)
        page.goto(f"{server.address}/nowhere")
        drive.look("trouble")
        drive.noise = [n for n in drive.noise if "404" not in n]
        assert drive.noise == [], drive.noise
    finally:
        context.close()
        server.kill()
    print(f"{len(drive.seen)} pages looked at, case {number} closed")


def main() -> int:
    """Drive it."""
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--browser", default="/usr/bin/chromium")
    options.add_argument("--pictures", type=Path)
    options.add_argument("--postgresql", action="store_true", help="on a server of its own")
    options.add_argument("--axe", type=Path)
    choice = options.parse_args()
    if choice.pictures:
        choice.pictures.mkdir(parents=True, exist_ok=True)
    axe = choice.axe.read_text(encoding="utf-8") if choice.axe else ""
    with contextlib.ExitStack() as stack:
        engine = stack.enter_context(sync_playwright())
        folder = stack.enter_context(tempfile.TemporaryDirectory())
        place = str(Path(folder) / "shop.db")
        if choice.postgresql:
            place = f"{stack.enter_context(postgresql())}/postgres"
        browser = engine.chromium.launch(executable_path=choice.browser, args=list(SWITCHES))
        whole_job(browser, choice.pictures, axe, place, Path(folder))
        behind_the_door(browser, choice.pictures, axe, Path(folder))
        browser.close()
    return 0


if __name__ == "__main__":
    sys.exit(main())
