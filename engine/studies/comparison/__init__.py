"""What a change of knowledge does, for whoever reviews it.

- `sides` finds the two bodies of knowledge: what is shipped, a folder, a git revision;
- `entries` tells which rules, parts, words ... came, went or changed, safety apart from the rest;
- `effects` deduces and plans every unit with both, and tells what that does: faults, tests,
  minutes, first steps, verdicts, cautions.
"""

from engine.studies.comparison.effects import Effect, Move, effects
from engine.studies.comparison.entries import Change, changes
from engine.studies.comparison.sides import Side, side

__all__ = ["Change", "Effect", "Move", "Side", "changes", "effects", "side"]
