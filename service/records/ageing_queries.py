"""What the ageing rules need to know of a container: its dates, its checks, its policy."""

from datetime import date

from sqlmodel import Session, col, or_, select

from service.core.ageing import Ageing, alert_dates, judge
from service.core.ageing_policies import AgeingPolicy, PolicyEnd, tidy_key
from service.core.containers import EventKind
from service.core.life_facts import CheckOutcome, ConditionCheck, LifeFacts
from service.records.materials import AgeingPolicyRow, Material
from service.records.stock import Container, ContainerEvent


def policy_row_for(session: Session, material: Material) -> AgeingPolicyRow | None:
    """The policy in force: the newest for this material, else for its key, else for its kind; else none."""
    rows = session.exec(
        select(AgeingPolicyRow)
        .where(
            or_(
                col(AgeingPolicyRow.material_id) == material.id,
                col(AgeingPolicyRow.key) != "",
                col(AgeingPolicyRow.kind) == material.kind,
            )
        )
        .order_by(col(AgeingPolicyRow.id).desc())
    ).all()
    key = tidy_key(material.known_key or "")
    own = [r for r in rows if material.id is not None and r.material_id == material.id]
    by_key = [r for r in rows if r.material_id is None and r.key and key and tidy_key(r.key) == key]
    by_kind = [r for r in rows if r.material_id is None and not r.key and r.kind is material.kind]
    return next(iter([*own, *by_key, *by_kind]), None)


def policy_of(row: AgeingPolicyRow) -> AgeingPolicy:
    """A stored policy as the rules read it."""
    return AgeingPolicy(
        end=PolicyEnd(row.end),
        sealed_months=row.sealed_months,
        opened_months=row.opened_months,
        sealed_days=row.sealed_days,
        opened_days=row.opened_days,
        hard_months=row.hard_months,
        extends_months=row.extends_months,
        max_extensions=row.max_extensions,
        source=row.source,
        grade=row.grade,
        house_policy=row.house_policy,
    )


def checks_of(session: Session, container_id: int) -> tuple[ConditionCheck, ...]:
    """The condition checks of a container that have a day."""
    rows = session.exec(
        select(ContainerEvent)
        .where(
            col(ContainerEvent.container_id) == container_id,
            col(ContainerEvent.kind) == EventKind.CHECKED,
        )
        .order_by(col(ContainerEvent.id))
    ).all()
    return tuple(
        ConditionCheck(row.on_date, CheckOutcome(row.outcome)) for row in rows if row.on_date is not None
    )


def life_of(session: Session, container: Container, material: Material) -> LifeFacts:
    """What is known about the life of a container."""
    assert container.id is not None
    row = policy_row_for(session, material)
    return LifeFacts(
        packed_on=container.packed_on,
        received_on=container.received_on,
        opened_on=container.opened_on,
        opened=container.ever_opened,
        printed_date=container.printed_date,
        checks=checks_of(session, container.id),
        policy=policy_of(row) if row else None,
        started_by=container.started_by,
        opened_by=container.opened_by,
        inherited_until=container.inherited_until,
        inherited_gap=container.inherited_gap,
    )


def standing_of(session: Session, container: Container, material: Material, today: date) -> Ageing:
    """How a container stands on a day."""
    return judge(life_of(session, container, material), today)


def settle_dates(session: Session, container: Container, material: Material, today: date) -> None:
    """Store the end of its date and the next day its standing changes; a sweep finds only what is due."""
    life = life_of(session, container, material)
    container.in_date_until = judge(life, today).in_date_until
    container.next_alert_on = next((day for day in alert_dates(life) if day > today), None)
    session.add(container)
