"""`/places`: rooms, cabinets, shelves, benches, rag cans and drums."""

from collections.abc import Mapping
from datetime import date
from decimal import Decimal
from typing import Annotated, Any, ClassVar

from fastapi import APIRouter, Depends, Request
from fastapi.responses import RedirectResponse, Response
from pydantic import Field
from sqlmodel import Session, col, select

from service.actions.arrange_places import CANS, PlaceAsked, add_place, can_findings, change_place, the_place
from service.core.access import Permission, may
from service.core.ageing import judge
from service.core.findings import Invalid
from service.core.materials import Unknown
from service.core.shelf_codes import show_code
from service.outreach.label_faces import PLACE_WORDS
from service.records.ageing_queries import lives_of
from service.records.material_search import all_places, path_of
from service.records.materials import Material
from service.records.places import Place, PlaceKind
from service.records.rooms import RoomAir, air_of
from service.records.stock import Container
from service.web.access_gate import Signed
from service.web.chrome import flash
from service.web.deps import Data, Now, Secrets, shop_today
from service.web.fields import Id, Name, Note, NumberText, Once, Version, Whole
from service.web.forms import FormModel, Posted, filled, posted
from service.web.rag_words import can_holds
from service.web.render import number, page
from service.web.room_words import air_facts

router = APIRouter(prefix="/places", include_in_schema=False)

KINDS = [(kind.value, words[:1].upper() + words[1:]) for kind, words in PLACE_WORDS.items()]
YES_NO = [("yes", "Yes"), ("no", "No"), ("not-known", "Not known")]
_PLAIN = ("name", "kind", "parent_id", "outdoors", "note", "version", "distance_mm")
_ANSWERS = {Unknown.YES: "yes", Unknown.NO: "no", Unknown.NOT_KNOWN: None}
_CAN_ASKS = [
    ("metal", "It is of metal"),
    ("lid", "It has a lid"),
    ("self_closing", "It closes by itself"),
    ("listed", "It is a listed oily-waste can"),
    ("floor_cannot_burn", "It stands on a floor that cannot burn"),
]


class PlaceForm(FormModel):
    """A place; the facts of a can are asked of every kind and kept only of cans and drums."""

    name: Name = Field(title="Name")
    kind: PlaceKind = Field(title="Kind")
    parent_id: Id | None = Field(default=None, title="Where it stands")
    metal: Unknown = Unknown.NOT_KNOWN
    lid: Unknown = Unknown.NOT_KNOWN
    self_closing: Unknown = Unknown.NOT_KNOWN
    listed: Unknown = Unknown.NOT_KNOWN
    detached: Unknown = Unknown.NOT_KNOWN
    floor_cannot_burn: Unknown = Unknown.NOT_KNOWN
    distance_mm: Whole | None = Field(default=None, title="Distance in mm")
    capacity_litres: Annotated[NumberText, Field(ge=0, le=1000)] | None = Field(default=None, title="Litres")
    outdoors: bool = False
    note: Note = ""
    retired: bool = False
    version: Version = 0
    once: Once
    sentences: ClassVar[Mapping[tuple[str, str], str]] = {
        ("name", "missing"): "Enter the name of the place, such as Cabinet A.",
        ("kind", "missing"): "Choose what kind of place it is.",
        ("kind", "enum"): "Choose what kind of place it is.",
    }

    def asked(self) -> PlaceAsked:
        return PlaceAsked(
            self.once, self.name, self.kind, self.parent_id, self.metal, self.lid, self.self_closing,
            self.listed, self.detached, self.outdoors, self.note, not self.retired, self.version or None,
            floor_cannot_burn=self.floor_cannot_burn, distance_mm=self.distance_mm,
            capacity_ml=None if self.capacity_litres is None else int(self.capacity_litres * 1000),
        )  # fmt: skip


@router.get("")
def look(request: Request, data: Data, actor: Signed) -> Response:
    """Every place, what it stands in, and what is missing of cans and drums."""
    with data.reading() as session:
        known = all_places(session)
        rows = [
            _row(place, known)
            for place in sorted(known.values(), key=lambda p: (not p.active, p.name.lower()))
        ]
    context = {"rows": rows, "may_arrange": may(actor.role, Permission.PROFILES)}
    return page(request, "places/list.html", context, section="store", scan=True)


def _row(place: Place, known: dict[int, Place]) -> dict[str, Any]:
    missing = can_findings(place)
    state = "retired" if not place.active else ("something is not known" if not missing.complete else "–")
    return {
        "name": {"href": f"/places/{place.id}", "words": place.name},
        "code": {"code": show_code(place.code)},
        "kind": PLACE_WORDS[place.kind],
        "inside": path_of(known.get(place.parent_id or 0), known) or "–",
        "state": state,
        "_act": {"href": f"/places/{place.id}", "words": "Open"},
    }


def _form(
    request: Request, session: Session, p: Posted[Any], place: Place | None, status: int = 200
) -> Response:
    known = all_places(session)
    parents = [
        (one.id, path_of(one, known)) for one in known.values()
        if one.active and (place is None or one.id != place.id)
    ]  # fmt: skip
    context = {
        "p": p, "place": place, "kinds": KINDS, "yes_no": YES_NO, "can_asks": _CAN_ASKS,
        "parents": sorted(parents, key=lambda pair: pair[1].lower()),
    }  # fmt: skip
    return page(request, "places/form.html", context, status, section="store")


