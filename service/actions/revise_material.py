"""Changing what the shop says of a material: each change is kept with before and after, amounts never."""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from datetime import datetime
from typing import Any

from sqlmodel import Session, col, select

from service.actions.describe_material import (
    checked,
    published_entry,
    tidy,
    twin_findings,
    twins,
)
from service.actions.dissolved_life import as_dissolved
from service.actions.note_change import note_change
from service.actions.rag_duty import blocked_by
from service.actions.settle import Act, Sent, Settled, settle
from service.actions.settle_solutions import settle_solutions_of
from service.actions.spread_facts import spread
from service.core.access import Actor, Permission, may, require
from service.core.findings import Invalid, NotAllowed, NotFound, Refused, Stale, Verdict, stop, warn
from service.core.material_entry import (
    Description,
    KeeperFacts,
    columns,
    judge_description,
    judge_facts,
    judge_no,
    plain_columns,
)
from service.core.materials import Basis
from service.records.implied_keys import implied_key
from service.records.knowledge import known
from service.records.material_queries import counts_self_heating
from service.records.materials import Material
from service.records.peroxide_formers import former_of
from service.records.settle_dates import settle_dates_of_materials
from service.records.stock import Container, Movement

ANYBODY_MAY_CHANGE = frozenset({"name", "maker", "note"})
"""Of a description; the rest decides hazards, so a keeper changes it."""


@dataclass(frozen=True)
class Revision:
    """A change of one material. ``said`` or ``facts`` None: left as it is; ``active`` None: left.

    Args:
        version: the version that was shown when the form was opened.
    """

    once: str
    version: int
    said: Description | None = None
    facts: KeeperFacts | None = None
    active: bool | None = None
    reason: str = ""

    def sent(self, material_id: int) -> Sent:
        body = {
            "material": material_id,
            "version": self.version,
            "said": plain_columns(columns(self.said)) if self.said else None,
            "facts": plain_columns(columns(self.facts)) if self.facts else None,
            "active": self.active,
            "reason": self.reason,
        }
        return Sent(self.once, "revise-material", body)


def revise_material(
    session: Session, actor: Actor, now: datetime, material_id: int, asked: Revision
) -> Settled:
    """Change the description, the keeper's facts, or retire a material; answers ``material``, ``version``.

    Raises:
        NotAllowed: the role may not change this.
        NotFound, Invalid.
        Stale: it was changed since the form was opened.
        Refused: the basis is fixed by a movement; containers are left and it is to be retired.
    """
    require(actor, Permission.DESCRIBE_MATERIAL)
    if asked.facts is not None or asked.active is not None:
        require(actor, Permission.MATERIAL_FACTS)
    return settle(session, actor, asked.sent(material_id), now, lambda act: _revise(act, material_id, asked))


def adopt_published(
    session: Session, actor: Actor, now: datetime, material_id: int, once: str, version: int
) -> Settled:
    """Take over the published facts of the row a material was picked from, where the shop has none yet.

    Raises:
        NotAllowed, NotFound, Stale.
        Invalid: it was not picked from a published row.
    """
    require(actor, Permission.MATERIAL_FACTS)
    sent = Sent(once, "adopt-published", {"material": material_id, "version": version})

    def perform(act: Act) -> dict[str, Any]:
        material = locked(act.session, material_id, version)
        row = known(material.known_key or "")
        if row is None:
            raise Invalid("This material was not picked from the published facts.")
        heated = counts_self_heating(act.session, material)
        mine, theirs, blank = facts_held(material), published_entry(row), KeeperFacts()
        empty = {f.name for f in fields(mine) if getattr(mine, f.name) == getattr(blank, f.name)}
        filled = replace(mine, **{name: getattr(theirs, name) for name in empty})
        if filled.flash_point_c is not None and filled.no_flash_reason:
            filled = replace(filled, no_flash_reason=mine.no_flash_reason)
        write_columns(act, material, columns(filled), "taken over from the published facts")
        return _answer(act, material, heated=heated)

    return settle(session, actor, sent, now, perform)


def facts_held(material: Material) -> KeeperFacts:
    """The keeper's facts as they stand in the book."""
    values = {f.name: getattr(material, f.name) for f in fields(KeeperFacts)}
    for name in ("hazards", "toxic_metals"):
        values[name] = None if values[name] is None else tuple(str(v) for v in values[name])
    return KeeperFacts(**values)


def description_held(material: Material) -> Description:
    """The description as it stands in the book."""
    return Description(**{f.name: getattr(material, f.name) for f in fields(Description)})


def locked(session: Session, material_id: int, version: int) -> Material:
    """The material, locked for a change of what was shown as ``version``.

    Raises:
        NotFound, Stale.
    """
    material = session.get(Material, material_id, with_for_update=True, populate_existing=True)
    if material is None:
        raise NotFound(f"There is no material number {material_id}.")
    if material.version != version:
        raise Stale(f"{material.name} was changed meanwhile. Open it again and enter your change once more.")
    return material


