"""Closed forms of mains electronics: what a part, a rail or a store of charge comes to.

Every function takes and gives plain numbers in base units (volts, amperes, ohms, farads, henries,
hertz, seconds, watts, joules), says its formula and where that comes from, and raises ValueError
with a sentence where the numbers describe no circuit. Nothing here knows a topology or a fault.
"""
