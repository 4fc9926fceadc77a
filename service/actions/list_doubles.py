"""Lines of a stock list that may be a container the book has already, or one that was written twice.

A mended line is no new container and a can like another is; nobody but the shop can tell, so it is asked.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Hashable, Iterable, Mapping
from dataclasses import dataclass, field
from typing import Final

from service.core.shelf_codes import show_code
from service.core.stock_list import ListLine, print_of_line
from service.core.stock_list_file import LineProblem
from service.records.list_arrivals import ListArrival

ANOTHER: Final = "another"
"""The answer to a question: each such line is a container of its own."""
_FACTS: Final = ("amount", "capacity", "packed date", "received date", "printed date", "lot")
_LOT_AND_PACKED: Final = (5, 2)


@dataclass(frozen=True)
class LineQuestion:
    """What is asked of a line. ``key`` of its answer; ``code`` of the container it is like."""

    line: int
    key: str
    sentence: str
    code: str = ""
    answered: bool = False


def question_key(line: ListLine) -> str:
    """What the answer to a line's question is kept under: the same for lines that say the same."""
    return print_of_line(line)[:16]


@dataclass
class ListDoubles:
    """What lists brought before, to be met by the lines of one more.

    A container is met once. A line is like one of the same material that has the same lot and packed date, or
    differs from it in one thing only, or is left over where the rest of its list is brought again.
    """

    choices: Mapping[str, str]
    lists_again: set[int] = field(default_factory=set)
    met: set[str] = field(default_factory=set)
    first: dict[str, int] = field(default_factory=dict)
    questions: list[LineQuestion] = field(default_factory=list)
    _like: dict[Hashable, list[ListArrival]] = field(default_factory=lambda: defaultdict(list))

    def know(self, arrivals: Iterable[ListArrival]) -> None:
        for one in reversed(list(arrivals)):  # the first to come is met first
            facts = _facts(one.amount, one.capacity, one.packed, one.received, one.printed, one.lot)
            for key in _keys(one.material_id, facts):
                self._like[key].append(one)
            self._like[one.material_id, one.list_id].append(one)

    def left_aside(self, line: ListLine, list_id: int, material_id: int | None) -> None:
        """A line that an earlier list brought as it stands: its containers are not asked about again."""
        self.first.setdefault(print_of_line(line), line.line)
        self.lists_again.add(list_id)
        for _ in range(line.count if material_id else 0):
            one = self._first_of((material_id, _facts_of(line)))
            if one is not None:
                self.met.add(one.code)

    def problem_of(self, line: ListLine, material_id: int | None) -> LineProblem | None:
        """The question that keeps a line out until it is answered."""
        printed = print_of_line(line)
        same = self.first.setdefault(printed, line.line)
        like = self._meet(line, material_id) if material_id else None
        if like is not None:
            code = show_code(like.code)
            found = f"looks like {code}, taken with list {like.list_id}, but {_difference(line, like)}"
            sentence = f"Line {line.line} {found}. Is it another can, or a correction?"
            mend = f"If it is another can, say so. A correction is done by a count of {code}, or on its page."
            return self._ask(line, sentence, "a line for each container once", found, mend, like.code)
        if same != line.line and not line.code:
            found = f"says the same as line {same}"
            sentence = f"Line {line.line} {found}. Is each a can of its own, or was one written twice?"
            mend = "If each is a can of its own, say so, or write 2 under count; else take one of them out."
            return self._ask(line, sentence, "a line for each container once", found, mend, "")
        return None

    def _ask(
        self, line: ListLine, sentence: str, expected: str, found: str, mend: str, code: str
    ) -> LineProblem | None:
        key = question_key(line)
        answered = self.choices.get(key) == ANOTHER
        self.questions.append(LineQuestion(line.line, key, sentence, code, answered))
        return None if answered else LineProblem(line.line, "", found, expected, mend)

    def _meet(self, line: ListLine, material_id: int) -> ListArrival | None:
        """The container it is like, with as many as the line counts met."""
        facts, found = _facts_of(line), None
        for _ in range(line.count):
            one = self._likest(material_id, facts)
            if one is None:
                break
            self.met.add(one.code)
            found = found or one
        return found

    def _likest(self, material_id: int, facts: tuple[Hashable, ...]) -> ListArrival | None:
        exact, *near, batch = _keys(material_id, facts)
        # Neither a lot nor a packed date is no batch in common.
        keys = [exact, *near, *([batch] if any(facts[i] for i in _LOT_AND_PACKED) else [])]
        keys += [(material_id, number) for number in sorted(self.lists_again)]
        return next((one for key in keys if (one := self._first_of(key)) is not None), None)

    def _first_of(self, key: Hashable) -> ListArrival | None:
        several = self._like.get(key, [])
        while several and several[-1].code in self.met:
            several.pop()
        return several[-1] if several else None


def _keys(material_id: int, facts: tuple[Hashable, ...]) -> list[Hashable]:
    """All facts; all but one, for each; lot and packed date."""
    but_one = [(material_id, at, *facts[:at], *facts[at + 1 :]) for at in range(len(facts))]
    return [(material_id, facts), *but_one, (material_id, "batch", *(facts[at] for at in _LOT_AND_PACKED))]


def _facts(amount: str, capacity: str, *rest: Hashable) -> tuple[Hashable, ...]:
    plain = (" ".join(text.casefold().split()) for text in (amount, capacity))
    *days, lot = rest
    return (*plain, *days, str(lot).casefold())


def _facts_of(line: ListLine) -> tuple[Hashable, ...]:
    return _facts(
        line.amount or "not known", line.capacity, line.packed, line.received, line.printed_date, line.lot
    )


def _difference(line: ListLine, one: ListArrival) -> str:
    theirs = _facts(one.amount, one.capacity, one.packed, one.received, one.printed, one.lot)
    names = [name for name, a, b in zip(_FACTS, _facts_of(line), theirs, strict=True) if a != b]
    if not names:
        return "what else the line says differs"
    return f"the {' and the '.join(names)} {'differs' if len(names) == 1 else 'differ'}"
