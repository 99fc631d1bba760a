"""How often do suggestions from the owner's own words hit, on texts of real intake desks?

    python -m tests.bench.owners_words FILE

FILE is a CSV with `text` and `complaint_labels` (`;`-separated, most telling first); beside it
NAME_draw.csv may tell each row's `draw` and the kind of an `other` complaint. The data stays where
it is: only figures come out. Three ways, each by five folds: the shipped sentences and settings;
settings chosen anew on the other four folds; the other folds' texts as sentences on top.
"""

from __future__ import annotations

import csv
import itertools
import sys
from collections import Counter, defaultdict
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from engine.intake.suggestion import Listener, Settings
from kb.language.ownerswords import ours

FOLDS = 5
SILENT = ("unclear", "other")
ATTRIBUTION = (
    "Contains figures derived from Open Repair Data, compiled by the Open Repair Alliance from its "
    "partners (Repair Cafe Wales, The Restart Project, Repair Café International, Fixit Clinic, "
    "Repair Connects, Repair Café Toronto, Repair Café Denmark, anstiftung), CC BY-SA 4.0; "
    "sampled, scrubbed and labelled."
)


@dataclass(frozen=True, slots=True)
class Row:
    """A text, its complaints (the most telling first), and how it was drawn."""

    text: str
    labels: tuple[str, ...]
    draw: str


@dataclass(slots=True)
class Tally:
    """Counts of one way on one draw."""

    rows: int = 0
    first: int = 0
    three: int = 0
    silent: int = 0
    silent_rows: int = 0

    def line(self) -> str:
        """As a row of the table."""
        shares = [count / max(1, self.rows) for count in (self.first, self.three)]
        return (
            f"{self.rows:>5} {shares[0]:>7.1%} {shares[1]:>7.1%}   "
            f"{self.silent} of {self.silent_rows}"
        )


def rows(file: Path) -> Iterator[Row]:
    """The rows of the data; a kind of `other` that there are sentences for counts as a label."""
    beside = file.with_name(f"{file.stem}_draw.csv")
    kinds = {saying.complaint for saying in ours().complaints}
    draws = {}
    if beside.is_file():
        with beside.open(encoding="utf-8", newline="") as stream:
            draws = {row["id"]: row for row in csv.DictReader(stream)}
    with file.open(encoding="utf-8", newline="") as stream:
        for row in csv.DictReader(stream):
            draw = draws.get(row["id"], {})
            other = draw.get("other_complaint", "").split(";")[0].strip()
            labels = [
                other if label == "other" and other in kinds else label
                for label in row["complaint_labels"].split(";")
            ]
            yield Row(row["text"], tuple(labels), draw.get("draw", "all"))


def folds(data: Sequence[Row]) -> Iterator[tuple[list[Row], list[Row]]]:
    """What is learnt from and what is tried, five times; each label is spread over the folds."""
    order = sorted(range(len(data)), key=lambda n: (data[n].labels[0], n))
    for fold in range(FOLDS):
        held = set(order[fold::FOLDS])
        yield [r for n, r in enumerate(data) if n not in held], [data[n] for n in sorted(held)]


def as_shipped(_learn: Sequence[Row]) -> Listener:
    """Nothing is learnt from the data."""
    words = ours()
    return Listener(words.complaints, words.neutral, quiet=words.quiet)


def settings_anew(learn: Sequence[Row]) -> Listener:
    """The settings that hit most on the other folds."""
    words = ours()
    choices = [
        Settings(usual=usual, share=share, temper=temper, later=later)
        for usual, share, temper, later in itertools.product(
            (12.0, 30.0, 60.0), (0.3, 0.5, 0.8), (0.3, 0.4, 0.6), (0.5, 0.7, 1.0)
        )
    ]
    listeners = [
        Listener(words.complaints, words.neutral, choice, words.quiet) for choice in choices
    ]

    def hits(listener: Listener) -> int:
        tally, _ = heard(listener, learn)
        return sum(one.first + one.three for one in tally.values())

    return max(listeners, key=hits)


def sentences_on_top(learn: Sequence[Row]) -> Listener:
    """The other folds' texts count as sentences of their first label."""
    words = ours()
    texts = defaultdict(list)
    for row in learn:
        texts[row.labels[0]].append(row.text)
    sayings = [
        saying.model_copy(update={"sentences": (*saying.sentences, *texts[saying.complaint])})
        for saying in words.complaints
    ]
    return Listener(sayings, words.neutral, quiet=words.quiet)


def heard(
    listener: Listener, data: Sequence[Row]
) -> tuple[dict[str, Tally], Counter[tuple[str, str]]]:
    """Tallies by draw, and first labels with what came first in their place."""
    tallies: dict[str, Tally] = defaultdict(Tally)
    confusions: Counter[tuple[str, str]] = Counter()
    for row in data:
        tally = tallies[row.draw]
        names = [one.complaint for one in listener.hear(row.text)]
        if row.labels[0] in SILENT:
            tally.silent_rows += 1
            tally.silent += not names
            continue
        tally.rows += 1
        tally.first += names[:1] == [row.labels[0]]
        tally.three += row.labels[0] in names
        if names[:1] != [row.labels[0]]:
            confusions[row.labels[0], names[0] if names else "nothing"] += 1
    return tallies, confusions


def crossed(
    data: Sequence[Row], way: Callable[[Sequence[Row]], Listener]
) -> tuple[dict[str, Tally], Counter[tuple[str, str]]]:
    """One way over all folds."""
    tallies: dict[str, Tally] = defaultdict(Tally)
    confusions: Counter[tuple[str, str]] = Counter()
    for learn, held in folds(data):
        part, wrong = heard(way(learn), held)
        confusions += wrong
        for draw, tally in part.items():
            for name in Tally.__slots__:
                setattr(tallies[draw], name, getattr(tallies[draw], name) + getattr(tally, name))
    return tallies, confusions


def main(file: Path) -> None:
    """Print the tables."""
    data = tuple(rows(file))
    print(f"{'way':<20} {'draw':<9} {'rows':>5} {'first':>7} {'of 3':>7}   rightly nothing")
    for way in (as_shipped, settings_anew, sentences_on_top):
        tallies, confusions = crossed(data, way)
        for draw in sorted(tallies, reverse=True):
            print(f"{way.__name__:<20} {draw:<9} {tallies[draw].line()}")
        if way is as_shipped:
            worst = confusions.most_common(12)
    print("\nTold, and what came first in its place (as shipped):")
    for (told, first), count in worst:
        print(f"{count:>4}  {told} as {first}")
    print(f"\n{ATTRIBUTION}")


if __name__ == "__main__":
    main(Path(sys.argv[1]))
