"""`/bench`: batches running and set aside, and the page of one batch: what to add next, what went in."""

from datetime import datetime
from typing import Annotated, Any

from fastapi import APIRouter, Depends, Query, Request
from fastapi.responses import RedirectResponse, Response
from sqlmodel import Session

from service.actions.check_mix import spoon_lines
from service.actions.drop_batch import release
from service.actions.finish_batch import balance_of, jars_held
from service.actions.hold_back import lines_by_hand
from service.actions.met_in_pot import met_in_batch, not_into_a_jar
from service.actions.start_sample import board_of
from service.core.access import Actor, Permission, may
from service.core.colour_samples import board_words
from service.core.findings import Verdict
from service.core.never_with import CODE as NEVER_WITH
from service.core.pot_waste import rest_not_told
from service.core.quantities import show_amount
from service.core.recipe import ByHand
from service.core.shelf_codes import show_code
from service.core.spoons_to_mass import spoons_to_mass
from service.records.jobs import Job
from service.records.materials import Material
from service.records.mixing import BATCH_WORDS, Batch, BatchState, Recipe, RecipeLineRow, RecipeVersion
from service.records.mixing_queries import (
    Added,
    additions_of,
    allocations_of,
    choosable_materials,
    lines_of,
    the_recipe,
)
from service.records.pot_waste import nobody_said_where
from service.records.sample_queries import sample_of_batch
from service.records.stock import Container
from service.web.access_gate import Signed
from service.web.batch_words import seen_batch, seen_batches, unexplained_words
from service.web.bench_view import (
    ADDED,
    LastChange,
    Way,
    counts_owed,
    last_change,
    last_undone,
    others_lately,
    pot_before,
    row_of,
    way_of,
    ways_for,
)
from service.web.chrome import flash
from service.web.deps import Data, Now, shop_zone
from service.web.fields import Id, Once, PageNumber
from service.web.forms import FormModel, Posted, filled, posted
from service.web.pages.material_hazards import shop_regime
from service.web.pages.recipes import fresh_once
from service.web.render import instant, page
from service.web.when_done import WHEN_CHOICES

router = APIRouter(prefix="/bench", include_in_schema=False)

AT_ONCE = 30
OPEN = (BatchState.RUNNING, BatchState.SET_ASIDE)
ENDED = (BatchState.FINISHED, BatchState.GIVEN_UP)


@router.get("")
def listing(
    request: Request, data: Data, actor: Signed, number: Annotated[PageNumber, Query(alias="page")] = 1
) -> Response:
    """Running ones first, then what is set aside, then what ended lately."""
    with data.reading() as session:
        now_open = seen_batches(session, actor, OPEN, 100)
        ended = seen_batches(session, actor, ENDED, AT_ONCE + 1, (number - 1) * AT_ONCE)
        zone = shop_zone(session).key
        cards = [_card(batch, recipe, zone) for batch, recipe in now_open]
        done = [_card(batch, recipe, zone) for batch, recipe in ended[:AT_ONCE]]
    context = {
        "cards": cards,
        "ended": done,
        "page_number": number,
        "pages": number + (1 if len(ended) > AT_ONCE else 0),
        "may_make": may(actor.role, Permission.BATCHES),
    }
    return page(request, "bench/list.html", context, section="bench", scan=True)


def _card(batch: Batch, recipe: Recipe, zone: str) -> dict[str, Any]:
    since = batch.finished_at or batch.started_at or batch.created_at
    return {
        "href": f"/bench/{batch.id}",
        "title": f"Batch {batch.id}, {recipe.name}",
        "state": BATCH_WORDS[batch.state],
        "amount": batch.wanted_written,
        "since": instant(since, zone),
    }


@router.get("/{batch_id}")
def one(
    batch_id: Id, request: Request, data: Data, now: Now, actor: Signed, way: Way = Way.SCAN,
    undone: Id | None = None,
) -> Response:  # fmt: skip
    """One batch, whatever its state.

    Args:
        way: how the form asks for the next addition.
        undone: the addition that was taken back just now; what that changed stands first.
    """
    with data.reading() as session:
        batch = seen_batch(session, actor, batch_id)
        p = filled(once=fresh_once(), when="about", way=way.value, before=pot_before(session, batch_id))
        return batch_page(request, session, actor, now, batch, p, undone=undone)


class ReleaseForm(FormModel):
    """One press."""

    once: Once


@router.post("/{batch_id}/release")
def let_go(
    batch_id: Id, request: Request, data: Data, now: Now, actor: Signed,
    p: Annotated[Posted[ReleaseForm], Depends(posted(ReleaseForm))],
) -> Response:  # fmt: skip
    """Let go of what was set aside."""
    if p.value is None:
        return RedirectResponse(f"/bench/{batch_id}", 303)
    with data.writing() as session:
        release(session, actor, now, batch_id, p.value.once)
        flash(session, request, f"You released what was set aside for batch {batch_id}.")
        return RedirectResponse("/bench", 303)


