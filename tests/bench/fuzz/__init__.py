"""Readers fed with damaged, hostile and mistyped text: does each end in words for the person?

    python -m tests.bench.fuzz                     # every reader, 200 inputs each
    python -m tests.bench.fuzz walks 5000 7        # one reader, 5000 inputs, seed 7
    python -m tests.bench.fuzz walks 5000 --keep found    # findings as files in a folder
    python -m tests.bench.fuzz walks 5000 --guided    # what reaches new lines is spoilt further

A reader takes one text. It may take it or refuse it with a `TroubleError`; anything else that it
raises is a fault of the program, and so are words that hold control characters or that speak of
our libraries, a reader that takes longer than its seconds, and one that eats the memory.

Modules: `mutation` (how texts are spoilt), `readers` and `shopreaders` (what is fed), `trial` (one
input tried), `guidance` (lines reached).
"""
