"""The document `nextprobe-reading/1`: what one reading means, for programs."""

from __future__ import annotations

import math
from dataclasses import asdict
from typing import Any

from engine.evidence.meaning import Meaning
from engine.model.records import sha256

FORMAT = "nextprobe-reading/1"


def document(found: Meaning) -> dict[str, Any]:
    """The meaning as a JSON-ready dictionary; numbers in base units, over range as "OL"."""
    model, due, step = found.model, found.due, found.next
    band = due.band
    return {
        "format": FORMAT,
        "topology": model.topology,
        "mains": {"volts": model.mains.volts, "hertz": model.mains.hertz},
        "depth": model.depth,
        "complaint": model.complaint,
        "model_sha256": sha256(model),
        "test": found.test.id,
        "reading": found.answer.reading,
        "outcome": found.answer.outcome,
        "unit": due.unit,
        "due": {
            "low": None if band is None else _number(band.low),
            "high": None if band is None else _number(band.high),
            "good": due.good,
            "says": due.says,
            "source": due.source,
            "good_unit": due.from_good_unit,
            "cuts": [asdict(cut) for cut in found.test.cuts],
            "simulated": None if due.low is None or due.high is None else {
                "as_listed": _number(due.nominal),
                "low": _number(due.low),
                "high": _number(due.high),
            },
            "designs": [
                {"says": says, "marked": list(marked), "reads": _number(reads)}
                for says, marked, reads in due.designs
            ],
        },
        "foreseen": found.foreseen,
        "explanations": [
            {
                "fault": one.fault,
                "before": one.before,
                "after": one.after,
                "fits": one.fits,
                "misread": one.slip,
                "reads": None if one.typical is None else [_number(v) for v in one.typical],
            }
            for one in found.explanations
        ],
        "limits": [
            {"part": one.part, "kept": one.kept, "says": one.says, "source": one.source}
            for one in found.held
        ],
        "usual_check": None if found.drop is None else {
            "across": found.drop.part,
            "due": found.drop.due,
            "low": found.drop.low,
            "high": found.drop.high,
            "tolerance": found.drop.tolerance,
            "bits": found.drop.bits,
            "open_bits": found.drop.open_bits,
            "others": dict(found.drop.others),
        },
        "next": {
            "test": step.test,
            "remedy": step.remedy,
            "minutes": step.minutes,
            "shows": {outcome: p for outcome, _, p in step.shows},
        },
    }  # fmt: skip


def _number(value: float | None) -> float | str | None:
    """A number JSON knows: null where a band has no bound below, "OL" above every range."""
    if value is None or value == -math.inf:
        return None
    return "OL" if value == math.inf else value
