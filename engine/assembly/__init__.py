"""From a deduction to the model of a unit."""
