"""A stock list judged line by line against the shop's book: what can be taken in, and what cannot and why.

Reads only. Taking in judges the same way once more, inside the transaction that writes.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import date
from typing import Final

from sqlmodel import Session

from service.actions.arrivals import EachHolds, Origin, ReceiveAsked, how_much
from service.actions.give_codes import codes_in_use
from service.actions.list_doubles import LineQuestion, ListDoubles
from service.actions.list_materials import ListMaterials, Proposal, key_of
from service.actions.list_places import ListPlaces, PlaceAsked
from service.actions.receive_stock import judge_arrival
from service.core.access import Actor
from service.core.containers import AmountKnown
from service.core.findings import Invalid, Refused
from service.core.materials import Basis
from service.core.quantities import CannotMeet, show_amount, show_estimate
from service.core.shelf_codes import near_codes, normalise, show_code
from service.core.stock_list import ListLine, StockList, print_of_line, read_list
from service.core.stock_list_file import MOST_LINES, LineProblem, read_rows
from service.records.list_arrivals import arrivals_by_lists
from service.records.materials import Material
from service.records.stock_lists import StockListFile, answers_before, lines_taken

_COLUMN_OF: Final = {
    "amount": "amount", "capacity": "capacity", "packed_on": "packed", "received_on": "received",
    "printed_date": "printed date", "opened_on": "opened", "place_id": "place", "count": "count",
    "supplier": "supplier", "lot": "lot", "note": "note", "code": "code",
}  # fmt: skip
_EXPECTED: Final = {
    "packed": "a day that is past, or today",
    "received": "a day from its packing to today",
    "opened": "a day from its packing to today",
    "count": "1, for a line with a code",
    "lot": "a short text", "supplier": "a short text", "capacity": "a short text",
}  # fmt: skip
_MEETS: Final = {
    Basis.MASS: "{0} is counted by weight here and its density is not known. Give it by weight, such as "
    "250 g; or write its density down on its page first, and look at the list again.",
    Basis.VOLUME: "{0} is counted by volume here and its density is not known. Give it by volume, such as "
    "250 ml; or write its density down on its page first, and look at the list again.",
}
_Wrong = Callable[[str, str, str, str], None]
"""Notes a problem of the line at hand: column, found, expected, mend."""


@dataclass(frozen=True)
class GoodLine:
    """A line that can be taken in. ``key``: of the proposal, when the book does not have its material yet."""

    line: ListLine
    name: str
    asked: ReceiveAsked
    holds: EachHolds
    amount: str
    key: str = ""


@dataclass(frozen=True)
class CheckedList:
    """What a dry run found. ``aside``: lines that are left out on purpose, each with the reason.

    ``questions``: of lines that may be in the book already, or stand in the list twice. ``places``: names
    that no place of the book has; ``places_offered``: those it may be, by number.
    """

    good: tuple[GoodLine, ...]
    problems: tuple[LineProblem, ...]
    proposals: tuple[Proposal, ...]
    aside: tuple[tuple[int, str], ...]
    ignored: tuple[str, ...]
    questions: tuple[LineQuestion, ...] = ()
    places: tuple[PlaceAsked, ...] = ()
    places_offered: Mapping[int, str] = field(default_factory=dict)

    @property
    def containers(self) -> int:
        """How many containers the good lines make."""
        return sum(one.asked.count for one in self.good)

    @property
    def lines_wrong(self) -> int:
        return len({problem.line for problem in self.problems})

    @property
    def whole(self) -> bool:
        """True when every line is good or left aside on purpose."""
        return not self.problems


def check_list(session: Session, actor: Actor, today: date, row: StockListFile) -> CheckedList:
    """Judge every line of a list that was brought.

    Args:
        today: the shop's day of taking in.

    Raises:
        Invalid: the file itself cannot be read any more.
    """
    rows = read_rows(row.text.encode())
    read = read_list(rows, row.empty_opened)
    before: dict[str, list[int]] = {}
    if row.taken_at is not None or not row.again:
        before = lines_taken(session, None if row.taken_at else row.id)
    choices = {**answers_before(session), **row.choices}
    checking = _Checking(
        session,
        actor,
        today,
        ListMaterials(session, actor, choices),
        ListDoubles(row.choices),
        ListPlaces(session, choices),
    )
    return checking.run(read, before, None if row.again and row.taken_at is None else row.id)


@dataclass
class _Checking:
    session: Session
    actor: Actor
    today: date
    materials: ListMaterials
    doubles: ListDoubles
    places: ListPlaces
    problems: list[LineProblem] = field(default_factory=list)
    aside: list[tuple[int, str]] = field(default_factory=list)
    amounts: dict[tuple[int, str, str], EachHolds | Invalid] = field(default_factory=dict)
    codes: dict[str, str] = field(default_factory=dict)

    def run(self, read: StockList, before: dict[str, list[int]], number: int | None) -> CheckedList:
        """``number``: of the list itself; None when what it names came again, so that nothing is asked."""
        self.problems = list(read.problems)
        repeated: list[tuple[ListLine, int]] = []
        lines = [line for line in read.lines if not self._left_aside(line, before, repeated)]
        halves = [line for line in read.wrong if line.material]
        self.materials.settle([*lines, *halves])
        self._know_doubles([*lines, *halves], repeated, number)
        self.places.know()
        written = (normalise(line.code) for line in lines if line.code)
        in_book = codes_in_use(self.session, (code for code in written if code is not None))
        self.codes = {code: f"which {what} in the book has" for code, what in in_book.items()}
        good = [one for line in lines if (one := self._judge(line)) is not None]
        for line in halves:  # so that one look finds all that is wrong with them
            self._judge(line)
        if sum(one.asked.count for one in good) > MOST_LINES:
            words = f"More than {MOST_LINES} containers"
            mend = "Part the list into several files."
            self.problems.append(LineProblem(1, "count", words, f"at most {MOST_LINES}", mend))
        return CheckedList(
            tuple(good),
            tuple(sorted(self.problems, key=lambda p: p.line)),
            tuple(self.materials.proposals.values()),
            tuple(self.aside),
            read.ignored,
            tuple(self.doubles.questions),
            tuple(self.places.asked.values()),
            self.places.offered,
        )

    def _left_aside(
        self, line: ListLine, before: dict[str, list[int]], repeated: list[tuple[ListLine, int]]
    ) -> bool:
        if line.skipped:
            self.aside.append((line.line, line.skipped))
            return True
        taken = before.get(print_of_line(line))
        if taken:
            repeated.append((line, taken.pop(0)))
            self.aside.append((line.line, f"the same line was taken in with list {repeated[-1][1]}"))
            return True
        return False

    def _know_doubles(
        self, lines: list[ListLine], repeated: list[tuple[ListLine, int]], number: int | None
    ) -> None:
        if number is None:
            return
        numbers = {self.materials.number_of(line) for line in [*lines, *(line for line, _ in repeated)]}
        known = (one for one in numbers if one is not None)
        self.doubles.know(arrivals_by_lists(self.session, known, number))
        for line, list_id in repeated:
            self.doubles.left_aside(line, list_id, self.materials.number_of(line))

    def _judge(self, line: ListLine) -> GoodLine | None:
        found: list[LineProblem] = []

        def wrong(column: str, what: str, expected: str, mend: str) -> None:
            found.append(LineProblem(line.line, column, what, expected, mend))

        problem = self.materials.problem_of(line)
        if problem is not None:
            found.append(problem)
        place, nowhere = self.places.of(line)
        if nowhere is not None:
            found.append(nowhere)
        code = self._code(line, wrong)
        material = self.materials.of(line)
        doubled = self.doubles.problem_of(line, material.id if material is not None else None)
        if doubled is not None:
            found.append(doubled)
        good = None
        if material is not None:
            good = self._with_material(line, material, _asked(line, material, place, code), wrong)
        elif problem is not None:  # what is wrong whatever the name will turn out to be
            stand_in = self.materials.stand_in(line)
            self._with_material(line, stand_in, _asked(line, stand_in, place, code), wrong, settled=False)
        self.problems += found
        return None if found else good

    def _with_material(
        self, line: ListLine, material: Material, asked: ReceiveAsked, wrong: _Wrong, settled: bool = True
    ) -> GoodLine | None:
        fits = True
        try:
            judge_arrival(self.session, self.today, asked, material)
        except Invalid as error:
            for name, words in (error.errors or {"": error.sentence}).items():
                column = _COLUMN_OF.get(name, "")
                wrong(column, _shown(line, column), _EXPECTED.get(column, "what a container can be"), words)
            fits = False
        except Refused as error:
            wrong("material", f"“{line.material[:60]}”", "a material that is stocked", error.sentence)
            return None
        holds = self._amount(material, asked)
        if isinstance(holds, CannotMeet) and not settled:
            return None  # its form and density are still to be told
        if isinstance(holds, Invalid):
            for name in holds.errors or {"amount": ""}:
                column = _COLUMN_OF.get(name, "amount")
                others = ", ".join(f"“{one.text}”" for one in holds.readings)
                mend = f"{holds.sentence} Write one of: {others}." if others else holds.sentence
                if isinstance(holds, CannotMeet) and material.basis in _MEETS:
                    mend = _MEETS[material.basis].format(material.name)
                wrong(column, _shown(line, column), "an amount with its unit, such as 250 g", mend)
            return None
        if not settled or not fits:
            return None
        if holds.read is not None and material.basis is None:
            material.basis = holds.read.basis  # as the first movement of it will settle
        words = "not known"
        if holds.change is not None and material.basis is not None:
            about = holds.known is AmountKnown.ESTIMATED
            words = (show_estimate if about else show_amount)(holds.change, material.basis)
        proposal = self.materials.proposals.get(key_of(line))
        return GoodLine(line, material.name, asked, holds, words, proposal.key if proposal else "")

    def _amount(self, material: Material, asked: ReceiveAsked) -> EachHolds | Invalid:
        key = (id(material), asked.amount, asked.capacity)
        if key not in self.amounts:
            try:
                self.amounts[key] = how_much(self.session, self.actor, material, asked)
            except Invalid as error:
                self.amounts[key] = error
        return self.amounts[key]

    def _code(self, line: ListLine, wrong: _Wrong) -> str:
        if not line.code:
            return ""
        code = normalise(line.code)
        if code is None:
            near = ", ".join(show_code(one) for one in near_codes(line.code)[:3])
            mend = f"Read the label again (near it: {near})." if near else "Read the label again."
            wrong("code", f"“{line.code[:30]}”", "a shelf code", mend)
            return ""
        if code in self.codes:
            mend = "Take another label, or leave the cell empty and print one afterwards."
            wrong("code", f"{show_code(code)}, {self.codes[code]}", "a code nothing has yet", mend)
        self.codes[code] = f"on line {line.line} of this list too"
        return code


def _asked(line: ListLine, material: Material, place: int | None, code: str) -> ReceiveAsked:
    return ReceiveAsked(
        once="",
        material_id=material.id or 0,
        count=line.count,
        amount=line.amount,
        capacity=line.capacity,
        place_id=place,
        origin=Origin.STOCK_TAKE,
        supplier=line.supplier,
        lot=line.lot,
        packed_on=line.packed,
        received_on=line.received,
        printed_date=line.printed_date,
        opened=line.open_,
        opened_on=line.opened,
        condition=line.condition,
        note=line.note,
        code=code,
    )


def _shown(line: ListLine, column: str) -> str:
    value = getattr(line, {"printed date": "printed_date"}.get(column, column), None) if column else None
    return f"“{str(value)[:60]}”" if value not in (None, "") else "nothing"
