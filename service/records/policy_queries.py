"""Reading ageing policies: whom a policy is for, its history, and the materials it concerns."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, NamedTuple

from sqlalchemy import select as columns_of
from sqlmodel import Session, col, func, select

from service.core.ageing_policies import tidy_key
from service.core.containers import ContainerState
from service.core.findings import NotFound
from service.core.materials import KIND_WORDS, MaterialKind
from service.records.ageing_queries import PoliciesInForce, all_policy_rows, policies_of_all
from service.records.knowledge import known
from service.records.materials import AgeingPolicyRow, Material
from service.records.stock import Container


@dataclass(frozen=True)
class Subject:
    """Whom a policy is for: a kind, a key of the knowledge tables, or one material of the shop."""

    kind: MaterialKind | None = None
    key: str = ""
    material_id: int | None = None

    @property
    def address(self) -> str:
        """The last part of its page's address.

        >>> Subject(kind=MaterialKind.SOLVENT).address, Subject(key="tung").address
        ('kind/solvent', 'key/tung')
        """
        if self.material_id is not None:
            return f"material/{self.material_id}"
        return f"key/{self.key}" if self.key else f"kind/{self.kind.value if self.kind else ''}"

    def has(self, row: AgeingPolicyRow) -> bool:
        """Whether a row of the table was set for exactly this subject."""
        if self.material_id is not None or row.material_id is not None:
            return row.material_id == self.material_id
        if self.key or row.key:
            return tidy_key(row.key) == tidy_key(self.key)
        return row.kind is self.kind

    def in_words(self, material: Material | None = None) -> str:
        """Its name on pages.

        >>> Subject(kind=MaterialKind.COLOUR_IN_OIL).in_words(), Subject(key="pva").in_words()
        ('colour in oil', 'White PVA glue')
        """
        if material is not None:
            return material.name
        if self.key:
            row = known(self.key)
            return row.name if row is not None else self.key.replace("_", " ")
        return KIND_WORDS[self.kind] if self.kind else ""


def subject_of(row: AgeingPolicyRow) -> Subject:
    """Whom a stored row is for. A row with a key is for the key, whatever kind stands beside it."""
    if row.material_id is not None:
        return Subject(material_id=row.material_id)
    return Subject(key=row.key) if row.key else Subject(kind=row.kind)


def history(session: Session, subject: Subject) -> list[AgeingPolicyRow]:
    """Every policy ever set for a subject, the newest first: that one counts."""
    return [row for row in all_policy_rows(session) if subject.has(row)]


def own_material(session: Session, subject: Subject) -> Material | None:
    """The material of a subject that is one.

    Raises:
        NotFound: there is no such material, or no policy was ever set for that key.
    """
    if subject.material_id is not None:
        material = session.get(Material, subject.material_id)
        if material is None:
            raise NotFound(f"There is no material number {subject.material_id}.")
        return material
    if subject.key and not history(session, subject):
        raise NotFound("There is no ageing policy under that name.")
    return None


class Concerned(NamedTuple):
    """A material as the policies look at it."""

    id: int
    name: str
    kind: MaterialKind
    known_key: str | None


_MATERIALS: Final = columns_of(*(getattr(Material, name) for name in Concerned._fields)).order_by(
    col(Material.name), col(Material.id)
)


def materials_concerned(session: Session, subject: Subject) -> list[Concerned]:
    """The materials whose policy in force is this subject's, or would be if it had one."""
    wanted = _MATERIALS
    if subject.material_id is not None:
        wanted = wanted.where(col(Material.id) == subject.material_id)
    elif not subject.key:
        wanted = wanted.where(col(Material.kind) == subject.kind)
    rows = [Concerned._make(row) for row in session.connection().execute(wanted)]
    policies = policies_of_all(session, (one.id for one in rows))
    return [one for one in rows if _rules(policies, one, subject)]


def _rules(policies: PoliciesInForce[AgeingPolicyRow], one: Concerned, subject: Subject) -> bool:
    if subject.material_id is not None:
        return one.id == subject.material_id
    now = policies.of(one.id, one.known_key, one.kind)
    ruling = subject_of(now) if now is not None else Subject(kind=one.kind)
    if subject.key:
        return bool(ruling.key) and tidy_key(ruling.key) == tidy_key(subject.key)
    return ruling == subject


def containers_by_material(session: Session, material_ids: Sequence[int]) -> dict[int, int]:
    """How many containers of each material are not gone."""
    rows = session.exec(
        select(Container.material_id, func.count())
        .where(col(Container.material_id).in_(material_ids), col(Container.state) != ContainerState.GONE)
        .group_by(col(Container.material_id))
    ).all()
    return dict(rows)
