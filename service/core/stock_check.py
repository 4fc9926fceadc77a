"""The stock check before mixing: is there enough, from which containers, and what to read first (design 5.1).

Doors: actions/check_mix.py, actions/make_batch.py, web/pages/check_mix.py, web/api/recipes.py.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date

from service.core.access import Permission, Role, may, who_may
from service.core.containers import AmountKnown, Condition, ContainerState, Standing
from service.core.findings import Finding, Findings, Verdict, note, stop, unknown, warn
from service.core.materials import Basis
from service.core.recipe import ByHand, Need, no_upper_amounts
from service.core.shelf_codes import show_code
from service.core.use_first import NO_AIR, AirStanding, why_this


@dataclass(frozen=True)
class Candidate:
    """One container as it stands now. ``amount`` and ``promised`` (to others) in smallest units.

    ``looked_today``: somebody checked its condition today and it passed. ``air``: its second clock, which
    decides between equal dates and nothing else. ``doubted``: what a check found that asks for a look.
    """

    container_id: int
    code: str
    material_id: int
    amount: int | None
    amount_known: AmountKnown = AmountKnown.MEASURED
    promised: int = 0
    standing: Standing = Standing.NOT_KNOWN
    standing_reason: str = ""
    state: ContainerState = ContainerState.SEALED
    opened_on: date | None = None
    in_date_until: date | None = None
    place: str = ""
    keeper_only: bool = False
    condition: Condition = Condition.NOT_KNOWN
    looked_today: bool = False
    doubted: str = ""
    handed_out: bool = False
    air: AirStanding = NO_AIR


@dataclass(frozen=True)
class Allocation:
    """So much out of this container; ``why`` this one, in words. ``draw``: what of it a start draws,
    None = all; the rest is held back for what is put in by hand.
    """

    container_id: int
    code: str
    material_id: int
    amount: int
    place: str = ""
    draw: int | None = None
    why: str = ""

    @property
    def at_start(self) -> int:
        """What a start draws of it.

        >>> Allocation(9, "R4F34T", 1, 500).at_start, Allocation(9, "R4F34T", 1, 500, draw=0).at_start
        (500, 0)
        """
        return self.amount if self.draw is None else self.draw


@dataclass(frozen=True)
class Shortage:
    """What is missing of a material, in smallest units, with the unit the bench wrote."""

    material_id: int
    name: str
    basis: Basis | None
    needed: int
    missing: int
    unit_written: str = ""


@dataclass(frozen=True)
class StockCheck:
    """The answer. ``usable`` maps each usable container of the needed materials to what it could give;
    ``by_hand`` are the lines that a start leaves to the bench.
    """

    needs: tuple[Need, ...]
    allocations: tuple[Allocation, ...]
    shortages: tuple[Shortage, ...]
    verdict: Verdict
    fingerprint: str
    usable: Mapping[int, int] = field(default_factory=dict)
    by_hand: tuple[ByHand, ...] = ()


def check(
    needs: Sequence[Need],
    candidates: Sequence[Candidate],
    *,
    actor_role: Role,
    today: date,
    rag_findings: Verdict = Verdict(),  # noqa: B008 - frozen and empty
    starts_rag_duty: bool = False,
    may_use_keeper_only: bool | None = None,
    prefer: Sequence[Allocation] = (),
    by_hand: tuple[ByHand, ...] = (),
    made_by: int | None = None,
) -> StockCheck:
    """Work out from which containers the needs are met, what is short, and what to read first.

    Opened first, soonest-to-go first, of equal dates the one under more air, then by code; containers whose
    standing is not known after these, and last of all, only where nothing else is enough, what something was
    found in. Past, empty, gone and leaking ones and amounts that are not known never count.
    ``prefer`` names allocations of an earlier check that are kept where they still hold.
    ``may_use_keeper_only`` None: as the role may. ``made_by``: the number of the recipe's version, by which
    checks of two recipes with equal lines are told apart.

    >>> need = Need(1, "raw umber", Basis.MASS, 300, 300)
    >>> tub = Candidate(9, "R4F34T", 1, 200, standing=Standing.IN_DATE)
    >>> answer = check([need], [tub], actor_role=Role.KEEPER, today=date(2026, 3, 2))
    >>> answer.allocations[0].amount, answer.shortages[0].missing, answer.verdict.blocking
    (200, 100, True)
    """
    found = Findings()
    found.add(*rag_findings, *no_upper_amounts(needs))
    if starts_rag_duty:
        found.add(warn("rag-duty-starts", "This makes oily rags: their clocks start with the first draw."))
    if may_use_keeper_only is None:
        may_use_keeper_only = may(actor_role, Permission.DRAW_KEEPER_ONLY)
    left: dict[int, int] = {}
    chosen: list[Allocation] = []
    shortages: list[Shortage] = []
    for need in needs:
        mine = [c for c in candidates if c.material_id == need.material_id]
        if not may_use_keeper_only and any(c.keeper_only for c in mine):
            who = who_may(Permission.DRAW_KEEPER_ONLY)
            sentence = f"{need.name} is keeper-only material. Ask {who} to draw it."
            found.add(stop("keeper-only", sentence, about=need.name))
        usable = _usable(mine, today, found)
        left.update({c.container_id: _free(c) for c in usable if c.container_id not in left})
        taken = _take(need, _in_order(usable, prefer), left, prefer)
        chosen += taken
        found.add(*_about_taken([c for c in usable if c.container_id in {a.container_id for a in taken}]))
        missing = need.counted - sum(a.amount for a in taken)
        if missing > 0:
            shortages.append(
                Shortage(need.material_id, need.name, need.basis, need.counted, missing, need.unit_written)
            )
            found.add(stop("short", f"There is not enough {need.name}.", about=need.name))
        found.add(*_about_uncounted(usable, missing > 0 or need.high is None))
    verdict = found.verdict()
    usable_now = {c.container_id: _free(c) for c in candidates if c.container_id in left}
    print_of = _fingerprint(needs, chosen, shortages, verdict, made_by)
    return StockCheck(
        tuple(needs), tuple(chosen), tuple(shortages), verdict, print_of, usable_now, by_hand
    )


def _usable(mine: Iterable[Candidate], today: date, found: Findings) -> list[Candidate]:
    """The containers that may be drawn from at all; those that may not, though there, are named."""
    kept = []
    for c in mine:
        if c.state in (ContainerState.EMPTY, ContainerState.GONE):
            continue
        code = show_code(c.code)
        # A stored standing may be older than today: the date itself decides.
        over = c.in_date_until is not None and c.in_date_until < today
        if c.standing is Standing.PAST or over:
            found.add(warn("past", f"{code} is past its date and was left out.", about=c.code))
        elif c.condition is Condition.LEAKING:
            found.add(warn("leaking", f"{code} leaks and was left out.", about=c.code))
        elif c.handed_out:
            found.add(warn("handed-out", f"{code} was handed out and is not in the shop.", about=c.code))
        else:
            kept.append(c)
    return kept


def _free(c: Candidate) -> int:
    if c.amount is None or c.amount_known is AmountKnown.NOT_KNOWN:
        return 0
    return max(0, c.amount - max(0, c.promised))


def _in_order(usable: Iterable[Candidate], prefer: Sequence[Allocation]) -> list[Candidate]:
    first = {a.container_id for a in prefer}
    return sorted(
        usable,
        key=lambda c: (
            c.container_id not in first,
            bool(c.doubted),
            c.standing is Standing.NOT_KNOWN,
            c.state is not ContainerState.OPEN,
            c.in_date_until or date.max,
            c.air.order,
            c.code,
        ),
    )


def _take(
    need: Need, ordered: Iterable[Candidate], left: dict[int, int], prefer: Sequence[Allocation]
) -> list[Allocation]:
    """Take the need out of the containers in order, never more than is left in each; ``left`` is used up."""
    wanted = {a.container_id: a.amount for a in prefer if a.material_id == need.material_id}
    kept = list(ordered)
    taken: dict[int, int] = {}
    missing = need.counted
    # First what was allocated before, in the amounts of before; then the rest, from the front again.
    for limits in (wanted, None):
        for c in kept:
            most = left[c.container_id]
            if limits is not None:
                most = min(most, limits.get(c.container_id, 0))
            amount = min(missing, most)
            if amount > 0:
                taken[c.container_id] = taken.get(c.container_id, 0) + amount
                left[c.container_id] -= amount
                missing -= amount
    found, rest = [], need.at_start
    for c in (one for one in kept if one.container_id in taken):
        amount = taken[c.container_id]
        draw = min(rest, amount)
        rest -= draw
        held_back = None if draw == amount else draw
        found.append(
            Allocation(c.container_id, c.code, c.material_id, amount, c.place, held_back, _why(c))
        )
    return found


def _why(c: Candidate) -> str:
    if c.doubted:
        return "last: something was found in it"
    return why_this(c.state is ContainerState.OPEN, c.in_date_until, c.air)


def _about_taken(taken: Iterable[Candidate]) -> list[Finding]:
    found: list[Finding] = []
    for c in taken:
        code = show_code(c.code)
        why = f" ({c.standing_reason})" if c.standing_reason else ""
        if c.standing is Standing.NOT_KNOWN and c.looked_today:
            found.append(
                warn("not-known-looked", f"{code} is not known; it was looked at today.", about=c.code)
            )
        elif c.standing is Standing.NOT_KNOWN:
            found.append(unknown("not-known", f"{code} is not known{why}: look before use.", about=c.code))
        elif c.doubted and not c.looked_today:
            words = f"{code}: {c.doubted}. Look at it, or try it, before use."
            found.append(warn("doubted", words, about=c.code))
        elif c.standing is Standing.LOOK_FIRST:
            found.append(warn("look-first", f"{code}: look first{why}.", about=c.code))
        if c.amount_known is AmountKnown.ESTIMATED:
            found.append(warn("amount-estimated", f"What is in {code} is an estimate.", about=c.code))
        if c.condition is Condition.DAMAGED:
            found.append(warn("damaged", f"{code} came damaged: look at it.", about=c.code))
    return found


def _about_uncounted(usable: Iterable[Candidate], wanted: bool) -> list[Finding]:
    """Containers of unknown content: a missing fact when the rest is not enough, else only a note."""
    make = unknown if wanted else note
    return [
        make("amount-not-known", f"Nobody knows how much is in {show_code(c.code)}: count it.", about=c.code)
        for c in usable
        if c.amount is None or c.amount_known is AmountKnown.NOT_KNOWN
    ]


def _fingerprint(
    needs: Sequence[Need],
    allocations: Sequence[Allocation],
    shortages: Sequence[Shortage],
    verdict: Verdict,
    made_by: int | None,
) -> str:
    """SHA-256 over what was decided. Sentences and places stay out: wording is no change, nor is a minute."""
    content = {
        "form": 3,
        "made_by": made_by,
        "needs": sorted(([n.material_id, n.basis, n.low, n.high, n.at_start] for n in needs), key=json.dumps),
        "allocations": sorted([a.material_id, a.container_id, a.amount] for a in allocations),
        "shortages": sorted([s.material_id, s.missing] for s in shortages),
        "findings": sorted({(f.severity, f.code, f.about) for f in verdict}),
    }
    text = json.dumps(content, sort_keys=True, separators=(",", ":"), ensure_ascii=True)
    return hashlib.sha256(text.encode("ascii")).hexdigest()
