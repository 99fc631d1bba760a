"""The bench sheet of a case: for the owner in plain words, for the shop the trail, a label to cut
out where a unit is not proven."""
