"""What every new shop begins with besides its profile and first keeper: the ageing policies."""

from __future__ import annotations

from datetime import datetime

from sqlmodel import Session, select

from service.records.knowledge_policies import known_policies
from service.records.materials import AgeingPolicyRow

CAME_WITH = "Came with the program. Check it against what your suppliers say."


def begin_shop(session: Session, now: datetime) -> int:
    """Put the policies that come with the program into the shop's own table, each as it stands there.

    Harmless to repeat: a material or kind that has a policy keeps it. Returns how many were added.
    """
    rows = session.exec(select(AgeingPolicyRow)).all()
    have = {(row.key, None if row.key else row.kind) for row in rows if row.material_id is None}
    added = 0
    for known in known_policies():
        if (known.key, None if known.key else known.kind) in have:
            continue
        policy = known.policy
        session.add(
            AgeingPolicyRow(
                key=known.key,
                kind=known.kind,
                sealed_months=policy.sealed_months,
                opened_months=policy.opened_months,
                sealed_days=policy.sealed_days,
                opened_days=policy.opened_days,
                end=policy.end.value,
                hard_months=policy.hard_months,
                extends_months=policy.extends_months,
                max_extensions=policy.max_extensions,
                source=policy.source,
                grade=policy.grade,
                house_policy=policy.house_policy,
                note=known.note,
                reason=CAME_WITH,
                set_at=now,
            )
        )
        added += 1
    session.flush()
    return added
