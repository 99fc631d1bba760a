"""Reads netlists and schematics of KiCad, which are S-expressions (read with `sexpdata`).

Formats after KiCad's developer documentation (dev-docs.kicad.org: netlist, s-expression schematic).
In a schematic nothing says which pins are joined: wires, labels and pins that meet in a point are,
and so are labels and power symbols of one name. Pin positions turn and mirror with their symbol.
"""

from __future__ import annotations

import contextlib
import itertools
import math
from collections.abc import Iterator
from typing import Any

import sexpdata

from engine.schematic.sheet import Component, Sheet
from kb.trouble import Place, Trouble, TroubleError

_Point = tuple[float, float]
_List = list[Any]


def read_netlist(text: str, source: str) -> Sheet:
    """The components of an exported netlist (`(export ...)`)."""
    with _whole(source):
        return _netlist(_tree(text, source, "export"), source)


def read_schematic(text: str, source: str) -> Sheet:
    """The components of a schematic of one sheet (`(kicad_sch ...)`)."""
    with _whole(source):
        return _schematic(_tree(text, source, "kicad_sch"), source)


@contextlib.contextmanager
def _whole(source: str) -> Iterator[None]:
    """TroubleError NL103 for a file that was cut short or spoilt within its brackets."""
    try:
        yield
    except (ValueError, IndexError, TypeError, KeyError, AttributeError, OverflowError) as wrong:
        raise _trouble(
            "NL103", source, "A symbol, pin, wire or label of this file is not whole",
            "Open it in KiCad, and save or export it again",
        ) from wrong  # fmt: skip


def _netlist(tree: _List, source: str) -> Sheet:
    legs: dict[str, list[tuple[str, str]]] = {}
    for net in _all(_one(tree, "nets"), "net"):
        for node in _all(net, "node"):
            pin = (_word(node, "pin"), _word(net, "name"))
            legs.setdefault(_word(node, "ref"), []).append(pin)
    components = tuple(
        Component(
            ref := _word(part, "ref"),
            tuple(net for _, net in sorted(legs.get(ref, ()), key=_by_pin)),
            _word(part, "value"),
            _word(_one(part, "libsource"), "part"),
        )
        for part in _all(_one(tree, "components"), "comp")
    )
    return _sheet(components, _word(_one(tree, "design"), "source"), source)


def _schematic(tree: _List, source: str) -> Sheet:
    if _all(tree, "sheet"):
        raise _trouble(
            "NL105", source, "This schematic has sheets within sheets",
            "Export a netlist from it (File, Export, Netlist) and give that",
        )  # fmt: skip
    library = {_text(symbol[1]): symbol for symbol in _all(_one(tree, "lib_symbols"), "symbol")}
    joints = _Joints()
    parts = [_place(symbol, library) for symbol in _all(tree, "symbol")]
    for kind in ("wire", "bus"):
        for wire in _all(tree, kind):
            ends = [_point(xy) for xy in _all(_one(wire, "pts"), "xy")]
            for start, end in itertools.pairwise(ends):
                joints.wire(start, end)
    for kind in ("label", "global_label", "hierarchical_label"):
        for label in _all(tree, kind):
            joints.name(_text(label[1]), _point(_one(label, "at")))
    for part in parts:
        for _, point in part.pins:
            joints.touch(point)
        if part.power:
            joints.name(part.value, part.pins[0][1])
    nets = joints.nets()
    legs_of: dict[str, dict[str, str]] = {}
    for part in parts:
        if not part.power and not part.name.startswith("#"):
            pins = legs_of.setdefault(part.name, {})
            pins.update({pin: nets[point] for pin, point in part.pins})
    marks = {part.name: part for part in parts}
    components = tuple(
        Component(
            name,
            tuple(net for _, net in sorted(legs.items(), key=_by_pin)),
            marks[name].value,
            marks[name].symbol.rpartition(":")[2],
        )
        for name, legs in legs_of.items()
    )
    return _sheet(components, _word(_one(tree, "title_block"), "title"), source)


class _Part:
    """One symbol as placed: designator, value, library symbol, pins with their points in mm."""

    def __init__(
        self, name: str, value: str, symbol: str, pins: list[tuple[str, _Point]], power: bool
    ) -> None:
        self.name, self.value, self.symbol = name, value, symbol
        self.pins, self.power = pins, power


def _place(symbol: _List, library: dict[str, _List]) -> _Part:
    lib = _word(symbol, "lib_name") or _word(symbol, "lib_id")
    drawing = library.get(lib, [])
    marks = {_text(entry[1]): _text(entry[2]) for entry in _all(symbol, "property")}
    at = _one(symbol, "at")
    x, y, angle = (float(number) for number in (*at[1:3], at[3] if len(at) > 3 else 0))
    mirror = _word(symbol, "mirror")
    unit = _word(symbol, "unit") or "1"
    pins = [(number, _turn(point, (x, y), angle, mirror)) for number, point in _pins(drawing, unit)]
    power = bool(_all(drawing, "power")) and bool(pins)
    return _Part(marks.get("Reference", "?"), marks.get("Value", ""), lib, pins, power)


