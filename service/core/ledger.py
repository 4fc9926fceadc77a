"""The append-only ledger: movement kinds, their other side, and folding movements to an amount.

Doors: records/stock.py, actions/post_movement.py, actions/correct_entry.py, web/pages/containers.py.
"""

from __future__ import annotations

from enum import StrEnum


class MovementKind(StrEnum):
    """A line that changes an amount. Draws, losses, discards and decant-outs are negative."""

    RECEIVE = "receive"
    DRAW = "draw"
    RETURN = "return"
    COUNT_DIFFERENCE = "count-difference"
    LOSS = "loss"
    DISCARD = "discard"
    DECANT_OUT = "decant-out"
    DECANT_IN = "decant-in"
    MADE = "made"
    REVERSAL = "reversal"


class OtherSide(StrEnum):
    """What stands on the other side of a movement, so that mass balances."""

    SUPPLIER = "supplier"
    STOCK_TAKE = "stock-take"
    BATCH = "batch"
    JOB = "job"
    WASTE = "waste"
    LOSS = "loss"
    COUNT = "count"
    CONTAINER = "container"
    MOVEMENT = "movement"


class Destination(StrEnum):
    """Where a discard went. Drains and evaporation are not on the list."""

    WASTE_DRUM = "waste-drum"
    HAULER = "hauler"
    COLLECTION_POINT = "collection-point"
    RETURNED_TO_SUPPLIER = "returned-to-supplier"
    RAG_CAN = "rag-can"
    DRY_REFUSE = "dry-refuse"
