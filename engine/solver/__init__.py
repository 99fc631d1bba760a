"""Solves the circuits of the knowledge, some ten times as fast as a general simulator.

**Equations.** Modified nodal analysis (C.-W. Ho, A. Ruehli, P. Brennan 1975, IEEE Transactions on
Circuits and Systems CAS-22:504-509): sums of currents at nodes, a branch current more for each
source that floats and each inductor. What a netlist's parameters settle is settled before
(`engine.solver.network`): a contact that is sound is a resistor. A source from ground takes no
equation of its own, and a diode's series resistance no node.

**Over time.** Backward differences of second order over even steps (C. W. Gear 1971, IEEE
Transactions on Circuit Theory CT-18:89-95), of first order at corners; a step that has no
solution is tried shorter. They damp what is faster than a step, as is right for circuits that are
averages over some 100 microseconds. Everything is empty at time zero.

**At rest.** From the last point, from nothing, by leaky junctions (gmin stepping), by raised
sources, last by pseudo-transient continuation. A meter is a source behind a resistor: it costs no
equation. Small signals: the matrix at rest and its part by rates of change, solved as complex.

**Each moment.** Newton's method with a limit on the step of a junction's volts (L. Nagel 1975,
SPICE2, ERL-M520). The diode is SPICE's: Shockley with series resistance, breakdown with its own
slope, the charge of its junction. Behavioural sources give their derivatives by reverse
accumulation.

**The matrix.** Markowitz's order of pivots (1957, Management Science 3:255-269) with a threshold is
found once for a circuit and kept until a multiplier shows that it no longer suits. Unknowns whose
row and column are the same in every round come first and are eliminated once for each length of
step. A round costs O(values with fill), some microseconds for sixty unknowns.

Not known: transmission lines, transistors, coupled inductors, initial values on nodes, temperature
other than 27 degrees. What the solver has no reading of, or finds no solution for, is `Unsolved`,
and `engine.circuit.job` has ngspice do it.
"""
