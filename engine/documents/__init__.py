"""Chart and walk documents as typed records: one definition each for writer, reader and schema.

`record` is what they are built of, `chart` and `walk` are the records of `nextprobe-chart/1` and
`nextprobe-walk/1`, `reading` takes them from JSON; those of the model stand in
`engine.model.records`. `schemas` gives all three documents as JSON Schema.
"""
