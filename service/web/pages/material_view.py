"""One material in words: its facts with where they come from, what is missing, its sheets and containers."""

from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal
from typing import Any

from sqlmodel import Session

from service.actions.set_up_shop import REGIMES
from service.actions.weigh_spoons import weighings_of
from service.core.access import Actor, Permission, may
from service.core.ageing import Ageing, judge
from service.core.findings import Verdict
from service.core.material_facts import FlashMethod, facts_self_heating, is_keeper_only, review
from service.core.materials import KIND_WORDS, Basis, Form, SelfHeating, Unknown
from service.core.quantities import show_amount
from service.core.shelf_codes import show_code
from service.core.sources import GRADE_WORDS
from service.records.ageing_queries import lives_of
from service.records.knowledge import Figure, KnownMaterial, known, load_sources
from service.records.material_queries import facts_of, sheets_of
from service.records.materials import Material, SafetySheet, StoredFile
from service.records.people import Person
from service.records.shop import ShopProfile
from service.records.stock_queries import Held, containers_of, place_of
from service.web.render import day, number

METHODS = {
    FlashMethod.CLOSED_CUP: "closed cup",
    FlashMethod.OPEN_CUP: "open cup",
    FlashMethod.CALCULATED: "calculated",
}
COUNTED = {Basis.MASS: "by weight", Basis.VOLUME: "by volume", Basis.PIECES: "in pieces"}
ANSWERS = {Unknown.YES: "yes", Unknown.NO: "no", Unknown.NOT_KNOWN: None}
_SHEET_YEARS = 5
_SHOWN = 100

Row = tuple[str, Any, str]


@dataclass(frozen=True)
class MaterialView:
    """What the page of a material shows. Rows are (label, value or None for not known, where from)."""

    id: int
    name: str
    lead: str
    version: int
    active: bool
    described: list[Row]
    hazards: list[Row]
    amounts: list[Row]
    verdict: Verdict
    lacks: int
    sheets: list[dict[str, Any]]
    containers: list[dict[str, Any]]
    published: list[dict[str, Any]]
    published_name: str
    takes_published: bool
    weighings: list[str]
    powder: bool
    sees_store: bool
    keeper: bool
    staff: bool
    not_stocked: bool
    heats: bool


def view_material(session: Session, material: Material, actor: Actor, today: date) -> MaterialView:
    """Everything about one material in words; containers only for those who see the store."""
    assert material.id is not None
    facts = facts_of(session, material)
    shop = session.get(ShopProfile, 1)
    old = today.replace(year=today.year - _SHEET_YEARS, day=min(today.day, 28))
    verdict = review(facts, regime=shop.regime if shop else None, sheet_not_before=old)
    row = known(material.known_key or "")
    keeper, sees = may(actor.role, Permission.MATERIAL_FACTS), may(actor.role, Permission.SEE_STORE)
    held = containers_of(session, [material.id])[:_SHOWN] if sees else []
    return MaterialView(
        id=material.id,
        name=material.name,
        lead=_lead(material),
        version=material.version,
        active=material.active,
        described=_described(material),
        hazards=_hazards(material, facts_self_heating(facts), is_keeper_only(facts)),
        amounts=_amounts(material),
        # Every finding is about this one material; its name need not stand under each.
        verdict=Verdict.of(replace(f, about="") for f in verdict),
        lacks=sum(f.severity.value == "unknown" for f in verdict),
        sheets=[_sheet(session, sheet) for sheet in sheets_of(session, material.id)[:20]],
        containers=_containers(session, held, today),
        published=_published(row) if row else [],
        published_name=row.name if row else "",
        takes_published=keeper and row is not None and _is_bare(material),
        weighings=[_weighing(session, w) for w in weighings_of(session, material.id)[:10]],
        powder=material.form in (Form.POWDER, Form.SOLID),
        sees_store=sees,
        keeper=keeper,
        staff=may(actor.role, Permission.DESCRIBE_MATERIAL),
        not_stocked=material.not_stocked,
        heats=material.self_heating is SelfHeating.YES,
    )


def _is_bare(material: Material) -> bool:
    """No keeper's fact has been written yet, so the published ones can be taken over at a press."""
    return (
        material.density_g_ml is None
        and material.self_heating is SelfHeating.NOT_KNOWN
        and material.toxic_metals is None
        and not material.binder
    )


def _lead(material: Material) -> str:
    parts = [KIND_WORDS[material.kind], material.form.value]
    if material.maker:
        parts.append(f"made by {material.maker}")
    return ", ".join(parts)[:1].upper() + ", ".join(parts)[1:]


def _described(material: Material) -> list[Row]:
    basis = COUNTED[material.basis] if material.basis else "settled by the first delivery"
    rows: list[Row] = [
        ("Colour Index name", material.ci_name or None, ""),
        ("CAS number", material.cas or None, ""),
        ("Counted", basis, ""),
        ("Note", material.note or "–", ""),
    ]
    if material.not_stocked:
        rows.append(("Stock", "not stocked here", ""))
    return rows


