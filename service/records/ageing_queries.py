"""What the ageing rules need to know of a container: its dates, its checks, its policy."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from functools import lru_cache
from typing import Final, Generic, NamedTuple, TypeVar

from sqlalchemy import bindparam
from sqlalchemy import select as columns_of
from sqlmodel import Session, col, or_, select

from service.core.ageing import Ageing, judge
from service.core.ageing_policies import AgeingPolicy, PolicyEnd, tidy_key
from service.core.conditions import NOT_LOOKED_AT
from service.core.containers import EventKind
from service.core.ledger import MovementKind
from service.core.life_facts import CheckOutcome, ConditionCheck, LifeFacts
from service.core.materials import MaterialKind
from service.core.peroxides import PeroxideLife
from service.records.came_in_since import CAME_IN_SINCE
from service.records.implied_keys import NOBODY_KNOWS, implied_key, implied_keys, key_of_life
from service.records.kept_statements import batched, run
from service.records.materials import AgeingPolicyRow, Material
from service.records.peroxide_formers import former_of, formers_among
from service.records.stock import TELL, Container, ContainerEvent, Posting
from service.records.stood_rows import StoodRow


class PolicyRow(NamedTuple):
    """What of a stored policy its subject and its figures are; `AgeingPolicyRow` has the rest."""

    material_id: int | None
    key: str
    kind: MaterialKind | None
    end: str
    sealed_months: int | None
    opened_months: int | None
    sealed_days: int | None
    opened_days: int | None
    hard_months: int | None
    extends_months: int | None
    max_extensions: int | None
    source: str
    grade: str
    house_policy: bool


_THAT_MAY_COUNT: Final = (
    columns_of(*(getattr(AgeingPolicyRow, name) for name in PolicyRow._fields))
    .where(
        or_(
            col(AgeingPolicyRow.material_id) == bindparam("number"),
            col(AgeingPolicyRow.key) != "",
            col(AgeingPolicyRow.kind) == bindparam("kind"),
        )
    )
    .order_by(col(AgeingPolicyRow.id).desc())
)


def policy_row_for(session: Session, material: Material) -> PolicyRow | None:
    """The policy in force: the newest for this material, else for its key, else for its kind; else none."""
    rows = run(session, _THAT_MAY_COUNT, number=material.id, kind=material.kind)
    return in_force([PolicyRow._make(row) for row in rows], material)


def all_policy_rows(session: Session) -> Sequence[AgeingPolicyRow]:
    """Every policy ever set, the newest first."""
    return session.exec(select(AgeingPolicyRow).order_by(col(AgeingPolicyRow.id).desc())).all()


AnyRow = TypeVar("AnyRow", AgeingPolicyRow, PolicyRow)


class PoliciesInForce(Generic[AnyRow]):
    """The rows that count, laid out so that many materials are looked up without going through all rows."""

    def __init__(
        self, newest_first: Iterable[AnyRow], implied: Mapping[int, str | None] | None = None
    ) -> None:
        """``implied``: for each material looked up that nobody linked, its key (`records.implied_keys`)."""
        self._implied = implied
        self._own: dict[int, AnyRow] = {}
        self._by_key: dict[str, AnyRow] = {}
        self._by_kind: dict[MaterialKind | None, AnyRow] = {}
        for row in newest_first:
            if row.material_id is not None:
                self._own.setdefault(row.material_id, row)
            elif row.key:
                self._by_key.setdefault(tidy_key(row.key), row)
            else:
                self._by_kind.setdefault(row.kind, row)

    def of(
        self, material_id: int | None, key: str | None, kind: MaterialKind
    ) -> AnyRow | None:
        """A material's own row, else that of its key, else that of its kind; None without any.

        Raises:
            KeyError: nobody linked it, and whether its name means a row was not asked beforehand.
        """
        own = self._own.get(material_id) if material_id is not None else None
        if own is not None:
            return own
        if not key and material_id is not None and self._implied is not None:
            key = self._implied[material_id]
        if key == NOBODY_KNOWS:
            return None  # How long a kind keeps says nothing of what nobody knows.
        for one in (key, key_of_life(key, kind)):  # a row of its own goes before that of turpentine
            if one and tidy_key(one) in self._by_key:
                return self._by_key[tidy_key(one)]
        return self._by_kind.get(kind)


def policies_of_all(session: Session, material_ids: Iterable[int]) -> PoliciesInForce[AgeingPolicyRow]:
    """Every policy of the shop, and which of these materials go by a key though nobody linked them."""
    return PoliciesInForce(all_policy_rows(session), implied_keys(session, material_ids))


def in_force(newest_first: Sequence[AnyRow], material: Material) -> AnyRow | None:
    """The row that counts for one material. For many, keep a `PoliciesInForce`."""
    key = material.known_key or implied_key(material)
    if key == NOBODY_KNOWS:
        return next((row for row in newest_first if row.material_id == material.id is not None), None)
    return PoliciesInForce(newest_first).of(material.id, key, material.kind)


def policy_of(row: AgeingPolicyRow | PolicyRow) -> AgeingPolicy:
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


TOLD_BEFORE: Final = "told, not checked; carried over from "
"""How the note begins of what somebody told of another container, and what was poured from it took along."""
CARRIED: Final = "carried over from "
"""How the note begins of a check of one container that what was poured from it took along."""
FOUND_ELSEWHERE: Final = "found elsewhere: "
"""How the note begins of what was found in another container, one that went into this or came out of it."""
_CHECKS: Final = (
    columns_of(
        col(ContainerEvent.container_id), col(ContainerEvent.on_date), col(ContainerEvent.outcome),
        col(ContainerEvent.found),
        or_(col(Posting.act) == TELL, col(ContainerEvent.note).startswith(TOLD_BEFORE)),
        col(ContainerEvent.late), col(ContainerEvent.note).startswith(FOUND_ELSEWHERE),
        col(ContainerEvent.happened_at),
    )
    .join(Posting, col(Posting.id) == col(ContainerEvent.posting_id))
    .where(
        col(ContainerEvent.container_id).in_(bindparam("boxes", expanding=True)),
        col(ContainerEvent.kind) == EventKind.CHECKED,
        col(ContainerEvent.on_date).is_not(None),
        or_(col(ContainerEvent.outcome) != CheckOutcome.PASSED.value, ~CAME_IN_SINCE),
    )
    .order_by(col(ContainerEvent.id))
)


CHANGES_A_LIFE: Final = frozenset(
    {
        EventKind.CHECKED, MovementKind.DECANT_IN, MovementKind.RETURN, MovementKind.REVERSAL,
        MovementKind.COUNT_DIFFERENCE,
    }
)  # fmt: skip
"""The acts that are looked for here: no other changes what the dates of a container rest on."""


def checks_of(session: Session, container_id: int) -> tuple[ConditionCheck, ...]:
    """The condition checks of a container that have a day and still speak for what is in it."""
    return checks_of_all(session, [container_id]).get(container_id, ())


def checks_of_all(session: Session, container_ids: Sequence[int]) -> dict[int, tuple[ConditionCheck, ...]]:
    """The condition checks of many containers at once, by the number of the container.

    A check that passed before something was poured in says nothing about what is in it since; those that
    still hold were written anew with the pouring (see core.container_life.inherit). Nor does one that was
    made while something was out that came back later, or whose taking was taken back later, nor one after
    which more was counted than the book says; nor one that a jar took over from a look of which it turned out
    that it did not see all of it.
    """
    found: dict[int, list[ConditionCheck]] = {}
    for some in batched(container_ids):
        for number, on_date, outcome, what, told, late, other, at in run(session, _CHECKS, boxes=some):
            check = ConditionCheck(
                on_date, CheckOutcome(outcome), what or "", bool(told), late, bool(other), at
            )
            of_it = found.setdefault(number, [])
            if check.found == NOT_LOOKED_AT:  # what passed before, by the order of writing, was taken over
                of_it[:] = [one for one in of_it if one.outcome is not CheckOutcome.PASSED]
            of_it.append(check)
    return {number: tuple(checks) for number, checks in found.items()}


def tellings_among(session: Session, posting_ids: Iterable[int]) -> frozenset[int]:
    """Which of these postings tell of something that somebody saw and did not check."""
    asked = select(Posting.id).where(col(Posting.id).in_(set(posting_ids)), col(Posting.act) == TELL)
    return frozenset(number for number in session.exec(asked).all() if number is not None)


@dataclass(frozen=True)
class RestsOn:
    """What the dates of a container rest on beside its own row. ``key``: by what of its material."""

    key: tuple[int | None, MaterialKind, str | None]
    policy: PolicyRow | None
    checks: tuple[ConditionCheck, ...]
    former: PeroxideLife | None = None


def rests_on(session: Session, container: Container, material: Material) -> RestsOn:
    """What the dates of a container rest on now."""
    assert container.id is not None
    key = (material.id, material.kind, material.known_key)
    checks = checks_of(session, container.id)
    return RestsOn(key, policy_row_for(session, material), checks, former_of(session, material))


def life_on(container: Container, rests: RestsOn) -> LifeFacts:
    """A container's life where it is known already what its dates rest on."""
    return life_from(container, rests.policy, rests.checks, rests.former)


