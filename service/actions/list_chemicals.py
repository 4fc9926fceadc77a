"""The store's list of hazardous chemicals: every material that is present, judged in one pass."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection
from dataclasses import dataclass, field
from datetime import date
from typing import Final

from sqlalchemy import case, func
from sqlmodel import Session, col, select

from service.actions.judge_hazards import UNKNOWN_TOXICITY, JudgedHazards, judge_material
from service.core.chemicals_list import ListedChemical
from service.core.containers import AmountKnown
from service.core.findings import Severity
from service.core.hazards.label import signal_word
from service.core.hazards.regimes import Regime
from service.core.material_facts import MaterialFacts, facts_self_heating
from service.core.materials import SelfHeating
from service.core.quantities import show_amount
from service.records.components import components_of_all
from service.records.material_queries import facts_of_all
from service.records.material_search import all_places, path_of
from service.records.materials import Material
from service.records.materials_in_use import PRESENT, InUse, materials_here, materials_in_use
from service.records.stock import Container

MOST_LISTED: Final = 3000

# What one of its containers took over from what was poured in; not known counts as yes.
_OILY: Final = (SelfHeating.YES, SelfHeating.NOT_KNOWN)


@dataclass
class _Stock:
    """What is there of one material, from all its containers."""

    containers: int = 0
    measured: int = 0
    not_measured: int = 0
    about: bool = False
    oily: bool = False
    places: set[int | None] = field(default_factory=set)


def hazardous_chemicals(session: Session, regime: Regime, today: date) -> list[ListedChemical]:
    """Every material with a container in the store, or in use at a job or in a pot, by name: at most 3000.

    Costs a handful of queries however many containers there are, and a few for each pot that stands.
    """
    stock, in_use = _stock(session), materials_in_use(session)
    present = materials_here(session, in_use)
    materials = session.exec(
        select(Material)
        .where(col(Material.id).in_(present))
        .order_by(func.lower(col(Material.name)), col(Material.id))
        .limit(MOST_LISTED)
    ).all()
    places = all_places(session)
    own = components_of_all(session, [material.id for material in materials if material.id is not None])
    rows = []
    for material, facts in zip(materials, facts_of_all(session, materials), strict=True):
        mine = own.get(material.id or 0, [])
        judged = judge_material(session, material, regime, today, facts=facts, own=mine)
        held, use = stock[material.id or 0], in_use.get(material.id or 0)
        numbers = held.places | (use.places if use else set())
        paths = {path_of(places.get(number or 0), places) or None for number in numbers}
        where = tuple(sorted(paths, key=lambda one: (one is not None, one or "")))
        rows.append(_row(material, facts, judged, held, use, where))
    return rows


def _row(
    material: Material,
    facts: MaterialFacts,
    judged: JudgedHazards,
    held: _Stock,
    use: InUse | None,
    where: tuple[str | None, ...],
) -> ListedChemical:
    signal = signal_word(judged.hazards)
    assert material.id is not None
    return ListedChemical(
        material_id=material.id,
        name=material.name,
        maker=material.maker,
        cas=material.cas,
        classes=tuple(hazard.text for hazard in judged.hazards),
        signal=signal.value if signal else "",
        sheet=facts.sheet is not None,
        sheet_date=facts.sheet.date if facts.sheet else None,
        places=where,
        containers=held.containers,
        amount=_amount(material, held),
        in_use=_in_use(material, use) if use else "",
        lacks=sum(one.severity is Severity.UNKNOWN for one in judged.verdict),
        sheet_answers=_not_known_of_parts(judged.sheet_answers),
        oily=held.oily or facts_self_heating(facts),
    )


def _not_known_of_parts(codes: Collection[str]) -> str:
    """What nobody knows of its parts, in a few words; the gravest alone."""
    for words, about in (
        ("what it is made of is not known", {"composition-not-known"}),
        ("the classes of a part are not known", {"hazards-not-known"}),
        ("how poisonous a part is, is not known", UNKNOWN_TOXICITY),
        ("not all shares are known", {"remainder-not-told", "share-not-known"}),
        ("own limits of a part are not known", {"own-limits-not-known"}),
    ):
        if about & set(codes):
            return words
    return "not every figure of it is known" if codes else ""


def _in_use(material: Material, use: InUse) -> str:
    """ "2 l drawn or in a pot", with what of it is not measured."""
    if material.basis is None or not use.amount:
        return "drawn or in a pot: how much is not measured"
    words = ("about " if use.about else "") + show_amount(use.amount, material.basis)
    return f"{words} drawn or in a pot" + (", and some that is not measured" if use.more else "")


def _amount(material: Material, held: _Stock) -> str | None:
    """ "about 3 kg, 2 not measured"; None when not one container was measured."""
    if material.basis is None or held.not_measured == held.containers:
        return None
    words = ("about " if held.about else "") + show_amount(held.measured, material.basis)
    return f"{words}, {held.not_measured} not measured" if held.not_measured else words


def _stock(session: Session) -> defaultdict[int, _Stock]:
    found: defaultdict[int, _Stock] = defaultdict(_Stock)
    counted = (
        select(  # type: ignore[call-overload]  # more columns than its types foresee
            Container.material_id,
            Container.place_id,
            Container.balance_known,
            func.count(),
            func.count(col(Container.balance)),
            func.sum(col(Container.balance)),
            func.count(case((col(Container.inherited_self_heating).in_(_OILY), 1))),
        )
        .where(col(Container.state).in_(PRESENT))
        .group_by(Container.material_id, Container.place_id, Container.balance_known)
    )
    for material_id, place_id, known, number, with_balance, total, oily in session.exec(counted):
        held = found[material_id]
        held.containers += number
        held.not_measured += number - with_balance
        held.measured += int(total or 0)
        held.oily = held.oily or oily > 0
        held.about = held.about or (known is AmountKnown.ESTIMATED and with_balance > 0)
        held.places.add(place_id)
    return found
