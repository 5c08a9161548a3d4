"""What the season under way may still make."""

from __future__ import annotations

from typing import TYPE_CHECKING

from simulator.answers.faces import face

if TYPE_CHECKING:
    from simulator.answers.outlook.calculate import Outlook, outlook

__all__ = ["Outlook", "outlook"]

__getattr__ = face(__name__, {"Outlook": "calculate", "outlook": "calculate"})
