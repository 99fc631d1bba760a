"""A shop's cases: what was handed over, what was done, what it turned out to be.

`opening` opens a shop, a SQLite file or a PostgreSQL database, and brings it up to date; `shop`
keeps, finds and closes cases; `sitting` is one person at one case: it takes an event, saves it and
gives the next question. Nothing here knows of terminals or pages, and the clock is an argument.
"""
