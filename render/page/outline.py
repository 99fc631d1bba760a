"""The whole plan as an outline: nested lines from the root, each screen told once in full."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from render.page.screens import Check, Screen, SetUp, Third, Twig


def outline(root: str, screens: Sequence[Screen], answer: str = "") -> tuple[Twig, ...]:
    """The outline, come to by `answer` if by any; a set-up stands on the line before what it
    prepares, not around it.

    O(lines of the chart); as deep as the longest path has checks.
    """
    by_name = {screen.here.node: screen for screen in screens}
    return tuple(_run(answer, root, by_name, set()))


def _run(answer: str, name: str, screens: dict[str, Screen], before: set[str]) -> Iterator[Twig]:
    """A screen and what follows it without a choice, then the choice's branches inside the last."""
    while True:
        screen = screens[name]
        again = name in before
        before.add(name)
        here = screen.here
        follow: tuple[Twig, ...] = ()
        if isinstance(screen, Check | Third) and not again:
            follow = tuple(
                twig for way in screen.answers for twig in _run(way.says, way.to, screens, before)
            )
        yield Twig(answer, name, here.label, here.heading, follow)
        if again or not isinstance(screen, SetUp):
            return
        answer, name = "", screen.next