@router.get("/new")
def ask(request: Request, data: Data, actor: Signed, secret: Secrets) -> Response:
    """A new place."""
    with data.reading() as session:
        return _form(request, session, filled(once=secret(), **_not_known()), None)


def _not_known() -> dict[str, str]:
    asked = (*(name for name, _ in _CAN_ASKS), "detached")
    return dict.fromkeys(asked, Unknown.NOT_KNOWN.value)


@router.post("/new")
def add(
    request: Request, data: Data, now: Now, actor: Signed, secret: Secrets,
    p: Annotated[Posted[PlaceForm], Depends(posted(PlaceForm))],
) -> Response:  # fmt: skip
    """Write it down and give it a code."""
    if p.value is not None:
        try:
            with data.writing() as session:
                made = add_place(session, actor, now, p.value.asked(), secret).result
                words = f"{made['name']} has the code {made['shown']}."
                flash(session, request, words, f"/labels/print?p={made['code']}", "Print its label")
                return RedirectResponse(f"/places/{made['place']}", 303)
        except Invalid as wrong:
            p.take(wrong, "name")
    with data.reading() as session:
        return _form(request, session, p, None, 422)


@router.get("/{place_id}")
def one(request: Request, place_id: Id, data: Data, now: Now, actor: Signed) -> Response:
    """One place: its code, what is known of it, what stands in it."""
    with data.reading() as session:
        place = the_place(session, place_id)
        known = all_places(session)
        context = {
            "place": place, "code": show_code(place.code), "kind": PLACE_WORDS[place.kind],
            "facts": _facts(place, known, air_of(session, place.id or 0)), "verdict": can_findings(place),
            "inside": [_row(p, known) for p in known.values() if p.parent_id == place.id and p.active],
            "containers": _containers(session, place, shop_today(session, now)),
            "may_arrange": may(actor.role, Permission.PROFILES),
            "is_room": place.kind is PlaceKind.ROOM,
            "may_print": may(actor.role, Permission.PRINT_LABELS),
        }  # fmt: skip
        return page(request, "places/one.html", context, section="store", scan=True)


def _facts(place: Place, known: dict[int, Place], air: RoomAir | None) -> list[tuple[str, Any]]:
    rows: list[tuple[str, Any]] = [
        ("Kind", PLACE_WORDS[place.kind]),
        ("Stands in", path_of(known.get(place.parent_id or 0), known) or "–"),
        ("Outdoors", "yes" if place.outdoors else "no"),
    ]
    if place.kind in CANS:
        rows += [(words, _ANSWERS[getattr(place, name)]) for name, words in _CAN_ASKS]
        far = None if place.distance_mm is None else f"{number(place.distance_mm)} mm"
        rows.append(("From what can burn", far))
        rows.append(("Holds", can_holds(place)))
    if place.kind is PlaceKind.ROOM:
        rows += air_facts(air)
    if place.kind is PlaceKind.OUTSIDE_DRUM:
        rows.append(("Apart from the building", _ANSWERS[place.detached]))
    if place.note:
        rows.append(("Note", place.note))
    return rows


def _containers(session: Session, place: Place, today: date) -> list[dict[str, Any]]:
    rows = session.exec(
        select(Container, Material)
        .join(Material, col(Material.id) == col(Container.material_id))
        .where(col(Container.place_id) == place.id, col(Container.state) != "gone")
        .order_by(col(Container.code))
        .limit(200)
    ).all()
    # Judged today: what is stored with a container may be of yesterday.
    lives = lives_of(session, [(box, material) for box, material in rows])
    return [
        {
            "name": {"href": f"/C/{box.code}", "words": material.name},
            "code": {"code": show_code(box.code)},
            "state": box.state.value,
            "standing": {"standing": judge(life, today).standing.value},
            "_act": {"href": f"/C/{box.code}", "words": "Open its page"},
        }
        for (box, material), life in zip(rows, lives, strict=True)
    ]


@router.get("/{place_id}/change")
def ask_change(request: Request, place_id: Id, data: Data, actor: Signed, secret: Secrets) -> Response:
    """The form, filled with what is known."""
    with data.reading() as session:
        place = the_place(session, place_id)
        values = {f: getattr(place, f) for f in _PLAIN}
        values |= {name: getattr(place, name) for name in _not_known()}
        if place.capacity_ml is not None:
            values["capacity_litres"] = number(Decimal(place.capacity_ml) / 1000)
        return _form(request, session, filled(**values, retired=not place.active, once=secret()), place)


@router.post("/{place_id}/change")
def change(
    request: Request, place_id: Id, data: Data, now: Now, actor: Signed,
    p: Annotated[Posted[PlaceForm], Depends(posted(PlaceForm))],
) -> Response:  # fmt: skip
    """Keep the change, with before and after."""
    if p.value is not None:
        try:
            with data.writing() as session:
                made = change_place(session, actor, now, place_id, p.value.asked()).result
                flash(session, request, f"{made['name']} is changed.")
                return RedirectResponse(f"/places/{place_id}", 303)
        except Invalid as wrong:
            p.take(wrong, "name")
    with data.reading() as session:
        return _form(request, session, p, the_place(session, place_id), 422)
