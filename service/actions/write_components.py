"""A keeper writes down what a material is made of, from section 3 of its sheet; each change is kept."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from typing import Any

from sqlmodel import Session

from service.actions.note_change import note_change
from service.actions.revise_material import locked
from service.actions.settle import Act, Sent, Settled, settle
from service.actions.spread_facts import spread
from service.core.access import Actor, Permission, require
from service.core.component_lines import Component, check_components, read_cas
from service.core.findings import Invalid, warn
from service.core.hazards.classes import Route
from service.core.peroxides import PeroxideLife
from service.records.components import MaterialComponent, components_of
from service.records.materials import Material
from service.records.peroxide_formers import former_of
from service.records.settle_dates import settle_dates_of_materials


@dataclass(frozen=True)
class ComponentsAsked:
    """All lines as they are to stand; none takes the shop's own composition away.

    Args:
        version: the material's, as it was shown.
        source: which sheet they were copied from.
    """

    once: str
    version: int
    lines: tuple[Component, ...]
    source: str = ""
    reason: str = ""

    def sent(self, material_id: int) -> Sent:
        lines = [[line.name, line.words] for line in self.lines]
        body = {
            "material": material_id, "version": self.version, "lines": lines, "source": self.source,
            "reason": self.reason,
        }  # fmt: skip
        return Sent(self.once, "write-components", body)


def write_components(
    session: Session, actor: Actor, now: datetime, material_id: int, asked: ComponentsAsked
) -> Settled:
    """Put these lines in place of what stood there; answers ``material``, ``name``, ``lines``, ``version``.

    Raises:
        NotAllowed: only a keeper says what a material is made of.
        NotFound, Stale.
        Invalid: a line that cannot be, or no source; `errors` names the field.
    """
    require(actor, Permission.MATERIAL_FACTS)
    return settle(session, actor, asked.sent(material_id), now, lambda act: _write(act, material_id, asked))


def component_of_row(row: MaterialComponent) -> Component:
    """A line of the book as the rules read it."""
    classes = None if row.hazards is None else tuple(str(one) for one in row.hazards)
    return Component(
        row.name,
        row.cas,
        row.low,
        row.high,
        classes,
        row.note,
        limits=None if row.limits is None else tuple(str(one) for one in row.limits),
        m_acute=row.m_acute,
        m_chronic=row.m_chronic,
        ate={Route(route): Decimal(figure) for route, figure in (row.ate or {}).items()},
    )


def _write(act: Act, material_id: int, asked: ComponentsAsked) -> dict[str, Any]:
    material = locked(act.session, material_id, asked.version)
    _check(asked)
    formed = former_of(act.session, material)
    before = list(components_of(act.session, material_id))
    _note(act, material_id, before, asked)
    for row in before:
        act.session.delete(row)
    act.session.flush()
    for position, line in enumerate(asked.lines):
        act.session.add(
            MaterialComponent(
                material_id=material_id,
                position=position,
                name=line.name,
                cas=line.cas,
                low=line.low,
                high=line.high,
                hazards=None if line.hazards is None else list(line.hazards),
                note=line.note,
                limits=None if line.limits is None else list(line.limits),
                m_acute=line.m_acute,
                m_chronic=line.m_chronic,
                ate={route.value: f"{figure:f}" for route, figure in line.ate.items()} or None,
                source=asked.source,
                set_by=act.actor.person_id,
                set_at=act.recorded_at,
            )
        )
    material.version += 1
    act.session.add(material)
    act.session.flush()
    _settle_former(act, material, formed)
    return {
        "material": material_id, "name": material.name, "lines": len(asked.lines), "version": material.version
    }  # fmt: skip


def _settle_former(act: Act, material: Material, before: PeroxideLife | None) -> None:
    """Where what it is made of makes it form peroxides, settle it and what was made with it."""
    after, number = former_of(act.session, material), material.id
    if after == before or number is None:
        return
    if after is not None:
        words = (
            f"{material.name} forms peroxides: kept {after.sealed_months} months sealed and "
            f"{after.opened_months} once opened at most."
        )
        act.note(warn("forms-peroxides", words, after.source))
    settle_dates_of_materials(act.session, [number], act.recorded_at.astimezone(act.zone).date())
    spread(act, [number], dates=True)


def _check(asked: ComponentsAsked) -> None:
    check_components(asked.lines)
    for at, line in enumerate(asked.lines):
        if line.cas:
            try:
                read_cas(line.cas)
            except Invalid as wrong:
                wrong.errors.setdefault(f"cas_{at}", wrong.sentence)
                raise
    if asked.lines and not asked.source.strip():
        words = "Write which sheet the lines are copied from, with its date."
        raise Invalid(words, {"source": words})


def _note(act: Act, material_id: int, before: Sequence[MaterialComponent], asked: ComponentsAsked) -> None:
    """One change for each line that came, went or reads otherwise."""
    about = ("material", material_id)
    old = {row.name: component_of_row(row).words for row in before}
    new = {line.name: line.words for line in asked.lines}
    for name in dict.fromkeys((*old, *new)):
        field = f"component {name}"[:60]
        note_change(
            act.session, act.actor, act.recorded_at, about, field, old.get(name), new.get(name), asked.reason
        )
    sources = "; ".join(dict.fromkeys(row.source for row in before)) or None
    note_change(
        act.session, act.actor, act.recorded_at, about, "components from", sources, asked.source or None,
        asked.reason,
    )  # fmt: skip
