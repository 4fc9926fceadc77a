"""The block at every door: with a load overdue, no route lets self-heating material be taken up.

One test per unsafe route, made from the route table. Every such route is either in `BLOCKED`, with requests
that would take up self-heating material and must be refused with nothing changed, or in `CANNOT`, with the
reason why it cannot, or why it must not be refused. A route in neither fails, so a new door is thought about.
"""

from __future__ import annotations

import uuid
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import text

from service.core.access import Role
from service.records.engine import Database
from service.web.route_table import ROWS
from tests.web.overdue_scene import Scene, overdue_scene

UNSAFE = sorted({(row.method, row.path) for row in ROWS if row.method not in ("GET", "HEAD", "OPTIONS")})
OVERDUE = "Until then nothing self-heating may be drawn"


@pytest.fixture
def scene(sqlite_database: Database, tmp_path: Path) -> Iterator[Scene]:
    with overdue_scene(sqlite_database, tmp_path) as made:
        yield made


Body = Callable[[Scene], dict[str, Any]]
_DRAW: Body = lambda s: {"amount": "10 ml", "job": s.rags.job, "looked": True}  # noqa: E731
_BENCH: Body = lambda s: {"place": s.bench}  # noqa: E731
_OUT: Body = lambda s: {"handed_to": "Ms Winter"}  # noqa: E731
_POUR: Body = lambda s: {"amount": "100 ml", "job": s.rags.job, "looked": True}  # noqa: E731
_POUR_INTO: Body = lambda s: _POUR(s) | {"into": s.jar}  # noqa: E731
_RAG_CAN: Body = lambda s: {"destination": "rag-can", "amount": "100 ml", "place": s.rags.can}  # noqa: E731
_SKIN: Body = lambda s: {"found": "skin", "strained": "5 ml", "job": s.rags.job}  # noqa: E731
_JOB: Body = lambda s: {"job": s.rags.job}  # noqa: E731
_ADD: Body = lambda s: {"code": s.rags.oil, "amount": "10 ml", "looked": True}  # noqa: E731
_ALL_OF_IT: Body = lambda s: {"code": s.rags.oil, "way": "container", "looked": True}  # noqa: E731
_UNMEASURED: Body = lambda s: {"code": s.rags.oil, "way": "not-measured", "looked": True}  # noqa: E731
_POT: Body = lambda s: {"code": s.rags.oil, "way": "pot", "before": "400", "after": "410"}  # noqa: E731
_ALL_BY_CALL: Body = lambda s: {"code": s.rags.oil, "how": "container", "looked": True}  # noqa: E731
_FINGER: Body = lambda s: {"fingerprint": s.fingerprint, "job": s.rags.job}  # noqa: E731
_NOTHING: Body = lambda s: {}  # noqa: E731

# (the requests, which code or batch the address names instead of the usual one)
BLOCKED: dict[tuple[str, str], list[tuple[Body, str]]] = {
    ("POST", "/containers/{code}/draw"): [(_DRAW, "")],
    ("POST", "/containers/{code}/open"): [(_NOTHING, ""), (_NOTHING, "sealed")],
    ("POST", "/containers/{code}/move"): [(_BENCH, ""), (_OUT, "")],
    ("POST", "/containers/{code}/decant"): [(_POUR, ""), (_POUR_INTO, "")],
    ("POST", "/containers/{code}/discard"): [(_RAG_CAN, "")],
    ("POST", "/containers/{code}/check"): [(_SKIN, "")],
    ("POST", "/checks/{check_id}/start"): [(_JOB, "")],
    ("POST", "/bench/{batch_id}/start"): [(_JOB, "aside")],
    ("POST", "/bench/{batch_id}/add"): [(_ADD, ""), (_ALL_OF_IT, ""), (_UNMEASURED, ""), (_POT, "")],
    ("POST", "/api/containers/{code}/draws"): [(_DRAW, "")],
    ("POST", "/api/containers/{code}/opened"): [(_NOTHING, ""), (_NOTHING, "sealed")],
    ("POST", "/api/containers/{code}/moves"): [(_BENCH, ""), (_OUT, "")],
    ("POST", "/api/containers/{code}/decants"): [(_POUR, ""), (_POUR_INTO, "")],
    ("POST", "/api/containers/{code}/discards"): [(_RAG_CAN, "")],
    ("POST", "/api/containers/{code}/checks"): [(_SKIN, "")],
    ("POST", "/api/batches"): [(_FINGER, "")],
    ("POST", "/api/batches/{batch_id}/start"): [(_JOB, "aside")],
    ("POST", "/api/batches/{batch_id}/additions"): [(_ADD, ""), (_ALL_BY_CALL, "")],
}

