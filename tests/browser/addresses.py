"""A real address for every page of the route table, found in the demo shop's own book."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from sqlmodel import Session, col, select

from service.core.containers import ContainerState, Standing
from service.core.ledger import MovementKind
from service.records.checks import CheckDone, RecurringCheck, Training
from service.records.duties import WIPES, Duty
from service.records.engine import open_database
from service.records.jobs import Job
from service.records.materials import Material
from service.records.mixing import Addition, Batch, BatchState, KeptCheck, Recipe
from service.records.orders import PackSizeRow, PurchaseOrder, Supplier
from service.records.people import Person
from service.records.places import Place
from service.records.plans import PlannedJobRow, Term
from service.records.rags import RagLoad
from service.records.samples import ColourSample
from service.records.stock import Container, Movement, Posting
from service.records.stock_lists import StockListFile
from service.records.waste_drums import WasteDrum, WasteDrumEntry
from service.web.route_table import ROWS
from tests.browser.live_server import LiveServer

NOT_PICTURED = {
    "/health": "data, no page",
    "/health/live": "data, no page",
    "/health/ready": "data, no page",
    "/static/{name}": "no page",
    "/labels/page.css": "no page",
    "/materials/{material_id}/sheets/{sheet_id}/file": "a file of the supplier's, saved and not shown",
    "/samples/{sample_id}/photos/{shows}": "a picture, no page",
    "/receive/list/blank.csv": "a file, saved and not shown",
    "/receive/list/{list_id}/problems.csv": "a file, saved and not shown",
    "/records/csv/stock.csv": "a file, saved and not shown",
    "/records/csv/ledger.csv": "a file, saved and not shown",
    "/records/csv/events.csv": "a file, saved and not shown",
    "/records/csv/waste.csv": "a file, saved and not shown",
    "/records/csv/rag-log.csv": "a file, saved and not shown",
    "/hazards/label.css": "no page",
    "/hazards/store.csv": "a file, saved and not shown",
    "/term/{term_id}/orders.csv": "a file, saved and not shown",
    "/recurring-checks/checks.csv": "a file, saved and not shown",
    "/recurring-checks/{recurring_id}/entries/{entry_id}/photo": "a picture, no page",
    "/waste/drums/drums.csv": "a file, saved and not shown",
    "/training/training.csv": "a file, saved and not shown",
    "/records/uses.csv": "a file, saved and not shown",
    "/inspection-pack.zip": "a file, saved and not shown",
    "/inspection-pack.csv": "a file, saved and not shown",
    "/inspector/{token}": "works once; test_inspectors_hour.py looks at it",
    "/scan": "leads on to another page",
    "/C/{code}": "leads on to the container",
    "/c/{code}": "leads on to the container",
    "/calendar/{token}.ics": "for calendar programs, no page",
    "/mail/leave/{token}": "stands in a mail only; test_leave_mail_pages.py looks at it",
    "/sign-in": "leads on for who is signed in; looked at as a stranger",
    "/first-keeper/{token}": "only of an empty shop; test_first_start.py looks at it",
    "/sign-in/once/{token}": "works once; test_first_start.py looks at it",
    "/set-password/{token}": "works once; test_first_start.py looks at it",
    "/tablet/{token}": "works once; test_first_start.py looks at it",
    "/tap": "only of a tablet; test_first_start.py looks at it",
    "/tap/{person_id}": "only of a tablet; test_first_start.py looks at it",
}
"""Pages of the table that the walk as a keeper does not reach, and why."""

PAGES = [
    row.path
    for row in ROWS
    if row.method == "GET" and not row.path.startswith("/api/") and row.path not in NOT_PICTURED
]


def _first(session: Session, query: Any) -> Any:
    found = session.exec(query).first()
    assert found is not None, f"the demo has nothing for {query}"
    return found


def _container(session: Session, *states: ContainerState) -> str:
    query = select(Container.code).where(col(Container.state).in_(states)).order_by(col(Container.id))
    return str(_first(session, query))


def _batch(session: Session, state: BatchState) -> int:
    return int(_first(session, select(Batch.id).where(col(Batch.state) == state)))


def _duty(session: Session) -> int:
    said = col(Duty.kind).not_in(["waste-collection", "failed-check", WIPES])
    query = select(Duty.id).where(col(Duty.keeper_answers).is_(False), said)
    return int(_first(session, query))


_OPEN = (ContainerState.OPEN,)
_STATE_FOR = {"open": (ContainerState.SEALED,), "vapour-free": (ContainerState.EMPTY,)}
_BY_NAME: dict[str, Callable[[Session], object]] = {
    "material_id": lambda s: _first(s, select(Material.id).where(col(Material.active))),
    "place_id": lambda s: _first(s, select(Place.id)),
    "person_id": lambda s: _first(s, select(Person.id).where(col(Person.is_script).is_(False))),
    "recipe_id": lambda s: _first(s, select(Recipe.id).where(col(Recipe.active))),
    "check_id": lambda s: _first(s, select(KeptCheck.id).order_by(col(KeptCheck.id).desc())),
    "job_id": lambda s: _first(s, select(Job.id).where(col(Job.closed_at).is_(None))),
    "load_id": lambda s: _first(s, select(RagLoad.id).where(col(RagLoad.ended_at).is_(None))),
    "movement_id": lambda s: _first(
        s,
        select(Movement.id).where(col(Movement.kind) == MovementKind.DRAW).order_by(col(Movement.id).desc()),
    ),
    "posting_id": lambda s: _first(s, select(Posting.id).where(col(Posting.act) == "receive")),
    "list_id": lambda s: _first(s, select(StockListFile.id)),
    "kind": lambda s: "solvent",
    "found": lambda s: "thickened",
    "key": lambda s: "tung",
    "name": lambda s: "refused",
    "duty_id": _duty,
    "sample_id": lambda s: _first(s, select(ColourSample.id)),
    "term_id": lambda s: _first(s, select(Term.id)),
    "planned_id": lambda s: _first(s, select(PlannedJobRow.id)),
    "supplier_id": lambda s: _first(s, select(Supplier.id)),
    "recurring_id": lambda s: _first(
        s, select(RecurringCheck.id).where(col(RecurringCheck.known_key) == "eyewash")
    ),
    "entry_id": lambda s: _first(s, select(CheckDone.id).order_by(col(CheckDone.id).desc())),
    "drum_id": lambda s: _first(s, select(WasteDrum.id).order_by(col(WasteDrum.id).desc())),
    "drum_entry_id": lambda s: _first(s, select(WasteDrumEntry.id)),
    "training_id": lambda s: _first(s, select(Training.id)),
    "order_id": lambda s: _first(s, select(PurchaseOrder.id)),
}
_BATCH_FOR = {
    "/bench/{batch_id}": BatchState.RUNNING,
    "/bench/{batch_id}/start": BatchState.SET_ASIDE,
    "/bench/{batch_id}/additions/{addition_id}": BatchState.RUNNING,
    "/bench/{batch_id}/finish": BatchState.RUNNING,
    "/bench/{batch_id}/give-up": BatchState.RUNNING,
    "/bench/{batch_id}/rest": BatchState.FINISHED,
    "/bench/{batch_id}/hazards": BatchState.FINISHED,
    "/bench/{batch_id}/sheet": BatchState.FINISHED,
    "/bench/{batch_id}/as-made": BatchState.FINISHED,
}


def address(session: Session, path: str) -> str:
    """The address that stands for a path of the table; the parts in braces come from the book."""
    if path == "/containers/{code}/jar-label":
        made = select(Container.code).where(col(Container.made_by_batch_id).is_not(None))
        return path.replace("{code}", str(_first(session, made.where(col(Container.state).in_(_OPEN)))))
    if path.startswith("/containers/"):
        act = path.rsplit("/", 1)[-1]
        return path.replace("{code}", _container(session, *_STATE_FOR.get(act, _OPEN)))
    if "{batch_id}" in path:
        batch = _batch(session, _BATCH_FOR[path])
        if "{addition_id}" in path:
            newest = select(Addition.id).where(col(Addition.batch_id) == batch)
            newest = newest.order_by(col(Addition.id).desc())
            path = path.replace("{addition_id}", str(_first(session, newest)))
        return path.replace("{batch_id}", str(batch))
    if "/wipes/{duty_id}" in path:
        wipes = _first(session, select(Duty.id).where(col(Duty.kind) == WIPES))
        return path.replace("{duty_id}", str(wipes))
    if path.startswith("/rags/cans/"):
        can = _first(session, select(Place.id).where(col(Place.kind) == "rag-can"))
        return path.replace("{place_id}", str(can))
    if path == "/term/{term_id}/materials/{material_id}":
        oil = _first(session, select(PackSizeRow.material_id))
        path = path.replace("{material_id}", str(oil))
    if path == "/labels/print":
        return f"/labels/print?c={_container(session, *_OPEN)}&stock=roll-62x29"
    for name, find in _BY_NAME.items():
        if f"{{{name}}}" in path:
            path = path.replace(f"{{{name}}}", str(find(session)))
    assert "{" not in path, f"{path}: say in tests/browser/addresses.py what it stands for"
    return path


def code_of(server: LiveServer, standing: Standing, material: str = "", holds: int = 0) -> str:
    """What stands on the label of a can of the demo that stands so; ``holds``: at least so much is in it."""
    database = open_database(f"sqlite:///{server.data / 'umberkeep.sqlite'}", pooled=False)
    try:
        with database.reading() as session:
            query = (
                select(Container.code)
                .join(Material, col(Material.id) == col(Container.material_id))
                .where(col(Container.standing) == standing, col(Material.name).startswith(material))
            )
            if holds:
                query = query.where(col(Container.balance) >= holds)
            return str(_first(session, query.order_by(col(Container.id))))
    finally:
        database.dispose()


__all__ = ["NOT_PICTURED", "PAGES", "address", "code_of"]
