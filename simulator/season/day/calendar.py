"""Days of a season, which begins on 1 July, and kinds of end, as the compiled loop has them."""

from __future__ import annotations

NEVER = -1  # season day of what does not happen
BY_DATE, BY_STAGE, BY_BIOMASS = 0, 1, 2  # kinds of end
