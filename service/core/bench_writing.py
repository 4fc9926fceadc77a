"""Reading an amount as the bench writes it; what could mean two things is asked, never guessed.

Doors: core/conversion.py, actions/read_amount.py, outreach/csv_tables.py, web/problems.py.

An amount is ``[about] figure [to figure] unit``, a share (``3 parts``, ``10 %``), ``to suit``, or so many
heads (``20 heads x 60 ml + 10 %``).
Every refusal is Invalid with a sentence; every doubt is Ambiguous (an Invalid) with the readings to offer.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from decimal import Decimal

from service.core.bench_grammar import Written, WrittenKind, cut, ends, lone_figure, read_amount
from service.core.bench_numbers import Choices, every_reading, tidy, unmistakable
from service.core.findings import Invalid, Reading
from service.core.materials import Basis, Form
from service.core.quantities import Quantity, UnitSystem, show_amount

__all__ = [
    "Ambiguous",
    "Written",
    "WrittenKind",
    "amount_as_written",
    "as_written",
    "read_figure",
    "read_written",
]


class Ambiguous(Invalid):
    """What was written can be read in several ways; ``readings`` are the texts to choose from.

    ``remember`` holds, for each reading's text, what to keep as ``remembered`` for this material and person
    (``{"oz": "us-fl-oz"}``), so that it is asked once.
    """

    def __init__(
        self,
        sentence: str,
        readings: tuple[Reading, ...],
        remember: Mapping[str, Mapping[str, str]],
        field: str = "",
    ) -> None:
        super().__init__(sentence, {field: sentence} if field else None, readings)
        self.remember: dict[str, dict[str, str]] = {text: dict(kept) for text, kept in remember.items()}


def read_written(
    text: str,
    *,
    form: Form | None = None,
    system: UnitSystem | None = None,
    remembered: Mapping[str, str] | None = None,
    point_is_decimal: bool = False,
) -> Written:
    """What the bench wrote, at most 200 characters; time grows with the length, and no further.

    ``form`` settles what an ounce is, ``system`` whose pint. ``remembered`` maps a doubtful word or mark
    ("oz", "pint", ",") to the choice made before for this material and person. ``point_is_decimal`` says that
    ``1.000`` is one, as in data from a program. Raises Ambiguous or Invalid, nothing else.

    >>> str(read_written("1 1/2 tsp", system=UnitSystem.US).low)
    '1.5 US tsp'
    >>> str(read_written("20 heads x 60 ml + 10 %").high)
    '1320 ml'
    >>> try: read_written("2 oz", form=Form.LIQUID, system=UnitSystem.US)
    ... except Ambiguous as doubt: print([r.text for r in doubt.readings])
    ['2 oz by weight', '2 US fl oz']
    """
    clean = tidy(text).rstrip(" .,")

    def attempt(made: Mapping[str, str]) -> Written:
        choices = Choices(made, point_is_decimal)
        written = read_amount(clean, choices, form, system)
        return replace(written, text=text, findings=tuple(dict.fromkeys(choices.findings)))

    leaves = every_reading(attempt, dict(remembered or {}))
    if not leaves[0][1]:
        return leaves[0][0]
    raise _doubt(text, [(as_written(leaf), words, kept) for leaf, kept, words in leaves])


def _doubt(text: str, readings: list[tuple[str, str, dict[str, str]]]) -> Ambiguous:
    return Ambiguous(
        f"“{text.strip()}” can be read in more than one way. Choose which is meant.",
        tuple(Reading(written, words) for written, words, _ in readings),
        # A fraction with its space lost is a slip of that day, not a habit to remember.
        {written: {k: v for k, v in kept.items() if "/" not in k} for written, _, kept in readings},
    )


def read_figure(
    text: str, *, remembered: Mapping[str, str] | None = None, point_is_decimal: bool = False
) -> tuple[Decimal, Decimal]:
    """A bare figure or a range of two, without a unit: lowest and highest. Raises Ambiguous or Invalid.

    >>> read_figure("4.9 to 9.8")
    (Decimal('4.9'), Decimal('9.8'))
    """
    clean = tidy(text)

    def attempt(made: Mapping[str, str]) -> tuple[Decimal, Decimal]:
        choices = Choices(made, point_is_decimal)
        low, high = ends(cut(clean, choices))
        first, last = lone_figure(low or high), lone_figure(high)
        if first > last:
            raise Invalid("Write the smaller figure first.")
        return first, last

    leaves = every_reading(attempt, dict(remembered or {}))
    if not leaves[0][1]:
        return leaves[0][0]
    options = []
    for (low, high), kept, words in leaves:
        options.append((_span_text(low, high), words, kept))
    raise _doubt(text, options)


def as_written(written: Written) -> str:
    """The amount in words that read back to the same thing and to nothing else.

    >>> as_written(read_written("20 HEADS × 60ml + 10%"))
    '20 heads x 60 ml + 10 %'
    """
    if written.kind is WrittenKind.TO_SUIT:
        return "to suit"
    if written.kind in (WrittenKind.PARTS, WrittenKind.PERCENT):
        assert written.number_low is not None and written.number_high is not None
        many = "%" if written.kind is WrittenKind.PERCENT else "parts"
        body = _span_text(written.number_low, written.number_high) + f" {many}"
        body += f" by {'weight' if written.by is Basis.MASS else 'volume'}" if written.by else ""
    else:
        assert written.each is not None and written.each_high is not None
        body = _quantities_text(written.each, written.each_high)
        if written.kind is WrittenKind.HEADS:
            body = f"{written.heads} heads x {body}"
        if written.spare_percent is not None:
            body += f" + {unmistakable(written.spare_percent)} %"
    return f"about {body}" if written.about else body


def amount_as_written(smallest: int, basis: Basis) -> str:
    """Whole smallest units in words that every reader of amounts reads one way, and as this amount.

    Three decimals get a fourth, for 226.796 may be 226796 to some.

    >>> amount_as_written(226_796, Basis.MASS), amount_as_written(1_250_000, Basis.VOLUME)
    ('226.7960 g', '1.25 l')
    """
    figure, _, unit = show_amount(smallest, basis).partition(" ")
    return f"{unmistakable(Decimal(figure))} {unit}"


def _span_text(low: Decimal, high: Decimal) -> str:
    return unmistakable(low) if low == high else f"{unmistakable(low)} to {unmistakable(high)}"


def _quantities_text(low: Quantity, high: Quantity) -> str:
    def name(quantity: Quantity) -> str:
        return quantity.unit.singular if quantity.amount == 1 else quantity.unit.plural

    if low.unit == high.unit:
        return f"{_span_text(low.amount, high.amount)} {name(high)}"
    return f"{unmistakable(low.amount)} {name(low)} to {unmistakable(high.amount)} {name(high)}"
