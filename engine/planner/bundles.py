"""Points brought out together: leads clipped on in one unplugged turn, read in one powered turn.

A lead is an opening like any other: made once, unplugged, and it stays. A plan makes openings when
a test needs them; with leads it may also pay to bring out more than the test at hand needs, as
going dead for one lead after another costs more than the leads do. What may be brought out at once
is a bundle; it goes with a test that is read over one of its leads.
"""

from __future__ import annotations

from collections.abc import Mapping
from itertools import combinations

from engine.model.records import Model

LEAD = "lead"
MOST_IN_FULL = 2
"""Leads up to which every set of them is a bundle; of more, those within equal reach together with
all that are nearer."""


def leads_of(model: Model, bit: Mapping[str, int]) -> int:
    """The leads among the openings, as a bit mask."""
    return sum(bit[opening.id] for opening in model.openings if opening.kind == LEAD)


def bundles(model: Model, bit: Mapping[str, int], needs: list[int], leads: int) -> list[int]:
    """Sets of leads that may be brought out at once, as bit masks; the first is empty.

    Only leads that some test asks for count.
    """
    needed_bits = 0
    for need in needs:
        needed_bits |= need
    lead_openings = [o for o in model.openings if bit[o.id] & leads & needed_bits]
    nearest = sorted(lead_openings, key=lambda o: o.minutes)
    if len(nearest) <= MOST_IN_FULL:
        sets = [c for n in range(2, len(nearest) + 1) for c in combinations(nearest, n)]
    else:
        ends = [n for n in range(2, len(nearest)) if nearest[n - 1].minutes < nearest[n].minutes]
        sets = [tuple(nearest[:n]) for n in (*ends, len(nearest))]
    return [0, *(sum(bit[opening.id] for opening in subset) for subset in sets)]
