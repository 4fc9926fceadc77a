"""Classes that ingredients give the mix together: skin, eyes, airways and drowsiness, aspiration, water.

Doors: core/hazards/classify.py.

Every row of a law is the same sum: shares divided by the limit that holds for each, from 1 upward. Without
limits of the
substances' own that is the published weighted sum against the published limit, and is shown so.
Sources: CLP Annex I 1.1.3.3 and tables 3.2.3, 3.3.3, 4.1.1, 4.1.2; ECHA guidance on CLP criteria 1.6.3.3.3.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal

from service.core.hazards.classes import AQUATIC, CORROSIVE, Family, Hazard
from service.core.hazards.lines import Line
from service.core.hazards.mix import HUNDRED
from service.core.hazards.reasons import NEARLY, Because, Reached
from service.core.hazards.regimes import AQUATIC_CUT_OFF_PERCENT, CUT_OFF_PERCENT, Rules, SumLimit

_ONE = Decimal(1)
_BURNS = (Family.SKIN, Family.EYE)
_EYE_2 = frozenset({"2", "2A", "2B"})


@dataclass(frozen=True)
class Missed:
    """What would be reached if small shares counted: the comparison, and the lines that were dropped."""

    because: Because
    dropped: tuple[Line, ...]


@dataclass(frozen=True)
class Summed:
    """A row's sum: whether it is reached, how it reads, and the lines that count in it.

    ``missed``: the sum with those below their cut-off, where only it would reach the limit.
    """

    row: SumLimit
    reached: bool
    because: Because
    lines: tuple[Line, ...]
    missed: Missed | None = None

    def as_reached(self, hazard: Hazard) -> Reached:
        return Reached(hazard, self.because)


def add_up(lines: Sequence[Line], row: SumLimit, rules: Rules) -> Summed | None:
    """The sum of one row; ``None`` when no ingredient counts in it, and none that is dropped would matter."""
    falls = [(line, weight) for line in lines if (weight := _weight(line, row))]
    if not falls:
        return None
    counted = [one for one in falls if _relevant(one[0], row)]
    if len(counted) < len(falls) and _severe_together(falls, row):
        counted = [one for one in falls if one[1] == row.heaviest or _relevant(one[0], row)]
    because = _compare(counted, row, rules)
    missed = None
    if len(counted) < len(falls) and not because.reached:
        with_all = _compare(falls, row, rules)
        if with_all.reached:
            dropped = tuple(line for line, _ in falls if not any(line is held for held, _ in counted))
            rule = f"{with_all.rule}; with what is below its cut-off, which does not count"
            missed = Missed(replace(with_all, rule=rule, reached=False), dropped)
    if not counted and missed is None:
        return None
    return Summed(row, because.reached, because, tuple(line for line, _ in counted), missed)


def _severe_together(falls: Sequence[tuple[Line, int]], row: SumLimit) -> bool:
    """Whether what burns skin or eye makes up the cut-off together: then each counts, however little it is.

    CLP Annex I 3.2.3.3.1, 3.3.3.3.1: an ingredient below 1 % counts too where it may still be relevant, such
    as a corrosive one.
    """
    if row.family not in _BURNS:
        return False
    severe = (line.counted for line, weight in falls if weight == row.heaviest)
    return sum(severe, Decimal(0)) >= CUT_OFF_PERCENT


def _compare(falls: Sequence[tuple[Line, int]], row: SumLimit, rules: Rules) -> Because:
    """The weighted shares of these lines against the limit of a row."""
    ratio = Decimal(0)
    weighted = Decimal(0)
    shares = Decimal(0)
    own_used = False
    for line, weight in falls:
        share = line.counted * _m_factor(line, row)
        generic = row.at_least / weight
        limit = _limit(line, row, generic, rules)
        own_used = own_used or limit != generic
        # A limit of the substance's own may begin at 0: then any share reaches it.
        ratio += share / limit if limit else _ONE
        weighted += share * weight
        shares += line.counted
    reached = weighted >= row.at_least if not own_used else ratio >= _ONE - NEARLY
    rule = "shares over their own limits together" if own_used else row.words
    if shares > HUNDRED:
        rule += "; each at the upper end of what is told, so together more than the whole"
    return Because(
        rule,
        row.paragraph,
        ratio if own_used else weighted,
        _ONE if own_used else row.at_least,
        tuple(line.name for line, _ in falls),
        "of the limit" if own_used else "%",
        row.provenance,
        reached,
    )


def _weight(line: Line, row: SumLimit) -> int:
    """The largest weight of a term that the substance falls under: each substance counts once in a row."""
    best = 0
    for family, names, weight in row.terms:
        for hazard in line.classes.get(family, ()):
            if hazard.category in names and (not row.effect or hazard.effect == row.effect):
                best = max(best, weight)
    return best


def _m_factor(line: Line, row: SumLimit) -> Decimal:
    if not row.with_m or not any(h.category == "1" for h in line.classes.get(row.family, ())):
        return _ONE
    one = line.ingredient
    own, other = (
        (one.m_acute, one.m_chronic) if row.family is Family.AQUATIC_ACUTE else (one.m_chronic, one.m_acute)
    )
    return own or other or _ONE


def _relevant(line: Line, row: SumLimit) -> bool:
    if row.family in AQUATIC:
        hazards = line.classes.get(row.family, ())
        if any(hazard.category == "1" for hazard in hazards):
            factor = _m_factor(line, row) if row.with_m else _any_m(line, row.family)
            return line.counted >= AQUATIC_CUT_OFF_PERCENT / factor
        return line.counted >= CUT_OFF_PERCENT
    if line.counted >= CUT_OFF_PERCENT:
        return True
    own = [limit for family, _, _ in row.terms for limit in line.limits.get(family, ())]
    return any(limit.at_least <= CUT_OFF_PERCENT for limit in own)


def _any_m(line: Line, family: Family) -> Decimal:
    one = line.ingredient
    return (one.m_acute if family is Family.AQUATIC_ACUTE else one.m_chronic or one.m_acute) or _ONE


def _limit(line: Line, row: SumLimit, generic: Decimal, rules: Rules) -> Decimal:
    own = _own_limit(line, row, generic)
    if own is None:
        return generic
    return own if rules.own_limits_bind else min(own, generic)


def _own_limit(line: Line, row: SumLimit, generic: Decimal) -> Decimal | None:
    """The substance's own limit for the result of a row, in per cent; ``None``: the law's general one
    holds.
    """
    if row.family is Family.SKIN:
        wanted = CORROSIVE if row.mix == "1" else frozenset({row.mix})
        return _lowest(line, Family.SKIN, wanted)
    if row.family is Family.EYE:
        if row.mix != "1":
            return _lowest(line, Family.EYE, _EYE_2)
        damage = _lowest(line, Family.EYE, frozenset({"1"}))
        if damage is not None:
            return damage
        burns = _lowest(line, Family.SKIN, CORROSIVE)
        # Who set a limit for eye irritation looked at the eye: damage then begins where the burns begin.
        # Without one
        # the lower of the two limits stands.
        if burns is None or Family.EYE in line.limits:
            return burns
        return min(burns, generic)
    if row.family is Family.STOT_SINGLE:
        found = [
            limit.at_least
            for limit in line.limits.get(row.family, ())
            if limit.hazard.category == "3" and limit.hazard.effect == row.effect
        ]
        return min(found, default=None)
    return _lowest(line, row.family, frozenset({row.mix}))


def looser_limit(line: Line, row: SumLimit) -> tuple[Decimal, Decimal] | None:
    """A limit of the substance's own above the general one of a row, and that one; None where it is not."""
    weight = _weight(line, row)
    if not weight:
        return None
    generic = row.at_least / weight
    own = _own_limit(line, row, generic)
    return (own, generic) if own is not None and own > generic else None


