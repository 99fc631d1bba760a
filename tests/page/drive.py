"""Walks pages in a real browser, every path of them, and compares with the chart document.

    pip install playwright          (no browser of its own is needed)
    python -m tests.page.drive [--browser /usr/bin/chromium] [--pictures FOLDER] [PAGE ...]

Not part of a plain run, for it needs a browser. The pages are those of `tests.page.charts`. What is
driven: every path by tapping, with cautions, minutes and odds on the screen; undo, start again, a
sleeping phone (the address opened anew, and the bare file), stores that stay charged or are out of
reach, proofs, the keyboard alone, 320 px, no scripts, print, light and dark.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from playwright.sync_api import Browser, Page, sync_playwright

from render import page as html_page
from render.drawing.bench_marks import MILDEST_FIRST
from tests.page.charts import DATE, detours, documents
from tests.page.reading import spoken

SWITCHES = (
    *("--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run"),
    *("--disable-background-networking", "--disable-component-update", "--disable-sync"),
)
SHOWN = """new Promise((tell) => setTimeout(() => tell(
  [...document.querySelectorAll(".screen")].filter((s) => s.offsetParent).map((s) => s.id)), 5))"""
PHONE, DESK = {"width": 360, "height": 740}, {"width": 1280, "height": 900}


class Drive:
    """A page in a browser, next to the documents it was made from."""

    def __init__(self, browser: Browser, folder: Path, name: str) -> None:
        self.browser, self.name = browser, name
        self.model, self.chart = documents(name)
        self.nodes = self.chart["nodes"]
        self.tests = {test["id"]: test for test in self.model["tests"]}
        self.cautions = {caution["id"]: caution for caution in self.model["cautions"]}
        self.file = folder / f"{name}.html"
        self.detours = detours(name)
        text = html_page.draw(self.model, self.chart, date=DATE, detours=self.detours)
        self.file.write_text(text, encoding="utf-8")
        self.url = self.file.as_uri()

    @contextmanager
    def page(self, **settings: Any) -> Iterator[Page]:
        """A fresh page; anything it complains of or asks of the network fails the drive."""
        settings.setdefault("viewport", PHONE)
        context = self.browser.new_context(**settings)
        page = context.new_page()
        noise: list[str] = []
        page.on("console", lambda message: noise.append(message.text))
        page.on("pageerror", lambda error: noise.append(str(error)))
        page.on("request", lambda request: _only_here(request.url, self.url, noise))
        page.goto(self.url)
        yield page
        assert noise == [], noise
        context.close()

    # -- doing ------------------------------------------------------------------------------------

    def begin(self, page: Page) -> None:
        """To the first step of the plan."""
        page.click("#start .done")
        if page.locator("#entry").count():
            for question in page.locator("#entry .question").all():
                if question.is_visible():
                    question.locator('input[value="go-on"]').check()
            page.click("#entry .done")

    def here(self, page: Page) -> str:
        """The step shown, and that it is the only one."""
        # Read at one moment, after the browser has told the page of a changed address.
        shown = page.evaluate(SHOWN)
        assert len(shown) == 1, shown
        return str(shown[0])

    def make_safe(self, page: Page, answer: str = "below") -> None:
        """Answer for every store of the step shown: below its limit, over it, or out of reach."""
        for store in page.locator(".here .store").all():
            # A person scrolls a box clear of the bar at the foot before touching it.
            store.evaluate("element => element.scrollIntoView({ block: 'center' })")
            if answer == "out":
                store.locator('input[value="out"]').check()
                continue
            limit = float(store.get_attribute("data-below") or "nan")
            volts = {"below": limit / 10, "over": limit, "minus": -limit}[answer]
            store.locator('input[type="number"]').fill(f"{volts:g}")

    def done(self, page: Page) -> None:
        """Tap what says that the step is done."""
        page.locator(".here .done:visible, .here .proved:visible").click()
        self.here(page)

    def answer(self, page: Page, outcome: str) -> None:
        """Tap an answer."""
        page.click(f'.here a[data-outcome="{outcome}"]')

    def come_to(self, page: Page, outcomes: list[str]) -> None:
        """From the first step on, by these answers, all set-ups done on the way."""
        left = list(outcomes)
        while True:
            node = self.nodes[self.here(page)]
            if node["kind"] == "setup":
                self.make_safe(page)
                self.done(page)
            elif node["kind"] == "test" and left:
                self.answer(page, left.pop(0))
            else:
                return

    # -- what must hold ---------------------------------------------------------------------------

    def every_path(self, page: Page) -> int:
        """Tap through every path; cautions, minutes and odds of each step as in the document."""
        self.begin(page)
        begun = page.url
        stack: list[tuple[str, str, float]] = [(self.chart["root"], begun, 0.0)]
        count = 0
        while stack:
            name, address, minutes = stack.pop()
            page.goto(address)
            assert self.here(page) == name
            node = self.nodes[name]
            self.cautions_shown(page, node)
            self.mark_shown(page)
            self.minutes_shown(page, node, minutes)
            if node["kind"] == "setup":
                assert page.locator(".here .store").count() == len(node["make_safe"])
                self.make_safe(page)
                self.done(page)
                stack.append((node["next"], page.url, minutes + node["minutes"]))
            elif node["kind"] == "test":
                spent = minutes + self.tests[node["test"]]["minutes"]
                for outcome, to in node["branches"].items():
                    page.goto(address)
                    self.answer(page, outcome)
                    stack.append((to, page.url, spent))
            else:
                count += 1
                self.ending(page, node)
        return count

    def cautions_shown(self, page: Page, node: dict[str, Any]) -> None:
        """Each with signal word and full words, to be seen."""
        for caution in node.get("cautions", ()):
            words = page.locator(f'.here [data-caution="{caution}"]').first
            assert words.is_visible()
            said = " ".join(words.inner_text().split())
            assert said.startswith(self.cautions[caution]["signal"])
            assert spoken(self.cautions[caution]["says"]) in said

    def mark_shown(self, page: Page) -> None:
        """How the bench stands, in a word, on every step."""
        assert page.locator(".here .mark b").inner_text() in {m.word for m in MILDEST_FIRST}

    def minutes_shown(self, page: Page, node: dict[str, Any], minutes: float) -> None:
        """What was spent up to here."""
        told = " ".join(page.locator(".told").inner_text().split())
        spent = f"{minutes:.1f}".removesuffix(".0")
        # Half a tenth rounds one way in one language and the other way in the other.
        near = {spent, f"{minutes + 0.001:.1f}".removesuffix(".0"),
                f"{minutes - 0.001:.1f}".removesuffix(".0")}  # fmt: skip
        ending = "in all" if node["kind"] == "verdict" else "so far"
        assert any(f"{figure} min {ending}" in told for figure in near), (told, minutes)

    def ending(self, page: Page, node: dict[str, Any]) -> None:
        """A verdict shows its remedy and proofs once its stores are answered for."""
        if node["kind"] == "recheck":
            assert spoken(node["says"]) in page.locator(".here").inner_text()
            return
        if node.get("make_safe"):
            assert not page.locator(".here .ending").is_visible()
            self.make_safe(page)
            self.done(page)
        assert page.locator(".here .ending").is_visible()
        if page.locator(".repair").count():
            assert page.locator(".repair").is_visible()
        shown = page.locator(".here [data-fault]").count()
        assert shown == len(node["faults"])

    def undo_goes_back(self, page: Page) -> None:
        """By the button and by the browser."""
        self.begin(page)
        first = self.here(page)
        self.make_safe(page)
        self.done(page) if self.nodes[first]["kind"] == "setup" else page.click(".here .answers a")
        second = self.here(page)
        assert second != first
        page.click(".tools .back")
        assert self.here(page) == first
        page.go_back()
        assert self.here(page) == second

    def question_and_two_answers_stand_on_one_screen(self, page: Page) -> None:
        """On a phone, above the tools, with how the bench stands; where no full caution comes
        first, which is read before anything is done."""
        self.begin(page)
        self.come_to(page, [])
        low = page.locator(".tools").bounding_box()
        assert low
        if page.locator(".here .caution").count() > 1:
            return
        for place in (".here .mark", ".here h2", *self.first_answers(page)):
            box = page.locator(place).first.bounding_box()
            assert box
            assert box["y"] >= 0
            assert box["y"] + box["height"] <= low["y"]

    def first_answers(self, page: Page) -> list[str]:
        """Selectors of the first two answers, or of the only one."""
        count = page.locator(".here .answers a").count()
        return [f".here .answers li:nth-child({n}) a" for n in (1, 2) if n <= count]

    def figures_and_letters_answer(self, page: Page) -> None:
        """Both the same; none of them while something is typed."""
        self.begin(page)
        self.come_to(page, [])
        place = self.here(page)
        last = page.locator(".here .answers a").count()
        page.keyboard.press(str(last))
        came = self.here(page)
        assert came != place
        page.click(".tools .back")
        page.keyboard.press("abcdefghi"[last - 1])
        assert self.here(page) == came
        page.click('.tools [data-view="path"]')
        page.fill(".path textarea", "")
        page.locator(".path textarea").press("1")
        assert page.locator(".path textarea").input_value() == "1"
        page.reload()
        assert page.locator(".path textarea").input_value() == "1"

    def a_typed_reading_answers(self, page: Page) -> None:
        """It is taken for the answer whose band it falls into, and stands in the record; what is no
        reading is told and moves nothing."""
        self.begin(page)
        path = self.first_way_to_a_band()
        if path is None:
            return
        self.come_to(page, path)
        place = self.here(page)
        page.fill(".here .typed input", "no such thing")
        page.click(".here .read")
        assert self.here(page) == place
        assert "no such thing" in page.locator(".here .problem").first.inner_text()
        answer = page.locator(".here .answers a[data-measured][data-low]").first
        leads = answer.get_attribute("href")
        typed = f"{float(str(answer.get_attribute('data-low')))} "
        typed += page.locator(f"#{place}").get_attribute("data-base") or ""
        page.fill(".here .typed input", typed)
        page.locator(".here .typed input").press("Enter")
        assert f"#{self.here(page)}" == leads
        assert typed in page.locator(".path ol").inner_text(timeout=0) or typed in str(
            page.locator(".path ol").text_content()
        )

    def first_way_to_a_band(self) -> list[str] | None:
        """Answers that lead to some check that is read off a meter, nearest first."""
        tests = {test["id"]: test for test in self.model["tests"]}
        ways: list[tuple[str, list[str]]] = [(self.chart["root"], [])]
        while ways:
            name, way = ways.pop(0)
            node = self.nodes[name]
            if node["kind"] == "setup":
                ways.append((node["next"], way))
            elif node["kind"] == "test":
                outcomes = tests[node["test"]]["outcomes"]
                if any(o.get("low") not in (None, 0) for o in outcomes):
                    return way
                ways.extend((to, [*way, o]) for o, to in node["branches"].items())
        return None

    def what_cannot_be_done_leads_on_to_a_verdict(self, page: Page) -> int:
        """By tapping and by the key x; undo comes back to the check, and the record names it."""
        self.begin(page)
        begun, count = page.url, 0
        for way in self.detours:
            page.goto(begun)
            self.come_to(page, self.answers_to(way.at))
            assert self.here(page) == way.at
            page.keyboard.press("x")
            assert self.here(page) == way.chart["root"]
            page.click(".tools .back")
            assert self.here(page) == way.at
            page.click(".here .cannot")
            shown = self.here(page)
            while way.chart["nodes"][shown]["kind"] in ("setup", "test"):
                self.cautions_shown(page, way.chart["nodes"][shown])
                if way.chart["nodes"][shown]["kind"] == "setup":
                    self.make_safe(page)
                    self.done(page)
                else:
                    page.click(".here .answers a")
                shown = self.here(page)
            self.ending(page, way.chart["nodes"][shown])
            record = page.locator(".path ol").text_content() or ""
            assert "not done here" in record
            count += 1
        return count

    def answers_to(self, goal: str) -> list[str]:
        """Answers that lead to a check."""
        stack: list[tuple[str, list[str]]] = [(self.chart["root"], [])]
        while stack:
            name, way = stack.pop()
            if name == goal:
                return way
            node = self.nodes[name]
            if node["kind"] == "setup":
                stack.append((node["next"], way))
            elif node["kind"] == "test":
                stack.extend((to, [*way, outcome]) for outcome, to in node["branches"].items())
        raise AssertionError(goal)

    def search_leaves_the_steps_with_all_of_the_words(self, page: Page) -> None:
        """And the steps on the way to them."""
        self.begin(page)
        page.click('.tools [data-view="plan"]')
        steps = page.locator(".outline li")
        whole = steps.locator("visible=true").count()
        page.fill(".search input", "V1")
        some = steps.locator("visible=true").count()
        assert 0 < some < whole
        page.fill(".search input", "no such step")
        assert steps.locator("visible=true").count() == 0
        assert page.locator(".none").inner_text() != ""

    def sleep_keeps_the_place(self, page: Page) -> None:
        """The address opened anew shows the step; the bare file offers it."""
        self.begin(page)
        self.come_to(page, [])
        page.locator(".here .answers a").first.click()
        place, address = self.here(page), page.url
        page.reload()
        assert self.here(page) == place
        page.goto("about:blank")
        page.goto(address)
        assert self.here(page) == place
        page.goto("about:blank")
        page.goto(self.url)
        assert self.here(page) == "start"
        page.click(".resume a")
        assert self.here(page) == place

    def start_again_starts_again(self, page: Page) -> None:
        """And an address of another chart is not followed."""
        self.begin(page)
        page.click('.tools [data-view="path"]')
        page.click(".restart")
        assert self.here(page) == "start"
        page.goto("about:blank")
        page.goto(self.url + "#go.00000000.s.e.d")
        assert self.here(page) == "start"
        assert page.locator(".told").inner_text() != ""

    def a_charged_store_bars_the_way(self, page: Page) -> None:
        """Nothing goes on before each store is answered for, or while one is over its limit."""
        self.begin(page)
        if not self.to_make_safe(page):
            return
        place = self.here(page)
        self.done(page)
        assert self.here(page) == place
        assert page.locator(".here .problem:visible").inner_text() != ""
        for charged in ("over", "minus"):
            self.make_safe(page, charged)
            self.done(page)
            assert self.here(page) == place
            assert page.locator(".here .reply.due:visible").count()

    def a_store_out_of_reach_leads_to_its_opening_or_stops(self, page: Page) -> None:
        """On only where the next step bares it, and there it is asked for again."""
        self.begin(page)
        if not self.to_make_safe(page):
            return
        place = self.here(page)
        stores = page.locator(".here .store").all()
        points = {store.get_attribute("data-point") for store in stores}
        onward = all(store.get_attribute("data-onward") is not None for store in stores)
        self.make_safe(page, "out")
        assert page.locator(".here .reply.due:visible").count() == len(stores)
        self.done(page)
        if not onward:
            assert self.here(page) == place
            assert page.locator(".here .problem:visible").inner_text() != ""
            return
        assert self.nodes[self.here(page)]["open"]
        asked = {s.get_attribute("data-point") for s in page.locator(".here .store:visible").all()}
        assert points <= asked

    def to_make_safe(self, page: Page) -> bool:
        """To the first set-up that makes safe along the first answers, if there is one."""
        for _ in range(40):
            node = self.nodes[self.here(page)]
            if node["kind"] == "setup" and node["make_safe"]:
                return True
            if node["kind"] == "setup":
                self.done(page)
            elif node["kind"] == "test":
                page.click(".here .answers a")
            else:
                return False
        return False

    def keys_alone_will_do(self, page: Page) -> None:
        """Tab, space and enter lead through; the heading has the focus after each step."""
        self.press_to(page, "#start .done")
        page.keyboard.press("Enter")
        if page.locator("#entry").count():
            for question in page.locator("#entry .question:visible").all():
                self.press_to_element(page, question.locator("input").first)
                answers = question.locator("input").all()
                place = [a.get_attribute("value") for a in answers].index("go-on")
                page.keyboard.press("Space")
                for _ in range(place):
                    page.keyboard.press("ArrowDown")
            self.press_to(page, "#entry .done")
            page.keyboard.press("Enter")
        assert self.here(page) == self.chart["root"]
        focus = page.evaluate("document.activeElement.id")
        assert focus == f"{self.chart['root']}-head"

    def press_to(self, page: Page, selector: str) -> None:
        """Press Tab until the element has the focus."""
        self.press_to_element(page, page.locator(selector))

    def press_to_element(self, page: Page, element: Any) -> None:
        """Press Tab until the element has the focus."""
        for _ in range(80):
            if element.evaluate("e => e === document.activeElement"):
                return
            page.keyboard.press("Tab")
        raise AssertionError(f"the keyboard does not reach {element}")

    def targets_are_large_and_nothing_overflows(self, page: Page) -> None:
        """24 px at least (WCAG 2.2, 2.5.8), no scrolling sideways at 320 px (1.4.10)."""
        self.begin(page)
        self.come_to(page, [])
        for view in ("path", "plan", "unit", None):
            if view:
                page.click(f'.tools [data-view="{view}"]')
            else:
                page.click('.tools [data-view="unit"]')
            assert page.evaluate("document.documentElement.scrollWidth") <= 320
        for target in page.locator("button:visible, .here a:visible, .here label:visible").all():
            box = target.bounding_box()
            assert box
            assert min(box["width"], box["height"]) >= 24, target.inner_text()

    def proofs_are_kept(self, page: Page) -> None:
        """A tick survives a sleep."""
        self.begin(page)
        path = self.first_way_to_proofs()
        if path is None:
            return
        self.come_to(page, path)
        if page.locator(".here .proved:visible").count():
            self.make_safe(page)
            self.done(page)
        page.locator(".here .proofs input").first.check()
        page.reload()
        assert page.locator(".here .proofs input").first.is_checked()
        assert page.locator(".here .count").inner_text().startswith("1 ")

    def first_way_to_proofs(self) -> list[str] | None:
        """Answers that lead to some verdict with proofs."""
        remedies = {remedy["id"]: remedy for remedy in self.model["remedies"]}
        stack: list[tuple[str, list[str]]] = [(self.chart["root"], [])]
        while stack:
            name, way = stack.pop()
            node = self.nodes[name]
            if node["kind"] == "setup":
                stack.append((node["next"], way))
            elif node["kind"] == "test":
                stack.extend((to, [*way, outcome]) for outcome, to in node["branches"].items())
            elif node["kind"] == "verdict" and remedies[node["remedy"]]["proofs"]:
                return way
        return None

    def without_scripts_all_is_there(self, page: Page) -> None:
        """Every step can be seen and links lead on."""
        for name in self.nodes:
            assert page.locator(f"#{name}").is_visible()
        page.click("#start .done")
        assert page.url.split("#")[1] in ("entry", self.chart["root"])

    def paper_shows_all(self, page: Page) -> None:
        """Printed amid a walk, every step is there and no button."""
        self.begin(page)
        page.emulate_media(media="print")
        assert all(page.locator(f"#{name}").is_visible() for name in self.nodes)
        assert not page.locator(".tools").is_visible()


def _only_here(url: str, own: str, noise: list[str]) -> None:
    if not url.startswith((own, "data:", "about:")):
        noise.append(f"asks for {url}")


def _driven(drive: Drive) -> None:
    small = {"viewport": {"width": 320, "height": 640}}
    plain: dict[str, Any] = {}
    runs: list[tuple[Callable[[Page], object], dict[str, Any]]] = [
        (drive.undo_goes_back, plain),
        (drive.sleep_keeps_the_place, plain),
        (drive.start_again_starts_again, plain),
        (drive.a_charged_store_bars_the_way, plain),
        (drive.a_store_out_of_reach_leads_to_its_opening_or_stops, plain),
        (drive.keys_alone_will_do, {"viewport": DESK}),
        (drive.question_and_two_answers_stand_on_one_screen, plain),
        (drive.figures_and_letters_answer, plain),
        (drive.a_typed_reading_answers, plain),
        (drive.what_cannot_be_done_leads_on_to_a_verdict, plain),
        (drive.search_leaves_the_steps_with_all_of_the_words, plain),
        (drive.targets_are_large_and_nothing_overflows, small),
        (drive.proofs_are_kept, plain),
        (drive.without_scripts_all_is_there, {"java_script_enabled": False}),
        (drive.paper_shows_all, plain),
        (drive.every_path, plain),
    ]
    for run, settings in runs:
        with drive.page(**settings) as page:
            found = run(page)
        print(f"{drive.name}: {run.__name__.replace('_', ' ')}" + (f": {found}" if found else ""))


def _pictured(drive: Drive, folder: Path) -> None:
    """A step with cautions and a verdict, phone and desk, light and dark."""
    for size, viewport in (("phone", PHONE), ("desk", DESK)):
        for scheme in ("light", "dark"):
            with drive.page(viewport=viewport, color_scheme=scheme) as page:
                drive.begin(page)
                drive.come_to(page, [])
                page.screenshot(path=folder / f"{drive.name}-{size}-{scheme}-step.png")
                drive.come_to(page, drive.first_way_to_proofs() or [])
                page.screenshot(path=folder / f"{drive.name}-{size}-{scheme}-verdict.png")


def main() -> None:
    """Drive the pages named, by default three of them."""
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("pages", nargs="*", metavar="PAGE")
    options.add_argument("--browser", default="/usr/bin/chromium")
    options.add_argument("--pictures", type=Path)
    told = options.parse_args()
    pages = told.pages or ["lantern", "random-5", "buck-lamp-stage"]
    with sync_playwright() as engine, tempfile.TemporaryDirectory() as folder:
        browser = engine.chromium.launch(executable_path=told.browser, args=list(SWITCHES))
        for name in pages:
            drive = Drive(browser, Path(folder), name)
            _driven(drive)
            if told.pictures:
                _pictured(drive, told.pictures)
        browser.close()


if __name__ == "__main__":
    sys.exit(main())
