"""The walk with a person: events in, the next question, belief, minutes and verdict out.

`state` is where a walk stands, `job` what each event does to it, `ahead` what comes next, `doubts`
whether a verdict stands, `ending` the verdict, `entry` the check before the first question,
`record` the document `nextprobe-walk/1`, `prepared` a walk without a person, `alternatives` the
runners-up of a question, `hearing` what an answer says of each fault, `rereading` what a test done
again says and which is worth it, `mending` what it says when a repair did not help, `sketch` what a
drawing of a stage changes, `acquaintance` what markings and a good unit do, `fitting` what it does
how the unit is built, `outlook` what tests are expected to show on it, `unlike` whether it is of a
design that nobody sampled, `inquiry` what is worth asking of it.

| code | trouble | code | trouble |
|---|---|---|---|
| WK101 | saved event of unknown shape | WK123 | test answered on a bench not set up for it |
| WK102 | no walk document, or a damaged one | WK124 | outcome the test does not have |
| WK111 | entry question unknown | WK125 | test answered twice |
| WK112 | entry answer unknown | WK126 | test unknown |
| WK121 | lack of what no bench can lack | WK131 | answers file names no test or entry question |
| WK122 | setup that is not one possible step | WK127 | remedy unknown |
| WK130 | stage of which nothing needs a drawing | WK136 | part that no unit has or lacks |
| WK137 | part that what was told needs | WK138 | kind that no design has there |
"""
