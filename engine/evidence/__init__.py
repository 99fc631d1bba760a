"""Readings as evidence: what a number on a meter says of each fault, not only which band it is in.

**One unit, one design.** A dictionary holds what sampled units of a family read; each is a design
of its own. Belief is over fault and design together, so that all readings of a unit are weighed as
one unit's: the law stands in `joint`. An offset of the design counts once, a test done again counts
once, and the order of answers does not matter.

**The law of one test.** Under fault f and design n, read x in band b:

    p(x|f,n) = [w d(x|f,n) + (1-w) P(b|f) g(x|b,f)] (1 - m(b))
               + sum over other bands o of [w D(o|f,n) + (1-w) P(o|f)] m(o -> b) u(x|b) r(x,b)

with P the rules' odds of a band, d the density around what design n was simulated to read and D its
odds of a band, g the fault's simulated readings cut to the band and normalised, u a blind guess cut
to the band, m the test's misreads, r the density of all faults' readings in the band over that of
the blind guess, 1 at most: who misreads is no likelier than who reads right to tell a number that
no unit shows. To the rules a number is its band and nothing more: where in it a number lies is left
to g, which borrows from the readings of all faults as far as a fault's own hold little of the band,
so that neither does what was not simulated gain from an unusual number nor what was from one that
none of its units shows. Integrated over a band this is, but for r, the told row of
`engine.readings.belief` with the two words mixed; within some 5 % of a cut the bands' laws pass
into each other, since a rule's cut is no edge of nature. w is `CIRCUIT_WORD` where the dictionary
has read the cell, and 0 elsewhere and where the circuit's data argues that it can't speak for the
cell. A test that is only watched has odds in place of densities, and w is `WATCHED_WORD`.

**The unlisted design.** One column stands for every design that was not sampled: it reads like any
of them, several times as widely spread, and there the rules count for half; and with
`UNLISTED_OTHERWISE` it shows, under a fault, what the test shows under any: another maker's circuit
may light where all of these stay dark. So a fault pays once for a design that acts otherwise, and
little more for each further test that says the same. Before anything was read it has `UNLISTED` of
the odds, and half of them once a part is marked as in none of the others.

**What is known of the unit** weighs the designs (`make`), and moves their readings (`following`):
what a fault leaves alike is what a good unit of the make reads, to within the tolerance of parts,
and the rules' word for a sound unit stands where that one reads.

**The density** around a reading is a Student kernel (three degrees of freedom), as wide as meter,
mains and sampling are uncertain, and `SURPRISE` of a broad background, so that a surprise rules
nothing out: spread within the bands that the rules let the fault show, since another maker's part
reads another number, and no maker's shorted one megohms. It lives on the scale asinh(x/bend):
linear within the last digits around zero, logarithmic above, as tolerances are. Over range is a
mass of its own; where a circuit shows it, an ohm range may still find a path through a chip's pins
(`CHIP_PATH`).

Words of a measured test count as the model's row. An answer costs O(faults x designs). Kernel
mixtures: M. Rosenblatt, Ann. Math. Stat. 27 (1956); their width: B. W. Silverman, Density
Estimation (1986), 3.4.2; weighing two experts' words by a fixed share: the linear opinion pool,
M. Stone, Ann. Math. Stat. 32 (1961).

`scale` bends readings, `density` is the mixture, `make` weighs the designs by what is known of this
very unit, `following` moves their readings by it, `witness` says what each design reads in one
model, `table` lays a test out over faults and designs, `joint` weighs answers, `cuts` puts a
model's cut points where the densities part.
"""

from engine.evidence.joint import Joint, Take, Testimony
from engine.evidence.make import Make, NothingKnown
from engine.evidence.witness import CIRCUIT_WORD, Witness, load_witness, witness

__all__ = [
    "CIRCUIT_WORD",
    "Joint",
    "Make",
    "NothingKnown",
    "Take",
    "Testimony",
    "Witness",
    "load_witness",
    "witness",
]