_NEWS = "it is news of what has happened or was found; a fall of oil is a violation in the rag log"
_BACK = "it brings back or takes in, and opens nothing"
_FACTS = "it changes a description; taking the self-heating mark off is refused (walk-arounds)"
_PAPER = "it writes a recipe or a policy; no lid is opened for it"
_ALOUD = "people, sign-ins, settings: no material at all"
_AFTER = "it ends what was begun before: what is in the pot must go into a jar or away"
_PLAN = "it plans, orders or says what is sold; nothing leaves the shelf by it"
_BY_EYE = "nothing is drawn by it; each addition goes through /bench/{batch_id}/add, or a start from a check"
_RAGS = "it is how the block is lifted, or answered for"
_ROUND = "it writes down a look round the shop, or who was taught what; nothing leaves the shelf by it"
_WASTE = "it says what became of waste that left the shelf before; no stock moves by it"
_LABEL = "a lid, a label or an empty can: nothing is taken out"
CANNOT: dict[tuple[str, str], str] = {
    **{("POST", f"/containers/{{code}}/{act}"): _LABEL
       for act in ("close", "emptied", "vapour-free", "relabel")},
    **{("POST", f"/api/containers/{{code}}/{act}"): _LABEL
       for act in ("closed", "emptied", "vapour-free", "relabelled")},
    **{("POST", path): _NEWS for path in (
        "/containers/{code}/tell", "/api/containers/{code}/told",
        "/containers/{code}/count", "/containers/{code}/lose", "/api/containers/{code}/counts",
        "/api/containers/{code}/losses", "/movements/{movement_id}/correct",
        "/bench/{batch_id}/additions/{addition_id}/undo",
        "/api/batches/{batch_id}/additions/{addition_id}/undo",
        "/api/movements/{movement_id}/reversal")},
    **{("POST", path): _BACK for path in (
        "/containers/{code}/return", "/api/containers/{code}/returns", "/api/containers",
        "/receive/stock-take", "/receive/{material_id}", "/receive/list", "/receive/list/{list_id}/take",
        "/receive/list/{list_id}/materials", "/receive/list/{list_id}/answers", "/api/stock-lists",
        "/api/stock-lists/{list_id}/take")},
    **{("POST", path): _FACTS for path in (
        "/materials/new", "/materials/{material_id}/describe", "/materials/{material_id}/facts",
        "/materials/{material_id}/published", "/materials/{material_id}/spoons",
        "/materials/{material_id}/film",
        "/materials/{material_id}/active", "/materials/{material_id}/components",
        "/materials/{material_id}/sheets/new", "/api/materials",
        "/api/places", "/places/new", "/places/{place_id}/change",
        "/places/{place_id}/air", "/api/places/{place_id}/air",
        "/places/{place_id}/storage", "/api/places/{place_id}/storage", "/storage/rules",
        "/materials/{material_id}/storage", "/api/materials/{material_id}/storage",
        "/api/storage/rules", "/containers/{code}/vessel", "/api/containers/{code}/vessel")},
    **{("POST", path): _PAPER for path in (
        "/policies/kind/{kind}", "/policies/key/{key}", "/policies/material/{material_id}", "/recipes/new",
        "/policies/conditions/{found}",
        "/recipes/{recipe_id}/edit", "/recipes/{recipe_id}/active", "/recipes/{recipe_id}/check",
        "/checks/{check_id}/set-aside", "/bench/{batch_id}/release", "/api/recipes",
        "/api/recipes/{recipe_id}/versions", "/api/recipes/{recipe_id}/check",
        "/api/batches/{batch_id}/release", "/api/batches/{batch_id}/balance",
        "/api/calc/convert", "/api/calc/rag-deadline",
        "/api/calc/classify", "/api/calc/label", "/hazards/mix", "/air", "/api/calc/flash-point",
        "/api/calc/vapour", "/api/calc/voc", "/api/calc/exposure", "/api/calc/ventilation-class",
        "/api/calc/film", "/api/calc/cut", "/api/calc/settling", "/api/calc/coverage",
        "/api/calc/glue-size", "/api/calc/oxygen", "/api/calc/self-heating",
        "/api/calc/storage", "/api/calc/waste",
        "/duties/{duty_id}/done")},
    **{("POST", path): _PLAN for path in (
        "/term/new", "/term/{term_id}/edit", "/term/{term_id}/jobs/new", "/term/{term_id}/orders/new",
        "/term/jobs/{planned_id}/days", "/term/jobs/{planned_id}/drop", "/term/dates/{date_id}/drop",
        "/term/dates/{date_id}/take-up", "/term/dates/{date_id}/check", "/term/dates/{date_id}/batch",
        "/suppliers/{supplier_id}", "/api/suppliers/{supplier_id}",
        "/term/jobs/{planned_id}/edit", "/term/dates/{date_id}/move", "/api/planned-jobs/{planned_id}",
        "/api/planned-dates/{date_id}/move",
        "/orders/lines/{line_id}", "/materials/{material_id}/packs", "/materials/{material_id}/least",
        "/materials/{material_id}/packs/{pack_id}/away",
        "/api/terms", "/api/terms/{term_id}", "/api/terms/{term_id}/jobs",
        "/api/planned-jobs/{planned_id}/dates",
        "/api/planned-dates/{date_id}/drop", "/api/planned-dates/{date_id}/take-up",
        "/api/planned-dates/{date_id}/batch", "/api/planned-dates/{date_id}/check",
        "/api/materials/{material_id}/packs", "/api/materials/{material_id}/least", "/api/orders",
        "/api/orders/lines/{line_id}")},
    **{("POST", path): _ROUND for path in (
        "/recurring-checks/new", "/recurring-checks/{recurring_id}/owner",
        "/recurring-checks/{recurring_id}/end", "/recurring-checks/{recurring_id}/fine",
        "/recurring-checks/{recurring_id}/record", "/recurring-checks/entries/{entry_id}/take-back",
        "/training/new", "/training/{training_id}/take-back", "/api/recurring-checks",
        "/api/recurring-checks/{recurring_id}/entries", "/api/recurring-checks/{recurring_id}/owner",
        "/api/recurring-checks/{recurring_id}/end", "/api/recurring-check-entries/{entry_id}/reversal",
        "/api/training", "/api/training/{training_id}/reversal")},
    **{("POST", path): _WASTE for path in (
        "/waste/drums/new", "/waste/drums/site", "/waste/sort", "/waste/drums/{drum_id}/put-in",
        "/waste/drums/{drum_id}/steps", "/waste/drums/{drum_id}/hand-over",
        "/waste/drum-entries/{drum_entry_id}/take-back", "/api/waste-drums",
        "/api/waste-drums/{drum_id}/entries", "/api/waste-drums/{drum_id}/hand-over",
        "/api/waste-drums/{drum_id}/discards", "/api/waste-drum-entries/{drum_entry_id}/reversal",
        "/api/waste-site")},
    **{("POST", path): _BY_EYE for path in (
        "/samples/new", "/api/samples", "/samples/{sample_id}/edit", "/samples/{sample_id}/verdict",
        "/api/samples/{sample_id}/verdict", "/samples/{sample_id}/photos", "/samples/{sample_id}/make",
        "/bench/{batch_id}/as-made", "/api/batches/{batch_id}/as-made")},
    **{("POST", path): _AFTER for path in (
        "/bench/{batch_id}/finish", "/bench/{batch_id}/give-up", "/api/batches/{batch_id}/finish",
        "/api/batches/{batch_id}/give-up", "/bench/{batch_id}/rest", "/api/batches/{batch_id}/rest",
        "/jobs/new", "/jobs/{job_id}/people", "/jobs/{job_id}/leave",
        "/jobs/{job_id}/close",
        "/api/jobs", "/api/jobs/{job_id}/close")},
    **{("POST", path): _RAGS for path in (
        "/rags/cans/{place_id}/empty", "/rags/cans/{place_id}/carry",
        "/api/rag-cans/{place_id}/empty", "/api/rag-cans/{place_id}/carry",
        "/rags/wipes", "/rags/wipes/{duty_id}", "/api/wipes", "/api/wipes/{duty_id}/sent",
        "/rags/hand-over", "/rags/day-sheet", "/rags/violations/{duty_id}", "/rags/overrides",
        "/rags/{load_id}/step", "/rags/{load_id}/count", "/rags/{load_id}/give", "/jobs/{job_id}/rags",
        "/api/jobs/{job_id}/rags", "/day/close", "/api/day-closings",
        "/api/rag-loads/{load_id}/entries", "/api/overrides")},
    **{("POST", path): _ALOUD for path in (
        "/sign-in", "/sign-out", "/sign-in/once/{token}", "/first-keeper/{token}", "/set-password/{token}",
        "/tablet/{token}", "/tap/{person_id}", "/untap", "/me/password", "/me/pin", "/me/theme",
        "/me/morning", "/mail/leave/{token}", "/me/calendar", "/me/calendar/end",
        "/people/new", "/people/{person_id}", "/people/{person_id}/active", "/people/{person_id}/pin",
        "/people/{person_id}/password-link", "/inspectors", "/inspectors/{person_id}/address",
        "/inspectors/{person_id}/end",
        "/inspector/{token}", "/devices", "/devices/{device_id}/link",
        "/devices/{device_id}/active", "/tokens", "/tokens/{token_id}/revoke", "/shop", "/shop/emergency",
        "/shop/numbers", "/shop/numbers/{number_id}/remove", "/shop/shifts",
        "/shop/shifts/{shift_id}/remove", "/warnings/mail", "/warnings/services",
        "/warnings/{channel_id}/off", "/warnings/{channel_id}/test")},
}  # fmt: skip


