"""When a policy is put right, the jars it had ended too early, or left without an end, are reckoned anew.

Only jars whose whole content came out of batches and other containers of this book: what went into them can
then be asked. Marks and classes stay: nobody looked at the jar (see `actions.spread_facts`).
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from datetime import date

from service.actions.dissolved_life import solution_end
from service.actions.post_movement import touch
from service.actions.settle import Act
from service.actions.stuff_inside import materials_of_batches
from service.core.findings import note
from service.core.ledger import MovementKind
from service.core.months import earliest
from service.core.reckon_anew import PartOfJar, reckoned_anew
from service.core.shelf_codes import show_code
from service.records.ageing_queries import life_of
from service.records.mixing_queries import additions_of
from service.records.stock_queries import hold, movements_of


def settle_jars_anew(
    act: Act, sources: Iterable[int], filled_from: Callable[[int], Iterable[int]]
) -> list[str]:
    """Reckon anew every jar that holds something of these containers; the codes of those that changed.

    A jar is milder than before only where all that went into it is known now; see `core.reckon_anew`.

    Args:
        filled_from: the containers something of one container went into.
    """
    jars = _downstream(sources, filled_from)
    changed: set[str] = set()
    # A jar can hold some of another one: what one gains, those after it may gain in the next turn.
    for _ in range(len(jars) + 1):
        turn = [code for number in sorted(jars) if (code := _anew(act, number))]
        changed.update(turn)
        if not turn:
            break
    codes = sorted(changed)
    if codes:
        named = ", ".join(show_code(code) for code in codes[:10]) + (" and more" if len(codes) > 10 else "")
        act.note(note("jars-anew", f"Reckoned anew from all that went in, by the policies of now: {named}."))
    return codes


def _downstream(sources: Iterable[int], filled_from: Callable[[int], Iterable[int]]) -> set[int]:
    found: set[int] = set()
    waiting = list(sources)
    while waiting:
        new = set(filled_from(waiting.pop())) - found
        found |= new
        waiting += new
    return found


def _anew(act: Act, number: int) -> str:
    """Reckon one jar anew; its code if it changed."""
    into = _what_went_in(act, number)
    if not into:
        return ""
    held = hold(act.session, {number, *(source for source, _, _ in into)})
    lives = {n: life_of(act.session, one.container, one.material) for n, one in held.items()}
    parts = [PartOfJar(lives[source], on, mixed) for source, on, mixed in into]
    box, before = held[number].container, lives[number]
    at_most, known = _dissolved(act, number)
    if not known:
        return ""
    after = reckoned_anew(before, parts, act.recorded_at.astimezone(act.zone).date(), at_most)
    if after == before:
        return ""
    box.inherited_until, box.inherited_gap = after.inherited_until, after.inherited_gap
    touch(act, held[number])
    return box.code


def _dissolved(act: Act, number: int) -> tuple[date | None, bool]:
    """Until when what is dissolved in a jar keeps, and whether that is known."""
    ends: list[date | None] = []
    for line in movements_of(act.session, number):
        if line.kind is MovementKind.MADE:
            [materials] = materials_of_batches(act.session, [line.batch_id or 0]).values() or [[]]
            on = line.happened_at.astimezone(act.zone).date()
            until, known = solution_end(act.session, materials, on)
            if not known:
                return None, False
            ends.append(until)
    return earliest(*ends), True


def _what_went_in(act: Act, number: int) -> list[tuple[int, date, bool]] | None:
    """The containers of which something went in, the day it did, and whether by way of a batch.

    What was taken back counts as well: it can only make the answer stricter. None where something came from
    outside the book, or from the jar itself by a way round.
    """
    found: list[tuple[int, date, bool]] = []
    for line in movements_of(act.session, number):
        on = line.happened_at.astimezone(act.zone).date()
        if line.kind is MovementKind.RECEIVE:
            return None
        if line.kind is MovementKind.MADE:
            for one in additions_of(act.session, line.batch_id or 0):
                if one.container is not None and one.container.id is not None:
                    found.append((one.container.id, on, True))
        elif line.kind is MovementKind.DECANT_IN:
            if line.other_container_id is None:
                return None
            found.append((line.other_container_id, on, False))
    return found if all(source != number for source, _, _ in found) else None
