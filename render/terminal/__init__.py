"""The walk in the terminal: what was typed, how it is worded, what is shown, and the dialogue."""
