"""Drafting a topology: from a few words about a unit to one that passes every check.

A draft is a `kb.language.schema.Topology`; each function here gives a changed one. What a person
leaves out is filled from how other topologies are built: the parts that stand in the same place
there.
"""

from engine.drafting.draft import (
    Lies,
    begin,
    check,
    fill,
    free_designator,
    inside,
    like,
    parts_without_value,
    passes,
    point_words,
    with_access,
    with_board,
    with_lies,
    with_link,
    with_opening,
    with_part,
    with_point,
    with_proposal,
    with_stage,
    with_usual_points,
    without,
)
from engine.drafting.proposals import Proposal, designator, proposals
from engine.drafting.remarks import remarks

__all__ = [
    "Lies",
    "Proposal",
    "begin",
    "check",
    "designator",
    "fill",
    "free_designator",
    "inside",
    "like",
    "parts_without_value",
    "passes",
    "point_words",
    "proposals",
    "remarks",
    "with_access",
    "with_board",
    "with_lies",
    "with_link",
    "with_opening",
    "with_part",
    "with_point",
    "with_proposal",
    "with_stage",
    "with_usual_points",
    "without",
]