def send(scene: Scene, path: str, body: Body, other: str, role: Role, **more: Any) -> Any:
    """One request to a route, by page or by call."""
    if other == "sealed":
        path = path.replace("{code}", scene.sealed)
    if other == "aside":
        path = path.replace("{batch_id}", str(scene.aside))
    said = body(scene) | {"once": uuid.uuid4().hex} | more
    if path.startswith("/api/"):
        return scene.doors.api(role).post(scene.fill(path), json=said)
    form = {name: "yes" if value is True else str(value) for name, value in said.items()}
    return scene.doors.signed_in(role).post(scene.fill(path), data=form)


def everything(scene: Scene) -> dict[str, list[Any]]:
    """Every row that an act could have changed."""
    tables = ("movement", "container_event", "posting", "rag_log", "container", "batch", "allocation", "job",
              "addition", "rag_load", "duty", "override_use", "place", "material")  # fmt: skip
    with scene.rags.database.engine.connect() as connection:
        return {
            name: [tuple(row) for row in connection.execute(text(f"select * from {name} order by 1"))]
            for name in tables
        }


@pytest.mark.parametrize("route", UNSAFE, ids=[" ".join(route) for route in UNSAFE])
def test_every_unsafe_route_has_been_thought_about(route: tuple[str, str]) -> None:
    assert (route in BLOCKED) != (route in CANNOT), f"{' '.join(route)}: say how it is refused, or why not"