def _revise(act: Act, material_id: int, asked: Revision) -> dict[str, Any]:
    material = locked(act.session, material_id, asked.version)
    before, heated = facts_held(material), counts_self_heating(act.session, material)
    kind_changed, kept = False, _what_keeps(act.session, material)
    if asked.said is not None:
        said = tidy(asked.said)
        judge_description(said)
        _may_describe(act, material, said)
        kind_changed = said.kind is not material.kind
        act.note(
            *twin_findings(act.session, material, twins(act.session, said.name, said.maker, material.id))
        )
        write_columns(act, material, columns(said), asked.reason)
        _still_that_row(act, material, asked.reason)
    facts = asked.facts or before
    if asked.facts is not None or kind_changed:
        judge_facts(facts)
        judge_no(facts, before, published=False, kind_changed=kind_changed)
    if asked.facts is not None:
        write_columns(act, material, columns(facts), asked.reason)
    if asked.active is not None:
        _retire(act, material, asked.active, asked.reason)
    return _answer(act, material, heated=heated, kept=kept)


def _still_that_row(act: Act, material: Material, reason: str) -> None:
    """A material of another kind is no longer the published row it was picked from, nor lasts as long."""
    row = known(material.known_key or "")
    if row is not None and row.kind is not material.kind:
        write_columns(act, material, {"known_key": None}, reason)


def _may_describe(act: Act, material: Material, said: Description) -> None:
    changed = {k for k, v in columns(said).items() if v != getattr(material, k)}
    if changed - ANYBODY_MAY_CHANGE - {"basis"} and not may(act.actor.role, Permission.MATERIAL_FACTS):
        raise NotAllowed("Kind, form, Colour Index name and CAS number decide hazards: ask a keeper.")
    if "basis" in changed:
        _may_set_basis(act.session, material, said.basis)


def _may_set_basis(session: Session, material: Material, basis: Basis | None) -> None:
    moved = session.exec(
        select(Movement.id)
        .join(Container, col(Container.id) == col(Movement.container_id))
        .where(col(Container.material_id) == material.id)
        .limit(1)
    ).first()
    if moved is not None and material.basis is not None:
        words = f"{material.name} is counted by {material.basis.value} since its first movement. That stays."
        raise Refused(Verdict.of([stop("basis-fixed", words, about=material.name)]))


def _retire(act: Act, material: Material, active: bool, reason: str) -> None:
    if material.active and not active:
        left = act.session.exec(
            select(Container.id).where(
                col(Container.material_id) == material.id, col(Container.state).in_(["sealed", "open"])
            )
        ).all()
        if left:
            words = f"{len(left)} containers of {material.name} are still in the store. Book them out first."
            raise Refused(Verdict.of([stop("material-in-use", words, about=material.name)]))
    write_columns(act, material, {"active": active}, reason)


def write_columns(act: Act, material: Material, values: dict[str, Any], reason: str) -> None:
    """Set columns of a locked material, each change kept with before and after."""
    about = ("material", material.id)
    for field, after in values.items():
        before = getattr(material, field)
        if before == after:
            continue
        words = field.replace("_g_ml", ", g/ml").replace("_c", ", °C" if "flash" in field else "_c")
        note_change(
            act.session, act.actor, act.recorded_at, about, words.replace("_", " "),
            _said(before), _said(after), reason,
        )  # fmt: skip
        setattr(material, field, after)
    act.session.add(material)


def _said(value: Any) -> Any:
    """None stays None ("not known"); an empty list says that it was examined."""
    if isinstance(value, list):
        return "; ".join(str(v) for v in value) or "examined, none"
    return value


def _what_keeps(session: Session, material: Material) -> tuple[Any, ...]:
    """All of a description that decides how long it keeps, and how long what it is dissolved in."""
    key, former = material.known_key or implied_key(material), former_of(session, material)
    return material.kind, key, former, as_dissolved(material).counts_as


def _answer(
    act: Act, material: Material, *, heated: bool, kept: tuple[Any, ...] | None = None
) -> dict[str, Any]:
    material.version += 1
    act.session.add(material)
    act.session.flush()
    checked(act.session, material)
    if heated and not counts_self_heating(act.session, material):
        words = (
            f"Rags with {material.name} no longer count as oily from now on. Loads that run stay as they are."
        )
        # Else the flag would be a way around the block: off, draw, on again.
        overdue = blocked_by(act.session, act.recorded_at)
        if overdue.blocking:
            raise Refused(overdue)
        act.note(warn("no-longer-self-heating", words, about=material.name))
    assert material.id is not None
    # The kind decides the ageing policy, so the dates of what is there are settled anew.
    settle_dates_of_materials(act.session, [material.id], act.recorded_at.astimezone(act.zone).date())
    moved = kept is None or kept != _what_keeps(act.session, material)
    if moved:
        settle_solutions_of(act, [material.id])
    spread(act, [material.id], dates=moved)
    return {"material": material.id, "name": material.name, "version": material.version}
