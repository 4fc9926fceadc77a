"""What somebody saw in a container, told to a keeper: it asks for a look before each use, and moves no date.

It can only make the standing stricter. Whatever was seen counts as a doubt, also where a check that finds the
same would pass or end the life; a check of the condition, by whoever may make one, settles it.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any, Final

from sqlmodel import Session

from service.actions.container_act import ContainerAsked, settle_container_act
from service.actions.day_of_finding import day_of_finding
from service.actions.gate import check_job
from service.actions.post_movement import EventFacts, record_event
from service.actions.run_job import job_for_draw
from service.actions.same_stuff import owe_a_look_at_the_same
from service.actions.settle import Act, Settled
from service.actions.tell_of_condition import reaches_the_jars, tell_what_came_of_it
from service.actions.tellings import owe_a_look
from service.core.access import Actor, Permission, may, require
from service.core.conditions import NOT_TOLD, TOLD, Found, found_words, seen_as
from service.core.containers import ContainerState, EventKind
from service.core.findings import Invalid, Refused, Verdict, stop
from service.core.life_facts import CheckOutcome
from service.core.shelf_codes import show_code
from service.records.ageing_queries import standing_of
from service.records.condition_queries import fits
from service.records.knowledge_conditions import known_conditions
from service.records.stock import TELL
from service.records.stock_queries import Held

FEWEST_LETTERS: Final = 3


@dataclass(frozen=True, kw_only=True)
class TellAsked(ContainerAsked):
    """What was seen: ``found`` of the list, ``words``, or both; ``job`` is the running one of a student."""

    found: Found | None = None
    words: str = ""
    job_id: int | None = None


def tell_keeper(session: Session, actor: Actor, now: datetime, asked: TellAsked) -> Settled:
    """Write down what somebody saw, as a doubt, and let a keeper owe a look.

    Raises:
        Invalid: nothing is told; it is not of the list; nobody sees it through a lid; a student named no job.
        NotFound: there is no such job.
        NotAllowed: the student is not in that job.
        Refused: the job was not running then, or nothing is in the container to be looked at.
    """
    require(actor, Permission.TELL)
    return settle_container_act(session, actor, now, asked, TELL, lambda act, held: _tell(act, held, asked))


def _tell(act: Act, held: Held, asked: TellAsked) -> dict[str, Any]:
    words = " ".join(asked.words.split())
    found = _found(held, asked.found, words)
    if asked.job_id is None and not may(act.actor.role, Permission.START_JOB):
        sentence = "Choose the running job you are in."
        raise Invalid(sentence, {"job": sentence})
    job = job_for_draw(act, asked.job_id, needed=False)
    if job is not None:
        check_job(act, job)
    if held.container.state not in (ContainerState.SEALED, ContainerState.OPEN):
        sentence = (
            "By the book nothing is in it to be looked at. What was seen in it before, a finisher "
            "or keeper writes down as a check with its time."
        )
        raise Refused(Verdict.of([stop("nothing-in-it", sentence)]))
    before = standing_of(act.session, held.container, held.material, act.day)
    day = day_of_finding(act, held, CheckOutcome.DOUBTED)
    facts = EventFacts(day, CheckOutcome.DOUBTED, found=found, note=words, job=job)
    event = record_event(act, held, EventKind.CHECKED, facts)
    known = list(act.findings)
    if asked.found is None or reaches_the_jars(act.session, asked.found, held.material.kind):
        travels = found if asked.found is None else seen_as(asked.found)
        tell_what_came_of_it(act, held, travels, CheckOutcome.DOUBTED)
        owe_a_look_at_the_same(act, held, travels)
    if not may(act.actor.role, Permission.SEE_STORE):
        act.findings[:] = known  # the jars and batches of others are nothing for them
    seen = found_words(found) if asked.found else ""
    said = ". ".join(filter(None, (seen, f"“{words}”" if words else "")))
    code = show_code(held.container.code)
    name = owe_a_look(
        act, held.container_id,
        f"{act.actor.name} saw in {code} {held.material.name[:80]}: {said}. "
        "Look at it and write what you find.",
    )  # fmt: skip
    after = standing_of(act.session, held.container, held.material, act.day)
    assert after.in_date_until == before.in_date_until, "what is told moves no date"
    return {
        "event": event.id,
        "outcome": CheckOutcome.DOUBTED.value,
        "found": found,
        "what_to_do": f"{name} owes a look at it. Until then look at it, or try it, before each use.",
        "standing": after.standing.value,
        "in_date_until": after.in_date_until.isoformat() if after.in_date_until else None,
    }


def _found(held: Held, found: Found | None, words: str) -> str:
    """What is kept as found; refused where nothing is told, or where nobody can have seen it."""
    if found is None:
        # Not a whole sentence: a warning that is hard to write is not told.
        if sum(sign.isalpha() for sign in words) < FEWEST_LETTERS:
            sentence = "Choose what you saw, or write it in words."
            raise Invalid(sentence, {"words" if words else "found": sentence})
        return TOLD
    if found not in NOT_TOLD and words and not fits(known_conditions()[found], held.material, strip=False):
        return TOLD  # Their own words stand, with what they chose.
    if found in NOT_TOLD or not fits(known_conditions()[found], held.material, strip=False):
        sentence = "Choose what you saw from the list, or write it in words."
        raise Invalid(sentence, {"found": sentence})
    if held.container.state is ContainerState.SEALED and found is not Found.FAILED:
        sentence = "By the book it is sealed; this is not seen through a lid. Write in words what you saw."
        raise Invalid(sentence, {"found": sentence})
    return seen_as(found)