def life_of(session: Session, container: Container, material: Material) -> LifeFacts:
    """What is known about the life of a container."""
    return life_on(container, rests_on(session, container, material))


def lives_of(session: Session, boxes: Sequence[tuple[Container, Material]]) -> list[LifeFacts]:
    """What is known about the lives of many containers, in their order, by a few queries for all."""
    policies = policies_of_all(session, (m.id for _, m in boxes if m.id)) if boxes else PoliciesInForce(())
    checks = checks_of_all(session, [box.id for box, _ in boxes if box.id is not None])
    formers = formers_among(session, [m.id for _, m in boxes if m.id])
    return [
        life_from(
            box,
            policies.of(m.id, m.known_key, m.kind),
            checks.get(box.id or 0, ()),
            formers.get(m.id or 0),
        )
        for box, m in boxes
    ]


def lives_of_rows(session: Session, rows: Sequence[StoodRow]) -> list[LifeFacts]:
    """The same for rows of columns (see `records.stood_rows`)."""
    materials = {row.material_id for row in rows}
    policies = policies_of_all(session, materials) if rows else PoliciesInForce(())
    checks = checks_of_all(session, [row.id for row in rows])
    formers = formers_among(session, materials)
    return [
        life_from(
            row,
            policies.of(row.material_id, row.known_key, row.kind),
            checks.get(row.id, ()),
            formers.get(row.material_id),
        )
        for row in rows
    ]


def life_from(
    container: Container | StoodRow,
    row: AgeingPolicy | AgeingPolicyRow | PolicyRow | None,
    checks: tuple[ConditionCheck, ...],
    former: PeroxideLife | None = None,
) -> LifeFacts:
    """A container's own dates with the policy and the checks that count for it."""
    return LifeFacts(
        packed_on=container.packed_on,
        received_on=container.received_on,
        opened_on=container.opened_on,
        opened=container.ever_opened,
        printed_date=container.printed_date,
        checks=checks,
        policy=row if row is None or isinstance(row, AgeingPolicy) else policy_of(row),
        started_by=container.started_by,
        opened_by=container.opened_by,
        inherited_until=container.inherited_until,
        inherited_gap=container.inherited_gap,
        former=former,
    )


# Rests on nothing but what it is given: the answer for the same life and day is the same answer.
judged: Final = lru_cache(maxsize=5_000)(judge)


def standing_of(session: Session, container: Container, material: Material, today: date) -> Ageing:
    """How a container stands on a day."""
    return standing_on(container, rests_on(session, container, material), today)


def standing_on(container: Container, rests: RestsOn, today: date) -> Ageing:
    """The same where it is known already what its dates rest on."""
    return judged(life_on(container, rests), today)
