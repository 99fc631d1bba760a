"""The shape of the knowledge files: what a YAML file under `kb/` may say.

One class for each kind of entry, one attribute for each word that it may hold, under it what the
word says. The reference for repairers (`kb/REFERENCE.md`) and the JSON Schemas (`kb/schema`) are
made from these texts. Shares and odds are between 0 and 1, minutes are bench minutes.
"""

from kb.language.schema.bench import (
    ActionWord,
    ArrangementEntry,
    DoingWord,
    Instrument,
    MethodEntry,
    ReachWord,
)
from kb.language.schema.intake import CautionEntry, ComplaintEntry, EntryCheck
from kb.language.schema.kinds import (
    Found,
    Mode,
    PartKind,
    PublishedShares,
    StageKind,
    SymbolEntry,
    Variant,
)
from kb.language.schema.rules import (
    Clause,
    DoctrineNumber,
    Doubt,
    DutyWord,
    FactKind,
    Narrowing,
    PlaceWord,
    Quantity,
    Rule,
    SceneWord,
)
from kb.language.schema.unit import (
    BoardFact,
    OpeningFact,
    PartFact,
    PointFact,
    StageFact,
    Topology,
)
from kb.language.schema.unopened import (
    Appearance,
    ClosedRig,
    ClosedTest,
    Look,
    OuterFault,
    Unopened,
)

__all__ = [
    "ActionWord",
    "Appearance",
    "ArrangementEntry",
    "BoardFact",
    "CautionEntry",
    "Clause",
    "ClosedRig",
    "ClosedTest",
    "ComplaintEntry",
    "DoctrineNumber",
    "DoingWord",
    "Doubt",
    "DutyWord",
    "EntryCheck",
    "FactKind",
    "Found",
    "Instrument",
    "Look",
    "MethodEntry",
    "Mode",
    "Narrowing",
    "OpeningFact",
    "OuterFault",
    "PartFact",
    "PartKind",
    "PlaceWord",
    "PointFact",
    "PublishedShares",
    "Quantity",
    "ReachWord",
    "Rule",
    "SceneWord",
    "StageFact",
    "StageKind",
    "SymbolEntry",
    "Topology",
    "Unopened",
    "Variant",
]
