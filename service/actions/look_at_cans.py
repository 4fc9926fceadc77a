"""When what is known of a can or drum changes, the rags in it are judged anew: worse counts, better waits.

A step keeps the facts of its can as they were recorded then. If the can turns out to be none, its rags are
loose from now on, by an entry of their own; if it turns out better, somebody looks and records the rags.
"""

from __future__ import annotations

import json
from datetime import datetime

from sqlmodel import Session

from service.actions.rag_duty import settle_load
from service.actions.settle import Act
from service.actions.write_rag_log import write_rag_log
from service.core.findings import warn
from service.core.rag_steps import CONTAINING, effect_of
from service.core.rags import RagEntry
from service.records.places import Place
from service.records.rag_queries import (
    JudgedLoad,
    log_rows,
    receptacle_data,
    receptacle_of,
    standing_loads,
    step_entry,
)
from service.records.rags import RagLogRow


def rags_in(act: Act, place: Place) -> list[tuple[JudgedLoad, RagLogRow]]:
    """`rags_in_place` as of an act."""
    return rags_in_place(act.session, place, act.recorded_at)


def rags_in_place(session: Session, place: Place, at: datetime) -> list[tuple[JudgedLoad, RagLogRow]]:
    """The loads that have not ended and were last put into this can or drum, with the entry that says so."""
    found = []
    for load in standing_loads(session, at):
        step = _last_step(session, load.load_id)
        if step is not None and json.loads(step.body).get("can") == place.id:
            found.append((load, step))
    return found


def _last_step(session: Session, load_id: int) -> RagLogRow | None:
    steps = [row for row in log_rows(session, load_id) if row.kind == "step"]
    newest = max(steps, key=lambda row: (row.happened_at, row.id or 0), default=None)
    return newest if newest is not None and step_entry(newest).step in CONTAINING else None


def look_again(act: Act, place: Place) -> None:
    """Write down of each load in this can or drum that it no longer counts as it did, if so.

    It counts from now, whatever time was sent: until now nobody knew.
    """
    for load, row in rags_in(act, place):
        if not load.state.contained:
            continue  # Newer rags of it are loose: saying it is in the can would put those away too.
        before = step_entry(row)
        water = before.receptacle.water if before.receptacle else None
        box = receptacle_of(place, water)
        after = RagEntry(act.recorded_at, before.step, box, note="the can or drum was described anew")
        was, now = effect_of(before), effect_of(after)
        if was.contains <= now.contains and was.removes <= now.removes:
            continue
        write_rag_log(
            act.session,
            kind="step",
            load_id=load.load_id,
            person_id=act.actor.person_id,
            posting_id=act.posting_id,
            happened_at=act.recorded_at,
            recorded_at=act.recorded_at,
            data={
                "step": after.step.value, "receptacle": receptacle_data(box), "can": place.id,
                "can_name": place.name, "removal": None, "witness": "", "note": after.note, "covers": [],
                "count": None, "late_reason": "",
            },
        )  # fmt: skip
        settle_load(act.session, load.row, act.recorded_at)
        name = load.judgement.load.name
        words = f"{name} no longer counts as put away in {place.name}. Put its rags away anew and record it."
        act.note(warn("rags-not-put-away", words, about=name))
