"""Readings as evidence: what a number on a meter says of each fault, not only which band it is in.

**The law.** A measured test whose true reading lies in band b under fault f with the model's odds
P(b|f) (the rules' word) and with the dictionary's odds D(b|f) (the circuit's word, simulated over
designs and tolerances) reads x in b with density

    p(x|f) = [(1-w) P(b|f) + w D(b|f)] (1 - m(b)) g(x|f,b)
           + sum over other bands o of [(1-w) P(o|f) + w D(o|f)] m(o -> b) u(x|b)

with m the test's misreads, g the dictionary's density cut to the band and normalised, u the broad
density cut to the band. Integrated over a band this is the told row of `engine.readings.belief`
with the two words mixed, so that number and outcome never contradict each other; within some 5 % of
a cut the bands' laws pass into each other, since a rule's cut is no edge of nature. w is
`CIRCUIT_WORD` where the dictionary has read the cell and 0 elsewhere, and where the circuit's data
argues that it can't speak for the cell: then the density is the broad one and a number counts as
its band. Without the circuit's word a unit a little off its nominal values, on the other side of a
cut, would be taken for misread; with it the law runs smoothly through the cuts. A test that is only
watched has odds in place of densities: the siblings' shares of each outcome, and w is
`WATCHED_WORD`.

**The density** of a cell is a mixture: a Student kernel (three degrees of freedom) around each
simulated sample, as wide as meter, mains and sampling are uncertain, and `SURPRISE` of a broad
background, so that a surprise rules nothing out. It lives on the scale asinh(x/bend): linear within
the last digits around zero, logarithmic above, as tolerances are. Over range is a mass of its own.

Words of a measured test count as the model's row. An answer costs O(faults x
samples). Kernel mixtures: M. Rosenblatt, Ann. Math. Stat. 27 (1956); their width: B. W. Silverman,
Density Estimation (1986), 3.4.2; weighing two experts' words by a fixed share: the linear opinion
pool, M. Stone, Ann. Math. Stat. 32 (1961).

`scale` bends readings, `density` is the mixture, `make` weighs the samples by what is known of
this very unit, `witness` puts all together for one model, `cuts` puts a model's cut points where
the densities part.
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
