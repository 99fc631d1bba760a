"""Graphs on paper, drawn from the same records and by the same press as the charts."""
