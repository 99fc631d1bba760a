"""What may be typed at any time, in lines."""

from __future__ import annotations

HELP = (
    ("answer", "by its letter, its first words, or the reading itself: 3.1 V, 4k7, OL, 0.6..0.7"),
    ("why", "(w) what this question would tell apart, with odds and minutes"),
    ("how", "(h) how do you know: the readings and rules behind the present odds"),
    ("can't", "(x) this can't be done here: the test, or an opening, a supply or a rig it needs"),
    ("undo", "(u) take the last thing said back; what was done to the bench stays done"),
    ("more", "all there is to this step or verdict: how, with what, where the fault may be"),
    ("proofs", "at the verdict: what proves the repair, with limits"),
    (
        "known",
        "(k) I already know that: give any test's answer, in any order; or a marking read "
        "off the unit, as known R2=330k; or how it is built: known L1=none, L1=fitted, "
        "C2=electrolytic",
    ),
    (
        "worth",
        "is it worth going on: minutes and money to a verdict and a proven repair, when to stop; "
        "worth unit=12 minute=0.3 parts=1 U1=2.50 tells what things are worth",
    ),
    ("good", "there is a second, working one: what it reads at the point in question"),
    ("traced", "there is a drawing of a stage, on the board or of a unit like it: traced STAGE"),
    ("where", "how a part or test point is known on the board: where R2; alone, all of them"),
    (
        "still",
        "at the verdict: its remedy was carried out and did not help; the walk goes on",
    ),
    ("stop", "(s) save and leave; the way back is told"),
    ("help", "(?) these lines"),
)
