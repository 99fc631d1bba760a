"""How a plan fares when readings are mistaken and priors are wrong.

A plan is proved for true readings and for the model's own priors. Here it meets misreads (the
model's `misread`) and other worlds (priors drawn around the model's):

- `outlook` follows a plan through every reading a person may tell, mistaken or not, and gives for
  each fault the expected minutes, cost and odds of the right remedy: exact, no chance involved.
- `confirms` says where doing a test once more before a remedy pays under misreads, and what the
  plan then costs: steps put after the proved plan, which itself stays as it is; `confirm_keys`
  writes them out for the chart document.
- `document_with_confirm` is the chart document with them.
- `worth_repeating` says the same in a walk, from the posterior: which test to do again before the
  remedy, and what that saves.
- `confirmed_outlook` is the outlook with those steps.
- `try_chart` and `try_replanning` let chance play both ways of working, unit by unit, seeded; the
  first agrees with `outlook` within its standard error, the second has no closed form.
- `ranges` prices a plan on other benches, minutes and shares drawn within their ranges, against the
  best plan there; `sturdy_plan` takes the plan that loses least of those within a hundredth.
- `robustness` puts it together over worlds whose priors are Dirichlet draws around the model's.

Rules of the game, the same everywhere. A unit has one fault and one true outcome for each test;
each reading of it is mistaken anew. An answer the chart has no place for (`recheck`) is read once
more; if that does not help, the job is undecided and costs the wrong-verdict minutes. An answer
known from before is not asked for again.
"""

from engine.chart.confirm import Confirm, Confirmation, confirmed_outlook, confirms
from engine.chart.confirmed import confirm_keys, document_with_confirm
from engine.chart.outlook import Outlook, outlook
from engine.studies.trial.ranges import Loss, Ranges, Sturdy, ranges, sturdy_plan
from engine.studies.trial.robustness import Fare, Robustness, Spread, robustness
from engine.studies.trial.simulation import Tally, try_chart, try_replanning
from engine.walk.repetition import Repetition, worth_repeating

__all__ = [
    "Confirm",
    "Confirmation",
    "Fare",
    "Loss",
    "Outlook",
    "Ranges",
    "Repetition",
    "Robustness",
    "Spread",
    "Sturdy",
    "Tally",
    "confirm_keys",
    "confirmed_outlook",
    "confirms",
    "document_with_confirm",
    "outlook",
    "ranges",
    "robustness",
    "sturdy_plan",
    "try_chart",
    "try_replanning",
    "worth_repeating",
]
