"""`/bench/{id}/sheet`: one batch on paper, to work by and to sign."""

from __future__ import annotations

from datetime import datetime
from typing import Annotated, Any, Final

from fastapi import APIRouter, Query, Request
from fastapi.responses import Response
from sqlmodel import Session, col, select

from service.actions.after_use import after_use, stir_words
from service.actions.finish_batch import balance_of, jars_held
from service.actions.judge_ventilation import of_lines
from service.actions.met_in_pot import after_batch, met_in_batch, not_into_a_jar, stir_what_met
from service.actions.mix_of_materials import judge_lines
from service.actions.mixes_inside import what_is_in_batch, what_is_in_recipe
from service.actions.read_recipe import LineRead
from service.core.check_again import from_summary
from service.core.findings import Invalid, Severity, Verdict
from service.core.quantities import show_amount
from service.core.recipe import Need
from service.core.shelf_codes import show_code
from service.records.job_queries import people_of
from service.records.jobs import Job
from service.records.material_queries import counts_self_heating
from service.records.materials import Material
from service.records.mixing import BATCH_WORDS, Batch, BatchState, RecipeVersion
from service.records.mixing_queries import Added, additions_of, lines_of, the_recipe
from service.records.people import Person
from service.records.rag_queries import judged as judged_load
from service.records.rags import RagLoad
from service.web.access_gate import Signed
from service.web.batch_words import seen_batch, unexplained_words
from service.web.deps import Data, Now, shop_today, shop_zone
from service.web.fields import Id
from service.web.hazard_view import view_hazards
from service.web.pages.material_hazards import shop_regime
from service.web.render import instant, page
from service.web.ventilation_view import view_mix, view_not_known

router = APIRouter(include_in_schema=False)

Paper = Annotated[str, Query(pattern="^(a4|letter)$")]
PAPERS: Final = {"a4": "A4", "letter": "Letter"}
_PROTECT: Final = ("P210", "P260", "P261", "P271", "P280", "P284")
"""Precautions that say what to wear and how to stand: what a person at the bench needs first."""


@router.get("/bench/{batch_id}/sheet")
def sheet(
    request: Request, batch_id: Id, data: Data, now: Now, actor: Signed, paper: Paper = "a4"
) -> Response:
    """One batch, whatever its state; what is still empty is a line to write on."""
    with data.reading() as session:
        batch = seen_batch(session, actor, batch_id)
        recipe = the_recipe(session, batch.recipe_id)
        version = session.get(RecipeVersion, batch.recipe_version_id)
        zone = shop_zone(session).key
        added = [one for one in additions_of(session, batch_id) if not one.reversed]
        lines = what_is_in_batch(session, batch_id) if added else []
        planned = not lines
        if planned and version is not None:
            lines = what_is_in_recipe(session, version)
        job = session.get(Job, batch.job_id) if batch.job_id is not None else None
        finished = batch.state is BatchState.FINISHED
        met = met_in_batch(session, batch_id)
        told = balance_of(session, batch) if finished else None
        context: dict[str, Any] = {
            "batch": batch,
            "recipe": recipe,
            "title": f"Batch {batch_id}, {recipe.name}",
            "version": version.number if version else None,
            "makes": batch.wanted_written,
            "note": version.note if version else "",
            "state": BATCH_WORDS[batch.state],
            "steps": _steps(session, batch, added, zone),
            "people": _people(session, batch, job, added),
            "job": job.name if job else "none",
            "times": [
                (word, instant(at, zone)) for word, at in
                (("Started", batch.started_at), ("Ended", batch.finished_at)) if at is not None
            ],
            "heats": any(counts_self_heating(session, line.material) for line in lines) or not lines,
            "rags": _rags(session, added, now, zone),
            "jars": _jars(session, batch_id) if finished else [],
            "told": told,
            "unexplained": unexplained_words(told) if told else "",
            "verdict": Verdict.of(told.findings) if told else None,
            "after": after_batch(session, batch_id, after_use(session, lines)),
            "met": not_into_a_jar(session, batch_id) if met.findings else met,
            "no_jar": not_into_a_jar(session, batch_id),
            "stir": stir_what_met(met, _stir(session, batch, lines)),
            "planned": planned,
            "paper": paper,
            "papers": PAPERS,
            "hazards": None,
            "why_not": "",
            "air": None,
        }  # fmt: skip
        context |= _hazards(session, lines, version if planned else None, now)
    return page(request, "bench/sheet.html", context, section="bench")


