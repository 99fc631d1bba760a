"""Where things stand on a sheet: symbols, boughs, panels, blocks, sheets' columns."""
