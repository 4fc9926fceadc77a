"""`/records/ledger`, its check, and `/movements/{id}/correct`: every entry for good, and taking one back."""

from dataclasses import dataclass
from datetime import datetime
from typing import Annotated, Any
from urllib.parse import urlencode

from fastapi import APIRouter, Depends, Query, Request
from fastapi.responses import RedirectResponse, Response
from pydantic import Field
from sqlmodel import Session

from service.actions.check_ledger import check
from service.actions.correct_entry import ReverseAsked, is_fresh, judge_reversal, reverse, the_movement
from service.actions.witness import heads_in
from service.core.access import Actor
from service.core.ledger import MOVEMENT_WORDS, MovementKind
from service.core.quantities import show_amount
from service.core.shelf_codes import normalise, show_code
from service.records.materials import Material
from service.records.people import Person
from service.records.stock import Container, Movement
from service.records.stock_queries import container_by_code
from service.records.store_queries import LedgerWanted, find_movements
from service.web.access_gate import Signed
from service.web.act_forms import fresh
from service.web.chrome import flash
from service.web.container_story import LEDGER_COLUMNS, ledger_cells
from service.web.deps import Config, Data, Now, shop_zone
from service.web.fields import Id, Once, PageNumber, Sentence
from service.web.forms import FormModel, Posted, filled, posted
from service.web.render import instant, page

router = APIRouter(include_in_schema=False)

PER_PAGE = 30
COLUMNS = [{"key": "container", "label": "Container"}, *LEDGER_COLUMNS]
KINDS = [(kind.value, words[:1].upper() + words[1:]) for kind, words in MOVEMENT_WORDS.items()]


_RECORDS = (
    ("Inspection pack", "/inspection-pack", "everything an inspector asks for, of today or a past day"),
    ("Ledger", "/records/ledger", "every amount that came and went, with corrections"),
    ("Late entries", "/records/ledger?late=yes", "what was written down afterwards, with the reason"),
    ("Rag log", "/rags/log", "every load of oily rags and every step, chained so that changes show"),
    ("Day sheet", "/rags/day-sheet", "one day on paper, with the head of the rag log"),
    ("Waste drums", "/waste/drums", "what stands, until when and by which rule, and what was handed over"),
    ("Waste by month", "/waste", "what was thrown away, with its mass and the category it makes at least"),
    ("Recurring checks", "/recurring-checks", "what is looked at again and again, and what was found"),
    ("Training", "/training", "who was taught what, and who still lacks which group"),
    ("How long records are kept", "/records/periods", "each log with its period, by law or policy"),
    ("Where and when used", "/records/uses", "identity, places, first and last use of every material"),
    ("Stock as a file", "/records/csv/stock.csv", "everything in the store; can be read back as a list"),
    ("Ledger as a file", "/records/csv/ledger.csv", "every entry, for a spreadsheet"),
    ("Events as a file", "/records/csv/events.csv", "openings, moves, checks, for a spreadsheet"),
    ("Rag log as a file", "/records/csv/rag-log.csv", "with the text that was hashed, to check it elsewhere"),
    ("Ledger check", "/records/ledger/check", "whether every balance and date follows from the entries"),
)


@router.get("/records")
def records(request: Request, actor: Signed) -> Response:
    """What is kept for good, for whoever inspects it."""
    return page(request, "ledger/records.html", {"records": _RECORDS}, section="records")


