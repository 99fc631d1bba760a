"""The steps between versions of a shop's database, one module each, in the order of their names.

A step that was released is never changed: shops stand at it. The next change is the next step.
"""
