"""What "none" stands for in documents and knowledge: a name for each of its meanings.

The word is the same in all of them, the meanings are not: a rig is never compared with an energy.
"""

from __future__ import annotations

UNENERGISED = "none"
"""The energy of the one arrangement in which the unit is unplugged."""
NO_RIG = "none"
"""The rig of a bench on which nothing is fitted to the unit."""
NO_PART = "none"
"""The part of a fault that no part of the unit has: no fault at all, or what is not listed."""
NO_STAGE = "none"
"""The stage of such a fault."""
NO_LIGHT = "none"
"""The light of a unit that stays dark, where something unlisted is supposed."""
NO_SHORT = "none"
"""What a short check at the contacts shows of a unit that may be energised."""
NO_REPAIR = "none"
"""The kind of remedy that returns the unit as it is, since nothing is wrong with it."""