@router.get("/records/ledger")
def ledger(
    request: Request,
    data: Data,
    actor: Signed,
    kind: Annotated[str | None, Query(max_length=30)] = None,
    code: Annotated[str | None, Query(max_length=120)] = None,
    late: Annotated[str | None, Query(max_length=3)] = None,
    number: Annotated[PageNumber, Query(alias="page")] = 1,
) -> Response:
    """Every movement, the newest first."""
    with data.reading() as session:
        box = container_by_code(session, code).id if code and normalise(code) else None
        wanted = LedgerWanted(
            container_id=box,
            kind=MovementKind(kind) if kind in set(MovementKind) else None,
            late=True if late == "yes" else None,
        )
        rows, total = find_movements(session, wanted, (number - 1) * PER_PAGE, PER_PAGE)
        zone = shop_zone(session)
        lines = [ledger_cells(row, actor, zone, named=True) for row in rows]
    chosen = {"kind": kind or "", "code": code or "", "late": late or ""}
    narrowed = {name: value for name, value in chosen.items() if value}
    context = {
        "columns": COLUMNS,
        "rows": lines,
        "total": total,
        "kinds": KINDS,
        "chosen": chosen,
        "narrowed": bool(narrowed),
        "number": number,
        "pages": max(1, -(-total // PER_PAGE)),
        "paging": f"/records/ledger?{urlencode(narrowed)}{'&' if narrowed else ''}page=",
    }
    return page(request, "ledger/list.html", context, section="records")


@router.get("/records/ledger/check")
def check_page(request: Request, data: Data, settings: Config, actor: Signed) -> Response:
    """Whether everything that is kept ready follows from the acts."""
    with data.reading() as session:
        report = check(session, heads_in(settings.data, shop_zone(session)).heads)
    return page(request, "ledger/check.html", {"report": report}, section="records")


class CorrectForm(FormModel):
    reason: Sentence = Field(title="Why")
    once: Once


@dataclass(frozen=True)
class Entry:
    """The entry that is about to be taken back, in words."""

    id: int
    words: str
    code: str
    shown: str
    name: str
    fresh: bool
    facts: list[tuple[Any, ...]]
    load: int | None


@router.get("/movements/{movement_id}/correct")
def correct_page(request: Request, data: Data, now: Now, actor: Signed, movement_id: Id) -> Response:
    """What the entry says, and why it is taken back."""
    return _show(request, data, now, actor, movement_id, filled(once=fresh()))


def _show(
    request: Request, data: Data, now: datetime, actor: Actor, number: int, p: Posted[Any], status: int = 200
) -> Response:
    with data.reading() as session:
        movement = the_movement(session, actor, number)
        verdict = judge_reversal(session, actor, now, movement, "a reason to come")
        entry = _entry(session, movement, actor, now)
    context = {"p": p, "entry": entry, "verdict": verdict}
    return page(request, "ledger/correct.html", context, status, section="store")


def _entry(session: Session, movement: Movement, actor: Actor, now: datetime) -> Entry:
    box = session.get_one(Container, movement.container_id)
    material = session.get_one(Material, box.material_id)
    person = session.get_one(Person, movement.person_id)
    basis, zone = material.basis, shop_zone(session).key
    size = show_amount(movement.change, basis) if basis else "not known"
    kind = MOVEMENT_WORDS[movement.kind]
    facts = [
        ("Entry", str(movement.id)),
        ("What", f"{kind} {size}".strip()),
        ("Container", f"{material.name}, {show_code(box.code)}"),
        ("Written by", person.name),
        ("Happened", instant(movement.happened_at, zone)),
        ("Written", instant(movement.recorded_at, zone)),
    ]
    if movement.other_text:
        facts.append(("With", movement.other_text))
    assert movement.id is not None
    quick = is_fresh(actor, movement, now)
    return Entry(
        movement.id, kind, box.code, show_code(box.code), material.name, quick, facts, movement.rag_load_id
    )


@router.post("/movements/{movement_id}/correct")
def correct_it(
    request: Request, data: Data, now: Now, actor: Signed, movement_id: Id,
    p: Annotated[Posted[CorrectForm], Depends(posted(CorrectForm))],
) -> Response:  # fmt: skip
    """Take the entry back."""
    if p.value is None:
        return _show(request, data, now, actor, movement_id, p, 422)
    with data.writing() as session:
        done = reverse(session, actor, now, ReverseAsked(p.value.once, movement_id, p.value.reason))
        box = done.result["container"]
        stays = [f["sentence"] for f in done.result.get("findings", []) if f["code"] == "load-stays"]
        left = f"{box['words']} in {box['shown']} now."
        text = f"Took back entry {movement_id} ({done.result['words']})."
        flash(session, request, " ".join([text, left, *stays]))
    return RedirectResponse(f"/containers/{box['code']}", 303)
