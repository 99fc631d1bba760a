"""The document `nextprobe-reading/1`: what one reading means, for programs."""

from __future__ import annotations

import math
from dataclasses import asdict
from typing import Any

from engine.evidence.meaning import Meaning
from engine.model.records import sha256

FORMAT = "nextprobe-reading/1"


def document(meaning: Meaning) -> dict[str, Any]:
    """The meaning as a JSON-ready dictionary; numbers in base units, over range as "OL"."""
    model, due, step = meaning.model, meaning.due, meaning.next
    band = due.band
    return {
        "format": FORMAT,
        "topology": model.topology,
        "mains": {"volts": model.mains.volts, "hertz": model.mains.hertz},
        "depth": model.depth,
        "complaint": model.complaint,
        "model_sha256": sha256(model),
        "test": meaning.test.id,
        "reading": meaning.answer.reading,
        "outcome": meaning.answer.outcome,
        "unit": due.unit,
        "due": {
            "low": None if band is None else _number(band.low),
            "high": None if band is None else _number(band.high),
            "good": due.good,
            "says": due.says,
            "source": due.source,
            "good_unit": due.from_good_unit,
            "cuts": [asdict(cut) for cut in meaning.test.cuts],
            "simulated": None if due.low is None or due.high is None else {
                "as_listed": _number(due.nominal),
                "low": _number(due.low),
                "high": _number(due.high),
            },
            "designs": [
                {"says": says, "marked": list(markings), "reads": _number(reads)}
                for says, markings, reads in due.designs
            ],
        },
        "foreseen": meaning.foreseen,
        "explanations": [
            {
                "fault": one.fault,
                "before": one.before,
                "after": one.after,
                "fits": one.fits,
                "misread": one.slip,
                "reads": None if one.typical is None else [_number(v) for v in one.typical],
            }
            for one in meaning.explanations
        ],
        "limits": [
            {"part": one.part, "kept": one.is_kept, "says": one.says, "source": one.source}
            for one in meaning.promises
        ],
        "usual_check": None if meaning.drop is None else {
            "across": meaning.drop.part,
            "due": meaning.drop.due,
            "low": meaning.drop.low,
            "high": meaning.drop.high,
            "tolerance": meaning.drop.tolerance,
            "bits": meaning.drop.bits,
            "open_bits": meaning.drop.open_bits,
            "others": dict(meaning.drop.others),
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
