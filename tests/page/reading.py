"""Reads a page back as a browser would: the screens, their words, numbers and pointers.

The HTML5 parsing algorithm is tinyhtml5's; nothing of `render.page` is used. What `fine` sets is
tested with the wall chart.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from xml.etree.ElementTree import Element

import tinyhtml5

from render.drawing.typeset import fine


@dataclass(frozen=True)
class Answer:
    """An answer as the page has it."""

    outcome: str
    odds: float
    to: str
    words: str


@dataclass(frozen=True)
class Screen:
    """A screen as the page has it; `cautions` are its own, those of proofs stand in `proofs`."""

    id: str
    kind: str
    minutes: float
    ahead: float
    reach: float
    words: str
    cautions: Mapping[str, str]
    points: tuple[tuple[str, str], ...]
    next: str
    answers: tuple[Answer, ...]
    sure: float
    faults: Mapping[str, float]
    proofs: Mapping[str, Mapping[str, str]]


def tree_of(html: str) -> Element:
    """The page as a tree of elements."""
    return tinyhtml5.parse(html, namespace_html_elements=False)


def spoken(text: str) -> str:
    """Words of a document as they are set on charts, one space between them."""
    return " ".join(fine(text, "").split())


def words_of(element: Element) -> str:
    """An element's words as read aloud: one space between them."""
    return " ".join(" ".join(element.itertext()).split())


def with_class(element: Element, name: str) -> Iterator[Element]:
    """The elements below that have the class."""
    return (e for e in element.iter() if name in (e.get("class") or "").split())


def screens_of(tree: Element) -> Mapping[str, Screen]:
    """The plan's screens by their ids, in the order in which they stand."""
    found = [e for e in with_class(tree, "screen") if e.get("data-kind") not in ("start", "entry")]
    return {str(e.get("id")): _screen(e) for e in found}


def _screen(section: Element) -> Screen:
    proofs = {
        str(item.get("data-proof")): _cautions(item)
        for item in section.iter("li")
        if item.get("data-proof")
    }
    within = {id(e) for item in with_class(section, "proofs") for e in item.iter()}
    return Screen(
        id=str(section.get("id")),
        kind=str(section.get("data-kind")),
        minutes=float(section.get("data-minutes") or "nan"),
        ahead=float(section.get("data-ahead") or "nan"),
        reach=float(section.get("data-reach") or "nan"),
        words=words_of(section),
        cautions=_cautions(section, within),
        points=tuple(
            (spoken(str(e.get("data-point"))), spoken(str(e.get("data-limit"))))
            for e in with_class(section, "store")
        ),
        next=str(section.get("data-next") or ""),
        answers=tuple(
            Answer(
                str(link.get("data-outcome")),
                float(link.get("data-odds") or "nan"),
                str(link.get("href")).removeprefix("#"),
                words_of(link),
            )
            for link in section.iter("a")
            if link.get("data-outcome")
        ),
        sure=float(section.get("data-sure") or "nan"),
        faults={
            str(item.get("data-fault")): float(item.get("data-odds") or "nan")
            for item in section.iter("li")
            if item.get("data-fault")
        },
        proofs=proofs,
    )


def _cautions(element: Element, without: set[int] | None = None) -> dict[str, str]:
    return {
        str(item.get("data-caution")): words_of(item)
        for item in with_class(element, "caution")
        if item.get("data-caution") and id(item) not in (without or set())
    }
