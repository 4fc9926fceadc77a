"""Whether something may be taken from a container now, and taking it.

Whatever door an act comes through, it is judged here: the job, who may draw it, how it stands on its dates,
overdue rags, and that nothing is overdrawn.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from service.actions.found_more import post_found_more
from service.actions.how_it_stands import how_it_stands
from service.actions.met_in_pot import met_in_container
from service.actions.post_movement import EventFacts, Line, Written, name_of, post, record_event
from service.actions.rag_duty import join_load, load_for, rag_stops, refuse_or_record
from service.actions.settle import Act
from service.core.access import Permission, may
from service.core.ageing import PEROXIDES, may_use
from service.core.conditions import who_found
from service.core.containers import AmountKnown, Condition, EventKind, Standing
from service.core.counting import MORE
from service.core.findings import Finding, Findings, NotAllowed, Refused, Verdict, note, stop, warn
from service.core.ledger import MovementKind, MovementLine, OtherSide, counted_since, fold, may_take
from service.core.life_facts import CheckOutcome
from service.core.quantities import show_amount
from service.core.shelf_codes import show_code
from service.records.ageing_queries import checks_of
from service.records.job_queries import is_in_job
from service.records.jobs import Job
from service.records.material_queries import counts_keeper_only, counts_self_heating
from service.records.stock_queries import Held, lines_of, promised


@dataclass(frozen=True)
class Taking:
    """How something is taken out of a container.

    Args:
        job: the running job it is for; self-heating material always needs one.
        looked: the person says they looked at it now and it is sound.
        recipe_id: the recipe of the batch it goes into, if any (an override may name it).
        batch_id: the batch whose own set-aside does not count against it.
        makes_rags: False where no rag can come of it (decanting with a funnel, a discard of a whole tube).
        more_than_book: the person says there was more in it than the book says.
    """

    job: Job | None = None
    looked: bool = False
    recipe_id: int | None = None
    batch_id: int | None = None
    makes_rags: bool = True
    more_than_book: bool = False


_ENDS_A_LEAK: Final = (MovementKind.DECANT_OUT, MovementKind.LOSS, MovementKind.DISCARD)
"""What is done because it leaks is not answered with the advice to do it."""


def gate(act: Act, held: Held, kind: MovementKind | EventKind, taking: Taking) -> Verdict:
    """Everything that speaks for or against taking from, opening or handing out this container now.

    Raises:
        NotAllowed: the person is not in the job, or the job is not running then.
    """
    found = Findings()
    container, about = held.container, show_code(held.container.code)
    check_job(act, taking.job)
    if container.condition is Condition.LEAKING and kind not in _ENDS_A_LEAK:
        found.add(warn("leaking", "It leaks. Decant it into a sound container first.", about=about))
    elif container.condition is Condition.DAMAGED:
        found.add(note("damaged", "It came damaged. Look at it before you use it.", about=about))
    elif container.condition is Condition.NOT_KNOWN and not taking.looked:
        found.add(note("condition-not-known", "Nobody wrote down in what state it came.", about=about))
    found.add(*_who_may(act, held, about))
    if kind in (MovementKind.DRAW, MovementKind.DECANT_OUT):
        # A jar in which things met that never should is not taken from, whoever put them together.
        found.add(*met_in_container(act.session, container))
    if isinstance(kind, MovementKind):
        found.add(*_how_it_stands(act, held, kind, taking, about))
    else:
        found.add(*peroxide_stops(act, held))
    if counts_self_heating(act.session, held.material, container):
        if taking.job is None and taking.makes_rags and kind in (MovementKind.DRAW, MovementKind.LOSS):
            found.add(
                stop(
                    "needs-job",
                    "Its rags can ignite by themselves, so it is drawn for a job. Open or name one.",
                )
            )
        # A keeper lets one draw or batch through, never an opening, a decanting or a loss beside it.
        drawn = container if kind is MovementKind.DRAW else None
        found.add(*rag_stops(act, job=taking.job, container=drawn, recipe_id=taking.recipe_id))
    return found.verdict()


def check_job(act: Act, job: Job | None) -> None:
    """Whether this person may work in this job at the time of the act; also asked for a return.

    Raises:
        NotAllowed: a student without a job, or not in it.
        Refused: the job was not running then.
    """
    if job is None:
        if not may(act.actor.role, Permission.START_JOB):
            raise NotAllowed(
                f"As a {act.actor.role.value} you draw inside a running job. Ask its leader to add you."
            )
        return
    # Asked first, and without the job's name: whoever is not in it learns nothing of it by its number.
    if not may(act.actor.role, Permission.START_JOB) and not is_in_job(act.session, job, act.actor.person_id):
        raise NotAllowed("You are not in that job. Ask its leader to add you.")
    over = job.closed_at or job.ends_by
    if not job.started_at <= act.happened_at < max(over, job.started_at):
        raise Refused(
            Verdict.of([stop("job-not-running", f"{job.name} was not running then. Choose a job that was.")])
        )


def _who_may(act: Act, held: Held, about: str) -> list[Finding]:
    if not counts_keeper_only(act.session, held.material, held.container):
        return []
    if may(act.actor.role, Permission.DRAW_KEEPER_ONLY):
        return [note("keeper-only", "Students do not draw this one.", about=about)]
    return [stop("keeper-only", "Students do not draw this material. Ask a finisher or keeper.", about=about)]


def _how_it_stands(act: Act, held: Held, kind: MovementKind, taking: Taking, about: str) -> list[Finding]:
    ageing = how_it_stands(act, held, act.judged_on)
    found = [
        Finding(f.severity, f.code, f.sentence, f.source, f.about or about) for f in may_use(ageing, kind)
    ]
    asks = ageing.standing is Standing.NOT_KNOWN or (
        ageing.doubt is not None and ageing.standing is not Standing.PAST
    )
    if not asks or kind not in (MovementKind.DRAW, MovementKind.DECANT_OUT):
        return found
    looked = taking.looked
    if ageing.doubt is None:  # a pass of this day may be older than the doubt of this day
        looked = looked or any(
            c.on == act.judged_on and c.outcome is CheckOutcome.PASSED
            for c in checks_of(act.session, held.container_id)
        )
    if not looked:
        why = "How long it lasts is not known."
        if ageing.doubt is not None:
            who = who_found(ageing.doubts)
            why = f"{who[:1].upper()}{who[1:]}."
        said = f"{why} Look at it, or try it, and say that you did and it is fit for this."
        found.append(stop("look-before-use", said, about=about))
    return found


def peroxide_stops(act: Act, held: Held) -> list[Finding]:
    """Why a can in which a strip found peroxides is neither opened nor carried about."""
    about = show_code(held.container.code)
    verdict = how_it_stands(act, held, act.judged_on).verdict
    return [Finding(f.severity, f.code, f.sentence, f.source, about) for f in verdict if f.code == PEROXIDES]


def take(act: Act, held: Held, line: Line, taking: Taking) -> Written:
    """Take something out: judged by `gate`, booked, and its rags joined to the job's load.

    Raises:
        Refused: a stop stands and the act has not happened yet, or more would be taken than is there.
    """
    refuse_or_record(act, gate(act, held, line.kind, taking), name_of(held))
    if taking.looked:
        _note_look(act, held, taking)
    before = _settle_overdraw(act, held, line, taking)
    heats = counts_self_heating(act.session, held.material, held.container)
    load = load_for(act, taking.job) if heats and taking.makes_rags and taking.job is not None else None
    movement = post(
        act, held, line, job=taking.job, rag_load_id=load.id if load else None, before=before
    )
    if load is not None:
        join_load(act, load, movement.id, name_of(held))
    return movement


def _note_look(act: Act, held: Held, taking: Taking) -> None:
    """A look before use is written down, but it is no condition check: without a day it moves no date."""
    ageing = how_it_stands(act, held, act.day)
    if ageing.standing is Standing.NOT_KNOWN or ageing.doubt is not None:
        facts = EventFacts(None, CheckOutcome.PASSED, job=taking.job, note="looked at before use")
        record_event(act, held, EventKind.CHECKED, facts)


def _settle_overdraw(act: Act, held: Held, line: Line, taking: Taking) -> list[MovementLine] | None:
    """Refuse an overdraw, or book the count difference first when there was more than the book said.

    Returns the container's ledger as it was judged by; None if it was not read, or has grown since.
    """
    if not line.change:
        return None  # Of unknown size, or the last of what was counted out: `post` sees to the balance.
    lines = lines_of(act.session, held.container_id)
    if counted_since(lines, act.judged_at) is not None:
        return lines  # A count made since had it in already; `post` keeps that count.
    balance = fold(lines)
    aside = promised(act.session, [held.container_id], taking.batch_id).get(held.container_id, 0)

    def say(amount: int) -> str:
        return show_amount(amount, held.basis)

    verdict = may_take(balance, -line.change, promised=aside, say=say)
    if "not-enough" in verdict.codes and taking.more_than_book:
        if not may(act.actor.role, Permission.COUNT):
            raise NotAllowed("There was more in it than the book says: ask a finisher or keeper to count it.")
        more = -line.change - (balance.amount or 0)
        count = Line(
            MovementKind.COUNT_DIFFERENCE,
            more,
            OtherSide.COUNT,
            AmountKnown.ESTIMATED,
            counted=-line.change,
            written=line.written,
            reason=MORE,
        )
        post_found_more(act, held, count)
        return None
    if verdict.blocking:
        raise Refused(verdict)
    act.note(*verdict)
    return lines
