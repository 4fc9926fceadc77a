"""What pages offer at closing time for rags put away but still here: the way into the drum outside."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from sqlmodel import Session

from service.actions.look_at_cans import rags_in_place
from service.core.access import Actor, Permission, may
from service.core.rag_steps import effect_of
from service.core.rags import RagEntry, RagStep, Water
from service.records.places import Place, PlaceKind
from service.records.rag_queries import JudgedLoad, rag_cans, receptacle_of


def good_drum(session: Session, at: datetime) -> Place | None:
    """A drum whose recorded facts make it the one outside; None: no button may lead to a refusal."""
    for place in rag_cans(session):
        box = receptacle_of(place, Water.FULL)
        if (
            place.kind is PlaceKind.OUTSIDE_DRUM
            and effect_of(RagEntry(at, RagStep.OUTSIDE_DRUM, box)).removes
        ):
            return place
    return None


def into_the_drum(
    session: Session, actor: Actor, loads: Sequence[JudgedLoad], at: datetime
) -> dict[int, tuple[str, str]]:
    """For each load that waits in a can here: the button to empty that can into the drum, and its address."""
    here = {one.load_id for one in loads if one.state.contained and not one.state.remove_met}
    drum = good_drum(session, at) if here and may(actor.role, Permission.CONTAIN_RAGS) else None
    if drum is None:
        return {}
    found = {}
    for can in rag_cans(session):
        inside = [load for load, _ in rags_in_place(session, can, at)]
        if can.id == drum.id or not all(load.state.contained for load in inside):
            continue
        for load in inside:
            if load.load_id in here:
                words = f"Empty “{can.name}” into the drum"
                found[load.load_id] = (words, f"/rags/cans/{can.id}?into={drum.id}")
    return found
