"""How far the tests of a model can see and tell apart, and which new test would help most.

The measures are those of MIL-STD-2165 (Testability Program for Electronic Systems and Equipments,
1985) and IEEE 1522 (Trial-Use Standard for Testability and Diagnosability Characteristics and
Metrics), formulas from memory:

- *fraction of faults detected* (FFD): failure rate of the faults that some test notices, over the
  rate of all;
- *fraction of faults isolated* to groups of at most k (FFI(k)): rate of the detected faults whose
  ambiguity group has at most k members, over the rate of the detected;
- *ambiguity group*: faults with equal signatures, a signature being what all tests show.

The standards know tests that pass or fail for sure. Rows of odds need a measure of how far two
signatures lie apart: the Bhattacharyya coefficient, for independent tests the product over tests of
sum_o sqrt(p_o q_o). It is 1 for equal signatures and 0 where one test parts them for sure; who must
choose between two equally likely faults from all tests errs with odds of at most half of it
(Kailath, IEEE Trans. Communication Technology 15, 1967). So `Apart.AT_ALL` is the standards' own
measure, and `Apart.SURELY` asks for at most one error in twenty.

- `groups` compares signatures, `figures` gives the fractions and names the groups;
- `proposals` makes up tests that the unit does not have yet, by the rules; `advice` prices them.
"""
