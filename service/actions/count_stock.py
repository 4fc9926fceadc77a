"""What is really there, what was lost and what was thrown away."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from enum import StrEnum
from typing import Any

from sqlmodel import Session

from service.actions.container_act import ContainerAsked, settle_container_act
from service.actions.found_more import post_found_more
from service.actions.note_change import note_change
from service.actions.post_movement import Line, Written, name_of, post
from service.actions.rag_duty import blocked_by, record_violation
from service.actions.read_amount import ReadAmount, fix_basis, read_amount, settled_basis
from service.actions.settle import Act, Settled
from service.actions.weighings import net_now, read_weight
from service.actions.write_rag_log import write_rag_log
from service.core.access import Actor, Permission, require
from service.core.containers import AmountKnown
from service.core.counting import CONFIRMS, MORE, CountResult, found_now, judge_count, not_more_than_there
from service.core.fill_level import read_level
from service.core.findings import Finding, Invalid, Severity, note, warn
from service.core.ledger import Balance, MovementKind, OtherSide, fold
from service.core.materials import Basis
from service.core.quantities import show_amount
from service.records.material_queries import counts_self_heating
from service.records.stock_queries import Held, lines_of


class CountedBy(StrEnum):
    """How the amount in a container was found."""

    AMOUNT = "amount"
    WEIGHT = "weight"
    SHARE = "share"


@dataclass(frozen=True, kw_only=True)
class CountAsked(ContainerAsked):
    """A count: an assertion of what is there, never a difference.

    Args:
        amount: what is there as written, for `CountedBy.AMOUNT`; "0 g" or "nothing" for none.
        gross, tare: the weight with everything on it and the empty weight; a bare figure is in grams.
            The empty weight is kept for the next time; left out, the one kept is used.
        share: how full it looks ("about half"), as `core.fill_level` reads it, of what the container holds
            or, with ``of_last``, of the last known amount.
        reason: what the person thinks became of the difference.
        more_than_book: there was more in it before than the book said, where something was taken since that
            nobody measured; how much that was is then not known at all.
    """

    by: CountedBy = CountedBy.AMOUNT
    amount: str = ""
    gross: str = ""
    tare: str = ""
    share: str = ""
    of_last: bool = False
    reason: str = ""
    more_than_book: bool = False

    def body(self) -> dict[str, Any]:
        """As sent; a count that does not say it is the same as before it could be said."""
        said = super().body()
        return said if self.more_than_book else {k: v for k, v in said.items() if k != "more_than_book"}


def count(session: Session, actor: Actor, now: datetime, asked: CountAsked) -> Settled:
    """Book what was found. Within tolerance it confirms the book, beyond it puts the book right.

    An unexplained fall of self-heating material goes into the rag log, and is a violation while rags are
    overdue.

    Raises:
        Invalid, Ambiguous, CannotMeet: what was found cannot be used; `errors` names the field.
        Refused: it is gone, or was counted again since; or more was found than can be there.
    """
    require(actor, Permission.COUNT)
    return settle_container_act(
        session, actor, now, asked, "count", lambda act, held: _count(act, held, asked)
    )


def _count(act: Act, held: Held, asked: CountAsked) -> dict[str, Any]:
    found = _found(act, held, asked)
    fix_basis(act.session, held.material, found.basis)
    act.note(*found.findings)
    return book_count(act, held, found, asked.reason, more_than_book=asked.more_than_book)


def book_count(
    act: Act, held: Held, found: ReadAmount, reason: str, *, more_than_book: bool = False
) -> dict[str, Any]:
    """Compare what was found with the book and post the count; also used when somebody says it is empty."""
    lines = lines_of(act.session, held.container_id)
    book = fold(lines)
    amount = found_now(lines, found.low, act.happened_at)
    pieces = held.basis is Basis.PIECES
    if book.amount is None and not more_than_book:
        not_more_than_there(
            lines, amount, found.known, pieces=pieces, say=lambda much: show_amount(much, held.basis)
        )
    result = judge_count(book, amount, found.known, pieces=pieces)
    more = not result.confirms and (result.change or 0) > 0
    more = more or (result.change is None and more_than_book)
    line = Line(
        MovementKind.COUNT_DIFFERENCE,
        result.change,
        OtherSide.COUNT,
        result.known,
        counted=result.counted,
        written=found.written,
        written_unit=found.unit_key,
        density_used=found.density_used,
        how=found.how,
        reason=f"{CONFIRMS if result.confirms else MORE if more else ''} {reason}".strip()[:2000],
    )
    movement = post_found_more(act, held, line) if more else post(act, held, line)
    if result.fall:
        note_unexplained(act, held, movement, result.fall, reason)
    act.note(_said(held, book, result))
    return {
        "movement": movement.id,
        "confirms": result.confirms,
        "difference": result.change,
        "difference_words": show_amount(result.change, held.basis),
        "counted": result.counted,
    }


def _said(held: Held, book: Balance, result: CountResult) -> Finding:
    if result.change is None:
        return note("counted-first", "How much was in it was not known before; now it is.")
    if result.confirms:
        return note("count-confirms", f"This confirms the book: {show_amount(result.counted, held.basis)}.")
    way = "less" if result.change < 0 else "more"
    size = show_amount(abs(result.change), held.basis)
    return note("count-differs", f"That is {size} {way} than the book said. The book now follows the count.")


def note_unexplained(act: Act, held: Held, movement: Written, fall: int, reason: str) -> None:
    """Self-heating material went somewhere without a draw: the rag log says so, and it may be a violation."""
    if not counts_self_heating(act.session, held.material, held.container):
        return
    size = log_unexplained(act, held, movement, fall, reason)
    finding = warn(
        "unexplained-use",
        f"{size} of it went without a draw, and its rags can ignite by themselves. "
        "Find out where it was used and where the rags are.",
        about=name_of(held),
    )
    act.note(finding)
    if any(blocked_by(act.session, at).blocking for at in (act.happened_at, act.recorded_at)):
        overdue = Finding(
            Severity.STOP,
            "unexplained-use",
            f"{size} of self-heating material went without a draw while rags were overdue.",
            about=name_of(held),
        )
        record_violation(act, overdue, name_of(held))


def log_unexplained(act: Act, held: Held, movement: Written, fall: int, reason: str) -> str:
    """Tell the rag log of self-heating material that went without a draw; how much, in words."""
    size = show_amount(fall, held.basis)
    write_rag_log(
        act.session,
        kind="unexplained-use",
        load_id=None,
        person_id=act.actor.person_id,
        posting_id=act.posting_id,
        happened_at=act.happened_at,
        recorded_at=act.recorded_at,
        data={"movement": movement.id, "what": name_of(held), "fall": size, "reason": reason},
    )
    return size


def _found(act: Act, held: Held, asked: CountAsked) -> ReadAmount:
    if asked.by is CountedBy.WEIGHT:
        return net_now(act.session, act.actor, held.material, asked.gross, _tare(act, held, asked.tare))
    if asked.by is CountedBy.SHARE:
        return _share(act, held, asked)
    if _says_nothing(asked.amount):
        basis = settled_basis(held.material)
        return ReadAmount(basis, 0, 0, asked.amount.strip(), "", None, "counted", AmountKnown.MEASURED, ())
    return read_amount(act.session, act.actor, held.material, asked.amount, "amount")


def _says_nothing(text: str) -> bool:
    """True for "nothing", "empty", "none" and a zero with or without a unit; a zero needs no unit.

    >>> [_says_nothing(t) for t in ("nothing", " 0 g", "0,0 ml", "0.5 g", "")]
    [True, True, True, False, False]
    """
    words = text.strip().lower().split()
    if words in (["nothing"], ["none"], ["empty"]):
        return True
    figure = words[0].replace(",", ".") if words else ""
    return bool(figure) and set(figure) <= set("0.") and "0" in figure and len(words) <= 2


def _tare(act: Act, held: Held, text: str) -> int | None:
    """The empty weight: the one given, which is kept for the next time, else the one kept."""
    if not text.strip():
        return held.container.tare_mg
    given = read_weight(act.session, act.actor, held.material, text, "tare").mg
    note_change(
        act.session,
        act.actor,
        act.recorded_at,
        ("container", held.container_id),
        "tare_mg",
        held.container.tare_mg,
        given,
        "given with a count",
    )
    held.container.tare_mg = given
    return given


def _share(act: Act, held: Held, asked: CountAsked) -> ReadAmount:
    share = read_level(asked.share)
    if share is None:
        sentence = "Say how full it looks, such as about half or a quarter."
        raise Invalid(sentence, {"share": sentence})
    words = asked.share.strip()
    whole, of = _whole(act, held, asked.of_last)
    amount = round(share * whole.low)
    how = f"by eye: {words} of {of}"
    return ReadAmount(
        whole.basis, amount, amount, words, "", whole.density_used, how, AmountKnown.ESTIMATED, ()
    )


def _whole(act: Act, held: Held, of_last: bool) -> tuple[ReadAmount, str]:
    """What a share is a share of: the last amount the book knew, or what the container holds when full."""
    if of_last:
        lines = lines_of(act.session, held.container_id)
        known = next((b for b in (fold(lines[:n]) for n in range(len(lines), 0, -1)) if b.amount), None)
        if known is None or known.amount is None:
            sentence = "No amount of it was ever known. Say it as a share of what the container holds."
            raise Invalid(sentence, {"share": sentence})
        size = show_amount(known.amount, held.basis)
        last = ReadAmount(held.basis, known.amount, known.amount, "", "", None, "", AmountKnown.ESTIMATED, ())
        return last, f"the last known amount, {size}"
    box = held.container
    written = box.capacity_written
    if box.capacity_ul is not None:
        written = f"{Decimal(box.capacity_ul) / 1000:f} ml"
    if not written:
        sentence = "What the container holds is not written down. Weigh it, or enter an amount."
        raise Invalid(sentence, {"share": sentence})
    whole = read_amount(act.session, act.actor, held.material, written, "share")
    return whole, f"the {box.capacity_written or written} it holds"
