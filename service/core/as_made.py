"""What really went into a batch, as lines of a recipe, and how it differs from what was planned.

Doors: records/mixing.py (as_made), actions/keep_as_made.py, web/pages/as_made.py, web/api/as_made.py.

What nobody measured is never nothing: its line is "to suit", with an upper amount only where one was said.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import ROUND_HALF_UP, Decimal
from enum import StrEnum
from fractions import Fraction
from math import floor

from service.core.batch import Part, mass_of
from service.core.findings import Finding, unknown, warn
from service.core.materials import Basis
from service.core.quantities import LARGEST, show_amount


@dataclass(frozen=True)
class Stuff:
    """What is known of one material: by ``meets`` its own mass and volume meet (g/ml), ``fills`` is by how
    much it fills a mix (the true density of a powder). None = not known.
    """

    name: str
    meets: Decimal | None = None
    fills: Decimal | None = None
    liquid: bool = False


@dataclass(frozen=True)
class PutIn:
    """One addition that stands, or something put back. ``amount`` None: nobody measured it; ``at_most`` is
    then the most it can have been, None = not known either. ``about``: measured roughly.
    """

    material_id: int
    amount: int | None
    basis: Basis | None
    at_most: int | None = None
    about: bool = False
    low: int | None = None
    """The least it may have been, of a spoon of powder; None = the amount itself."""


@dataclass(frozen=True)
class MadeLine:
    """All of one material in a batch, what was put back left out.

    ``amount`` is what was measured, in smallest units of ``basis``. With ``unmeasured`` more went in than
    that: ``at_most`` is the most of it in all, None = not known. ``low``: the least it may have been, as a
    spoon of powder weighs more or less; None = the amount itself.
    """

    material_id: int
    basis: Basis | None
    amount: int
    unmeasured: bool = False
    at_most: int | None = None
    about: bool = False
    low: int | None = None

    @property
    def known(self) -> bool:
        return not self.unmeasured


@dataclass(frozen=True)
class Made:
    """The lines in the order of first addition."""

    lines: tuple[MadeLine, ...]
    findings: tuple[Finding, ...]


def lines_made(
    additions: Sequence[PutIn], put_back: Sequence[PutIn], stuff: Mapping[int, Stuff]
) -> Made:
    """Everything that went in, one line for each material, less what was put back.

    Findings: ``more-back-than-in`` where more was put back than is written down as put in,
    ``not-measured`` for each line that nobody measured.

    >>> one = [PutIn(1, 5000, Basis.MASS), PutIn(2, 10, Basis.VOLUME), PutIn(1, 1000, Basis.MASS)]
    >>> [(line.material_id, line.amount) for line in lines_made(one, [PutIn(1, 500, Basis.MASS)], {}).lines]
    [(1, 5500), (2, 10)]
    """
    basis_of = {one.material_id: one.basis for one in (*additions, *put_back) if one.basis is not None}
    merged: dict[tuple[int, Basis | None], MadeLine] = {}
    for one in additions:
        key = one.material_id, one.basis or basis_of.get(one.material_id)
        merged[key] = _more(merged.get(key), key, one)
    found: list[Finding] = []
    for back in put_back:
        key = back.material_id, back.basis
        before = merged.get(key)
        if before is None or (before.amount < (back.amount or 0) and before.known):
            found.append(_too_much_back(stuff, back.material_id))
        if before is not None:
            merged[key] = _less(before, back.amount or 0)
    lines = tuple(line for line in merged.values() if line.amount > 0 or line.unmeasured)
    found += [_not_measured(stuff, line) for line in lines if line.unmeasured]
    return Made(lines, tuple(dict.fromkeys(found)))


def _more(before: MadeLine | None, key: tuple[int, Basis | None], one: PutIn) -> MadeLine:
    old = before or MadeLine(key[0], key[1], 0, False, 0)
    most = old.at_most
    if one.amount is None:
        most = None if most is None or one.at_most is None else most + one.at_most
    elif most is not None:
        most += one.amount
    return MadeLine(
        key[0], key[1], old.amount + (one.amount or 0), old.unmeasured or one.amount is None, most,
        old.about or one.about, _least(old, one),
    )  # fmt: skip


def _least(old: MadeLine, one: PutIn) -> int | None:
    if old.low is None and one.low is None:
        return None
    before = old.amount if old.low is None else old.low
    return before + ((one.amount or 0) if one.low is None else one.low)


def _less(line: MadeLine, back: int) -> MadeLine:
    most = None if line.at_most is None else max(0, line.at_most - back)
    # What was put back may have been of the part that nobody measured: then nothing is sure of the rest.
    low = None if line.low is None else max(0, line.low - back)
    return replace(line, amount=max(0, line.amount - back), at_most=most, low=low)


def _too_much_back(stuff: Mapping[int, Stuff], material_id: int) -> Finding:
    name = _name(stuff, material_id)
    sentence = f"More {name} was put back than is written down as put in. Look for an addition nobody wrote."
    return warn("more-back-than-in", sentence, about=name)


def _not_measured(stuff: Mapping[int, Stuff], line: MadeLine) -> Finding:
    name = _name(stuff, line.material_id)
    if line.at_most is None or line.basis is None:
        return unknown("not-measured", f"Nobody knows how much {name} went in.", about=name)
    most = show_amount(line.at_most, line.basis)
    return unknown("not-measured", f"Nobody measured how much {name} went in; at most {most}.", about=name)


def _name(stuff: Mapping[int, Stuff], material_id: int) -> str:
    known = stuff.get(material_id)
    return known.name if known else "this material"


def mass_of_line(line: MadeLine, known: Stuff) -> int | None:
    """What a line weighs in whole mg; None where it was not measured or its density is not known."""
    if line.basis is None or line.unmeasured:
        return None
    return mass_of(Part(known.name, line.amount, line.basis, known.meets))


def volume_of_line(line: MadeLine, known: Stuff) -> int | None:
    """What room a line takes in the mix, in whole microlitres; None where that is not known.

    >>> volume_of_line(MadeLine(1, Basis.MASS, 5000), Stuff("umber", fills=Decimal(4)))
    1250
    """
    if line.basis is None or line.unmeasured or line.basis is Basis.PIECES:
        return None
    if line.basis is Basis.VOLUME and known.liquid:
        return line.amount
    mass = mass_of_line(line, known)
    return None if mass is None or not known.fills else floor(Fraction(mass) / Fraction(known.fills))


@dataclass(frozen=True)
class Makes:
    """What the lines give: whole smallest units, basis, and in words where the figure comes from."""

    amount: int
    basis: Basis
    because: str


def what_it_makes(
    lines: Sequence[MadeLine], stuff: Mapping[int, Stuff], made: tuple[int, Basis, str] | None = None
) -> Makes | None:
    """What a batch made: its own yield (amount, basis, "measured" or "estimated") if there is one, else what
    went in by volume, else by mass; None where neither is known.

    What is in the jars is no yield of a batch into which something went unmeasured and of which nobody said
    how much it made: the jars may hold a part of it only.

    >>> oil = {1: Stuff("oil", Decimal("0.9"), Decimal("0.9"), liquid=True)}
    >>> what_it_makes([MadeLine(1, Basis.VOLUME, 500_000)], oil).basis.value
    'volume'
    """
    unmeasured = any(line.unmeasured for line in lines)
    if made is not None and made[0] > 0 and (made[2] or not unmeasured):
        return Makes(made[0], made[1], f"its yield, {made[2]}" if made[2] else "its yield")
    if not lines or unmeasured:
        return None
    for basis, of in ((Basis.VOLUME, volume_of_line), (Basis.MASS, mass_of_line)):
        sizes = [of(line, stuff[line.material_id]) for line in lines]
        whole = sum(size or 0 for size in sizes)
        if None not in sizes and 0 < whole <= LARGEST:
            way = "volume; a little less comes out" if basis is Basis.VOLUME else "weight"
            return Makes(whole, basis, f"what went in, added up by {way}")
    return None


def without_weight(lines: Sequence[MadeLine], stuff: Mapping[int, Stuff]) -> list[str]:
    """The names of what can be added up neither by volume nor by mass: their density is not known.

    >>> without_weight([MadeLine(1, Basis.VOLUME, 5)], {1: Stuff("umber")})
    ['umber']
    """
    sizes = [[of(line, stuff[line.material_id]) for line in lines] for of in (volume_of_line, mass_of_line)]
    short = min(sizes, key=lambda each: sum(size is None for size in each), default=[])
    return [
        stuff[line.material_id].name for line, size in zip(lines, short, strict=True) if size is None
    ]


class Differs(StrEnum):
    """How one material of a batch stands to the plan."""

    AS_PLANNED = "as-planned"
    MORE = "more"
    LESS = "less"
    NOT_PLANNED = "not-planned"
    LEFT_OUT = "left-out"
    TO_SUIT = "to-suit"
    NOT_KNOWN = "not-known"


DIFFERS_WORDS = {
    Differs.AS_PLANNED: "as planned",
    Differs.MORE: "more than planned",
    Differs.LESS: "less than planned",
    Differs.NOT_PLANNED: "not in the plan",
    Differs.LEFT_OUT: "left out",
    Differs.TO_SUIT: "to suit",
    Differs.NOT_KNOWN: "not known",
}


@dataclass(frozen=True)
class Planned:
    """One line of the plan, grown to this batch, in the basis its material is counted in.

    ``high`` None: how much at most is not known, or it is to suit (``to_suit``) without an upper amount.
    """

    material_id: int
    name: str
    low: int | None
    high: int | None
    basis: Basis | None
    to_suit: bool = False


@dataclass(frozen=True)
class Compared:
    """One material, planned and put in. ``difference`` is in smallest units from the nearer end of the plan
    (0 inside a range), ``percent`` of that end to one decimal; None where it cannot be told.
    """

    material_id: int
    name: str
    differs: Differs
    planned: Planned | None
    made: MadeLine | None
    difference: int | None = None
    percent: Decimal | None = None


def compare(plan: Sequence[Planned], made: Sequence[MadeLine], stuff: Mapping[int, Stuff]) -> list[Compared]:
    """The plan against what was made, in the order of the plan, then what was in no plan.

    >>> plan = [Planned(1, "umber", 100, 100, Basis.MASS)]
    >>> done = compare(plan, [MadeLine(1, Basis.MASS, 110)], {})[0]
    >>> done.differs.value, done.difference, done.percent
    ('more', 10, Decimal('10.0'))
    """
    wanted: dict[int, Planned] = {}
    for line in plan:
        before = wanted.get(line.material_id)
        wanted[line.material_id] = line if before is None else _together(before, line)
    rest = list(made)
    found = []
    for planned in wanted.values():
        own = [line for line in rest if line.material_id == planned.material_id]
        rest = [line for line in rest if line.material_id != planned.material_id]
        found.append(_compared(planned, own))
    for extra in rest:
        name = _name(stuff, extra.material_id)
        known = extra.amount if extra.known else None
        found.append(Compared(extra.material_id, name, Differs.NOT_PLANNED, None, extra, known))
    return found


def _together(one: Planned, other: Planned) -> Planned:
    if one.basis is not other.basis and None not in (one.basis, other.basis):
        return Planned(one.material_id, one.name, None, None, None, one.to_suit or other.to_suit)
    low = None if one.low is None or other.low is None else one.low + other.low
    high = None if one.high is None or other.high is None else one.high + other.high
    to_suit = one.to_suit or other.to_suit
    return Planned(one.material_id, one.name, low, high, one.basis or other.basis, to_suit)


def _compared(planned: Planned, made: Sequence[MadeLine]) -> Compared:
    line = made[0] if made else None

    def told(differs: Differs, difference: int | None = None, of: int | None = None) -> Compared:
        percent = _percent(difference, of) if difference is not None and of else None
        return Compared(planned.material_id, planned.name, differs, planned, line, difference, percent)

    if line is None:
        if planned.to_suit:
            return told(Differs.TO_SUIT)
        return told(Differs.LEFT_OUT, None if planned.low is None else -planned.low, planned.low)
    if len(made) > 1 or line.unmeasured or (planned.basis is not None and planned.basis is not line.basis):
        return told(Differs.NOT_KNOWN)
    if planned.high is None:
        return told(Differs.TO_SUIT if planned.to_suit else Differs.NOT_KNOWN)
    low = 0 if planned.low is None else planned.low
    if line.amount > planned.high:
        return told(Differs.MORE, line.amount - planned.high, planned.high)
    if line.amount < low:
        return told(Differs.LESS, line.amount - low, low)
    if planned.to_suit:
        return told(Differs.TO_SUIT)
    return told(Differs.AS_PLANNED, 0, planned.high)


def _percent(difference: int, of: int) -> Decimal:
    exact = Fraction(difference * 100, of)
    figure = Decimal(exact.numerator) / Decimal(exact.denominator)
    return figure.quantize(Decimal("0.1"), rounding=ROUND_HALF_UP)
