"""A bench that answers and answers until it is killed: `python -m tests.cases.writer SHOP`.

Each line on standard output is an acknowledgement: the case's number, and how many answers it has
been told so far.
"""

from __future__ import annotations

import sys
from datetime import UTC, datetime

from engine.cases.opening import open_shop
from tests.cases.intakes import answer, intake, standing


def main(place: str) -> None:
    """Answer without end."""
    shop = open_shop(place, who="writer", clock=lambda: datetime.now(UTC))
    number, version = shop.begin(intake())
    events = []
    while True:
        events.append(answer(f"test {len(events)}", "1 V"))
        version = shop.keep(number, version, standing(events))
        sys.stdout.write(f"{number} {len(events)}\n")
        sys.stdout.flush()


if __name__ == "__main__":
    main(sys.argv[1])
