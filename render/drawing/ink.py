"""What stands on a sheet, in plain mm from its top left corner: the record `place` hands on.

Drawing and measuring read these records and nothing else, so that "every word in its box" can be
tested without making a PDF.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import pairwise


@dataclass(frozen=True, slots=True)
class Box:
    """A rectangle, mm; y grows downwards."""

    x: float
    y: float
    w: float
    h: float

    @property
    def right(self) -> float:
        """x of the right edge."""
        return self.x + self.w

    @property
    def bottom(self) -> float:
        """y of the lower edge."""
        return self.y + self.h

    @property
    def area(self) -> float:
        """Area in mm²."""
        return self.w * self.h

    def move(self, dx: float, dy: float) -> Box:
        """The same rectangle elsewhere."""
        return Box(self.x + dx, self.y + dy, self.w, self.h)

    def grow(self, by: float) -> Box:
        """The rectangle with `by` mm more on every side."""
        return Box(self.x - by, self.y - by, self.w + 2 * by, self.h + 2 * by)

    def overlaps(self, other: Box, slack: float = 0.0) -> bool:
        """Whether the two share more than a strip `slack` mm wide."""
        return (
            min(self.right, other.right) - max(self.x, other.x) > slack
            and min(self.bottom, other.bottom) - max(self.y, other.y) > slack
        )

    def holds(self, other: Box, slack: float = 0.0) -> bool:
        """Whether `other` lies inside, give or take `slack` mm."""
        return (
            other.x >= self.x - slack
            and other.y >= self.y - slack
            and other.right <= self.right + slack
            and other.bottom <= self.bottom + slack
        )


@dataclass(frozen=True, slots=True)
class Words:
    """A stretch of type: left end and baseline, type size in mm, width as measured."""

    x: float
    y: float
    size: float
    text: str
    width: float
    bold: bool = False
    ink: str = "#000000"

    @property
    def box(self) -> Box:
        """The box from ascender to descender."""
        return Box(self.x, self.y - 0.735 * self.size, self.width, 0.94 * self.size)

    def move(self, dx: float, dy: float) -> Words:
        """The same words elsewhere."""
        return Words(
            self.x + dx, self.y + dy, self.size, self.text, self.width, self.bold, self.ink
        )


@dataclass(frozen=True, slots=True)
class Stroke:
    """A shape as SVG path segments: (command, numbers...), absolute coordinates in mm."""

    path: tuple[tuple[str | float, ...], ...]
    weight: float = 0.35
    ink: str = "#000000"
    fill: str = "none"
    dash: tuple[float, ...] = ()

    def move(self, dx: float, dy: float) -> Stroke:
        """The same shape elsewhere."""
        path = tuple(_shift(segment, dx, dy) for segment in self.path)
        return Stroke(path, self.weight, self.ink, self.fill, self.dash)


def _shift(segment: tuple[str | float, ...], dx: float, dy: float) -> tuple[str | float, ...]:
    if len(segment) == 3:
        command, x, y = segment
        return (command, float(x) + dx, float(y) + dy)
    command, *numbers = segment
    if command == "A":
        *arc, x, y = numbers
        return (command, *arc, float(x) + dx, float(y) + dy)
    places = [float(n) + (dx if i % 2 == 0 else dy) for i, n in enumerate(numbers)]
    return (command, *places)


@dataclass(frozen=True, slots=True)
class Symbol:
    """A flowchart symbol: outline, signs and words.

    `node` is the chart document's node (or a name of our own for start and connectors);
    `kind` names the ISO 5807 symbol. `link` is the anchor a connector leads to, `anchor` its own.
    """

    node: str
    kind: str
    box: Box
    outline: Stroke
    words: tuple[Words, ...] = ()
    signs: tuple[Stroke, ...] = ()
    room: tuple[Box, ...] = ()
    link: str = ""
    anchor: str = ""
    shift: tuple[float, float] = (0.0, 0.0)

    def move(self, dx: float, dy: float) -> Symbol:
        """The same symbol elsewhere; only its box goes there until it is `at_rest`.

        A layout moves symbols far more often than it draws them.
        """
        sx, sy = self.shift
        return Symbol(
            self.node, self.kind, self.box.move(dx, dy), self.outline, self.words, self.signs,
            self.room, self.link, self.anchor, (sx + dx, sy + dy),
        )  # fmt: skip

    def at_rest(self) -> Symbol:
        """The symbol with outline, signs, words and room where its box stands."""
        dx, dy = self.shift
        return Symbol(
            self.node,
            self.kind,
            self.box,
            self.outline.move(dx, dy),
            tuple([w.move(dx, dy) for w in self.words]),
            tuple([s.move(dx, dy) for s in self.signs]),
            self.rooms(),
            self.link,
            self.anchor,
        )

    def rooms(self) -> tuple[Box, ...]:
        """Where its words may stand, moved along with its box."""
        dx, dy = self.shift
        return tuple([b.move(dx, dy) for b in self.room])


@dataclass(frozen=True, slots=True)
class Flow:
    """A flow line from one node to another through `points`; an arrowhead at its end if asked."""

    start: str
    end: str
    points: tuple[tuple[float, float], ...]
    head: bool = True

    def move(self, dx: float, dy: float) -> Flow:
        """The same line elsewhere."""
        return replace(self, points=tuple((x + dx, y + dy) for x, y in self.points))


@dataclass(frozen=True, slots=True)
class Label:
    """The outcomes that take a branch, beside the line from `start` to `end`."""

    start: str
    end: str
    box: Box
    words: tuple[Words, ...]
    outcomes: tuple[str, ...] = ()

    def move(self, dx: float, dy: float) -> Label:
        """The same label elsewhere."""
        return replace(
            self, box=self.box.move(dx, dy), words=tuple(w.move(dx, dy) for w in self.words)
        )


@dataclass(frozen=True, slots=True)
class Panel:
    """A framed text beside the flowchart: title block, legend, cautions, tables.

    The first `heading` of its words are those of the title. Where the rest is a table, `rows` says
    how many words each cell has, in turn, the row that names the columns first; a row of one cell
    goes across all columns.
    """

    kind: str
    title: str
    box: Box
    words: tuple[Words, ...]
    strokes: tuple[Stroke, ...] = ()
    anchors: tuple[tuple[str, float], ...] = ()
    heading: int = 0
    rows: tuple[tuple[int, ...], ...] = ()

    def move(self, dx: float, dy: float) -> Panel:
        """The same panel elsewhere."""
        return replace(
            self,
            box=self.box.move(dx, dy),
            words=tuple(w.move(dx, dy) for w in self.words),
            strokes=tuple(s.move(dx, dy) for s in self.strokes),
            anchors=tuple((name, y + dy) for name, y in self.anchors),
        )


@dataclass(frozen=True, slots=True)
class Drawing:
    """A part of the flowchart: symbols, lines and labels within `width` x `height` mm."""

    width: float
    height: float
    symbols: tuple[Symbol, ...] = ()
    flows: tuple[Flow, ...] = ()
    labels: tuple[Label, ...] = ()

    def move(self, dx: float, dy: float) -> Drawing:
        """The same drawing elsewhere; width and height stay."""
        return replace(
            self,
            symbols=tuple(s.move(dx, dy) for s in self.symbols),
            flows=tuple(f.move(dx, dy) for f in self.flows),
            labels=tuple(la.move(dx, dy) for la in self.labels),
        )

    def at_rest(self) -> Drawing:
        """The drawing with all of its symbols settled."""
        return replace(self, symbols=tuple(s.at_rest() for s in self.symbols))

    def boxes(self) -> tuple[Box, ...]:
        """Boxes of everything drawn: symbols, labels and the runs of lines."""
        runs = [
            Box(min(a, c), min(b, d), abs(c - a), abs(d - b))
            for flow in self.flows
            for (a, b), (c, d) in pairwise(flow.points)
        ]
        origins = [room for s in self.symbols if s.kind == "connector" for room in s.rooms()]
        return (
            *(s.box for s in self.symbols),
            *(la.box for la in self.labels),
            *runs,
            *origins,
        )


@dataclass(frozen=True, slots=True)
class Sheet:
    """One sheet of paper with everything on it.

    Where there is a `frame`, drawing and panels are seen through it only; marks and notes stand
    around it.
    """

    number: int
    title: str
    width: float
    height: float
    drawing: Drawing
    panels: tuple[Panel, ...]
    frame: Box | None = None
    marks: tuple[Stroke, ...] = ()
    notes: tuple[Words, ...] = ()


@dataclass(frozen=True, slots=True)
class Sheets:
    """All sheets of one chart with what the file says about itself.

    `rank` counts what had to give way for want of room (0: nothing); `least` is a lower bound on
    the sheets that the flowchart takes in these words and this type. `hops` is how often one goes
    on to another sheet from START to a verdict, on average, and `least_hops` a bound below it.
    `tiles_of` is the paper that the sheets are tiles of.
    """

    title: str
    language: str
    sheets: tuple[Sheet, ...]
    capital: float
    hands_capital: float
    paper: str
    date: str
    rank: int = 0
    least: int = 1
    hops: float = 0.0
    least_hops: float = 0.0
    tiles_of: str = ""

    @property
    def says(self) -> str:
        """How many sheets of which paper, and how few the flowchart could take at best."""
        if self.tiles_of:
            maps = sum(not sheet.frame for sheet in self.sheets)
            return (
                f"{len(self.sheets) - maps} tiles of {self.paper} for {maps} "
                f"sheet{'s' if maps > 1 else ''} of {self.tiles_of}, key map first."
            )
        flow = sum(bool(sheet.drawing.flows) for sheet in self.sheets)
        count = f"{len(self.sheets)} sheet{'s' if len(self.sheets) > 1 else ''} of {self.paper}"
        if flow <= self.least:
            proof = f"its flowchart can't take fewer than {flow}" if flow > 1 else ""
        else:
            proof = (
                f"its flowchart takes {flow}; no fewer than {self.least} could hold it in this type"
            )
        if self.hops:
            proof += f"; {self.hops:.2f} goings-on to another sheet on average"
            proof += f", no fewer than {self.least_hops:.2f} in this type"
        return f"{count}; {proof}." if proof else f"{count}."
