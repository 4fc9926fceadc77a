"""Pots whose content became waste when their batch ended, line by line as discards are told."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence
from datetime import datetime
from decimal import Decimal
from fractions import Fraction
from typing import Any, NamedTuple

from sqlalchemy import and_, or_, select
from sqlalchemy.orm import aliased
from sqlmodel import Session, col

from service.core.additions import HowAdded, taken_back_id
from service.core.containers import AmountKnown
from service.core.ledger import DESTINATIONS, Destination, MovementKind
from service.core.materials import Basis
from service.core.pot_waste import (
    NO_WASTE,
    POT_WENT,
    PotEnd,
    PotPart,
    left_over,
    may_be_more,
    rest_of,
    share_of,
    wasted_share,
    went_to_of,
)
from service.records.kept_statements import batched
from service.records.materials import Material
from service.records.mixing import Addition, Batch, BatchState, Recipe
from service.records.stock import Container, Movement, Posting, PostingResult

_ENDS = ("finish-batch", "give-up-batch")
TOLD_LATER = "tell-rest"
"""The act by which somebody says later where what a pot left went; its result holds the note ``before``."""
_NOBODY_SAID = "nobody said where it went"


class PotWent(NamedTuple):
    """What one draw put into a pot and became waste with it. ``change`` None: how much is not known.

    ``beside``: mg and µl of water from the tap that went with it; it stands with the first draw of the pot.
    """

    happened_at: datetime
    code: str
    material: str
    basis: Basis | None
    change: int | None
    known: AmountKnown
    density_used: Decimal | None
    density_g_ml: Decimal | None
    destination: Destination | None
    where: str
    note: str
    movement_id: int
    batch_id: int
    beside: tuple[int | None, int | None]
    share: Fraction | None
    """What share of the pot it is; None: not known."""


class _Ended(NamedTuple):
    number: int
    at: datetime
    state: BatchState
    note: str
    made: int | None
    made_basis: Basis | None
    lost: int | None
    lost_basis: str | None
    recipe: str
    density: Decimal | None
    jars: tuple[tuple[int | None, Basis], ...] = ()

    @property
    def end(self) -> PotEnd:
        density = None if self.density is None else Fraction(self.density)
        return PotEnd(
            given_up=self.state is BatchState.GIVEN_UP, note=self.note,
            made=None if self.made_basis is None else PotPart(0, self.made, self.made_basis, density),
            lost=None if self.lost_basis is None else PotPart(0, self.lost, Basis(self.lost_basis), density),
            jars=tuple(PotPart(0, amount, basis, density) for amount, basis in self.jars),
        )  # fmt: skip


class _Added(NamedTuple):
    batch_id: int
    number: int
    amount: int | None
    basis: Basis | None
    how: str | None
    written: str
    movement_id: int | None
    material_id: int
    material: str
    own_basis: Basis | None
    density: Decimal | None
    code: str | None
    known: AmountKnown | None
    density_used: Decimal | None
    back: int | None

    @property
    def part(self) -> PotPart:
        density = self.density_used if self.density_used is not None else self.density
        basis = self.basis or self.own_basis or Basis.MASS
        return PotPart(self.material_id, self.amount, basis, None if density is None else Fraction(density))


def pots_went(
    session: Session, *, as_of: datetime | None = None, since: datetime | None = None, drum: bool = False,
    only: int | None = None, untold: bool = False,
) -> list[PotWent]:  # fmt: skip
    """What was in pots and became waste, the oldest batch first. One statement where there is none.

    Args:
        as_of: as the book stood at that instant; since: only what happened from then on.
        drum: only what is told to have gone into a waste drum; only: only of this batch.
        untold: without batches of which all is told; as the book stands now.
    """
    ended = _ended(session, as_of, since, drum, untold, only)
    found: list[PotWent] = []
    for numbers in batched(one.number for one in ended):
        added = additions_standing(session, numbers, as_of)
        back, filled, unmade = _came_back(session, numbers, as_of)
        for one in ended:
            if one.number in added and one.number in numbers:
                jars = unmade[one.number]
                if one.made is not None and jars:
                    one = one._replace(made=max(0, one.made - sum(jars)))
                one = one._replace(jars=tuple(filled[one.number]))
                rows, end = added[one.number], one.end
                parts = left_over([row.part for row in rows], back[one.number])
                share = wasted_share(parts, end)
                found += _went(one, rows, parts, share)
                if not drum and share is not None and may_be_more(end):
                    found += _in_no_jar(one, rows, parts)
    return found


def into_a_drum_with_its_pot() -> Any:
    """Whether a movement is a draw whose pot is told to have gone into a waste drum."""
    over = col(Batch.state).in_([BatchState.GIVEN_UP, BatchState.FINISHED])
    pots = select(col(Batch.id)).where(over, _told_into_a_drum())
    return and_(col(Movement.kind) == MovementKind.DRAW, col(Movement.batch_id).in_(pots))


def nobody_said_where(session: Session, batch_id: int | None = None) -> list[PotWent]:
    """What pots left, all or that of one batch, of which nobody said where it went, the oldest first."""
    return [one for one in pots_went(session, only=batch_id, untold=True) if one.destination is None]


def _all_told() -> Any:
    """Whether of a batch all that is in no jar is told: one place, and no loss that is only a part of it."""
    ends = [col(Batch.loss_note).endswith(f"({words})", autoescape=True) for words in POT_WENT.values()]
    return and_(col(Batch.loss_basis).is_(None), or_(*ends))


def _told_into_a_drum() -> Any:
    words, note = DESTINATIONS[Destination.WASTE_DRUM], col(Batch.loss_note)
    return or_(
        note.endswith(f"({words})", autoescape=True), note.endswith(f": {words})", autoescape=True),
        note.contains(f"({words}; ", autoescape=True),
    )  # fmt: skip


def _ended(
    session: Session, as_of: datetime | None, since: datetime | None, drum: bool, untold: bool,
    only: int | None,
) -> list[_Ended]:  # fmt: skip
    columns: list[Any] = [
        col(Batch.id), col(Batch.finished_at), col(Batch.state), col(Batch.loss_note),
        col(Batch.yield_amount), col(Batch.yield_basis), col(Batch.loss_amount), col(Batch.loss_basis),
        col(Recipe.name), col(Material.density_g_ml),
    ]  # fmt: skip
    query = (
        select(*columns)
        .join(Recipe, col(Recipe.id) == col(Batch.recipe_id))
        .outerjoin(Material, col(Material.id) == col(Recipe.material_id))
        .where(
            col(Batch.state).in_([BatchState.GIVEN_UP, BatchState.FINISHED]),
            col(Batch.finished_at).is_not(None),
        )
        .order_by(col(Batch.id))
    )
    if only is not None:
        query = query.where(col(Batch.id) == only)
    if since is not None:
        query = query.where(col(Batch.finished_at) >= since)
    if only is not None:
        query = query.where(col(Batch.id) == only)
    if drum:
        query = query.where(_told_into_a_drum())
    query = query.where(~_all_told()) if untold else query
    rows = [_Ended(*row) for row in session.connection().execute(query)]
    if as_of is None or not rows:
        return rows
    later = (
        select(col(Posting.act), col(PostingResult.result))
        .join(Posting, col(Posting.id) == col(PostingResult.posting_id))
        .where(col(Posting.recorded_at) > as_of, col(Posting.act).in_([*_ENDS, TOLD_LATER]))
        .order_by(col(Posting.id).desc())
    )
    not_yet, notes = set(), {}
    for act, result in session.connection().execute(later):
        if act == TOLD_LATER:
            notes[int(result["batch"])] = str(result["before"])  # the first since is told last
        else:
            not_yet.add(int(result["batch"]))
    found = [one._replace(note=notes.get(one.number, one.note)) for one in rows if one.number not in not_yet]
    into_one = Destination.WASTE_DRUM
    return [one for one in found if not drum or into_one in (went_to_of(one.note), rest_of(one.note))]


def additions_standing(
    session: Session, numbers: Sequence[int], as_of: datetime | None = None
) -> dict[int, list[_Added]]:
    """What went in and was not taken back, by batch."""
    taken_back = aliased(Movement)
    back = col(taken_back.reverses_id) == col(Movement.id)
    if as_of is not None:
        back = and_(back, col(taken_back.recorded_at) <= as_of)
    columns: list[Any] = [
        col(Addition.batch_id), col(Addition.id), col(Addition.amount), col(Addition.basis),
        col(Addition.how), col(Addition.written), col(Addition.movement_id), col(Addition.material_id),
        col(Material.name), col(Material.basis), col(Material.density_g_ml), col(Container.code),
        col(Movement.known), col(Movement.density_used), col(taken_back.id),
    ]  # fmt: skip
    query = (
        select(*columns)
        .join(Material, col(Material.id) == col(Addition.material_id))
        .outerjoin(Movement, col(Movement.id) == col(Addition.movement_id))
        .outerjoin(Container, col(Container.id) == col(Movement.container_id))
        .outerjoin(taken_back, back)
        .where(col(Addition.batch_id).in_(numbers))
        .order_by(col(Addition.id))
    )
    rows = [_Added(*row) for row in session.connection().execute(query)]
    undone = {taken_back_id(one.written) for one in rows if one.how == HowAdded.TAKEN_BACK}
    found: defaultdict[int, list[_Added]] = defaultdict(list)
    for one in rows:
        if one.how != HowAdded.TAKEN_BACK and one.back is None and one.number not in undone:
            found[one.batch_id].append(one)
    return found


def _came_back(
    session: Session, numbers: Sequence[int], as_of: datetime | None
) -> tuple[
    defaultdict[int, list[tuple[int, int | None]]], defaultdict[int, list[tuple[int | None, Basis]]],
    defaultdict[int, list[int]],
]:  # fmt: skip
    """By batch what was put back of it, by material; what is in its jars; and what jars were filled with that
    were taken back.
    """
    taken_back = aliased(Movement)
    reversed_by = col(taken_back.reverses_id) == col(Movement.id)
    if as_of is not None:
        reversed_by = and_(reversed_by, col(taken_back.recorded_at) <= as_of)
    query = (
        select(
            col(Movement.batch_id), col(Movement.kind), col(Movement.change), col(Container.material_id),
            col(Material.basis), col(taken_back.id),
        )
        .join(Container, col(Container.id) == col(Movement.container_id))
        .join(Material, col(Material.id) == col(Container.material_id))
        .outerjoin(taken_back, reversed_by)
        .where(
            col(Movement.batch_id).in_(numbers),
            col(Movement.kind).in_([MovementKind.RETURN, MovementKind.MADE]),
        )
    )  # fmt: skip
    back: defaultdict[int, list[tuple[int, int | None]]] = defaultdict(list)
    filled: defaultdict[int, list[tuple[int | None, Basis]]] = defaultdict(list)
    unmade: defaultdict[int, list[int]] = defaultdict(list)
    for number, kind, change, material, basis, undone in session.connection().execute(query):
        assert number is not None
        if kind is MovementKind.RETURN and undone is None:
            back[number].append((material, change))
        elif kind is MovementKind.MADE and undone is not None:
            unmade[number].append(change or 0)
        elif kind is MovementKind.MADE:
            filled[number].append((change, basis or Basis.PIECES))
    return back, filled, unmade


def _went(
    one: _Ended, added: Sequence[_Added], parts: Sequence[PotPart], share: Fraction | None
) -> Iterator[PotWent]:
    if share == 0:
        return
    told, unexplained = went_to_of(one.note), ""
    if told in NO_WASTE and one.state is BatchState.FINISHED:
        told, unexplained = rest_of(one.note), "what is not explained; "
    where = unexplained + POT_WENT.get(told or "", _NOBODY_SAID)
    ended = "given up" if one.state is BatchState.GIVEN_UP else "finished"
    destination = _destination(told)
    beside = _beside([part for row, part in zip(added, parts, strict=True) if row.movement_id is None], share)
    for row, part in zip(added, parts, strict=True):
        if row.movement_id is None or part.amount == 0:
            continue
        change = share_of(part.amount, share)
        known = row.known if row.known is not None and share == 1 else AmountKnown.ESTIMATED
        yield PotWent(
            one.at, row.code or "", f"{row.material}, mixed in batch {one.number} ({one.recipe})", part.basis,
            None if change is None else -change, known,
            row.density_used, row.density, destination, f"batch {one.number} {ended}: {where}", one.note,
            row.movement_id, one.number, beside, share,
        )  # fmt: skip
        beside = (0, 0)


def _in_no_jar(one: _Ended, added: Sequence[_Added], parts: Sequence[PotPart]) -> Iterator[PotWent]:
    """One line of an unknown amount where some of what it made is in no jar, and how much nobody said."""
    told = rest_of(one.note)
    where = POT_WENT.get(told or "", _NOBODY_SAID)
    for row, part in zip(added, parts, strict=True):
        if row.movement_id is None or part.amount == 0:
            continue
        yield PotWent(
            one.at, row.code or "", f"{row.material}, mixed in batch {one.number} ({one.recipe})", part.basis,
            None, AmountKnown.ESTIMATED, row.density_used, row.density, _destination(told),
            f"batch {one.number} finished: some of it is in no jar, and {where}", one.note,
            row.movement_id, one.number, (0, 0), None,
        )  # fmt: skip
        return


def _destination(told: str | None) -> Destination | None:
    return Destination(told) if told in {each.value for each in Destination} else None


def _beside(water: Sequence[PotPart], share: Fraction | None) -> tuple[int | None, int | None]:
    """Milligrams and microlitres of what came from the tap, rounded up."""
    found = []
    for way in ("mg", "ul"):
        each = [getattr(part, way) for part in water]
        whole = None if None in each else sum(each, Fraction(0))
        up = None if whole is None else -(-whole.numerator // whole.denominator)
        found.append(share_of(up, share))
    return found[0], found[1]
