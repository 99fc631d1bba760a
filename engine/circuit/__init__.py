"""What a unit reads on the bench: netlists, supposed faults, rigs, ngspice, readings."""