def _pins(drawing: _List, unit: str) -> Iterator[tuple[str, _Point]]:
    """Pins of one unit of a library symbol; units are named NAME_UNIT_STYLE, 0 is all units."""
    for inner in _all(drawing, "symbol"):
        if _text(inner[1]).split("_")[-2:-1] not in ([unit], ["0"]):
            continue
        for pin in _all(inner, "pin"):
            yield _text(_one(pin, "number")[1]), _point(_one(pin, "at"))


def _turn(pin: _Point, at: _Point, angle: float, mirror: str) -> _Point:
    """Where a pin lies on the sheet: the library's y runs up, the sheet's runs down."""
    x, y = pin[0], -pin[1]
    turn = math.radians(-angle)
    x, y = x * math.cos(turn) - y * math.sin(turn), x * math.sin(turn) + y * math.cos(turn)
    if mirror == "x":
        y = -y
    elif mirror == "y":
        x = -x
    return _round((at[0] + x, at[1] + y))


class _Joints:
    """Points that are one net: joined by wires, by touching a wire, by bearing one name."""

    def __init__(self) -> None:
        self._of: dict[_Point, _Point] = {}
        self._wires: list[tuple[_Point, _Point]] = []
        self._names: dict[str, list[_Point]] = {}

    def touch(self, point: _Point) -> None:
        """A point that matters."""
        self._of.setdefault(point, point)

    def wire(self, start: _Point, end: _Point) -> None:
        """A straight wire."""
        self._wires.append((start, end))
        self.touch(start)
        self.touch(end)

    def name(self, name: str, point: _Point) -> None:
        """A label; two of one name are joined."""
        self.touch(point)
        self._names.setdefault(name, []).append(point)

    def nets(self) -> dict[_Point, str]:
        """The name of each point's net. Quadratic in points times wires, small sheets both."""
        for start, end in self._wires:
            for point in tuple(self._of):
                if _on(point, start, end):
                    self._join(point, start)
        for points in self._names.values():
            for point in points[1:]:
                self._join(point, points[0])
        names = {self._root(points[0]): name for name, points in self._names.items()}
        numbers: dict[_Point, str] = {}
        return {
            point: names.get(root) or numbers.setdefault(root, f"net{len(numbers) + 1}")
            for point in self._of
            if (root := self._root(point)) is not None
        }

    def _root(self, point: _Point) -> _Point:
        while self._of[point] != point:
            point = self._of[point]
        return point

    def _join(self, one: _Point, other: _Point) -> None:
        self._of[self._root(one)] = self._root(other)


def _on(point: _Point, start: _Point, end: _Point) -> bool:
    (px, py), (ax, ay), (bx, by) = point, start, end
    beside = abs((bx - ax) * (py - ay) - (by - ay) * (px - ax)) > 1e-3
    return not beside and min(ax, bx) <= px <= max(ax, bx) and min(ay, by) <= py <= max(ay, by)


def _tree(text: str, source: str, head: str) -> _List:
    try:
        tree = sexpdata.loads(text, true=None, nil=None, false=None)
    except Exception as wrong:  # its reader raises whatever comes of text that ends too soon
        raise _trouble(
            "NL102", source, "This is no whole S-expression: a bracket or a quote is missing",
            "Export it again from KiCad",
        ) from wrong  # fmt: skip
    if not isinstance(tree, list) or not tree or _text(tree[0]) != head:
        raise _trouble(
            "NL102", source, f"This S-expression does not begin with '({head}'",
            "Give a netlist (.net) or schematic (.kicad_sch) of KiCad, or a SPICE netlist",
        )  # fmt: skip
    return tree


def _sheet(components: tuple[Component, ...], title: str, source: str) -> Sheet:
    if not components:
        raise _trouble(
            "NL104", source, "This netlist holds no component", "Give one that names parts"
        )
    return Sheet(source, title, components)


def _all(tree: _List, head: str) -> list[_List]:
    return [t for t in tree if isinstance(t, list) and t and _text(t[0]) == head]


def _one(tree: _List, head: str) -> _List:
    lists = _all(tree, head)
    return lists[0] if lists else []


def _word(tree: _List, head: str) -> str:
    entry = _one(tree, head)
    return _text(entry[1]) if len(entry) > 1 and not isinstance(entry[1], list) else ""


def _text(atom: Any) -> str:
    return str(atom.value()) if isinstance(atom, sexpdata.Symbol) else str(atom)


def _point(tree: _List) -> _Point:
    return _round((float(tree[1]), float(tree[2])))


def _round(point: _Point) -> _Point:
    return round(point[0], 3) + 0.0, round(point[1], 3) + 0.0


def _by_pin(leg: tuple[str, str]) -> tuple[int, str]:
    return (int(leg[0]), "") if leg[0].isdigit() else (10**6, leg[0])


def _trouble(code: str, source: str, what: str, mend: str) -> TroubleError:
    return TroubleError(Trouble(code, Place(source), what, mend))