def test_the_two_tables_name_no_route_that_is_gone() -> None:
    planned = {("POST", f"/api/calc/{one}") for one in ("convert", "rag-deadline", "classify", "label")}
    assert set(BLOCKED) | set(CANNOT) <= set(UNSAFE) | planned


CASES = [(path, body, other) for (_, path), tries in BLOCKED.items() for body, other in tries]


@pytest.mark.parametrize("number", range(len(CASES)), ids=[f"{p} {n}" for n, (p, _, _) in enumerate(CASES)])
def test_the_door_is_shut(scene: Scene, number: int) -> None:
    """To a finisher and to a keeper alike (every second door is tried by a keeper)."""
    path, body, other = CASES[number]
    before = everything(scene)
    answer = send(scene, path, body, other, Role.KEEPER if number % 2 else Role.FINISHER)
    assert answer.status_code == 409, answer.text[:2000]
    if path.startswith("/api/"):
        assert "rags-overdue" in {finding["code"] for finding in answer.json()["findings"]}
    else:
        assert OVERDUE in answer.text
    assert everything(scene) == before


@pytest.mark.parametrize("number", range(len(CASES)), ids=[f"{p} {n}" for n, (p, _, _) in enumerate(CASES)])
def test_the_same_request_passes_once_the_rags_have_left(scene: Scene, number: int) -> None:
    """Else the refusal above would prove nothing: the request could have been refused for anything."""
    path, body, other = CASES[number]
    form = {"step": "removed", "how": "hauler", "named": "County waste service", "once": uuid.uuid4().hex}
    assert scene.doors.signed_in(Role.FINISHER).post("/rags/1/step", data=form).status_code == 303
    scene.rags.pass_by(minutes=1)
    answer = send(scene, path, body, other, Role.KEEPER)
    assert answer.status_code in (201, 303), answer.text[:2000]
