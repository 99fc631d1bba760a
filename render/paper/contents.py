"""What stands on the sheets beside the flowchart, in the order it is read."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from enum import Enum

from render.layout import panels
from render.layout.panels import Facts, Leaf
from render.paper import backmatter, frontmatter, howmatter, whereabouts
from render.wording.equipment import Needs, have_ready
from render.wording.script import Script
from render.wording.seldom import left_to_booklet


class Extra(Enum):
    """Parts of the chart that can be left out.

    The record is left out unless it is asked for. Title block, general caution, what holds at every
    repair, and the signal words and hazards at the steps are none of them.
    """

    USE = "use"
    ENTRY = "entry"
    MAKE_SAFE = "make-safe"
    CAUTIONS = "cautions"
    BLOCKS = "blocks"
    WHERE = "where"
    POINTS = "points"
    READINGS = "readings"
    INSTRUMENTS = "instruments"
    HOW = "how"
    LEGEND = "legend"
    INSTEAD = "instead"
    FAULTS = "faults"
    PROOFS = "proofs"
    SOURCES = "sources"
    RECORD = "record"


Extras = frozenset[Extra]


class Edition(Enum):
    """What a chart is printed for: to hang before the eyes, or to lie open beside the bench.

    The wall has the flowchart with what keeps safe at it, and leaves its most seldom ways and all
    that is looked up to the booklet, which has everything.
    """

    WALL = "wall"
    BOOKLET = "booklet"

    @property
    def leaves_out(self) -> Extras:
        """The parts that are left to the other edition."""
        return _LOOKED_UP if self is Edition.WALL else frozenset()

    def script_of(self, script: Script) -> Script:
        """The script with what the edition draws of it."""
        return left_to_booklet(script, _SELDOM) if self is Edition.WALL else script


# Two units in a hundred look their way up in the booklet; our choice. The rarest half of the steps
# is what they take.
_SELDOM = 0.02


_LOOKED_UP = frozenset(
    {
        Extra.USE, Extra.BLOCKS, Extra.WHERE, Extra.POINTS, Extra.READINGS, Extra.INSTRUMENTS,
        Extra.HOW, Extra.INSTEAD, Extra.FAULTS, Extra.SOURCES,
    }
)  # fmt: skip
_PART_OF = {"notes": Extra.LEGEND, "going-on": Extra.FAULTS}


def told_before(first: Script, second: Script) -> Extras:
    """What the second START's sheets need not tell, for the first one's do, word for word."""
    extras = {Extra.USE, Extra.ENTRY, Extra.BLOCKS, Extra.WHERE, Extra.POINTS, Extra.SOURCES}
    here, there = _common(second), _common(first)
    extras.update(extra for extra, mine in here.items() if set(mine) <= set(there[extra]))
    return frozenset(extras)


def _common(script: Script) -> Mapping[Extra, Sequence[object]]:
    """What panels tell that both STARTs may have in common."""
    model, chart = script.model, script.chart
    return {
        Extra.INSTRUMENTS: have_ready(model, Needs.of(model, chart)),
        Extra.HOW: tuple(howmatter.how_leaves(model, chart)),
        Extra.CAUTIONS: [caution["id"] for caution in script.cautions],
        Extra.PROOFS: [proof["id"] for proof in script.proofs],
    }


def beside_the_flow(
    script: Script, facts: Facts, left_out: Extras, link: str = ""
) -> list[Leaf]:
    """Panels that belong on the flowchart's own sheet; `link` is the address of its walk."""
    return _remaining(
        (
            panels.title_block(script, facts),
            panels.link(link),
            panels.general(),
            panels.every_repair(script),
            panels.legend(script),
            panels.notes(script),
        ),
        left_out,
    )


def before_the_flow(script: Script, left_out: Extras) -> list[Leaf]:
    """Panels to read before the flowchart."""
    return _remaining(
        (
            frontmatter.use(),
            frontmatter.entry_check(script),
            frontmatter.make_safe(script),
            frontmatter.cautions(script),
            howmatter.ready(script.model, script.chart),
            frontmatter.block_diagram(script),
            *whereabouts.leaves(script.model),
            frontmatter.points(script),
            frontmatter.readings(script),
            frontmatter.names(script),
            frontmatter.again(script),
            *howmatter.how_leaves(script.model, script.chart),
        ),
        left_out,
    )


def after_the_flow(script: Script, left_out: Extras) -> list[Leaf]:
    """Panels to read after the flowchart."""
    return _remaining(
        (
            backmatter.ways_on(script),
            backmatter.going_on(script),
            backmatter.faults(script),
            backmatter.proofs(script),
            backmatter.sources(script),
            backmatter.record(script),
        ),
        left_out,
    )


def around_the_graph(script: Script, left_out: Extras) -> list[Leaf]:
    """Panels without which the words of a plain graph can't be followed safely."""
    return _remaining(
        (
            panels.general(),
            panels.every_repair(script),
            frontmatter.entry_check(script),
            frontmatter.make_safe(script),
            frontmatter.cautions(script),
            backmatter.ways_on(script),
            backmatter.proofs(script),
        ),
        left_out,
    )


def _remaining(leaves: Iterable[Leaf | None], left_out: Extras) -> list[Leaf]:
    kinds = {extra.value for extra in left_out}
    kinds |= {kind for kind, whole in _PART_OF.items() if whole in left_out}
    return [leaf for leaf in leaves if leaf and leaf.kind not in kinds]
