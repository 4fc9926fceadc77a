"""`/store`, `/scan`, `/C/{code}` and `/containers/{code}`: finding a container and everything about it."""

from dataclasses import dataclass
from datetime import date, datetime
from typing import Annotated, Any
from urllib.parse import quote, urlencode

from fastapi import APIRouter, Query, Request
from fastapi.responses import RedirectResponse, Response
from sqlmodel import Session, col, select

from service.actions.judge_ventilation import card_of_container, warm_room
from service.core.access import Actor, Permission, may
from service.core.ageing import judge
from service.core.containers import STANDING_WORDS, ContainerState, Standing
from service.core.findings import Invalid, NotFound
from service.core.materials import KIND_WORDS, MaterialKind
from service.core.shelf_codes import near_codes, normalise, show_code, tidy
from service.records.ageing_queries import life_of
from service.records.material_queries import the_material
from service.records.mixing_queries import batches_not_measured
from service.records.places import Place
from service.records.stock import Container
from service.records.stock_queries import container_by_code, material_of
from service.records.store_queries import IN_THE_STORE, StoreRow, StoreWanted, find_containers
from service.web.access_gate import Signed
from service.web.act_view import (
    STATE_WORDS,
    amount_words,
    condition_words,
    place_choices,
    standing_words,
    view_for_act,
)
from service.web.ageing_bar import AgeingBar, ageing_bar
from service.web.container_story import (
    EVENT_COLUMNS,
    LEDGER_COLUMNS,
    acts_for,
    event_lines,
    facts_about,
    ledger_lines_of,
)
from service.web.deps import Data, Now, shop_today, shop_zone
from service.web.fields import Id, PageNumber, Sentence
from service.web.jar_view import COLUMNS as JAR_COLUMNS
from service.web.jar_view import jar_view
from service.web.pages.material_hazards import shop_regime
from service.web.render import page
from service.web.second_clock_view import ASSUMED, second_clock_view
from service.web.second_clock_view import COLUMNS as AIR_COLUMNS
from service.web.second_clock_view import SOURCE_COLUMNS as AIR_SOURCES
from service.web.ventilation_view import VentilationView, view_card, view_not_known

router = APIRouter(include_in_schema=False)

PER_PAGE = 60
COLUMNS = [
    {"key": "code", "label": "Code"},
    {"key": "amount", "label": "Amount"},
    {"key": "state", "label": "State"},
    {"key": "place", "label": "Place"},
    {"key": "standing", "label": "Standing", "tag": True},
]
STANDINGS = [(s.value, words[:1].upper() + words[1:]) for s, words in STANDING_WORDS.items()]
KINDS = [(k.value, words[:1].upper() + words[1:]) for k, words in KIND_WORDS.items()]
STATES = [(s.value, words[:1].upper() + words[1:]) for s, words in STATE_WORDS.items()]


@dataclass(frozen=True)
class Group:
    """The containers of one material on the page."""

    name: str
    href: str
    rows: list[dict[str, Any]]


