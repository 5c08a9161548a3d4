"""The two kinds of weather in a what-if."""

from __future__ import annotations

RECORDED, CHANGED = "as recorded", "changed"
