"""Taking a unit in: from the owner's own words to complaints that a plan can be made for."""
