"""A stock list from the file to the book: brought in, unknown names settled, then taken whole or not at all.

Taking only the good lines is a second, explicit step. A list is taken once.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, replace
from datetime import date, datetime
from typing import Any, Final
from zoneinfo import ZoneInfo

from sqlmodel import Session

from service.actions.check_list import CheckedList, GoodLine, check_list
from service.actions.describe_material import describe_within
from service.actions.give_codes import Chance
from service.actions.list_doubles import ANOTHER
from service.actions.list_materials import Proposal
from service.actions.list_over_limits import over_by_list
from service.actions.put_in_stock import Arriving, put_in
from service.actions.read_amount import fix_basis
from service.actions.receive_stock import Gaps, gaps_of, what_lacks
from service.actions.settle import Act, Sent, Settled, settle
from service.core.access import Actor, Permission, require
from service.core.findings import Finding, Invalid, NotFound, Refused, Severity, Stale, Verdict, stop
from service.core.months import say_date
from service.core.sheet_files import plain_name
from service.core.stock_list import EmptyOpened, print_of_line, print_of_rows, read_list
from service.core.stock_list_file import MOST_LINES, LineProblem, decoded, read_rows
from service.records.material_queries import the_material
from service.records.materials import Material
from service.records.shop import ShopProfile
from service.records.stock_lists import StockListFile, same_rows

MOST_CHOICES: Final = 2 * MOST_LINES
"""Answers kept with a list: what its unknown names are, and which lines are containers of their own."""


@dataclass(frozen=True)
class Brought:
    """A file as it came.

    Args:
        name: what it was called; only text.
        empty_opened: what an empty cell under *opened* means in it.
        again: lines that were taken with an earlier list are containers that came again.
    """

    name: str
    content: bytes
    empty_opened: EmptyOpened = EmptyOpened.ASK
    again: bool = False


class HeaderWrong(Invalid):
    """The first line names no columns a list could be read by; ``problems`` says which."""

    def __init__(self, problems: tuple[LineProblem, ...]) -> None:
        first = problems[0]
        sentence = f"The first line of the file names the columns: expected {first.expected}. {first.mend}"
        super().__init__(sentence, {"file": sentence})
        self.problems = problems


def bring_list(session: Session, actor: Actor, now: datetime, brought: Brought) -> StockListFile:
    """Keep a file for its dry run. The same list brought again before it was taken is the same record.

    Raises:
        NotAllowed.
        Invalid: it is no list (`HeaderWrong`), too large, or cannot be read.
        Refused: a list that says the same was taken in already.
    """
    require(actor, Permission.RECEIVE)
    rows = read_rows(brought.content)
    read = read_list(rows, brought.empty_opened)
    if read.header_wrong:
        raise HeaderWrong(read.problems)
    if not rows.rows:
        words = "The file has no line below its first one. Each container of the list is a line."
        raise Invalid(words, {"file": words})
    rows_print = print_of_rows(rows)
    row = same_rows(session, rows_print)
    if row is not None and row.taken_at is not None:
        shop = session.get(ShopProfile, 1)
        taken_on = row.taken_at.astimezone(ZoneInfo(shop.time_zone if shop else "UTC")).date()
        words = (
            f"This list was taken in already, on {say_date(taken_on)}, as list {row.id}. "
            "A list is taken once; what came again stands in a list of its own."
        )
        raise Refused(Verdict.of([stop("list-taken", words)]))
    if row is None:
        row = StockListFile(
            name=plain_name(brought.name)[:120],
            text=decoded(brought.content)[0],
            encoding=rows.encoding,
            rows_print=rows_print,
            empty_opened=brought.empty_opened,
            brought_by=actor.person_id,
            brought_at=now,
        )
    row.empty_opened, row.again = brought.empty_opened, brought.again
    row.version += 1
    session.add(row)
    session.flush()
    return row


def the_list(session: Session, list_id: int) -> StockListFile:
    """The list of that number.

    Raises:
        NotFound: there is none.
    """
    row = session.get(StockListFile, list_id)
    if row is None:
        raise NotFound(f"There is no list number {list_id}.")
    return row


def look_at_list(
    session: Session, actor: Actor, today: date, list_id: int
) -> tuple[StockListFile, CheckedList]:
    """The dry run: what would be taken in, what is wrong. Writes nothing.

    Raises:
        NotAllowed, NotFound.
    """
    require(actor, Permission.RECEIVE)
    row = the_list(session, list_id)
    return row, check_list(session, actor, today, row)


def choose_materials(
    session: Session, actor: Actor, list_id: int, choices: dict[str, str]
) -> StockListFile:
    """Keep what the names that the book does not know are; an empty choice takes one back.

    Args:
        choices: by a proposal's key: ``known:KEY`` of the published facts, ``material:NUMBER``, ``new:FORM``.

    Raises:
        NotAllowed, NotFound; Stale when it was taken in meanwhile.
    """
    require(actor, Permission.DESCRIBE_MATERIAL)
    return _keep(session, actor, list_id, choices)


def choose_places(
    session: Session, actor: Actor, list_id: int, choices: dict[str, str]
) -> StockListFile:
    """Keep which places are meant by names that no place has; an empty choice takes one back.

    Args:
        choices: by the key of a name: ``place:NUMBER``, or ``place:none`` for not known.

    Raises:
        NotAllowed, NotFound; Stale when it was taken in meanwhile.
    """
    return _keep(session, actor, list_id, choices)


def say_another(
    session: Session, actor: Actor, today: date, list_id: int, answers: dict[str, bool] | None = None
) -> StockListFile:
    """Keep which lines that look like a container of the book, or like each other, are cans of their own.

    Args:
        answers: by a question's key; None = all that are asked are.

    Raises:
        NotAllowed, NotFound; Stale when it was taken in meanwhile.
    """
    require(actor, Permission.RECEIVE)
    if answers is None:
        checked = check_list(session, actor, today, the_list(session, list_id))
        answers = {one.key: True for one in checked.questions}
    return _keep(session, actor, list_id, {key: ANOTHER if yes else "" for key, yes in answers.items()})


def _keep(session: Session, actor: Actor, list_id: int, choices: dict[str, str]) -> StockListFile:
    require(actor, Permission.RECEIVE)
    row = the_list(session, list_id)
    if row.taken_at is not None:
        raise Stale("This list was taken in meanwhile. Look at it again.")
    kept = {**row.choices, **{key[:16]: choice[:80] for key, choice in choices.items()}}
    row.choices = {key: choice for key, choice in list(kept.items())[-MOST_CHOICES:] if choice}
    row.version += 1
    session.add(row)
    session.flush()
    return row


@dataclass(frozen=True)
class TakeAsked:
    """To take a list in. ``good_lines``: leave those with problems out; else all or nothing."""

    once: str
    list_id: int
    good_lines: bool = False


def take_list(session: Session, actor: Actor, now: datetime, asked: TakeAsked, chance: Chance) -> Settled:
    """Take every line in, in one transaction and one posting.

    Answers ``id``, ``lines``, ``containers`` (how many), ``materials`` (names written down), ``left_out``,
    and findings with how many containers each concerns. What goes over a storage limit stood there already:
    it is taken in, named by its lines, and owes a move.

    Raises:
        NotAllowed, NotFound.
        Refused: it was taken already; something is wrong with it and ``good_lines`` was not said; nothing in
            it is good.
    """
    require(actor, Permission.RECEIVE)
    body = {"list": asked.list_id, "good_lines": asked.good_lines}
    return settle(
        session, actor, Sent(asked.once, "take-list", body), now, lambda act: _take(act, asked, chance)
    )


def _take(act: Act, asked: TakeAsked, chance: Chance) -> dict[str, Any]:
    row = the_list(act.session, asked.list_id)
    if row.taken_at is not None:
        raise Refused(Verdict.of([stop("list-taken", f"List {row.id} was taken in already.")]))
    checked = check_list(act.session, act.actor, act.day, row)
    _may_take(checked, asked)
    proposals = {one.key: one for one in checked.proposals}
    made: dict[str, Material] = {}
    arriving = [_arriving(act, good, proposals, made) for good in checked.good]
    came = put_in(act, arriving, chance)
    told = _told(act, arriving)
    act.findings.clear()
    act.note(*told)
    lines = [good.line.line for good in checked.good for _ in range(good.asked.count)]
    over_by_list(act, row.id or 0, list(zip(lines, came, strict=True)))
    wrong_lines = checked.lines_wrong
    row.taken_posting_id, row.taken_at = act.posting_id, act.recorded_at
    row.took = [print_of_line(good.line) for good in checked.good]
    row.left_out = wrong_lines
    row.version += 1
    act.session.add(row)
    return {
        "id": row.id,
        "lines": len(checked.good),
        "containers": checked.containers,
        "materials": [proposals[key].first.material for key in made],
        "left_out": wrong_lines,
    }


def _may_take(checked: CheckedList, asked: TakeAsked) -> None:
    if not checked.good:
        words = "No line of this list can be taken in. Mend the lines that are named, and bring it again."
        raise Refused(Verdict.of([stop("nothing-good", words)]))
    if checked.problems and not asked.good_lines:
        first = checked.problems[0]
        words = (
            f"{checked.lines_wrong} lines cannot be taken in, the first is line {first.line}: {first.mend} "
            "Mend the list and bring it again, or take the good lines only."
        )
        raise Refused(Verdict.of([stop("list-has-problems", words)]))


def _arriving(
    act: Act, good: GoodLine, proposals: dict[str, Proposal], made: dict[str, Material]
) -> Arriving:
    """The line with its material from the book, written down now where the book did not have it."""
    number = good.asked.material_id
    material = the_material(act.session, number) if number else made.get(good.key)
    if material is None:
        asked = proposals[good.key].asked
        assert asked is not None
        material = the_material(act.session, describe_within(act, asked)["material"])
        made[good.key] = material
    if good.holds.read is not None:
        fix_basis(act.session, material, good.holds.read.basis)
    assert material.id is not None
    return Arriving(replace(good.asked, material_id=material.id), material, good.holds)


def _told(act: Act, arriving: list[Arriving]) -> list[Finding]:
    """What is not known of what came in, each kind once, with how many containers it concerns."""
    gaps: dict[int, Gaps] = {}
    heard: list[tuple[Finding, int]] = [(finding, 1) for finding in act.findings]  # of new materials
    for one in arriving:
        number = one.asked.material_id
        if number not in gaps:
            gaps[number] = gaps_of(act.session, one.material)
        missing, facts = what_lacks(act.day, one, gaps[number])
        read = one.each.read.findings if one.each.read else ()
        heard += [(f, one.asked.count) for f in (*missing, *read, *([facts] if facts else []))]
    by_kind: Counter[tuple[Severity, str]] = Counter()
    first: dict[tuple[Severity, str], Finding] = {}
    for finding, number in heard:
        kind = (finding.severity, finding.code)
        by_kind[kind] += number
        first.setdefault(kind, finding)
    return [_counted(first[kind], number) for kind, number in by_kind.most_common()]


def _counted(finding: Finding, number: int) -> Finding:
    if number == 1:
        return finding
    return replace(finding, sentence=f"{number} times, first of {finding.about}: {finding.sentence}")