def _lowest(line: Line, family: Family, categories: Iterable[str]) -> Decimal | None:
    found = [limit.at_least for limit in line.limits.get(family, ()) if limit.hazard.category in categories]
    return min(found, default=None)


def skin_letter(summed: Summed, rules: Rules) -> str:
    """The letter of a corrosive mix (CLP Annex I table 3.2.3, note): 1A, 1B, 1C by their own sums, else
    plain 1.

    Plain 1 as soon as one counted ingredient has no letter.
    """
    lines = summed.lines
    if any(_letters(line) is None for line in lines):
        return "1"
    for letter in ("1A", "1B", "1C"):
        ratio = Decimal(0)
        for line in lines:
            limit = _letter_limit(line, letter, summed.row.at_least, rules)
            if limit is not None:
                ratio += line.counted / limit
        if ratio >= _ONE - NEARLY:
            return letter
    return "1"


def _letters(line: Line) -> str | None:
    if _lowest(line, Family.SKIN, ("1A", "1B", "1C")) is not None:
        return "own"
    burns = [h.category for h in line.classes.get(Family.SKIN, ()) if h.category in CORROSIVE]
    return None if "1" in burns else min(burns, default=None)


def _letter_limit(line: Line, letter: str, generic: Decimal, rules: Rules) -> Decimal | None:
    up_to = [name for name in ("1A", "1B", "1C") if name <= letter]
    own = _lowest(line, Family.SKIN, up_to)
    by_class = generic if any(h.category in up_to for h in line.classes.get(Family.SKIN, ())) else None
    if rules.own_limits_bind and any(
        limit.hazard.category in CORROSIVE for limit in line.limits.get(Family.SKIN, ())
    ):
        return own
    return min((limit for limit in (own, by_class) if limit is not None), default=None)
