"""What came of ordered lines as it stands in the book, and what is odd about it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from sqlmodel import Session, col, select

from service.core.containers import AmountKnown
from service.core.counting import MORE
from service.core.findings import Finding, note, unknown, warn
from service.core.ledger import MovementKind
from service.core.materials import Basis
from service.core.on_its_way import still_coming
from service.core.quantities import show_amount
from service.records.materials import Material
from service.records.orders import OrderLineRow
from service.records.stock import Container, Movement


@dataclass(frozen=True)
class Came:
    """What is known of what came: ``amount`` in smallest units of ``basis``, in so many ``packs``."""

    amount: int = 0
    packs: int = 0
    basis: Basis | None = None


def what_came(session: Session, lines: Iterable[OrderLineRow]) -> dict[int, Came]:
    """By the number of each line: what came with a known amount, as measured then or counted since.

    A line of a book from before deliveries were linked has only what was counted on it.
    """
    asked = {line.id: line for line in lines if line.id is not None}
    rows = session.exec(
        select(Container, Movement, Material.basis)
        .join(Movement, col(Movement.container_id) == col(Container.id))
        .join(Material, col(Material.id) == col(Container.material_id))
        .where(col(Container.order_line_id).in_(list(asked)), col(Movement.kind) == MovementKind.RECEIVE)
    ).all()
    found: dict[int, Came] = {}
    linked = set()
    weighed = _weighed_since(session, [box.id or 0 for box, _, _ in rows])
    for box, entry, basis in rows:
        number = box.order_line_id or 0
        linked.add(number)
        told = None if entry.known is AmountKnown.NOT_KNOWN else entry.change
        held = weighed.get(box.id or 0, _Weighed()).whole(told)
        if held is not None:
            before = found.get(number, Came())
            measured = Basis(basis) if basis else None
            found[number] = Came(before.amount + held, before.packs + 1, measured)
    for number, line in asked.items():
        if number not in linked and line.received_count and line.received_amount is not None:
            found[number] = Came(line.received_amount, line.received_count, line.basis)
    return found


@dataclass
class _Weighed:
    """What counts say of a container that came: the first where nobody knew, and what was more than told."""

    out: int | None = 0
    first: int | None = None
    more: int = 0

    def whole(self, told: int | None) -> int | None:
        """How much came in it; None: not known."""
        return self.first if told is None else told + self.more


def _weighed_since(session: Session, containers: Sequence[int]) -> dict[int, _Weighed]:
    undone = select(Movement.reverses_id).where(col(Movement.reverses_id).is_not(None))
    rows = session.exec(
        select(Movement)
        .where(
            col(Movement.container_id).in_(containers),
            col(Movement.kind).not_in([MovementKind.RECEIVE, MovementKind.REVERSAL]),
            col(Movement.id).not_in(undone),
        )
        .order_by(col(Movement.id))
    ).all()
    found: dict[int, _Weighed] = {}
    for row in rows:
        one = found.setdefault(row.container_id, _Weighed())
        if row.kind is MovementKind.COUNT_DIFFERENCE:
            if row.change is None and one.first is None and one.out is not None:
                one.first = (row.counted or 0) + one.out
            elif (row.change or 0) > 0 and row.reason.startswith(MORE):
                one.more += row.change or 0
        elif one.out is not None:
            one.out = None if row.change is None else one.out - row.change
    return found


def left_of(line: OrderLineRow, came: Came | None) -> list[int]:
    """The packs of a line that are still to come, in smallest units; the last may be a part of one."""
    amount = came.amount if came is not None and came.basis is line.basis else 0
    return still_coming(line.count, line.pack_amount, line.received_count, amount)


def all_came(line: OrderLineRow) -> bool:
    """Whether nothing of a line is still to come: all its packs, or all it was to hold in larger ones."""
    amount = line.received_amount or 0
    return not still_coming(line.count, line.pack_amount, line.received_count, amount)


def about_delivery(line: OrderLineRow, came: Came | None) -> list[Finding]:
    """What is odd about what came of a line so far: more packs than ordered, less in them, or not known."""
    found: list[Finding] = []
    if line.received_count > line.count:
        words = f"{line.received_count} came of {line.count} that were ordered."
        found.append(note("more-than-ordered", words))
    if not line.received_count:
        return found
    if came is not None and came.basis is not line.basis:
        words = "It was measured otherwise than ordered, so it is not known whether all of it came."
        return [*found, unknown("amount-that-came-not-known", words)]
    left = line.received_count - (came.packs if came else 0)
    if left > 0:
        words = (
            f"How much came in {left} of {line.received_count} is not known. Weigh or count it: the plan "
            "counts what is in the book."
        )
        found.append(unknown("amount-that-came-not-known", words))
    promised = line.pack_amount * came.packs if came else 0
    if came is not None and came.amount < promised:
        here, asked = show_amount(came.amount, line.basis), show_amount(promised, line.basis)
        words = f"{here} came in packs that were to hold {asked}. What is short is to be ordered anew."
        found.append(warn("short-delivery", words))
    return found
