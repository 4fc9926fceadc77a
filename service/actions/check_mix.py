"""The stock check before mixing: from recipe and amount to needs, containers, and what is short.

Only looks; `keep_check` alone writes, so that a start can tell later whether what was checked still holds.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from fractions import Fraction
from zoneinfo import ZoneInfo

from sqlmodel import Session

from service.actions.clock_of_air import clocks_of_air, may_have_clock
from service.actions.grow_recipe import Line, grow
from service.actions.judge_never_with import judge_never_with
from service.actions.meet_amount import meet_amount
from service.actions.rag_duty import blocked_by
from service.actions.read_amount import densities_of, shop_system
from service.actions.settle import the_shop
from service.actions.taken_by_others import others_take
from service.core.access import Actor, Permission, require
from service.core.ageing import judge
from service.core.check_again import summary
from service.core.conditions import who_found
from service.core.containers import ContainerState
from service.core.findings import Finding, Invalid, Severity, Verdict, note
from service.core.life_facts import CheckOutcome
from service.core.materials import Basis
from service.core.months import say_date
from service.core.never_with import CODE, keys_to_answer, without_answered
from service.core.quantities import decimal_of
from service.core.recipe import Recipe as RecipeFacts
from service.core.recipe import RecipeLine, by_hand, needs
from service.core.recipe_amounts import HowMuch, read_how_much
from service.core.spoons_to_mass import SpoonLine, Weighed, spoons_to_mass
from service.core.stock_check import Allocation, Candidate, StockCheck, check
from service.records.ageing_queries import lives_of
from service.records.knowledge_never_with import never_with
from service.records.material_queries import counts_self_heating, keeper_only_materials
from service.records.mixing import KeptCheck, Recipe, RecipeVersion
from service.records.mixing_queries import drop_old_checks, lines_of, the_recipe, the_version
from service.records.stock_queries import Held, containers_of, handed_out, place_names, promised

_MOST_LOOKED_AT = 40
RAG_CODES = frozenset({"rags-overdue"})
"""Findings of the rag block: judged again at the moment of each draw, where an override may lift them."""


@dataclass(frozen=True)
class MixAsked:
    """Which recipe and how much of it: "2.5 times", "500 ml", "12 m2, 2 coats", "1 l of the base".

    Args:
        except_batch: a batch whose own set-aside does not count against it.
        prefer: what an earlier check took, kept where it still holds.
        on_day: the planned day it is for; None, or a day that is gone = today.
    """

    recipe_id: int
    amount: str
    except_batch: int | None = None
    prefer: tuple[Allocation, ...] = ()
    on_day: date | None = None


@dataclass(frozen=True)
class MixCheck:
    """The answer: ``lines`` are the recipe's lines grown to this amount, in the order of addition.

    ``heats``: its rags can ignite by themselves, so it needs a job. ``weigh``: what is weighed, not spooned.
    """

    recipe: Recipe
    version: RecipeVersion
    how_much: HowMuch
    times: Fraction | None
    lines: tuple[RecipeLine, ...]
    check: StockCheck
    heats: bool
    weigh: tuple[Weighed, ...] = ()

    @property
    def may_set_aside(self) -> bool:
        """Whether nothing but the rag block, and what somebody may answer, speaks against it."""
        verdict = without_rags(self.check).verdict
        return not without_answered(verdict, keys_to_answer(never_with(), verdict)).blocking


def without_rags(checked: StockCheck) -> StockCheck:
    """The same check without the findings of the rag block."""
    return replace(checked, verdict=Verdict.of(f for f in checked.verdict if f.code not in RAG_CODES))


def without_never(checked: StockCheck) -> StockCheck:
    """The same check without the stops of what is never mixed; a start judges them by themselves."""
    kept = Verdict.of(
        f for f in checked.verdict if f.severity is not Severity.STOP or not f.code.startswith(CODE)
    )
    return replace(checked, verdict=kept)


def check_mix(session: Session, actor: Actor, now: datetime, asked: MixAsked) -> MixCheck:
    """Is there enough, from which containers, and what is to be read before a lid is opened.

    Raises:
        NotFound: no such recipe.
        Ambiguous, Invalid: the amount cannot be read, or does not fit what the recipe makes (field `amount`).
        NotAllowed: a student or reader asked.
    """
    require(actor, Permission.BATCHES)
    recipe = the_recipe(session, asked.recipe_id)
    version = the_version(session, recipe)
    assert version.id is not None
    rows = lines_of(session, version.id)
    if not rows:
        words = "Nothing is written in this recipe yet. Keep what a batch was really made of as its version."
        raise Invalid(words, {"amount": words})
    how_much = read_how_much(asked.amount, system=shop_system(session))
    met, reckoned = meet_amount(version, rows, how_much)
    lines, times, found = grow(rows, version, met)
    weigh = spoons_to_mass(spoon_lines(rows), times)
    wanted = needs(RecipeFacts(recipe.name, lines), 1)
    today = now.astimezone(ZoneInfo(the_shop(session).time_zone)).date()
    if asked.on_day is not None and asked.on_day > today:
        today = asked.on_day
        how_much = replace(how_much, findings=(*how_much.findings, _judged_for(today)))
    boxes = candidates(session, [n.material_id for n in wanted.needs], today, asked.except_batch)
    if not asked.prefer:  # what was chosen before keeps its place: nothing of it hangs on the order
        boxes = with_air(session, boxes)
    unmet = {f.about for f in found if f.severity.value == "unknown"}
    sure = [f for f in wanted.verdict if f.code != "no-upper-amount"]
    spoons = [one.finding for one in weigh if one.low_mg is not None or one.name not in unmet]
    extra = [*how_much.findings, *reckoned, *found, *sure, *spoons]

    def run(more: Iterable[Finding], heats: bool) -> StockCheck:
        return check(
            wanted.needs,
            [candidate for candidate, _ in boxes],
            actor_role=actor.role,
            today=today,
            rag_findings=Verdict.of([*extra, *more]),
            starts_rag_duty=heats,
            prefer=asked.prefer,
            by_hand=by_hand(lines),
            made_by=version.id,
        )

    first = run((), False)
    heats = _heats(session, rows, boxes, first)
    drawn = {one.container_id for one in first.allocations}
    together = judge_never_with(
        session,
        [material for _, material in rows],
        [held.container for one, held in boxes if one.container_id in drawn],
    )
    more = [*together, *_keeper_only(boxes, first), *(blocked_by(session, now) if heats else ())]
    more += others_take(session, wanted.needs, _spare(boxes, first), asked.except_batch, today)
    return MixCheck(recipe, version, how_much, times, lines, run(more, heats), heats, weigh)


def _spare(boxes: Sequence[tuple[Candidate, Held]], checked: StockCheck) -> dict[int, int]:
    """What of each material is there beyond what this mix takes."""
    spare: dict[int, int] = {need.material_id: -need.counted for need in checked.needs}
    for one, _ in boxes:
        spare[one.material_id] += checked.usable.get(one.container_id, 0)
    return spare


def _judged_for(day: date) -> Finding:
    words = f"Dates are judged for {say_date(day)}, the planned day: what is past by then is left out."
    return note("judged-for-day", words)


def spoon_lines(rows: Sequence[Line]) -> list[SpoonLine]:
    """The lines of a recipe that are written in a measure by volume, as the rule of spoons reads them."""
    return [
        SpoonLine(
            position=row.position,
            name=material.name,
            unit_key=row.unit_key,
            low=row.low,
            high=row.high,
            form=material.form,
            densities=densities_of(material),
        )
        for row, material in rows
        if row.high is not None and row.basis is Basis.VOLUME
    ]


def candidates(
    session: Session, material_ids: Iterable[int], today: date, except_batch: int | None = None
) -> list[tuple[Candidate, Held]]:
    """Every container of these materials that is not gone, as it stands on the shop day ``today``."""
    held = containers_of(session, set(material_ids))
    lives = lives_of(session, [(h.container, h.material) for h in held])
    aside = promised(session, [h.container_id for h in held], except_batch)
    away = handed_out(session, [h.container for h in held])
    places = place_names(session, [h.container for h in held])
    keeper_only = keeper_only_materials(h.material for h in held)
    found = []
    for box, life in zip(held, lives, strict=True):
        container, ageing = box.container, judge(life, today)
        found.append(
            (
                Candidate(
                    container_id=box.container_id,
                    code=container.code,
                    material_id=container.material_id,
                    amount=container.balance,
                    amount_known=container.balance_known,
                    promised=aside.get(box.container_id, 0),
                    standing=ageing.standing,
                    standing_reason=next((r.sentence.rstrip(".") for r in ageing.because), ""),
                    doubted=who_found(ageing.doubts),
                    state=container.state,
                    opened_on=container.opened_on,
                    in_date_until=ageing.in_date_until,
                    place=places.get(container.place_id or 0, ""),
                    keeper_only=container.inherited_keeper_only or container.material_id in keeper_only,
                    condition=container.condition,
                    handed_out=box.container_id in away,
                    looked_today=ageing.doubt is None
                    and any(c.on == today and c.outcome is CheckOutcome.PASSED for c in life.checks),
                ),
                box,
            )
        )
    return found


def with_air(
    session: Session, boxes: Sequence[tuple[Candidate, Held]]
) -> list[tuple[Candidate, Held]]:
    """The same with the second clocks of those opened ones that may be next; the others go by their dates.

    Only the `_MOST_LOOKED_AT` soonest of each material: their ledgers are read for it.
    """
    nearest: dict[int, list[Held]] = {}
    for one, held in sorted(boxes, key=lambda box: (box[0].in_date_until or date.max, box[0].code)):
        some = nearest.setdefault(one.material_id, [])
        if one.state is not ContainerState.OPEN or len(some) >= _MOST_LOOKED_AT:
            continue
        if may_have_clock(held.container, held.material):
            some.append(held)
    clocks = clocks_of_air(session, [held for some in nearest.values() for held in some])
    return [
        (replace(one, air=clocks[one.container_id].standing) if one.container_id in clocks else one, held)
        for one, held in boxes
    ]


def _heats(
    session: Session, rows: Sequence[Line], boxes: Sequence[tuple[Candidate, Held]], checked: StockCheck
) -> bool:
    """Whether anything in it can set rags alight: by what the materials are, or by what is in these cans."""
    taken = {a.container_id for a in checked.allocations}
    return any(counts_self_heating(session, material) for _, material in rows) or any(
        counts_self_heating(session, held.material, held.container)
        for candidate, held in boxes
        if candidate.container_id in taken
    )


def _keeper_only(boxes: Sequence[tuple[Candidate, Held]], checked: StockCheck) -> list[Finding]:
    """For those who may draw it: that students may not."""
    taken = {a.container_id for a in checked.allocations}
    names = {h.material.name for c, h in boxes if c.keeper_only and c.container_id in taken}
    return [
        note("keeper-only-material", f"Students do not draw {name}: put it in yourself.", about=name)
        for name in sorted(names)
    ]


def keep_check(session: Session, actor: Actor, now: datetime, mix: MixCheck) -> KeptCheck:
    """Keep the answer of a check, so that a set-aside or a start can be made from it."""
    assert mix.recipe.id is not None and mix.version.id is not None
    drop_old_checks(session, now)
    kept = KeptCheck(
        fingerprint=mix.check.fingerprint,
        recipe_id=mix.recipe.id,
        recipe_version_id=mix.version.id,
        wanted_written=mix.how_much.written[:200],
        times=None if mix.times is None else decimal_of(mix.times, 12),
        heats=mix.heats,
        result=summary(mix.check),
        person_id=actor.person_id,
        made_at=now,
    )
    session.add(kept)
    session.flush()
    return kept
