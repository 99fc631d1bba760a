"""The walk with a person: events in, the next question, belief, minutes and verdict out.

`job` is the state and what each event does to it, `ending` the verdict, `entry` the check before
the first question, `record` the document `nextprobe-walk/1`, `prepared` a walk without a person.
"""
