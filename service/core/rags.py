"""Oily rags: the load of one job, its two clocks, and the steps that stop them (strict profile).

Doors: records/rags.py, actions/handle_rags.py, web/pages/rags.py, web/api/rags.py.
"""

from __future__ import annotations

from enum import StrEnum


class RagStep(StrEnum):
    """What happened to the rags. Drying and laundering by the shop are not on the list of ends."""

    LOOSE = "loose"
    IN_CAN = "in-can"
    UNDER_WATER = "under-water"
    LAID_FLAT = "laid-flat"
    OUTSIDE_DRUM = "outside-drum"
    REMOVED = "removed"
    NONE_MADE = "none-made"
