"""Reading a recipe as it is typed, line by line: amounts, parts, "to suit", and what it makes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from fractions import Fraction
from math import floor
from typing import Final

from sqlmodel import Session

from service.actions.read_amount import basis_for, densities_of, read_for, shop_system
from service.core.access import Actor
from service.core.bench_writing import Ambiguous, Written, WrittenKind, as_written, read_written
from service.core.findings import Finding, Invalid, warn
from service.core.materials import Basis
from service.core.quantities import CannotMeet, meeting_density
from service.core.recipe_amounts import most_to_suit, powder_in_volume, shares_of_parts, shares_of_percent
from service.core.whole_need import whole_need
from service.records.materials import Material

MEASURED_BY: Final = {Basis.MASS: "weight", Basis.VOLUME: "volume", Basis.PIECES: "pieces"}


@dataclass(frozen=True)
class LineAsked:
    """One line as typed: which material, how much ("1 to 1 1/2 fl oz", "3 parts", "to suit"), a remark."""

    material_id: int
    amount: str
    note: str = ""


@dataclass(frozen=True)
class LineRead:
    """One line as read; ``low`` to ``high`` in whole smallest units of the unit written (``basis``).

    ``not_measured``: some of it went into a batch unmeasured; ``high`` None = no most is known.
    """

    material: Material
    written: str
    note: str = ""
    low: int | None = None
    high: int | None = None
    basis: Basis | None = None
    unit_key: str = ""
    share: tuple[Decimal, Decimal] | None = None
    share_by: Basis | None = None
    percent: bool = False
    to_suit: bool = False
    about: bool = False
    not_measured: bool = False
    findings: tuple[Finding, ...] = field(default=())


def read_line(session: Session, actor: Actor, asked: LineAsked, number: int) -> LineRead:
    """One line as it would be kept; errors name the fields ``material_<number>`` and ``amount_<number>``.

    Raises:
        Ambiguous, Invalid: what was typed cannot be read, or the material is not in the books.
    """
    material = session.get(Material, asked.material_id)
    if material is None or not material.active:
        words = f"Choose the material of line {number + 1} from the list."
        raise Invalid(words, {f"material_{number}": words})
    try:
        return read_line_of(session, actor, material, asked)
    except Invalid as wrong:
        wrong.errors = {f"amount_{number}": wrong.sentence}
        raise


def read_line_of(session: Session, actor: Actor, material: Material, asked: LineAsked) -> LineRead:
    """What is written of a material that is at hand already, also one that is in no book.

    Raises:
        Ambiguous, Invalid.
    """
    most = most_to_suit(asked.amount)
    written = read_for(session, actor, material, most if most is not None else asked.amount)
    text, note = _kept_text(session, material, asked.amount, written), asked.note.strip()
    if written.kind is WrittenKind.TO_SUIT:
        return LineRead(material, text, note, to_suit=True)
    if written.kind in (WrittenKind.PARTS, WrittenKind.PERCENT):
        return _read_share(material, text, note, written, to_suit=most is not None)
    assert written.low is not None and written.high is not None
    if written.high.amount <= 0:
        raise Invalid("Write an amount above nothing, or “to suit”.")
    return LineRead(
        material,
        text,
        note,
        low=None if most is not None else floor(written.low.smallest),
        high=whole_need(written.high.smallest),
        basis=written.high.basis,
        unit_key=written.high.unit.key,
        to_suit=most is not None,
        about=written.about,
        findings=(*written.findings, *_does_not_meet(material, written)),
    )


def _kept_text(session: Session, material: Material, typed: str, written: Written) -> str:
    """What was typed; where only this person's own choice settled it, words that everybody reads alike.

    Else "2 oz" of an oil, read by its writer as fluid ounces, is weighed out by the next one.
    """
    most = most_to_suit(typed)
    try:
        read_written(most if most is not None else typed, form=material.form, system=shop_system(session))
    except Ambiguous:
        return as_written(written) if most is None else f"to suit, at most {as_written(written)}"
    return " ".join(typed.split())


def _read_share(material: Material, text: str, note: str, written: Written, *, to_suit: bool) -> LineRead:
    assert written.number_low is not None and written.number_high is not None
    percent = written.kind is WrittenKind.PERCENT
    if to_suit:
        raise Invalid("Write the most of a “to suit” as an amount, such as to suit, at most 2 tsp.")
    if written.number_high <= 0:
        raise Invalid("Write a share above nothing, or “to suit”.")
    return LineRead(
        material,
        text,
        note,
        unit_key="percent" if percent else "part",
        share=(written.number_low, written.number_high),
        share_by=written.by,
        percent=percent,
        about=written.about,
    )


def _does_not_meet(material: Material, written: Written) -> list[Finding]:
    """Told at once where a line will not meet the shelf: the recipe is kept, the check will say it again."""
    assert written.high is not None
    basis = basis_for(material, written.high)
    if basis is written.high.basis or material.not_stocked:
        return []
    try:
        meeting_density(
            written.high.basis, basis, densities_of(material), form=material.form, name=material.name
        )
    except CannotMeet as lack:
        return [lack.finding]
    return []


def read_makes(session: Session, text: str) -> tuple[str, int, Basis] | None:
    """What the lines as written give: text, whole smallest units, basis; None if nobody said.

    Of a range the lower end is kept, so that never too little is weighed out for a wanted amount.
    """
    bare = " ".join(text.split())
    if not bare:
        return None
    try:
        written = read_written(bare, system=shop_system(session))
        if written.low is None or written.low.amount <= 0:
            raise Invalid("Write how much it makes as an amount, such as 500 ml.")
    except Invalid as wrong:
        wrong.errors = {"makes": wrong.sentence}
        raise
    return bare, max(1, floor(Fraction(written.low.smallest))), written.low.basis


def shares_by(lines: Sequence[LineRead], said: Basis | None) -> Basis | None:
    """How the parts are measured; None for a recipe without any.

    Raises:
        Invalid: parts and per cent are mixed, or nobody said whether by weight or by volume.
    """
    shares = [line for line in lines if line.share is not None]
    if not shares:
        return None
    if len({line.percent for line in shares}) > 1:
        raise Invalid("Write all shares in parts, or all in per cent.")
    named = {line.share_by for line in shares if line.share_by is not None} | ({said} if said else set())
    if len(named) > 1:
        words = "Some parts are by weight and some by volume. Write them all in one way."
        raise Invalid(words, {"shares_by": words})
    if not named or Basis.PIECES in named:
        words = "Say whether the parts are by weight or by volume."
        raise Invalid(words, {"shares_by": words})
    return next(iter(named))


def check_shares(
    lines: Sequence[LineRead], by: Basis | None, makes: tuple[str, int, Basis] | None
) -> list[Finding]:
    """Whether the shares of a recipe can be made up, and what to know about them.

    Raises:
        Invalid: they make no whole, or amounts stand beside them and nobody said what the recipe makes.
    """
    if by is None:
        return []
    shares = [line.share for line in lines if line.share is not None]
    (shares_of_percent if any(line.percent for line in lines) else shares_of_parts)(shares)
    if makes is not None and makes[2] is not by:
        words = f"The parts are by {MEASURED_BY[by]}, so write what it makes by {MEASURED_BY[by]} too."
        raise Invalid(words, {"makes": words})
    if makes is None and any(line.high is not None for line in lines):
        words = "Amounts stand beside parts: write how much the recipe makes, so that they can grow together."
        raise Invalid(words, {"makes": words})
    if powder_in_volume(by, [line.material.form for line in lines if line.share is not None]):
        sentence = "Powder fills gaps: less comes out than the parts by volume add up to."
        return [warn("powder-by-volume", sentence)]
    return []
