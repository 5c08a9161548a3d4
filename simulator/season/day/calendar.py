"""Days of a season, which begins on 1 July, as the compiled loop has them."""

from __future__ import annotations

NEVER = -1  # season day of what does not happen
