"""Thousands of simulated diagnoses: the printed chart and the walk against fixed orders of checks.

Builds on `engine.studies.trial`, whose rules of the game hold: a unit has one fault, drawn by the
priors, and one true outcome for each test; each reading of it is mistaken anew, by the model's
misreads times a factor. Besides, a test may turn out not to be possible on this unit (`skips`): on
paper the person then goes on by the line that the test shows most often, the walk plans without it,
a fixed order passes over it.

Who works by a fixed order reasons as well as anyone: the odds are weighed by Bayes' rule after each
reading, a test that can tell nothing more is left out, and work ends when one remedy is likely
enough or nothing is left to do. Only the order of the checks is not planned. The same units are
given to all.

- old hand's order: from outside in, by the unit's structure (`engine.studies.contest.oldhand`);
  the only one that stops where a further check costs more than being wrong, and stays in a rig;

- p/c order: odds that a check finds something, over its minutes, greatest first (J. B. Kadane and
  H. A. Simon 1977); optimal for decisive checks of one fault each, which these are not;
- half-split: always at the test point nearest to the middle of the stages still suspected (NEETS
  module 19, NAVEDTRA 14191), then by p/c;
- nearest first: what needs the least opening, then the quickest: the order of habit.
"""

from engine.studies.contest.oldhand import OldHand
from engine.studies.contest.orders import HinderedUnit, Order, Remedies, Walking
from engine.studies.contest.tally import Bout, Confusion, Contest, contest, wilson
from engine.studies.contest.ways import ORDERS

__all__ = [
    "ORDERS",
    "Bout",
    "Confusion",
    "Contest",
    "HinderedUnit",
    "OldHand",
    "Order",
    "Remedies",
    "Walking",
    "contest",
    "wilson",
]
