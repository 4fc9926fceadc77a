"""Acts of a week at random: jobs and batches begun and ended, and recipes called otherwise."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

from sqlalchemy import select as columns_of
from sqlmodel import Session, col

from service.actions.add_to_batch import AddAsked, add
from service.actions.draw_stock import DrawAsked, draw
from service.actions.drop_batch import GiveUpAsked, give_up
from service.actions.finish_batch import FinishAsked, finish
from service.actions.keep_wipes import BeginAsked, LeaveAsked, begin_wipes, send_wipes
from service.actions.read_recipe import LineAsked
from service.actions.run_job import JobAsked, close_job, open_job
from service.actions.start_sample import SampleAsked, start_sample
from service.actions.tell_rest import RestAsked, tell_rest
from service.actions.write_recipe import RecipeAsked, revise_recipe
from service.core.colour_samples import Board
from service.core.containers import ContainerState
from service.core.findings import NotFound
from service.core.ledger import Destination
from service.core.materials import MaterialKind, Unknown
from service.core.pot_waste import PotWentTo
from service.core.wipes import WipesWay
from service.records.duties import WIPES, Duty
from service.records.jobs import Job
from service.records.materials import Material
from service.records.mixing import Batch, BatchState, Recipe
from service.records.places import Place, PlaceKind
from service.records.stock import Container
from tests.week_at_shop import LATE, Act, Week, numbers


def job_opened(week: Week, session: Session) -> None:
    room = week.pick(session, Place, col(Place.kind).in_([PlaceKind.ROOM, PlaceKind.BENCH]))
    ends = week.now + timedelta(days=3)
    asked = JobAsked(week.once(), f"Table tops {next(numbers)}", place_id=room.id, ends_at=ends)
    open_job(session, week.keeper, week.now, asked)


def drawn_in_job(week: Week, session: Session) -> None:
    job = _some(_job(week, session))
    asked = DrawAsked(**_thinner(week, session), amount="30 ml", looked=True, job_id=job.id)
    draw(session, week.keeper, week.now, asked)


def job_closed(week: Week, session: Session) -> None:
    job = _some(week.pick(session, Job, col(Job.closed_at).is_(None)))
    close_job(session, week.keeper, week.now, job.id or 0, week.once(), "All of it was put on the tops.")


def batch_begun(week: Week, session: Session) -> None:
    name, job = f"Honey {next(numbers)}", _job(week, session)
    asked = SampleAsked(
        once=week.once(), target=name, board=Board("oak"), job_id=job.id if job else None,
        open_job=job is None,
    )  # fmt: skip
    start_sample(session, week.keeper, week.now, asked)


def put_in_batch(week: Week, session: Session) -> None:
    batch = _running(week, session)
    asked = AddAsked(**_thinner(week, session), batch_id=batch.id or 0, amount="12 ml", looked=True)
    add(session, week.keeper, week.now, asked)


def batch_finished(week: Week, session: Session) -> None:
    batch = _running(week, session)
    late = week.dice.random() < 0.5
    asked = FinishAsked(
        once=week.once(), batch_id=batch.id or 0, loss_note="All of it went on the board.",
        happened_at=week.now - timedelta(hours=3) if late else None, late_reason=LATE if late else "",
    )  # fmt: skip
    finish(session, week.keeper, week.now, asked, iter(["never asked"]).__next__)


def batch_given_up(week: Week, session: Session) -> None:
    batch = _running(week, session)
    asked = GiveUpAsked(
        once=week.once(), batch_id=batch.id or 0, reason="It came out too dark.",
        went_to=Destination.WASTE_DRUM,
    )  # fmt: skip
    give_up(session, week.keeper, week.now, asked)


def rest_told(week: Week, session: Session) -> None:
    batch = _some(week.pick(session, Batch, col(Batch.state) == BatchState.FINISHED))
    tell_rest(session, week.keeper, week.now, RestAsked(week.once(), batch.id or 0, PotWentTo.HAULER))


def wipes_kept(week: Week, session: Session) -> None:
    cans = [PlaceKind.RAG_CAN, PlaceKind.WASTE_DRUM, PlaceKind.OUTSIDE_DRUM]
    can = week.pick(session, Place, col(Place.kind).in_(cans))
    since = week.now.date() - timedelta(days=week.dice.choice([0, 170, 182]))
    asked = BeginAsked(week.once(), can.id, since, Unknown.YES, Unknown.YES)
    begin_wipes(session, week.keeper, week.now, asked)


def wipes_gone(week: Week, session: Session) -> None:
    duty = _some(week.pick(session, Duty, col(Duty.kind) == WIPES, col(Duty.done_at).is_(None)))
    asked = LeaveAsked(
        week.once(), duty.id or 0, WipesWay.LAUNDRY, "Weir Lane Laundry", "2 Weir Lane, Ashford",
        "Wrung out, and nothing stood at the bottom.",
    )  # fmt: skip
    send_wipes(session, week.keeper, week.now, asked)


def recipe_renamed(week: Week, session: Session) -> None:
    recipe = week.pick(session, Recipe)
    row = week.pick(session, Material)
    asked = RecipeAsked(week.once(), f"Stain {next(numbers)}", (LineAsked(row.id, "10 g"),))
    revise_recipe(session, week.keeper, week.now, recipe.id, recipe.version, asked)


def _job(week: Week, session: Session) -> Job | None:
    found: Job | None = week.pick(session, Job, col(Job.closed_at).is_(None), col(Job.ends_by) > week.now)
    return found


def _thinner(week: Week, session: Session) -> dict[str, Any]:
    solvents = columns_of(col(Material.id)).where(col(Material.kind) == MaterialKind.SOLVENT)
    stand = col(Container.state).in_([ContainerState.SEALED, ContainerState.OPEN])
    box = _some(week.pick(session, Container, stand, col(Container.material_id).in_(solvents)))
    return {"once": week.once(), "code": box.code}


def _running(week: Week, session: Session) -> Batch:
    found: Batch = _some(week.pick(session, Batch, col(Batch.state) == BatchState.RUNNING))
    return found


def _some(found: Any) -> Any:
    if found is None:
        raise NotFound("None of them stands.")
    return found


WORK: tuple[Act, ...] = (
    job_opened, drawn_in_job, drawn_in_job, drawn_in_job, job_closed, batch_begun, batch_begun, put_in_batch,
    put_in_batch, put_in_batch, batch_finished, batch_given_up, recipe_renamed, wipes_kept,
    wipes_gone, rest_told,
)  # fmt: skip
