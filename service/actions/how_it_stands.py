"""How a container stands, as one act sees it: what its dates rest on is read once in an act.

From `settle` on an act stands alone in the book, so only its own writing can change that; the one writer of
movements and events tells of it here.
"""

from __future__ import annotations

from datetime import date

from service.actions.settle import Act
from service.core.ageing import Ageing
from service.core.containers import EventKind
from service.core.ledger import MovementKind
from service.records.ageing_queries import CHANGES_A_LIFE, RestsOn, rests_on, standing_on
from service.records.settle_dates import settle_dates
from service.records.stock_queries import Held


def how_it_stands(act: Act, held: Held, day: date) -> Ageing:
    """How a container that this act holds stands on a day."""
    return standing_on(held.container, _rests_on(act, held), day)


def settle_its_dates(act: Act, held: Held) -> None:
    """Store how it stands today, by the shop's calendar at the instant the act is recorded."""
    settle_dates(held.container, _rests_on(act, held), act.recorded_at.astimezone(act.zone).date())


def has_written(act: Act, held: Held, kind: MovementKind | EventKind) -> None:
    """A movement or an event of this container was written: what its dates rest on may be another now."""
    if kind in CHANGES_A_LIFE:
        act.rests_on.pop(held.container_id, None)


def _rests_on(act: Act, held: Held) -> RestsOn:
    # Another kind or name of the material may have another policy: then what was read for it is another.
    key = (held.material.id, held.material.kind, held.material.known_key)
    known = act.rests_on.get(held.container_id)
    if known is None or known.key != key:
        known = act.rests_on[held.container_id] = rests_on(act.session, held.container, held.material)
    return known