def _stir(session: Session, batch: Batch, lines: list[LineRead]) -> str:
    note = f"{batch.stir_note.rstrip('.')}. " if batch.stir_note else ""
    return note + stir_words(session, lines)


def _hazards(
    session: Session, lines: list[LineRead], version: RecipeVersion | None, now: datetime
) -> dict[str, Any]:
    """In short: signal word, statements, what to wear, air; what is missing is counted."""
    try:
        regime, today = shop_regime(session), shop_today(session, now)
        shares_by = version.shares_by if version is not None else None
        judged, shares = judge_lines(session, lines, regime, today, shares_by=shares_by)
        air = view_mix(of_lines(session, lines, shares.parts, judged, today, version=version))
    except Invalid as wrong:
        return {"why_not": wrong.sentence, "air": view_not_known(wrong.sentence)}
    view = view_hazards(judged, whole=False)
    wear = [one for one in view.precautions if one.code.startswith(_PROTECT)]
    missing = [one for one in judged.verdict if one.severity is Severity.UNKNOWN]
    names = ", ".join(dict.fromkeys(one.about for one in missing if one.about))
    return {"hazards": view, "wear": wear, "air": air, "missing_of": names}


def _steps(session: Session, batch: Batch, added: list[Added], zone: str) -> list[dict[str, Any]]:
    """The lines in the order of addition, planned and put in; then what was added besides."""
    wanted = from_summary(batch.check_result).needs if batch.check_result is not None else ()
    needs = {need.material_id: need for need in wanted}
    rows: list[dict[str, Any]] = []
    told: set[int] = set()
    for line, material in lines_of(session, batch.recipe_version_id):
        own = [] if line.material_id in told else [
            one for one in added if one.row.material_id == line.material_id
        ]  # fmt: skip
        told.add(line.material_id)
        rows.append(
            {
                "number": line.position,
                "name": material.name,
                "written": line.written,
                "planned": _planned(needs.get(line.material_id)),
                "note": line.note,
                "put_in": [_put_in(one, zone) for one in own],
            }
        )
    extra = [one for one in added if one.row.material_id not in told]
    rows += [
        {
            "number": "", "name": one.material.name, "written": "not in the recipe", "planned": "",
            "note": "", "put_in": [_put_in(one, zone)],
        }
        for one in extra
    ]  # fmt: skip
    return rows


def _planned(need: Need | None) -> str:
    """How much of a material the batch was to take in all; empty where nobody wrote it."""
    if need is not None and need.why:
        return "not known"
    if need is None or need.high is None or need.basis is None:
        return ""
    low = need.low
    if low is None:
        return f"at most {show_amount(need.high, need.basis)}"
    if low == need.high:
        return show_amount(need.high, need.basis)
    return f"{show_amount(low, need.basis)} to {show_amount(need.high, need.basis)}"


def _put_in(one: Added, zone: str) -> str:
    whence = show_code(one.container.code) if one.container else "the tap"
    return f"{one.row.written} from {whence}, {one.person.name}, {instant(one.row.added_at, zone)}"


def _people(session: Session, batch: Batch, job: Job | None, added: list[Added]) -> list[str]:
    maker = session.get(Person, batch.person_id)
    names = [maker.name] if maker else []
    names += [one.person.name for one in added]
    if job is not None:
        names += [person.name for person in people_of(session, job)]
    return list(dict.fromkeys(names))


def _rags(session: Session, added: list[Added], now: datetime, zone: str) -> list[dict[str, str]]:
    numbers = {one.movement.rag_load_id for one in added if one.movement is not None}
    wanted = [number for number in numbers if number is not None]
    loads = session.exec(select(RagLoad).where(col(RagLoad.id).in_(wanted)).order_by(col(RagLoad.id))).all()
    said = []
    for load in loads:
        seen = judged_load(session, load, now)
        said.append(
            {
                "name": f"Rag load {load.id}",
                "owner": seen.owner.name,
                "contain": instant(load.contain_by, zone),
                "remove": instant(load.remove_by, zone),
            }
        )
    return said


def _jars(session: Session, batch_id: int) -> list[dict[str, Any]]:
    jars = []
    for box, amount in jars_held(session, batch_id):
        material = session.get(Material, box.material_id)
        shown = show_amount(amount, material.basis) if material and material.basis and amount else "not known"
        until = box.in_date_until
        jars.append(
            {"code": box.code, "shown": show_code(box.code), "amount": shown, "until": until}
        )
    return jars
