"""Which material of the book each line of a stock list means, and what to make of names it does not have.

Such a name is proposed from the published facts; a person chooses. Nothing is suggested where a name can mean
several things.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from typing import Any, Final

from sqlmodel import Session, col, select

from service.actions.describe_material import MaterialAsked, facts_for, published_description, tidy
from service.core.access import Actor
from service.core.findings import Invalid
from service.core.material_entry import Description, columns, judge_description
from service.core.materials import KIND_WORDS, Form
from service.core.stock_list import ListLine
from service.core.stock_list_file import LineProblem
from service.core.written_signs import compared
from service.records.knowledge import KnownMaterial, find_known, is_ambiguous, known
from service.records.materials import Material

MOST_OFFERED: Final = 8


@dataclass(frozen=True)
class Proposal:
    """A name in the list that the book has no material for.

    Args:
        key: what a choice is kept under.
        lines: the lines of the file that name it.
        published: rows of the published facts it may mean. ``similar``: materials of the book with that name.
        suggested: the choice to show first, empty when the name can mean several things.
        chosen: what was chosen: ``known:KEY``, ``material:NUMBER``, ``new:FORM``; empty = not yet.
        wrong: why the choice cannot be used.
        material: what it will be, not in the book yet (or the chosen one); None until it is settled.
        asked: how it is written down; None when it is in the book.
    """

    key: str
    first: ListLine
    lines: tuple[int, ...]
    published: tuple[KnownMaterial, ...] = ()
    similar: tuple[Material, ...] = ()
    suggested: str = ""
    chosen: str = ""
    wrong: str = ""
    material: Material | None = field(default=None, compare=False)
    asked: MaterialAsked | None = None


@dataclass
class ListMaterials:
    """The materials of one list. `found` maps a line's key to a copy that is never written back.

    `copies`: one for each material, by whatever names the list calls it, so that the basis its first line
    settles holds for all of them.
    """

    session: Session
    actor: Actor
    choices: Mapping[str, str]
    found: dict[str, Material] = field(default_factory=dict)
    problems: dict[str, tuple[str, str, str]] = field(default_factory=dict)
    proposals: dict[str, Proposal] = field(default_factory=dict)
    copies: dict[int, Material] = field(default_factory=dict)
    by_name: dict[str, list[Material]] = field(default_factory=dict)
    stand_ins: dict[Form | None, Material] = field(default_factory=dict)

    def settle(self, lines: Iterable[ListLine]) -> None:
        """Look every name up once."""
        by_name = self.by_name
        for row in self.session.exec(select(Material).order_by(col(Material.id))).all():
            by_name.setdefault(compared(row.name), []).append(row)
        for line in lines:
            key = key_of(line)
            if key in self.proposals:
                one = self.proposals[key]
                self.proposals[key] = replace(one, lines=(*one.lines, line.line))
            elif key not in self.found and key not in self.problems:
                self._look_up(key, line, by_name.get(compared(line.material), []))
        self.proposals = {key: self._chosen(one) for key, one in self.proposals.items()}

    def of(self, line: ListLine) -> Material | None:
        """What a line means; None while nothing is chosen or something is wrong."""
        key = key_of(line)
        proposal = self.proposals.get(key)
        return proposal.material if proposal else self.found.get(key)

    def number_of(self, line: ListLine) -> int | None:
        """The number of the material of the book that a line means, also of one that is left aside."""
        material = self.of(line)
        if material is None and key_of(line) not in self.problems:
            fits = self.by_name.get(compared(line.material), [])
            fits = [row for row in fits if not line.maker or compared(row.maker) == compared(line.maker)]
            material = fits[0] if len(fits) == 1 else None
        return material.id if material is not None else None

    def stand_in(self, line: ListLine) -> Material:
        """What a line is judged by meanwhile; its form is known only where all that it may mean agree."""
        proposal = self.proposals.get(key_of(line))
        forms = {row.form for row in proposal.published} if proposal else set()
        form = forms.pop() if len(forms) == 1 else None
        if form not in self.stand_ins:  # one for each form, so that an amount is read once for many names
            known: dict[str, Any] = {"form": form}
            self.stand_ins[form] = Material(name="this material", active=True, **known)
        return self.stand_ins[form]

    def problem_of(self, line: ListLine) -> LineProblem | None:
        """Why a line's material cannot be settled."""
        key = key_of(line)
        proposal = self.proposals.get(key)
        if proposal is not None and proposal.material is None:
            found = f"“{line.material[:60]}”"
            mend = proposal.wrong or "Say what it is, or write it down under Materials first."
            return LineProblem(line.line, "material", found, "a material of the book", mend)
        if key in self.problems:
            return LineProblem(line.line, *_with_column(self.problems[key]))
        return None

    def _look_up(self, key: str, line: ListLine, rows: list[Material]) -> None:
        active = [row for row in rows if row.active]
        fits = [row for row in active if not line.maker or compared(row.maker) == compared(line.maker)]
        if len(fits) > 1:
            makers = ", ".join(row.maker or "no maker named" for row in fits[:5])
            mend = "Name the maker in a column “maker”."
            self.problems[key] = ("material", f"“{line.material[:60]}” of {makers}", mend)
        elif fits and line.kind is not None and fits[0].kind is not line.kind:
            words = f"{KIND_WORDS[fits[0].kind]} in the book"
            mend = f"Write “{KIND_WORDS[fits[0].kind]}”, or give the other material another name."
            self.problems[key] = ("kind", f"{KIND_WORDS[line.kind]}, but {words}", mend)
        elif fits:
            self.found[key] = self._copy(fits[0])
        elif rows and not active:
            mend = "A keeper brings it back on its page, or it gets another name."
            self.problems[key] = ("material", f"“{line.material[:60]}”, which was retired", mend)
        else:
            self.proposals[key] = self._propose(key, line, active)

    def _propose(self, key: str, line: ListLine, similar: list[Material]) -> Proposal:
        # Figures and signs alone name nothing: "=1+1" would find every name with a 1 in it.
        meant = find_known(line.material) if any(sign.isalpha() for sign in line.material) else ()
        published = [row for row in meant if line.kind is None or row.kind is line.kind][:MOST_OFFERED]
        clear = len(published) == 1 and not similar and not is_ambiguous(line.material)
        suggested = f"known:{published[0].key}" if clear else ""
        return Proposal(key, line, (line.line,), tuple(published), tuple(similar[:3]), suggested)

    def _chosen(self, one: Proposal) -> Proposal:
        choice = self.choices.get(one.key, "")
        if not choice:
            return one
        one = replace(one, chosen=choice)
        kind, _, rest = choice.partition(":")
        try:
            if kind == "material":
                return replace(one, material=self._copy(self._in_book(rest)))
            said, row = _description(one.first, kind, rest)
            judge_description(said)
        except Invalid as wrong:
            return replace(one, wrong=next(iter(wrong.errors.values()), wrong.sentence))
        facts, _took = facts_for(self.actor, None, row)
        new = Material(**columns(said), **columns(facts), known_key=row.key if row else None)
        asked = MaterialAsked("", said, known_key=row.key if row else None)
        return replace(one, material=new, asked=asked)

    def _copy(self, row: Material) -> Material:
        """A copy outside the session: reading a list must not change the book by way of it."""
        assert row.id is not None
        if row.id not in self.copies:
            self.copies[row.id] = Material(**row.model_dump())
        return self.copies[row.id]

    def _in_book(self, text: str) -> Material:
        number = int(text) if text.isascii() and text.isdigit() and len(text) < 10 else 0
        row = self.session.get(Material, number)
        if row is None or not row.active:
            raise Invalid("That material is not in the book any more. Choose again.")
        return row


def key_of(line: ListLine) -> str:
    """What tells one material of a list from another: its name, maker and kind, in any letter case."""
    text = f"{compared(line.material)}|{compared(line.maker)}|{line.kind.value if line.kind else ''}"
    return hashlib.sha256(text.encode()).hexdigest()[:16]


def _description(line: ListLine, choice: str, rest: str) -> tuple[Description, KnownMaterial | None]:
    if choice == "known":
        row = known(rest)
        if row is None:
            raise Invalid("That row of the published facts is not there. Choose again.")
        if line.kind is not None and row.kind is not line.kind:
            raise Invalid(f"{row.name} is a {KIND_WORDS[row.kind]}; the list says {KIND_WORDS[line.kind]}.")
        said = replace(published_description(row), name=line.material, maker=line.maker)
        return tidy(said), row
    if choice == "new" and rest in set(Form):
        if line.kind is None:
            raise Invalid("Name its kind in a column “kind”; how long it lasts and its rules go by it.")
        return tidy(Description(line.material, line.kind, Form(rest), line.maker)), None
    raise Invalid("Choose one of the answers offered.")


def _with_column(problem: tuple[str, str, str]) -> tuple[str, str, str, str]:
    column, found, mend = problem
    return column, found, "one material of the book", mend