def batch_page(
    request: Request, session: Session, actor: Actor, now: datetime, batch: Batch, p: Posted[Any],
    status: int = 200, *, undone: int | None = None, **more: Any,
) -> Response:  # fmt: skip
    """The page of one batch as it stands now, with what was typed.

    Args:
        more: ``refused`` (why nothing was booked), ``look`` (what the addition would change).
    """
    assert batch.id is not None
    zone = shop_zone(session).key
    added = additions_of(session, batch.id)
    way = way_of(p)
    steps = _steps(session, batch, added)
    running = batch.state is BatchState.RUNNING
    told = balance_of(session, batch) if batch.state is BatchState.FINISHED else None
    sample = sample_of_batch(session, batch.id)
    context: dict[str, Any] = {
        "p": p,
        "batch": batch,
        "sample": sample,
        "board": board_words(board_of(sample)) if sample else "",
        "title": f"Batch {batch.id}, {the_recipe(session, batch.recipe_id).name}",
        "facts": _facts(session, batch, zone),
        "state": batch.state.value,
        "steps": steps,
        "next": next((step for step in steps if not step["done"]), None) if running else None,
        "columns": ADDED,
        "rows": [row_of(session, batch, one, zone) for one in added],
        "promised": _promised(session, batch.id),
        "jars": _jars(session, batch.id),
        "told": told,
        "difference": unexplained_words(told) if told else "",
        "verdict": Verdict.of(told.findings) if told else None,
        "materials": [(m.id, m.name) for m in choosable_materials(session)] if running else [],
        "when": WHEN_CHOICES,
        "may_add": running and may(actor.role, Permission.ADD_TO_BATCH),
        "may_make": may(actor.role, Permission.BATCHES),
        "once": fresh_once(),
        "ways": ways_for(batch.id, way),
        "way": way.value,
        "last": _last(session, batch, added, now, undone) if running else None,
        "lately": others_lately(added, actor, now, zone) if running else [],
        "owed": counts_owed(session, added),
        "no_place": running and _no_place(session, batch),
        "rest_open": rest_not_told(batch.id) if nobody_said_where(session, batch.id) else "",
        "seen": max((one.row.id or 0 for one in added), default=0),
        "met": bool(met_in_batch(session, batch.id).findings),
        "no_jar": not_into_a_jar(session, batch.id),
        "refused": None,
        "look": None,
    } | more
    context["never"] = any(one.code.startswith(NEVER_WITH) for one in context["refused"] or ())
    return page(request, "bench/one.html", context, status, section="bench", scan=not running)


def _no_place(session: Session, batch: Batch) -> bool:
    job = session.get(Job, batch.job_id) if batch.job_id is not None else None
    return job is None or job.place_id is None


def _last(
    session: Session, batch: Batch, added: list[Added], now: datetime, undone: int | None
) -> LastChange | None:
    regime = shop_regime(session)
    back = last_undone(session, batch, added, undone, now, regime)
    return back or last_change(session, batch, added, now, regime)


def _facts(session: Session, batch: Batch, zone: str) -> list[tuple[Any, ...]]:
    job = session.get(Job, batch.job_id) if batch.job_id is not None else None
    version = session.get(RecipeVersion, batch.recipe_version_id)
    facts: list[tuple[Any, ...]] = [
        ("State", BATCH_WORDS[batch.state]),
        ("How much", batch.wanted_written),
        ("Recipe", {"href": f"/recipes/{batch.recipe_id}?number={version.number if version else 1}",
                    "words": f"version {version.number if version else 1}"}),
        ("Job", {"href": f"/jobs/{job.id}", "words": job.name} if job else "none"),
    ]  # fmt: skip
    if batch.started_at is not None:
        facts.append(("Started", instant(batch.started_at, zone)))
    if batch.finished_at is not None:
        facts.append(("Ended", instant(batch.finished_at, zone)))
    if batch.state is BatchState.FINISHED:
        how = f" ({batch.yield_how})" if batch.yield_how else ""
        facts.append(("Made", f"{batch.yield_written}{how}" if batch.yield_written else None))
        facts.append(("Strained", None if batch.strained is None else "yes" if batch.strained else "no"))
    if batch.stir_note:
        facts.append(("Stirring", batch.stir_note))
    if batch.loss_note:
        facts.append(("Where the rest went", batch.loss_note))
    return facts


def _steps(session: Session, batch: Batch, added: list[Added]) -> list[dict[str, Any]]:
    """The recipe's lines in the order of addition, and whether something of each went in."""
    went_in = {one.row.material_id for one in added if not one.reversed}
    filled = {one.row.position for one in added if not one.reversed}
    by_hand = {one.position: one for one in lines_by_hand(batch)}
    rows = lines_of(session, batch.recipe_version_id)
    weigh = {one.position: one.words for one in spoons_to_mass(spoon_lines(rows), batch.times)}
    return [
        {
            "number": row.position,
            "name": material.name,
            "amount": _wanted(row, by_hand.get(row.position)),
            "note": " ".join(filter(None, (row.note, weigh.get(row.position), _why(by_hand, row.position)))),
            "done": row.position in filled if row.position in by_hand else row.material_id in went_in,
        }
        for row, material in rows
    ]


def _wanted(row: RecipeLineRow, by_hand: ByHand | None) -> str:
    return row.written if by_hand is None else f"{by_hand.words.rstrip('.')}: put in by hand"


def _why(by_hand: dict[int, ByHand], position: int) -> str:
    """Why a line is not known as an amount; empty where it is."""
    why = by_hand[position].why if position in by_hand else ""
    return f"How much that is is not known. {why}" if why else ""


def _promised(session: Session, batch_id: int) -> list[dict[str, Any]]:
    rows = []
    for one in allocations_of(session, batch_id):
        box, material = session.get(Container, one.container_id), session.get(Material, one.material_id)
        if one.state == "promised" and box is not None and material is not None and material.basis:
            rows.append(
                {
                    "material": material.name,
                    "amount": show_amount(one.amount, material.basis),
                    "code": {"href": f"/C/{box.code}", "words": show_code(box.code)},
                }
            )
    return rows


def _jars(session: Session, batch_id: int) -> list[dict[str, Any]]:
    jars = []
    for box, amount in jars_held(session, batch_id):
        material = session.get(Material, box.material_id)
        shown = show_amount(amount, material.basis) if material and material.basis else "not known"
        jars.append({"code": box.code, "shown": show_code(box.code), "amount": shown})
    return jars
