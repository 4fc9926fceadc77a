"""The section of the inspection pack about containers of solvent wipes, read from the rag log alone.

Their duties change when they leave; the log only grows, so a past day reads as it read then.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from datetime import date
from typing import Any, Final
from zoneinfo import ZoneInfo

from sqlmodel import Session, col, select

from service.core.inspection_pack import Section
from service.core.materials import Unknown
from service.core.wipes import (
    DAYS,
    SOURCE,
    WAY_WORDS,
    WIPES_BEGUN,
    WIPES_SENT,
    WipesFacts,
    WipesWay,
    last_day,
    standing_of,
)
from service.records.places import Place
from service.records.rags import RagLogRow

_HEADER: Final = (
    "wipes", "container", "begun", "last day", "days over", "stands", "recorded", "left", "who took it",
)  # fmt: skip
_PAST: Final = "wipes-past"


def wipes(session: Session, today: date, zone: ZoneInfo) -> Section:
    """Each container from its first wipe to its hand-over, those that stand first, the oldest at the top."""
    told: dict[int, dict[str, RagLogRow]] = {}
    query = select(RagLogRow).where(col(RagLogRow.kind).in_([WIPES_BEGUN, WIPES_SENT]))
    for row in session.exec(query.order_by(col(RagLogRow.id))):
        told.setdefault(int(json.loads(row.body)["wipes"]), {})[row.kind] = row
    names = dict(session.exec(select(Place.id, Place.name)).all())
    rows = [_row(number, steps, names, today, zone) for number, steps in told.items()]
    rows.sort(key=lambda row: (row[7] is not None, row[3], row[0]))
    over = sum(row[4] is not None and row[7] is None for row in rows)
    standing = sum(row[7] is None for row in rows)
    said = (
        f"{standing} stand, {over} of them over {DAYS} days ({SOURCE}).",
        "The exclusion is for wipes that are hazardous by their solvent alone, in a closed container with "
        "its label. Past its last day the container is ordinary hazardous waste and counts in no month here.",
    )
    return Section("solvent-wipes", "Containers of solvent wipes", _HEADER, tuple(rows), said)


def _row(
    number: int, steps: dict[str, RagLogRow], names: dict[int | None, str], today: date, zone: ZoneInfo
) -> Sequence[Any]:
    begun, sent = steps[WIPES_BEGUN], steps.get(WIPES_SENT)
    body = json.loads(begun.body)
    name, since = names.get(body["place"], "not known"), date.fromisoformat(body["started_on"])
    last = last_day(since)
    if sent is not None:
        gone = json.loads(sent.body)
        taker = f"{WAY_WORDS[WipesWay(gone['way'])]}: {gone['named']}, {gone['address']}"
        late = max(0, (sent.happened_at.astimezone(zone).date() - last).days) or None
        return (number, name, since, last, late, "left", begun.recorded_at, sent.happened_at, taker)
    facts = WipesFacts(name, since, Unknown.YES, Unknown.YES)
    past = _PAST in standing_of(facts, today).codes
    word = "over: the exclusion does not hold any more" if past else "here, within its days"
    return (
        number, name, since, last, (today - last).days if past else None, word, begun.recorded_at, None, None
    )  # fmt: skip
