"""What the ageing rules need to know of a container: its dates, its checks, its policy."""

from collections.abc import Sequence
from datetime import date
from typing import Final

from sqlalchemy import func
from sqlmodel import Session, col, or_, select

from service.core.ageing import Ageing, alert_dates, judge
from service.core.ageing_policies import AgeingPolicy, PolicyEnd, tidy_key
from service.core.containers import ContainerState, EventKind, Standing
from service.core.ledger import MovementKind
from service.core.life_facts import CheckOutcome, ConditionCheck, LifeFacts
from service.records.materials import AgeingPolicyRow, Material
from service.records.stock import Container, ContainerEvent, Movement

_AT_ONCE: Final = 500
"""Numbers in one query; SQLite takes a limited number of parameters."""


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
    return in_force(rows, material)


def all_policy_rows(session: Session) -> Sequence[AgeingPolicyRow]:
    """Every policy ever set, the newest first."""
    return session.exec(select(AgeingPolicyRow).order_by(col(AgeingPolicyRow.id).desc())).all()


def in_force(newest_first: Sequence[AgeingPolicyRow], material: Material) -> AgeingPolicyRow | None:
    """The row that counts for a material: its own, else that of its key, else that of its kind."""
    key = tidy_key(material.known_key or "")
    own = [r for r in newest_first if material.id is not None and r.material_id == material.id]
    general = [r for r in newest_first if r.material_id is None]
    by_key = [r for r in general if r.key and key and tidy_key(r.key) == key]
    by_kind = [r for r in general if not r.key and r.kind is material.kind]
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
    """The condition checks of a container that have a day and still speak for what is in it."""
    return checks_of_all(session, [container_id]).get(container_id, ())


def checks_of_all(session: Session, container_ids: Sequence[int]) -> dict[int, tuple[ConditionCheck, ...]]:
    """The condition checks of many containers at once, by the number of the container.

    A check that passed before something was poured in says nothing about what is in it since; those that
    still hold were written anew with the pouring (see core.container_life.inherit).
    """
    found: dict[int, list[ConditionCheck]] = {}
    for begin in range(0, len(container_ids), _AT_ONCE):
        some = container_ids[begin : begin + _AT_ONCE]
        poured = _last_poured(session, some)
        rows = session.exec(
            select(ContainerEvent)
            .where(
                col(ContainerEvent.container_id).in_(some),
                col(ContainerEvent.kind) == EventKind.CHECKED,
                col(ContainerEvent.on_date).is_not(None),
            )
            .order_by(col(ContainerEvent.id))
        ).all()
        for row in rows:
            older = row.posting_id < poured.get(row.container_id, 0)
            passed_before = older and row.outcome == CheckOutcome.PASSED
            if row.on_date is not None and not passed_before:
                check = ConditionCheck(row.on_date, CheckOutcome(row.outcome))
                found.setdefault(row.container_id, []).append(check)
    return {number: tuple(checks) for number, checks in found.items()}


def _last_poured(session: Session, container_ids: Sequence[int]) -> dict[int, int]:
    """The posting in which something was last poured into each of these containers."""
    rows = session.exec(
        select(Movement.container_id, func.max(Movement.posting_id))
        .where(col(Movement.container_id).in_(container_ids), col(Movement.kind) == MovementKind.DECANT_IN)
        .group_by(col(Movement.container_id))
    ).all()
    return {number: int(posting) for number, posting in rows}


def life_of(session: Session, container: Container, material: Material) -> LifeFacts:
    """What is known about the life of a container."""
    assert container.id is not None
    return _life(container, policy_row_for(session, material), checks_of(session, container.id))


def lives_of(session: Session, boxes: Sequence[tuple[Container, Material]]) -> list[LifeFacts]:
    """What is known about the lives of many containers, in their order, by a few queries for all."""
    rows = all_policy_rows(session) if boxes else ()
    policies = {material.id: in_force(rows, material) for _, material in boxes}
    checks = checks_of_all(session, [box.id for box, _ in boxes if box.id is not None])
    return [_life(box, policies[material.id], checks.get(box.id or 0, ())) for box, material in boxes]


def _life(
    container: Container, row: AgeingPolicyRow | None, checks: tuple[ConditionCheck, ...]
) -> LifeFacts:
    return LifeFacts(
        packed_on=container.packed_on,
        received_on=container.received_on,
        opened_on=container.opened_on,
        opened=container.ever_opened,
        printed_date=container.printed_date,
        checks=checks,
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
    """Store how it stands, the end of its date and the next day its standing changes by itself.

    A search for what wants attention then finds only what is due.
    """
    _store(session, container, life_of(session, container, material), today)


def settle_all_dates(session: Session, boxes: Sequence[tuple[Container, Material]], today: date) -> None:
    """The same for many containers, which the caller has locked."""
    for (container, _), life in zip(boxes, lives_of(session, boxes), strict=True):
        _store(session, container, life, today)


def settle_dates_of_materials(session: Session, material_ids: Sequence[int], today: date) -> int:
    """After a change of what materials are (kind, key, policy): settle every container of them anew.

    Returns how many there were. The rows are locked in the order of their numbers.
    """
    rows = session.exec(
        select(Container)
        .where(
            col(Container.material_id).in_(material_ids),
            col(Container.state) != ContainerState.GONE,
        )
        .order_by(col(Container.id))
        .with_for_update()
        .execution_options(populate_existing=True)
    ).all()
    numbers = sorted({row.material_id for row in rows})
    wanted = select(Material).where(col(Material.id).in_(numbers))
    materials = {material.id: material for material in session.exec(wanted).all()}
    settle_all_dates(session, [(row, materials[row.material_id]) for row in rows], today)
    return len(rows)


def _store(session: Session, container: Container, life: LifeFacts, today: date) -> None:
    ageing = judge(life, today)
    container.standing = ageing.standing
    container.in_date_until = ageing.in_date_until
    changes = alert_dates(life) if container.state in (ContainerState.SEALED, ContainerState.OPEN) else ()
    container.next_alert_on = next((day for day in changes if day > today), None)
    session.add(container)


def wanting_attention(session: Session, until: date) -> list[tuple[Container, Material]]:
    """The containers in the store that are not in date, or change their standing by a day; by their code.

    Two searches on indexes, so that it costs what it finds, however many are in date.
    """
    in_store = col(Container.state).in_([ContainerState.SEALED, ContainerState.OPEN])
    troubled = col(Container.standing).in_([s for s in Standing if s is not Standing.IN_DATE])
    found: dict[str, tuple[Container, Material]] = {}
    for due in (troubled, col(Container.next_alert_on) <= until):
        rows = session.exec(
            select(Container, Material)
            .join(Material, col(Material.id) == col(Container.material_id))
            .where(in_store, due)
        ).all()
        found |= {box.code: (box, material) for box, material in rows}
    return [found[code] for code in sorted(found)]


def overdue_to_settle(session: Session, today: date) -> list[tuple[Container, Material]]:
    """The containers whose standing has changed by itself since it was stored, locked, by their number."""
    rows = session.exec(
        select(Container, Material)
        .join(Material, col(Material.id) == col(Container.material_id))
        .where(col(Container.next_alert_on) <= today)
        .order_by(col(Container.id))
        .with_for_update(of=Container)
    ).all()
    return [(box, material) for box, material in rows]
