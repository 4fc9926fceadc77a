"""When something written late changes what a container held, what left it since follows.

A tin that was opened earlier than the book knew, or a jar into which something was poured before other jars
were filled from it: those took over the dates of another story.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

from service.actions.inherit_life import life_source, take_over
from service.actions.looks_of_jars import LooksOfJars
from service.actions.post_movement import name_of
from service.actions.settle import Act
from service.actions.spread_facts import spread
from service.core.container_life import inherit
from service.core.findings import warn
from service.core.shelf_codes import show_code
from service.records.flow_queries import Flow, went_into
from service.records.stock_queries import Held, hold


def follow_pourings(act: Act, held: Held, since: datetime | None = None) -> None:
    """Let what was poured from a container take over what it is now, and what was made with any of it follow.

    Args:
        since: only what left it at this time or later; None: whatever left it.
    """
    followed: set[int] = set()
    looks = LooksOfJars(act)
    materials = {held.container.material_id}
    waiting = _left_since(act, [held.container_id], since)
    if not waiting:
        return
    while waiting:
        poured = {flow.target: flow for flow in waiting if flow.batch is None and flow.target not in followed}
        for number, flow in sorted(poured.items()):
            materials.add(_take_over(act, flow))
            looks.follow(flow)
            followed.add(number)
        waiting = _left_since(act, poured, since)
    spread(act, materials, dates=True)
    boxes = hold(act.session, followed) if followed else {}
    if boxes:
        codes = ", ".join(show_code(box.container.code) for box in boxes.values())
        words = f"{codes}: poured from it, so the dates follow."
        act.note(warn("poured-follow", words))


def _left_since(act: Act, sources: Iterable[int], since: datetime | None) -> list[Flow]:
    return [flow for flow in went_into(act.session, sources) if since is None or flow.at >= since]


def _take_over(act: Act, flow: Flow) -> int:
    """Let one jar take over its source once more; the number of its material."""
    both = hold(act.session, {flow.source, flow.target})
    source, jar = both[flow.source], both[flow.target]
    on = flow.at.astimezone(act.zone).date()
    lives = [life_source(act, source, flow.at), life_source(act, jar)]
    life = inherit(lives, lives[0].facts.policy, same_material=True, poured_on=on)
    take_over(act, jar, life, name_of(source))
    return jar.container.material_id
