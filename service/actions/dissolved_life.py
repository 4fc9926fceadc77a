"""Until when a mix keeps because something in it is dissolved, by the shop's policies for the solutions."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date

from sqlmodel import Session

from service.core.ageing import judge
from service.core.dissolved_life import Dissolved, rows_of_solution
from service.core.life_facts import LifeFacts
from service.core.materials import MaterialKind
from service.core.months import earliest
from service.core.written_numbers import cas_numbers
from service.records.ageing_queries import PoliciesInForce, all_policy_rows, policy_of
from service.records.dissolving_names import solutions_named
from service.records.implied_keys import implied_key
from service.records.materials import AgeingPolicyRow, Material


def solution_end(
    session: Session,
    materials: Iterable[Material],
    made_on: date,
    policies: PoliciesInForce[AgeingPolicyRow] | None = None,
) -> tuple[date | None, bool]:
    """The last day in date of what these materials became on ``made_on``, and whether one is known.

    ``(None, True)``: nothing in it is dissolved. ``(None, False)``: something is, and no policy says how long
    that keeps.
    """
    rows = rows_of_solution(as_dissolved(material) for material in materials)
    if not rows:
        return None, True
    policies = policies or PoliciesInForce(all_policy_rows(session))
    ends: list[date | None] = []
    for key in rows:
        row = policies.of(None, key, MaterialKind.MADE_MIX)
        policy = policy_of(row) if row is not None else None
        facts = LifeFacts(packed_on=made_on, opened_on=made_on, opened=True, policy=policy)
        ends.append(judge(facts, made_on).in_date_until)
    return earliest(*ends), None not in ends


def as_dissolved(material: Material) -> Dissolved:
    """What of a material tells whether it dissolves or wets."""
    return Dissolved(
        material.name, material.kind, material.form, material.known_key or implied_key(material) or "",
        frozenset(cas_numbers(material.cas)), material.not_stocked,
        solutions_named(material.name, material.cas),
    )  # fmt: skip
