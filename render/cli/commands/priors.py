"""`nextprobe priors`: how often each fault is, by the book, by the shop's cases, and by both."""

from __future__ import annotations

from typing import Annotated

import typer

from render.cli.options import Complaint, Json, Kb, Mains, MainsOption, ShopOption, Topology

_MOST = 20


def priors(
    topology: Topology,
    complaint: Complaint = None,
    mains: MainsOption = Mains.EUROPE,
    kb: Kb = None,
    minutes: Annotated[
        bool, typer.Option("--minutes", help="Tell the minutes of checks, not shares of faults.")
    ] = False,
    shop: ShopOption = None,
    as_json: Json = False,
) -> None:
    """Show what the shop has learnt: shares of faults by the book, the shop and both, with ranges.

    Closed cases with a confirmed fault count, those of other shops by their weight. Walks that are
    kept as cases go by both; charts go by the book.

    Example: nextprobe priors buck-lamp --complaint flicker
    """
    import json
    from dataclasses import asdict

    from engine.cases import learning, lessons
    from render.cli import keeping, learnt
    from render.wording.odds import share

    books = keeping.open_to_read(shop)
    usual, conditional, strength = learnt.models(topology, complaint, mains, kb)
    if minutes:
        paces = learning.paces(conditional, lessons.times(books, topology))
        if as_json:
            print(json.dumps([asdict(pace) for pace in paces], indent=1))
            return
        print(f"{'minutes of a check':<34} {'book':>6} {'shop':>6} {'times':>6} {'both':>6}")
        for pace in paces:
            print(
                f"{pace.test:<34} {pace.book:>6.1f} {pace.median:>6.1f} {pace.times:>6} "
                f"{pace.both:>6.1f}"
            )
        return
    counts = (*lessons.own(books), *lessons.foreign(books))
    rows = learning.shares(usual, conditional, counts, strength)
    if as_json:
        print(json.dumps([asdict(row) for row in rows], indent=1))
        return
    cases = sum(row.cases for row in rows)
    print(f"The book counts as {strength:g} closed cases, the shop has {cases:g} of these.")
    print(f"{'fault':<34} {'book':>7} {'cases':>6} {'both':>7}   between")
    for row in rows[:_MOST]:
        print(
            f"{row.fault:<34} {share(row.book):>7} {row.cases:>6.3g} {share(row.both):>7}   "
            f"{share(row.least)} and {share(row.most)}"
        )
    if len(rows) > _MOST:
        print(f"and {len(rows) - _MOST} more; --json tells all")