def _hazards(material: Material, heats: bool, keeper_only: bool) -> list[Row]:
    classes = (
        None if material.hazards is None else ("; ".join(map(str, material.hazards)) or "examined, none")
    )
    metals = None if material.toxic_metals is None else (", ".join(map(str, material.toxic_metals)) or "none")
    said = {
        SelfHeating.YES: "yes",
        SelfHeating.NO: "no",
        SelfHeating.NOT_KNOWN: "not known, so it counts as yes",
    }
    rags = "Its rags count as oily rags." if heats else "Its rags do not count as oily rags."
    why = f"{rags} {material.self_heating_reason}".strip()
    whose = "by rule" if material.keeper_only is None else "a keeper's decision"
    only = f"{'yes' if keeper_only else 'no'}, {whose}"
    return [
        ("Supplier's hazard classes", classes, material.hazards_source),
        ("Rags heat by themselves", said[material.self_heating], why),
        ("Flash point", _flash(material), _flash_note(material)),
        ("Ventilation class", material.ventilation_class, material.ventilation_source),
        ("Toxic metals", metals, ""),
        ("Binder", material.binder or None, ""),
        ("Oil share, by mass", _percent(material.oil_share_percent), ""),
        ("Drier in it", ANSWERS[material.has_drier], ""),
        ("Kept from students", only, material.keeper_only_reason),
    ]


def _flash(material: Material) -> str | None:
    if material.flash_point_c is not None:
        return f"{number(material.flash_point_c)} °C"
    return f"none: {material.no_flash_reason}" if material.no_flash_reason else None


def _flash_note(material: Material) -> str:
    if material.flash_point_c is None:
        return ""
    method = material.flash_point_method
    return METHODS[FlashMethod(method)] if method else "method not known"


def _percent(value: Decimal | None) -> str | None:
    return None if value is None else f"{number(value)} %"


def _amounts(material: Material) -> list[Row]:
    low, high = material.bulk_low_g_ml, material.bulk_high_g_ml
    loose = None
    if low is not None and high is not None:
        loose = f"{number(low)} g/ml" if low == high else f"{number(low)} to {number(high)} g/ml"
    density = f"{number(material.density_g_ml)} g/ml" if material.density_g_ml is not None else None
    return [
        ("Density", density, material.density_source),
        ("Loose density of the powder", loose, material.bulk_source),
    ]


def _sheet(session: Session, sheet: SafetySheet) -> dict[str, Any]:
    file = session.get(StoredFile, sheet.file_sha256) if sheet.file_sha256 else None
    return {
        "date": day(sheet.sheet_date),
        "law": REGIMES.get(sheet.regime, sheet.regime),
        "whole": "sections 2, 3 and 9 copied whole" if sheet.copied_whole else "not copied whole",
        "file": {"href": f"/materials/{sheet.material_id}/sheets/{sheet.id}/file", "words": file.name}
        if file
        else "on paper only",
    }


def _containers(session: Session, held: list[Held], today: date) -> list[dict[str, Any]]:
    lives = lives_of(session, [(one.container, one.material) for one in held])
    return [_container(session, one, judge(life, today)) for one, life in zip(held, lives, strict=True)]


def _container(session: Session, held: Held, ageing: Ageing) -> dict[str, Any]:
    box, place = held.container, place_of(session, held.container)
    amount = show_amount(box.balance, held.material.basis) if held.material.basis else None
    return {
        "code": {"href": f"/C/{box.code}", "words": show_code(box.code)},
        "amount": amount,
        "state": box.state.value,
        "place": place.name if place else None,
        "standing": {"standing": ageing.standing.value},
        "_act": {"href": f"/C/{box.code}", "words": "Open its page"},
    }


def _published(row: KnownMaterial) -> list[dict[str, Any]]:
    return [
        {
            "what": figure.property.replace("_", " "),
            "value": figure_words(figure),
            "source": "; ".join(source_words(key) for key in figure.source),
            "grade": GRADE_WORDS[figure.grade],
        }
        for figure in row.figures
    ]


def figure_words(figure: Figure) -> str:
    """A published figure with its unit and what it holds at."""
    if figure.low is not None and figure.low == figure.high:
        value = number(figure.low)
    elif figure.low is not None and figure.high is not None:
        value = f"{number(figure.low)} to {number(figure.high)}"
    elif figure.low is not None:
        value = f"{number(figure.low)} or more"
    else:
        value = f"{number(figure.high)} or less"
    at = f" at {number(figure.at_c)} °C" if figure.at_c is not None else ""
    method = f", {figure.method.replace('-', ' ')}" if figure.method else ""
    return f"{value} {figure.unit}{at}{method}"


def source_words(key: str) -> str:
    """A source by its key, in words."""
    source = load_sources().get(key)
    return source.what if source else key


def _weighing(session: Session, weighing: Any) -> str:
    person = session.get(Person, weighing.person_id)
    return f"{weighing.written}, {day(weighing.weighed_at.date())}, {person.name if person else ''}"
