"""Graphviz's `dot` asked where things go: boxes of sizes that we measured, their places back.

Layered drawing after Sugiyama, Tagawa and Toda (1981) with ranks by network simplex (Gansner,
Koutsofios, North and Vo 1993). Only places are taken over; shapes, type and lines are ours.
Equal questions give equal answers, and each is put to the program once.
"""

from __future__ import annotations

import json
import shutil
from dataclasses import dataclass
from functools import lru_cache

import graphviz

from kb.trouble import Place, Trouble, TroubleError
from render.drawing.ink import Box

# Graphviz counts in inches and in points of 1/72 inch; one inch stands for one unit of ours.
_POINTS = 72.0


@dataclass(frozen=True, slots=True)
class Node:
    """Something to be placed: its size, and whether it lies on the straight main way."""

    name: str
    w: float
    h: float
    main: bool = False


@dataclass(frozen=True, slots=True)
class Layout:
    """Where everything went: size of the whole, and the box of each node."""

    w: float
    h: float
    boxes: dict[str, Box]


@lru_cache(maxsize=256)
def place(
    nodes: tuple[Node, ...],
    edges: tuple[tuple[str, str], ...],
    rank_gap: float,
    node_gap: float,
) -> Layout:
    """The layout, ranks from left to right, y downwards.

    TroubleError if Graphviz is not installed or fails.
    """
    answer = json.loads(_answer(_source(nodes, edges, rank_gap, node_gap)))
    _, _, right, top = (float(n) / _POINTS for n in answer["bb"].split(","))
    # Nodes go by number, so that no name can be taken for markup or a port.
    names = {item["_gvid"]: nodes[int(item["name"])].name for item in answer["objects"]}
    centres = {names[item["_gvid"]]: _point(item["pos"], top) for item in answer["objects"]}
    return Layout(right, top, {node.name: _around(centres[node.name], node) for node in nodes})


def _around(centre: tuple[float, float], node: Node) -> Box:
    return Box(centre[0] - node.w / 2, centre[1] - node.h / 2, node.w, node.h)


def _source(
    nodes: tuple[Node, ...],
    edges: tuple[tuple[str, str], ...],
    rank_gap: float,
    node_gap: float,
) -> str:
    graph = graphviz.Digraph(
        graph_attr={
            "rankdir": "LR",
            "splines": "false",
            "ordering": "out",
            "ranksep": f"{rank_gap:.4f}",
            "nodesep": f"{node_gap:.4f}",
        },
        node_attr={"shape": "box", "fixedsize": "true", "label": ""},
        edge_attr={"arrowhead": "none"},
    )
    numbers = {node.name: str(number) for number, node in enumerate(nodes)}
    for node in nodes:
        group = {"group": "main"} if node.main else {}
        graph.node(numbers[node.name], width=f"{node.w:.4f}", height=f"{node.h:.4f}", **group)
    for tail, head in edges:
        graph.edge(numbers[tail], numbers[head])
    return str(graph.source)


def ready() -> None:
    """TroubleError if Graphviz is not installed: asked before minutes are spent on a plan."""
    if shutil.which(graphviz.DOT_BINARY) is None:
        raise _lacking()


def _lacking() -> TroubleError:
    return TroubleError(
        Trouble(
            "PA141",
            Place("block diagram"),
            "The system lacks Graphviz, whose program dot places the blocks of a printed chart",
            "Install it: apt-get install graphviz, dnf install graphviz, or brew install "
            "graphviz; or print without them (--leave-out blocks), or ask for .json",
        )
    )


def _answer(source: str) -> str:
    try:
        return str(graphviz.Source(source).pipe(format="json", encoding="utf-8", quiet=True))
    except graphviz.ExecutableNotFound as error:
        raise _lacking() from error
    except graphviz.CalledProcessError as error:
        raise TroubleError(
            Trouble(
                "PA142",
                Place("block diagram"),
                "Graphviz could not place the blocks of the unit",
                "Install a newer Graphviz; or ask for .json",
                why=str(error).splitlines()[0],
            )
        ) from error


def _point(pair: str, top: float) -> tuple[float, float]:
    x, y = pair.split(",")
    return float(x) / _POINTS, top - float(y) / _POINTS
