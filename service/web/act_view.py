"""What a page shows of one container: its head, its standing in words, and what may be done with it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime

from sqlmodel import Session, col, select

from service.core.access import Actor, Permission, may
from service.core.conditions import who_found
from service.core.containers import AmountKnown, Condition, ContainerState, Standing
from service.core.findings import Verdict
from service.core.materials import Basis
from service.core.months import add_days
from service.core.quantities import show_amount, show_estimate
from service.core.shelf_codes import show_code
from service.records.ageing_queries import standing_of
from service.records.handed_over import handed_words
from service.records.job_queries import is_in_job, running_jobs
from service.records.material_queries import counts_keeper_only, counts_self_heating
from service.records.materials import Material
from service.records.places import NO_STOCK, Place, PlaceKind
from service.records.stock import Container
from service.records.stock_queries import material_of, place_chain, place_of
from service.web.deps import shop_today
from service.web.render import HARD, day

STATE_WORDS = {
    ContainerState.SEALED: "sealed",
    ContainerState.OPEN: "open",
    ContainerState.EMPTY: "empty",
    ContainerState.GONE: "gone",
}


@dataclass(frozen=True)
class ActView:
    """The head of every page about a container. ``known`` says how well the amount is known."""

    id: int
    code: str
    shown: str
    name: str
    material_id: int
    amount: str
    known: str
    state: ContainerState
    state_words: str
    standing: Standing
    standing_words: str
    place: str
    place_id: int | None
    opened_words: str
    ever_opened: bool
    opening_unknown: bool
    self_heating: bool
    keeper_only: bool
    tare_words: str
    capacity: str
    condition_words: str
    leaking: bool
    verdict: Verdict
    doubted: str
    ended: bool
    today: date
    staff: bool


def amount_words(box: Container, material: Material) -> tuple[str, str]:
    """The amount, and how well it is known."""
    if box.balance is None or material.basis is None:
        return "not known", "count or weigh it"
    if box.balance_known is AmountKnown.ESTIMATED:
        words = show_estimate(box.balance, material.basis).removeprefix("about ")
        return f"about {words.replace(' ', HARD)}", "an estimate"
    return show_amount(box.balance, material.basis).replace(" ", HARD), "by the book"


LEAKS = "leaks"


def condition_words(box: Container) -> str:
    """What a date does not tell: that it leaks or came damaged. Empty when sound, or when nothing is in it.

    >>> condition_words(Container(condition=Condition.LEAKING, state=ContainerState.SEALED))
    'leaks'
    """
    if box.state in (ContainerState.EMPTY, ContainerState.GONE):
        return ""
    return {Condition.LEAKING: LEAKS, Condition.DAMAGED: "came damaged"}.get(box.condition, "")


def standing_words(standing: Standing, until: date | None) -> str:
    """A standing with its day, as it stands on a tag.

    >>> standing_words(Standing.IN_DATE, date(2027, 3, 12)).replace("\\xa0", " ")
    'in date until 12 Mar 2027'
    """
    if until is None:
        return ""
    if standing is Standing.PAST:
        return f"past since {day(add_days(until, 1))}"
    if standing is Standing.LOOK_FIRST:
        return f"look first, until {day(until)}"
    return f"in date until {day(until)}" if standing is Standing.IN_DATE else ""


def view_for_act(session: Session, box: Container, actor: Actor, now: datetime) -> ActView:
    """One container as the head of a page."""
    assert box.id is not None
    material, place = material_of(session, box), place_of(session, box)
    today = shop_today(session, now)
    ageing = standing_of(session, box, material, today)
    amount, known = amount_words(box, material)
    return ActView(
        id=box.id,
        code=box.code,
        shown=show_code(box.code),
        name=material.name,
        material_id=box.material_id,
        amount=amount,
        known=known,
        state=box.state,
        state_words=STATE_WORDS[box.state],
        standing=ageing.standing,
        standing_words=standing_words(ageing.standing, ageing.in_date_until),
        place=place_words(session, place, box.id),
        place_id=box.place_id,
        opened_words=_opened(box),
        ever_opened=box.ever_opened,
        opening_unknown=box.ever_opened and box.opened_on is None,
        self_heating=counts_self_heating(session, material, box),
        keeper_only=counts_keeper_only(session, material, box),
        tare_words=show_amount(box.tare_mg, Basis.MASS) if box.tare_mg is not None else "",
        capacity=box.capacity_written,
        condition_words=condition_words(box),
        leaking=condition_words(box) == LEAKS,
        verdict=ageing.verdict,
        doubted=who_found(ageing.doubts),
        ended=ageing.ended is not None,
        today=today,
        staff=may(actor.role, Permission.COUNT),
    )


def _opened(box: Container) -> str:
    if not box.ever_opened:
        return "never opened"
    return day(box.opened_on)


def place_words(session: Session, place: Place | None, container_id: int | None = None) -> str:
    """A place with what it stands in: "Shelf 3, Cabinet A"; without one with whom the container is."""
    if place is None and container_id is not None:
        return handed_words(session, [container_id]).get(container_id, "not known")
    if place is None:
        return "not known"
    return ", ".join(one.name for one in place_chain(session, place)[:3])


def job_choices(session: Session, actor: Actor, now: datetime) -> list[tuple[int, str]]:
    """The running jobs this person may draw for: their own, and for staff every other."""
    jobs = running_jobs(session, now)
    staff = may(actor.role, Permission.START_JOB)
    own = [job for job in jobs if is_in_job(session, job, actor.person_id)]
    rest = [job for job in jobs if job not in own] if staff else []
    return [(job.id or 0, job.name) for job in [*own, *rest]]


def place_choices(session: Session, kinds: Sequence[PlaceKind] | None = None) -> list[tuple[int, str]]:
    """Places in use that containers stand in, or those of the given kinds."""
    rows = session.exec(select(Place).where(col(Place.active).is_(True)).order_by(col(Place.name))).all()
    wanted = [p for p in rows if (p.kind in kinds if kinds is not None else p.kind not in NO_STOCK)]
    return [(p.id or 0, place_words(session, p)) for p in wanted]
