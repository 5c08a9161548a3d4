"""What the season under way may still make."""

from __future__ import annotations

from typing import TYPE_CHECKING

from simulator.answers.lazy_exports import lazy_names

if TYPE_CHECKING:
    from simulator.answers.outlook.calculate import Outlook, outlook

__all__ = ["Outlook", "outlook"]

__getattr__ = lazy_names(__name__, {"Outlook": "calculate", "outlook": "calculate"})
