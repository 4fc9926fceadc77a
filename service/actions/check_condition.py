"""A look at what is in a container: what was found, and what follows by the shop's rule of that day."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from typing import Any, Final

from sqlmodel import Session, col, func, select

from service.actions.container_act import ContainerAsked, settle_container_act
from service.actions.day_of_finding import day_of_finding
from service.actions.gate import Taking, check_job, take
from service.actions.key_of_content import key_of_content
from service.actions.look_back import judge_look_back, nothing_in_it
from service.actions.lose_stock import amount_or_all
from service.actions.post_movement import EventFacts, Line, record_event
from service.actions.run_job import job_for_draw
from service.actions.same_stuff import owe_a_look_at_the_same
from service.actions.settle import Act, Settled
from service.actions.tell_of_condition import tell_what_came_of_it
from service.actions.tell_of_peroxides import a_strip_tells, doubt_what_is_of_the_same
from service.actions.tellings import answer_tellings
from service.core.access import Actor, Permission, require
from service.core.ageing import Ageing
from service.core.conditions import FOUND_WORDS, MEASURED, Found, all_found_in_words, found_by_strip
from service.core.containers import ContainerState, EventKind, Standing
from service.core.findings import Invalid, note, warn
from service.core.ledger import MovementKind, OtherSide
from service.core.life_facts import CheckOutcome, ConditionCheck
from service.core.months import say_date
from service.core.quantities import show_amount
from service.core.written_reason import A_SENTENCE, is_sentence
from service.records.ageing_queries import standing_of
from service.records.condition_queries import fits, rule_for
from service.records.knowledge_conditions import known_conditions
from service.records.material_queries import counts_self_heating
from service.records.stock import ContainerEvent, Movement, Posting
from service.records.stock_queries import Held

_THROUGH_THE_LID: Final = frozenset({Found.FAILED})
"""What may be said of a sealed one from outside: that it is not fit. That it is sound nobody sees."""
_BY_OUTCOME: Final = {
    CheckOutcome.PASSED: Found.SOUND, CheckOutcome.SKIN_CUT: Found.SKIN, CheckOutcome.FAILED: Found.FAILED
}


@dataclass(frozen=True, kw_only=True)
class CheckAsked(ContainerAsked):
    """A look at the material.

    Args:
        found: what was found; None where only ``outcome`` is told, which then stands for sound, a cut skin or
            not fit.
        peroxide_mg_l: what a peroxide strip showed, in mg/l; it says by itself what was found.
        strained: what was strained out and thrown away with a skin, if any.
    """

    found: Found | None = None
    outcome: CheckOutcome | None = None
    peroxide_mg_l: Decimal | None = None
    strained: str = ""
    note: str = ""
    job_id: int | None = None


def check_condition(session: Session, actor: Actor, now: datetime, asked: CheckAsked) -> Settled:
    """Book a condition check. What follows from what was found is the shop's rule of this day.

    Raises:
        Invalid: something was strained out although no skin was cut; nobody said what was found; it is not
            found in such a material, or a look alone cannot tell it; nothing was in it then.
        NotFound: there is no such job.
        Refused: the job was not running then.
    """
    require(actor, Permission.CHECK)
    return settle_container_act(
        session, actor, now, asked, "check", lambda act, held: _check(act, held, asked)
    )


def _check(act: Act, held: Held, asked: CheckAsked) -> dict[str, Any]:
    strip = a_strip_tells(act.session, held.container, held.material)
    found = _found(held, asked, key_of_content(act.session, held.container, held.material), strip=strip)
    if asked.job_id is not None:  # a number that is no running job is a slip, whatever was found
        check_job(act, job_for_draw(act, asked.job_id, needed=False))
    rule = rule_for(act.session, found, held.material.kind)
    heats = counts_self_heating(act.session, held.material, held.container)
    if found is Found.SKIN and heats and not asked.strained.strip():
        sentence = "Write how much was strained out, at least about: skin and strainer are owed as oily rags."
        raise Invalid(sentence, {"strained": sentence})
    if asked.strained.strip() and found is not Found.SKIN:
        sentence = "Only with a cut skin is something strained out. Book another loss by itself."
        raise Invalid(sentence, {"strained": sentence})
    _was_there(act, held)
    if nothing_in_it(held):
        judge_look_back(act, held, rule.outcome)
    before = standing_of(act.session, held.container, held.material, act.day)
    if rule.outcome is CheckOutcome.PASSED:
        _may_lift(act, held, asked, found, before)
    measured = asked.peroxide_mg_l if found in MEASURED else None
    counts_from = day_of_finding(act, held, rule.outcome)
    facts = EventFacts(counts_from, rule.outcome, found=found.value, measured_mg_l=measured, note=asked.note)
    event = record_event(act, held, EventKind.CHECKED, facts, whatever_state=nothing_in_it(held))
    movement = _strained(act, held, asked) if asked.strained.strip() else None
    answer_tellings(act, held)
    after = standing_of(act.session, held.container, held.material, act.day)
    dead = after.standing is Standing.PAST and not after.may_be_checked
    if rule.outcome is CheckOutcome.PASSED and dead:
        act.note(warn("stays-past", "It stays past: no look brings it back. It can only be discarded."))
    elif after.in_date_until == before.in_date_until and rule.outcome is CheckOutcome.PASSED:
        act.note(note("date-not-moved", "The check passed; it moves no date."))
    if rule.outcome in (CheckOutcome.FAILED, CheckOutcome.DOUBTED):
        tell_what_came_of_it(act, held, found.value, rule.outcome)
        if found is Found.PEROXIDE_OVER:
            doubt_what_is_of_the_same(act, held)
        owe_a_look_at_the_same(act, held, found.value)
    what_to_do = "" if dead and rule.outcome is not CheckOutcome.FAILED else rule.what_to_do
    if what_to_do:
        whose = f"{rule.source}{' (house policy)' if rule.house_policy else ''}"
        act.note(note("what-to-do", what_to_do, whose))
    return {
        "event": event.id,
        "outcome": rule.outcome.value,
        "found": found.value,
        "what_to_do": what_to_do,
        "standing": after.standing.value,
        "in_date_until": after.in_date_until.isoformat() if after.in_date_until else None,
        "movement": movement,
    }


def _may_lift(act: Act, held: Held, asked: CheckAsked, found: Found, before: Ageing) -> None:
    """Whether what passes may lift what was doubted.

    Raises:
        Invalid: it was made earlier; peroxides are doubted and no strip tells; nothing tells what was tried.
    """
    if before.doubt is None:
        return
    if _not_after(act, held, before.doubt):
        words = f"That was earlier than what was found on {say_date(before.doubt.on)}. It lifts nothing."
        raise Invalid(words, {"happened_at": words})
    peroxides = any(one.found == Found.PEROXIDE_OVER.value for one in before.doubts)
    if peroxides and found is not Found.PEROXIDE_BELOW:
        words = "Peroxides are a doubt here, and only a strip lifts that. Enter what it showed, in mg/l."
        raise Invalid(words, {"found": words, "peroxide_mg_l": words})
    # A drop on glass says nothing of mould: where something was doubted, a sentence tells what was tried.
    if not is_sentence(asked.note):
        each = " of each" if len(before.doubts) > 1 else ""
        sentence = (
            f"{all_found_in_words(before.doubts)} A look does not undo that. Write in the note, in "
            f"{A_SENTENCE}, what you tried{each} and how it came out."
        )
        raise Invalid(sentence, {"note": sentence})


def _found(held: Held, asked: CheckAsked, key: str | None, *, strip: bool) -> Found:
    """What was found; refused where such a material cannot show it, or a look alone cannot tell it."""
    if asked.peroxide_mg_l is not None:
        found: Found | None = found_by_strip(asked.peroxide_mg_l)
        _one_answer(asked, found_by_strip(asked.peroxide_mg_l))
    else:
        found = asked.found or (_BY_OUTCOME.get(asked.outcome) if asked.outcome else None)
    if asked.found is not None and asked.outcome is not None and asked.peroxide_mg_l is None:
        follows = known_conditions()[asked.found].outcome
        if asked.outcome is not follows and _BY_OUTCOME.get(asked.outcome) is not asked.found:
            words = (
                f"“{FOUND_WORDS[asked.found]}” and “{asked.outcome.value}” contradict each other. Tell what "
                "was found, and leave the other out."
            )
            raise Invalid(words, {"found": words, "outcome": words})
    if found is None:
        raise Invalid("Choose what you found.", {"found": "Choose what you found."})
    if found in MEASURED and asked.peroxide_mg_l is None:
        words = "Enter what the peroxide strip showed, in mg/l."
        raise Invalid(words, {"peroxide_mg_l": words})
    told = asked.found is not None or asked.peroxide_mg_l is not None
    never_opened = nothing_in_it(held) and not held.container.ever_opened
    sealed = held.container.state is ContainerState.SEALED or never_opened
    if sealed and found not in _THROUGH_THE_LID:
        words = "It is sealed by the book, and nobody sees this through a lid. Write its opening down first."
        raise Invalid(words, {"peroxide_mg_l" if found in MEASURED else "found": words})
    rule = known_conditions()[found]
    if found is Found.SOUND and (strip or (key or "") in rule.not_keys):
        how = "a peroxide strip tells it: enter what it showed" if strip else "try a drop on glass"
        words = f"A look alone does not tell whether {held.material.name} is sound; {how}."
        raise Invalid(words, {"found": words})
    if told and not fits(rule, held.material, key, strip=strip):
        words = f"{held.material.name} does not show this. Choose what you found from the list."
        raise Invalid(words, {"peroxide_mg_l" if found in MEASURED else "found": words})
    return found


def _not_after(act: Act, held: Held, doubt: ConditionCheck) -> bool:
    """Whether this look was made before, or at the very time of, what it would lift."""
    newest: datetime | None = act.session.exec(
        select(func.max(Posting.happened_at))
        .join(ContainerEvent, col(ContainerEvent.posting_id) == col(Posting.id))
        .where(
            col(ContainerEvent.container_id) == held.container_id,
            col(ContainerEvent.outcome) == CheckOutcome.DOUBTED.value,
            col(ContainerEvent.on_date) == doubt.on,
        )
    ).one()
    return newest is not None and act.happened_at < newest


def _one_answer(asked: CheckAsked, strip: Found) -> None:
    """A strip tells one thing. What else was found is a look of its own, so that neither swallows the other.

    Raises:
        Invalid: something else is told with the strip.
    """
    other = asked.found or (_BY_OUTCOME.get(asked.outcome) if asked.outcome else None)
    if other is None or other is strip or (other is Found.SOUND and strip is Found.PEROXIDE_BELOW):
        return
    words = (
        f"The strip and “{FOUND_WORDS[other]}” are two findings. Write down the worse one first, by itself, "
        "then the other."
    )
    raise Invalid(words, {"found": words, "peroxide_mg_l": words})


def _was_there(act: Act, held: Held) -> None:
    """Nobody looks at what is not packed yet, not in the house, or not in this jar.

    Raises:
        Invalid: field ``happened_at``.
    """
    box = held.container
    filled = _filled_here(act, held)
    if filled is not None and act.happened_at < filled:
        at = filled.astimezone(act.zone)
        words = f"It was filled at {at:%H:%M} on {say_date(at.date())}. Enter a time after that."
        raise Invalid(words, {"happened_at": words})
    today = act.recorded_at.astimezone(act.zone).date()
    days = [day for day in (box.packed_on, box.received_on) if day is not None and day <= today]
    if days and act.day < max(days):
        begin = max(days)
        words = f"It was not here before {say_date(begin)}. Enter when you looked at it."
        raise Invalid(words, {"happened_at": words})


def _filled_here(act: Act, held: Held) -> datetime | None:
    """When a jar was filled from a batch or another container; None for what came from outside."""
    first = act.session.exec(
        select(Movement.kind, Movement.happened_at)
        .where(col(Movement.container_id) == held.container_id)
        .order_by(col(Movement.id))
        .limit(1)
    ).first()
    if first is None or first[0] not in (MovementKind.MADE, MovementKind.DECANT_IN):
        return None
    return first[1]


def _strained(act: Act, held: Held, asked: CheckAsked) -> int | None:
    read = amount_or_all(act, held, asked.strained, "strained")
    heats = counts_self_heating(act.session, held.material, held.container)
    job = job_for_draw(act, asked.job_id, needed=heats)
    line = Line(
        MovementKind.LOSS,
        -read.high,
        OtherSide.LOSS,
        known=read.known,
        written=read.written,
        written_unit=read.unit_key,
        density_used=read.density_used,
        how=read.how,
        other_text=f"strained out with a skin ({show_amount(read.high, held.basis)})",
        reason=asked.note,
    )
    # Skins and strainers of oil are rags: they join the load of the job.
    return take(act, held, line, Taking(job=job)).id
