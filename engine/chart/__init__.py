"""A plan as the document of a chart: drawn up, cautioned, confirmed, traversed."""
