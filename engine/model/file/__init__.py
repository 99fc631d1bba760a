"""Reading a `nextprobe-model/1` document, from us or from elsewhere, into a `Model`.

Every trouble is found before anything is said: the text, then the shape, then what the numbers and
names mean. A document with only the keys of the published format is complete; our further fields
have defaults, and keys we do not know are left alone.

| code | trouble | code | trouble |
|---|---|---|---|
| MD101 | text is not JSON | MD131 | an odd outside 0 to 1 |
| MD102 | a key twice in one object | MD132 | priors do not sum to 1 |
| MD103 | another format | MD133 | a row of odds is missing |
| MD104 | shape: missing key, wrong kind | MD134 | a row does not sum to 1 |
| MD105 | number not finite | MD135 | misread row above 1 |
| MD106 | text that can't be printed | MD136 | `other` with prior zero |
| | | MD138 | manners at odds with the rows |
| MD111 | an id twice | MD137 | no test tells faults apart |
| MD112 | a name nobody answers to | MD141 | test without outcomes |
| MD113 | a word outside its list | MD142 | bands: gap, overlap, open end |
| MD114 | a circle of `after` | MD143 | band without unit, units mixed |
| MD115 | a circle of `variant_of` | MD144 | no readings below the lowest band (note) |
| MD121 | minutes negative or absurd | MD151 | not exactly one dead arrangement |
| MD122 | volts or hertz out of range | MD152 | arrangement breaks a safety rule |
| MD123 | supply minutes missing | MD153 | test that can never be done |
| MD124 | supply minutes at odds with the rule | MD154 | hazard without a caution |
| MD125 | diagonal not zero | MD155 | opening without those before it (note) |
| MD161 | fault that nothing cures | MD156 | live board without its caution (note) |
| MD162 | repair without its proofs | MD157 | store that can't be measured, or not in time |
| MD163 | remedy or proof at odds with its kind | MD158 | measured all the same (note) |
| MD171 | entry questions put in (note) | MD172 | cautions put in or worded (note) |
| MD173 | hands seen where they are (note) | MD174 | arrangement told as shipped (note) |

Supply minutes between two energised arrangements are by definition those through the dead one, and
those of staying are 0: both may be left out and are filled in. So are the cautions that a test's
hazards demand at the step itself, where the document only lists them apart. Notes (`Trouble.grave`
false) do not stop the reading.

**A document is not trusted.** What it may not say of supplies, stores, hands, openings and proofs
(`laws`) is refused; where it says too little (`strictness`) the safer is taken and a note says so.
`recall` reads without all that what this program itself wrote into its cache.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Any

from engine.model.file.access import access_findings
from engine.model.file.filling import complete
from engine.model.file.finding import Finding, Path
from engine.model.file.laws import law_findings
from engine.model.file.names import name_findings
from engine.model.file.odds import odds_findings
from engine.model.file.quantities import quantity_findings
from engine.model.file.strictness import make_strict
from engine.model.file.text import decode, locate, shape
from engine.model.records import Model, document_sha256
from kb.trouble import Trouble, TroubleError

__all__ = ["Reading", "inspect", "read_model", "recall"]

_SHOWN = 40
"""How many troubles are told; for reading alone."""


@dataclass(frozen=True, slots=True)
class Reading:
    """A model, the notes about it (troubles that do not stop the reading) and the document's hash.

    `sha256` is that of the document as given: what a chart drawn from it should carry, so that
    anyone holding the two can see that they belong together.
    """

    model: Model
    notes: tuple[Trouble, ...]
    sha256: str


def read_model(text: str, source: str) -> Model:
    """The model in a JSON text; `source` names the file in messages.

    Raises TroubleError with every grave trouble found (the first 40), each with line and column.
    """
    return inspect(text, source).model


def inspect(text: str, source: str) -> Reading:
    """As `read_model`, with the notes that do not stop the reading."""
    text = text.removeprefix("\ufeff")
    plain, model = _shape(text, source)
    findings = (*_meaning(model), *law_findings(model))
    _stop(findings, text, source)
    model, put_right = make_strict(complete(model))
    notes = _troubles((*findings, *put_right), text, source)
    return Reading(model, notes, document_sha256(plain))


def recall(text: str, source: str) -> Model:
    """The model in a document that this program wrote for itself from checked knowledge.

    TroubleError as `read_model`, where it is damaged.
    """
    _, model = _shape(text, source)
    _stop(tuple(_meaning(model)), text, source)
    return complete(model)


def _shape(text: str, source: str) -> tuple[Any, Model]:
    plain, findings = decode(text)
    _stop(findings, text, source)
    model, findings = shape(text, plain)
    _stop(findings, text, source)
    assert model is not None  # shape gives a model or grave findings
    return plain, model


def _meaning(model: Model) -> Iterator[Finding]:
    yield from name_findings(model)
    yield from quantity_findings(model)
    yield from odds_findings(model)
    yield from access_findings(model)


def _stop(findings: Iterable[Finding], text: str, source: str) -> None:
    grave = tuple(finding for finding in findings if finding.grave)
    if not grave:
        return
    troubles = list(_troubles(grave[:_SHOWN], text, source))
    if len(grave) > _SHOWN:
        rest = Finding("MD104", (), f"there are {len(grave) - _SHOWN} more troubles like these", "")
        troubles.append(rest.trouble(source, (0, 0)))
    raise TroubleError(troubles)


def _troubles(findings: Iterable[Finding], text: str, source: str) -> tuple[Trouble, ...]:
    places: dict[Path, tuple[int, int]] = {}
    for finding in findings:
        if finding.path not in places:
            places[finding.path] = finding.at or locate(text, finding.path)
    return tuple(finding.trouble(source, places[finding.path]) for finding in findings)