@router.get("/store")
def store(
    request: Request,
    data: Data,
    now: Now,
    actor: Signed,
    q: Annotated[Sentence | None, Query()] = None,
    standing: Annotated[str | None, Query(max_length=20)] = None,
    kind: Annotated[str | None, Query(max_length=40)] = None,
    place: Annotated[str | None, Query(max_length=12)] = None,
    material: Annotated[Id | None, Query()] = None,
    state: Annotated[str | None, Query(max_length=20)] = None,
    number: Annotated[PageNumber, Query(alias="page")] = 1,
) -> Response:
    """What is in the store, by material. A filter that nobody offers narrows nothing."""
    wanted = StoreWanted(
        text=q or "",
        kind=MaterialKind(kind) if kind in set(MaterialKind) else None,
        material_id=material,
        place_id=int(place) if place and place.isascii() and place.isdigit() and len(place) < 10 else None,
        standing=Standing(standing) if standing in set(Standing) else None,
        states=(ContainerState(state),) if state in set(ContainerState) else IN_THE_STORE,
    )
    with data.reading() as session:
        today = shop_today(session, now)
        rows, total = find_containers(session, wanted, today, (number - 1) * PER_PAGE, PER_PAGE)
        places = place_choices(session)
    chosen = {
        "q": q or "", "standing": standing or "", "kind": kind or "", "place": place or "",
        "state": state or "", "material": str(material or ""),
    }  # fmt: skip
    narrowed = {name: value for name, value in chosen.items() if value}
    context = {
        "groups": grouped(rows),
        "columns": COLUMNS,
        "total": total,
        "chosen": chosen,
        "narrowed": bool(narrowed),
        "standings": STANDINGS,
        "kinds": KINDS,
        "states": STATES,
        "places": [(str(n), words) for n, words in places],
        "number": number,
        "pages": max(1, -(-total // PER_PAGE)),
        "paging": f"/store?{urlencode(narrowed)}{'&' if narrowed else ''}page=",
        "may_receive": may(actor.role, Permission.RECEIVE),
        "ways": [
            ("Use first", "/use-first"),
            ("The next twelve months", "/year-ahead"),
            ("Materials", "/materials"),
            ("Hazardous chemicals", "/hazards/store"),
            ("Storage limits", "/storage"),
            ("Places", "/places"),
            ("How long things keep", "/policies"),
        ],
    }
    return page(request, "containers/store.html", context, section="store", scan=True)


def grouped(rows: list[StoreRow]) -> list[Group]:
    """The rows under their materials, in their order."""
    groups: dict[int, Group] = {}
    for row in rows:
        number = row.container.material_id
        href = f"/materials/{number}"
        groups.setdefault(number, Group(row.material.name, href, [])).rows.append(_cells(row))
    return list(groups.values())


def _cells(row: StoreRow) -> dict[str, Any]:
    box = row.container
    return {
        "code": {"href": f"/containers/{box.code}", "words": show_code(box.code)},
        "amount": amount_words(box, row.material)[0],
        "state": ", ".join(words for words in (STATE_WORDS[box.state], condition_words(box)) if words),
        "place": row.place.name if row.place else None,
        "standing": {
            "standing": row.standing.value,
            "words": standing_words(row.standing, row.in_date_until),
        },
    }


@router.get("/scan")
def scan(
    request: Request,
    data: Data,
    now: Now,
    actor: Signed,
    q: Annotated[str, Query(max_length=500)] = "",
    code: Annotated[str, Query(max_length=500)] = "",
    aim: Annotated[str, Query(alias="for", max_length=20)] = "",
) -> Response:
    """Where a scan leads: a container, its next step in a flow, a place, else a search of the store."""
    text = (code or q).strip()
    known = normalise(text)
    with data.reading() as session:
        if known is not None:
            if _container(session, known) is not None:
                step = f"/{aim}" if aim in _FLOWS else ""
                return RedirectResponse(f"/containers/{known}{step}", 303)
            place = session.exec(select(Place).where(col(Place.code) == known)).one_or_none()
            if place is not None and may(actor.role, Permission.SEE_STORE):
                return RedirectResponse(f"/places/{place.id}", 303)
        looks_like_code = tidy(text) is not None and (known is not None or _near(session, text))
    if looks_like_code or not may(actor.role, Permission.SEE_STORE):
        return unknown(request, data, text)
    return RedirectResponse(f"/store?q={quote(text[:300])}" if text else "/store", 303)


_FLOWS = frozenset({"draw", "return", "count", "lose", "discard", "move", "open", "close", "check", "decant"})


def _container(session: Session, code: str) -> Container | None:
    return session.exec(select(Container).where(col(Container.code) == code)).one_or_none()


def _near(session: Session, text: str) -> list[str]:
    found = near_codes(text)
    if not found:
        return []
    return list(
        session.exec(
            select(Container.code).where(col(Container.code).in_(found)).order_by(col(Container.code))
        ).all()
    )


def unknown(request: Request, data: Data, text: str) -> Response:
    """404 for a code that no container has, with those it may have been meant as."""
    with data.reading() as session:
        near = [(code, show_code(code)) for code in _near(session, text)]
    shown = "".join(c for c in text if c.isprintable())[:40]
    bare = tidy(text)
    context = {
        "typed": show_code(bare) if bare else shown,
        "near": near,
        "wrong_sign": bare is not None and normalise(text) is None,
    }
    return page(request, "containers/unknown.html", context, 404, section="store", scan=True)


@router.get("/C/{code}")
@router.get("/c/{code}")
def by_label(request: Request, data: Data, actor: Signed, code: str) -> Response:
    """The address in a label's square code, in any letter case."""
    known = normalise(code)
    if known is None:
        return unknown(request, data, code)
    with data.reading() as session:
        if _container(session, known) is None:
            place = session.exec(select(Place).where(col(Place.code) == known)).one_or_none()
            if place is None:
                return unknown(request, data, code)
            return RedirectResponse(f"/places/{place.id}", 303)
    return RedirectResponse(f"/containers/{known}", 303)


@router.get("/containers/{code}")
def one(
    request: Request,
    data: Data,
    now: Now,
    actor: Signed,
    code: str,
    across: Annotated[str, Query(max_length=20)] = "",
) -> Response:
    """How it stands, what may be done with it, and everything that happened to it."""
    known = normalise(code)
    if known is not None and known != code:
        return RedirectResponse(f"/containers/{known}", 303)
    try:
        return _one(request, data, now, actor, code, across)
    except NotFound:
        return unknown(request, data, code)


def _one(
    request: Request, data: Data, now: datetime, actor: Actor, code: str, across: str
) -> Response:
    sees = may(actor.role, Permission.SEE_STORE)
    with data.reading() as session:
        box = container_by_code(session, code)
        view = view_for_act(session, box, actor, now)
        zone = shop_zone(session)
        context = {
            "view": view,
            "acts": acts_for(view, actor),
            "may_check": may(actor.role, Permission.CHECK),
            "facts": facts_about(session, box) if sees else [],
            "ledger": ledger_lines_of(session, box, actor, zone) if sees else [],
            "events": event_lines(session, box, zone) if sees else [],
            "sees": sees,
            "owes_a_count": _unmeasured(session, box) if sees else [],
            "ventilation": _ventilation(session, box, now),
            "jar": jar_view(session, box, material_of(session, box), now),
            "jar_columns": JAR_COLUMNS,
            "second_clock": second_clock_view(session, box, zone, across) if sees else None,
            "ageing": _ageing(session, box, view.name, view.today) if sees else None,
            "air_columns": AIR_COLUMNS,
            "air_sources": AIR_SOURCES,
            "assumed": ASSUMED,
            "ledger_columns": LEDGER_COLUMNS,
            "event_columns": EVENT_COLUMNS,
            "label_href": f"/labels?code={box.code}" if may(actor.role, Permission.PRINT_LABELS) else "",
        }
    return page(request, "containers/one.html", context, section="store", scan=True)


def _unmeasured(session: Session, box: Container) -> list[int]:
    """The batches for which it owes a count; a count settles them all."""
    return batches_not_measured(session, box.id or 0) if box.balance is None else []


def _ageing(session: Session, box: Container, name: str, today: date) -> AgeingBar | None:
    if box.state not in (ContainerState.SEALED, ContainerState.OPEN):
        return None
    life = life_of(session, box, material_of(session, box))
    return ageing_bar(life, judge(life, today), today, f"{name}, {show_code(box.code)}")


def _ventilation(session: Session, box: Container, now: datetime) -> VentilationView | None:
    if box.state is ContainerState.GONE:
        return None
    material = the_material(session, box.material_id)
    try:
        warm = warm_room(session, box.place_id)
        regime, today = shop_regime(session), shop_today(session, now)
        card = card_of_container(session, material, box, regime, today, warm[1] if warm else None)
    except Invalid as wrong:
        return view_not_known(wrong.sentence)
    return view_card(card, warm)
