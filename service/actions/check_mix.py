"""The stock check before mixing: from recipe and amount to needs, containers, and what is short.

Only looks; `keep_check` alone writes, so that a start can tell later whether what was checked still holds.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from decimal import Decimal
from fractions import Fraction
from math import ceil, floor
from zoneinfo import ZoneInfo

from sqlmodel import Session

from service.actions.judge_never_with import judge_never_with
from service.actions.rag_duty import blocked_by
from service.actions.read_amount import basis_for, densities_of, shop_system
from service.actions.settle import the_shop
from service.core.access import Actor, Permission, require
from service.core.ageing import judge
from service.core.check_again import summary
from service.core.findings import Finding, Invalid, Severity, Verdict, note
from service.core.life_facts import CheckOutcome
from service.core.materials import Basis
from service.core.never_with import CODE, answerable, without_answered
from service.core.quantities import LARGEST, UNITS, CannotMeet, Quantity, across, decimal_of, meeting_density
from service.core.recipe import Recipe as RecipeFacts
from service.core.recipe import RecipeLine, needs, times_for
from service.core.recipe_amounts import HowMuch, read_how_much, shares_of_parts, shares_of_percent
from service.core.stock_check import Allocation, Candidate, StockCheck, check
from service.records.ageing_queries import lives_of
from service.records.knowledge_never_with import never_with
from service.records.material_queries import counts_self_heating, keeper_only_materials
from service.records.materials import Material
from service.records.mixing import KeptCheck, Recipe, RecipeLineRow, RecipeVersion
from service.records.mixing_queries import drop_old_checks, lines_of, the_recipe, the_version
from service.records.stock_queries import Held, containers_of, handed_out, place_names, promised

Line = tuple[RecipeLineRow, Material]
RAG_CODES = frozenset({"rags-overdue"})
"""Findings of the rag block: judged again at the moment of each draw, where an override may lift them."""


@dataclass(frozen=True)
class MixAsked:
    """Which recipe and how much of it: "2.5 times", "500 ml", "20 heads x 60 ml + 10 %".

    Args:
        except_batch: a batch whose own set-aside does not count against it.
        prefer: what an earlier check took, kept where it still holds.
    """

    recipe_id: int
    amount: str
    except_batch: int | None = None
    prefer: tuple[Allocation, ...] = ()


@dataclass(frozen=True)
class MixCheck:
    """The answer: ``lines`` are the recipe's lines grown to this amount, in the order of addition.

    ``heats``: its rags can ignite by themselves, so it needs a job.
    """

    recipe: Recipe
    version: RecipeVersion
    how_much: HowMuch
    times: Fraction | None
    lines: tuple[RecipeLine, ...]
    check: StockCheck
    heats: bool

    @property
    def may_set_aside(self) -> bool:
        """Whether nothing but the rag block, and what somebody may answer, speaks against it."""
        verdict = without_rags(self.check).verdict
        return not without_answered(verdict, answerable(never_with()).keys()).blocking


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
    lines, times, found = grow(rows, version, how_much)
    wanted = needs(RecipeFacts(recipe.name, lines), 1)
    today = now.astimezone(ZoneInfo(the_shop(session).time_zone)).date()
    boxes = candidates(session, [n.material_id for n in wanted.needs], today, asked.except_batch)
    unmet = {f.about for f in found if f.severity.value == "unknown"}
    together = judge_never_with(session, [material for _, material in rows])
    sure = [f for f in wanted.verdict if f.code != "no-upper-amount"]
    extra = [*how_much.findings, *found, *together, *sure]

    def run(more: Iterable[Finding], heats: bool) -> StockCheck:
        return check(
            [n for n in wanted.needs if n.high is not None or n.name not in unmet],
            [candidate for candidate, _ in boxes],
            actor_role=actor.role,
            today=today,
            rag_findings=Verdict.of([*extra, *more]),
            starts_rag_duty=heats,
            prefer=asked.prefer,
        )

    first = run((), False)
    heats = _heats(session, rows, boxes, first)
    more = [*_keeper_only(boxes, first), *(blocked_by(session, now) if heats else ())]
    return MixCheck(recipe, version, how_much, times, lines, run(more, heats), heats)


def grow(
    rows: Sequence[Line], version: RecipeVersion, how_much: HowMuch
) -> tuple[tuple[RecipeLine, ...], Fraction | None, list[Finding]]:
    """The recipe's lines grown to the amount asked for, each in its material's own basis.

    Returns the lines, how many times the recipe that is (None for parts alone), and the missing densities;
    a line that cannot meet its material's basis has an amount that is not known.

    Raises:
        Invalid: field `amount`: the recipe does not say what it makes, or measures it otherwise.
    """
    shares = _shares(rows)
    times = _times(rows, version, how_much, bool(shares))
    total = _total(version, how_much) if shares else None
    found: list[Finding] = []
    lines = []
    for row, material in rows:
        basis, low, high = _absolute(row, version, times, total, shares.get(row.position))
        if basis is not None and not material.not_stocked:
            try:
                basis, low, high = _to_shelf(material, basis, low, high)
            except CannotMeet as lack:
                found.append(lack.finding)
                basis, low, high = None, None, None
        lines.append(
            RecipeLine(
                material_id=row.material_id,
                name=material.name,
                low=None if low is None else floor(low),
                high=None if high is None else ceil(high),
                basis=basis,
                written=row.written,
                unit_written=row.unit_key if row.unit_key in UNITS else "",
                about=row.about,
                stocked=not material.not_stocked,
            )
        )
    if any(line.high is not None and line.high > LARGEST for line in lines):
        words = "That is more than the book can hold. Make less at a time."
        raise Invalid(words, {"amount": words})
    return tuple(lines), times, list(dict.fromkeys(found))


def _shares(rows: Sequence[Line]) -> dict[int, tuple[Fraction, Fraction]]:
    shared = [row for row, _ in rows if row.share_low is not None and row.share_high is not None]
    pairs = [(row.share_low or Decimal(0), row.share_high or Decimal(0)) for row in shared]
    if not pairs:
        return {}
    percent = any(row.unit_key == "percent" for row in shared)
    worked = (shares_of_percent if percent else shares_of_parts)(pairs)
    return {row.position: share for row, share in zip(shared, worked, strict=True)}


def _times(
    rows: Sequence[Line], version: RecipeVersion, how_much: HowMuch, has_shares: bool
) -> Fraction | None:
    """How many times the recipe as written; None where only parts and "to suit" are in it."""
    if how_much.times is not None:
        if has_shares and version.makes_amount is None:
            words = "This recipe is in parts. Write how much to make, such as 500 ml."
            raise Invalid(words, {"amount": words})
        return how_much.times
    assert how_much.wanted is not None
    counted = any(row.high is not None for row, _ in rows)
    if version.makes_amount is None and not counted and has_shares:
        return None
    if version.makes_basis is not None and version.makes_basis is not how_much.wanted.basis:
        words = f"This recipe says what it makes as {version.makes_written}. Write how much in the same way."
        raise Invalid(words, {"amount": words})
    return times_for(RecipeFacts("", (), version.makes_amount), ceil(how_much.wanted.smallest))


def _total(version: RecipeVersion, how_much: HowMuch) -> Fraction:
    """How much the shares are shares of, in whole smallest units of what they are measured by."""
    if how_much.wanted is None:
        assert how_much.times is not None and version.makes_amount is not None
        return how_much.times * version.makes_amount
    if how_much.wanted.basis is not version.shares_by:
        way = "weight, such as 500 g" if version.shares_by is Basis.MASS else "volume, such as 500 ml"
        words = f"The parts of this recipe are by {way.split(',')[0]}. Write how much to make by {way}."
        raise Invalid(words, {"amount": words})
    return Fraction(how_much.wanted.smallest)


def _absolute(
    row: RecipeLineRow,
    version: RecipeVersion,
    times: Fraction | None,
    total: Fraction | None,
    share: tuple[Fraction, Fraction] | None,
) -> tuple[Basis | None, Fraction | None, Fraction | None]:
    if share is not None and total is not None:
        return version.shares_by, share[0] * total, share[1] * total
    if row.high is None or times is None:
        return None, None, None
    return row.basis, None if row.low is None else row.low * times, row.high * times


def _to_shelf(
    material: Material, basis: Basis, low: Fraction | None, high: Fraction | None
) -> tuple[Basis, Fraction | None, Fraction | None]:
    """The amounts in the basis the material is counted in, the wider way where a density is a range."""
    unit = UNITS[{Basis.MASS: "mg", Basis.VOLUME: "ml", Basis.PIECES: "piece"}[basis]]
    target = basis_for(material, Quantity(Decimal(1), unit))
    if target is basis:
        return basis, low, high
    light, heavy, _ = meeting_density(
        basis, target, densities_of(material), form=material.form, name=material.name
    )
    least = None if low is None else across(low, target, light, heavy)[0]
    most = None if high is None else across(high, target, light, heavy)[1]
    return target, least, most


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
                    state=container.state,
                    opened_on=container.opened_on,
                    in_date_until=ageing.in_date_until,
                    place=places.get(container.place_id or 0, ""),
                    keeper_only=container.inherited_keeper_only or container.material_id in keeper_only,
                    condition=container.condition,
                    handed_out=box.container_id in away,
                    looked_today=any(c.on == today and c.outcome is CheckOutcome.PASSED for c in life.checks),
                ),
                box,
            )
        )
    return found


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
