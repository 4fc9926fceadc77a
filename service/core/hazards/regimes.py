"""The three hazard laws as parameters: what each classifies, and every limit as a row.

Doors: core/hazards/singly.py, core/hazards/sums.py, core/hazards/acute.py, core/hazards/flammable.py.

Sources: UN GHS Rev. 8 to 10; EU CLP Regulation (EC) 1272/2008 Annex I, consolidation of 1 September 2025;
US 29 CFR
1910.1200 Appendix A as amended on 20 May 2024. ``grade`` of a row: read in the text or a reprint of it, or
memory.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from functools import cached_property
from typing import Final

from service.core.hazards.classes import CORROSIVE, NARCOTIC, RESPIRATORY, Family
from service.core.sources import Provenance

F = Family
_READ, _MEMORY = Provenance.READ, Provenance.MEMORY


class Regime(StrEnum):
    """The hazard law applied."""

    UN_GHS = "un-ghs"
    EU_CLP = "eu-clp"
    US_HCS = "us-hcs"


@dataclass(frozen=True)
class SingleLimit:
    """One ingredient alone classifies the mix: from ``at_least`` per cent, below ``below`` where that is
    said.
    """

    family: Family
    ingredient: tuple[str, ...]
    mix: str
    at_least: Decimal
    paragraph: str
    below: Decimal | None = None
    provenance: Provenance = _MEMORY


@dataclass(frozen=True)
class SumLimit:
    """Ingredients together classify the mix: weight times share, summed over the terms, from ``at_least``
    per cent.

    ``terms``: (family, categories, weight). ``effect`` for STOT SE 3; ``with_m``: each share times its
    M-factor.
    """

    family: Family
    mix: str
    terms: tuple[tuple[Family, frozenset[str], int], ...]
    at_least: Decimal
    paragraph: str
    effect: str = ""
    with_m: bool = False
    provenance: Provenance = _READ

    @cached_property
    def heaviest(self) -> int:
        """The weight of what counts most in it."""
        return max(weight for _, _, weight in self.terms)

    @cached_property
    def words(self) -> str:
        """The sum as it reads, such as "10 x Skin 1/1A/1B/1C + Skin 2"."""
        parts = []
        for family, names, weight in self.terms:
            name = "/".join(sorted(names))
            times = ("" if weight == 1 else f"{weight} x ") + (
                "M x " if self.with_m and name == "1" else ""
            )
            parts.append(f"{times}{family.value} {name}")
        return " + ".join(parts) + (f" {self.effect}" if self.effect else "")


@dataclass(frozen=True)
class Rules:
    """What one law says. Every yes or no and every limit that differs is here and nowhere else."""

    regime: Regime
    title: str
    categories_left_out: frozenset[tuple[Family, str]]
    aquatic: bool
    acute_categories: int
    own_limits_bind: bool
    percent_as_metal: bool
    benzene_note: bool
    supplements: bool
    eye_letters: bool
    effect_letters: bool
    acute_paragraph: str
    flammable_paragraph: str
    ph_paragraph: str
    single: tuple[SingleLimit, ...]
    sums: tuple[SumLimit, ...]


def _d(number: str) -> Decimal:
    return Decimal(number)


def _sensitiser(family: Family, plain: str, paragraph: str) -> list[SingleLimit]:
    return [
        SingleLimit(family, ("1A",), "1A", _d("0.1"), paragraph),
        SingleLimit(family, ("1",), "1", _d(plain), paragraph),
        SingleLimit(family, ("1B",), "1B", _d("1.0"), paragraph),
    ]


def _cmr(chapter: str, carc_2: str, repr_1: str, repr_2: str, repr_read: Provenance) -> list[SingleLimit]:
    at = {F.MUTAGEN: f"{chapter}5", F.CARCINOGEN: f"{chapter}6", F.REPRODUCTIVE: f"{chapter}7"}
    rows = []
    for family, one, two, provenance in (
        (F.MUTAGEN, "0.1", "1.0", _MEMORY),
        (F.CARCINOGEN, "0.1", carc_2, _MEMORY),
        (F.REPRODUCTIVE, repr_1, repr_2, repr_read),
    ):
        for name in ("1A", "1", "1B"):
            rows.append(SingleLimit(family, (name,), name, _d(one), at[family], None, provenance))
        rows.append(SingleLimit(family, ("2",), "2", _d(two), at[family], None, provenance))
    rows.append(SingleLimit(F.LACTATION, ("",), "", _d(repr_1), at[F.REPRODUCTIVE], None, repr_read))
    return rows


def _stot(
    family: Family, one_again: str, two: str, paragraph: str, provenance: Provenance
) -> list[SingleLimit]:
    """``one_again``: the category of 1 to 10 % of a category 1; ``two``: from where a category 2 counts."""
    rows = [
        SingleLimit(family, ("1",), "1", _d("10" if one_again != "1" else "1.0"), paragraph, None, provenance)
    ]
    if one_again == "2":
        rows.append(SingleLimit(family, ("1",), "2", _d("1.0"), paragraph, _d("10"), provenance))
    rows.append(SingleLimit(family, ("2",), "2", _d(two), paragraph, None, provenance))
    return rows


_SKIN_1: Final = (F.SKIN, CORROSIVE)
_EYE_2: Final = frozenset({"2", "2A", "2B"})


def _skin_and_eye(skin: str, eye: str, *, mild: bool) -> list[SumLimit]:
    ten = ((*_SKIN_1, 10), (F.SKIN, frozenset({"2"}), 1))
    rows = [
        SumLimit(F.SKIN, "1", ((*_SKIN_1, 1),), _d("5"), skin),
        SumLimit(F.SKIN, "2", ten, _d("10"), skin),
    ]
    if mild:
        rows.append(SumLimit(F.SKIN, "3", ten, _d("1"), skin))
        rows.append(SumLimit(F.SKIN, "3", (*ten, (F.SKIN, frozenset({"3"}), 1)), _d("10"), skin))
    burns = ((*_SKIN_1, 1), (F.EYE, frozenset({"1"}), 1))
    rows.append(SumLimit(F.EYE, "1", burns, _d("3"), eye, provenance=_MEMORY))
    weighted = (*((family, names, 10) for family, names, _ in burns), (F.EYE, _EYE_2, 1))
    rows.append(SumLimit(F.EYE, "2", weighted, _d("10"), eye, provenance=_MEMORY))
    return rows


def _stot_3(paragraph: str) -> list[SumLimit]:
    term = ((F.STOT_SINGLE, frozenset({"3"}), 1),)
    return [
        SumLimit(F.STOT_SINGLE, "3", term, _d("20"), paragraph, effect=effect)
        for effect in (RESPIRATORY, NARCOTIC)
    ]


def _aspiration(paragraph: str, *, two: bool) -> list[SumLimit]:
    rows = [SumLimit(F.ASPIRATION, "1", ((F.ASPIRATION, frozenset({"1"}), 1),), _d("10"), paragraph)]
    if two:
        both = ((F.ASPIRATION, frozenset({"1", "2"}), 1),)
        rows.append(SumLimit(F.ASPIRATION, "2", both, _d("10"), paragraph, provenance=_MEMORY))
    return rows


def _water(acute: str, chronic: str, *, all_acute: bool) -> list[SumLimit]:
    def sums(family: Family, mix: str, *weights: int) -> SumLimit:
        terms = tuple((family, frozenset({str(n + 1)}), weight) for n, weight in enumerate(weights))
        paragraph = acute if family is F.AQUATIC_ACUTE else chronic
        return SumLimit(family, mix, terms, _d("25"), paragraph, with_m=mix != "4")

    rows = [sums(F.AQUATIC_ACUTE, "1", 1)]
    if all_acute:
        rows += [sums(F.AQUATIC_ACUTE, "2", 10, 1), sums(F.AQUATIC_ACUTE, "3", 100, 10, 1)]
    rows += [
        sums(F.AQUATIC_CHRONIC, "1", 1),
        sums(F.AQUATIC_CHRONIC, "2", 10, 1),
        sums(F.AQUATIC_CHRONIC, "3", 100, 10, 1),
        sums(F.AQUATIC_CHRONIC, "4", 1, 1, 1, 1),
    ]
    return rows


_MILD: Final = frozenset({(F.SKIN, "3"), (F.ASPIRATION, "2"), (F.ACUTE_TOXICITY, "5")})
_ACUTE_WATER: Final = frozenset({(F.AQUATIC_ACUTE, "2"), (F.AQUATIC_ACUTE, "3")})

UN: Final = Rules(
    regime=Regime.UN_GHS,
    title="UN GHS, revision 10",
    categories_left_out=frozenset(),
    aquatic=True,
    acute_categories=5,
    own_limits_bind=False,
    percent_as_metal=False,
    benzene_note=False,
    supplements=False,
    eye_letters=True,
    effect_letters=False,
    acute_paragraph="UN GHS 3.1.3.6",
    flammable_paragraph="UN GHS 2.6",
    ph_paragraph="UN GHS 3.2.3.1.2",
    # Where the UN text leaves a choice of limits, the lower one is taken.
    single=(
        *_sensitiser(F.RESPIRATORY_SENSITISER, "0.1", "UN GHS table 3.4.5"),
        *_sensitiser(F.SKIN_SENSITISER, "0.1", "UN GHS table 3.4.5"),
        *_cmr("UN GHS 3.", "0.1", "0.1", "0.1", _MEMORY),
        *_stot(F.STOT_SINGLE, "1", "1.0", "UN GHS table 3.8.2", _MEMORY),
        *_stot(F.STOT_REPEATED, "1", "1.0", "UN GHS table 3.9.3", _MEMORY),
        SingleLimit(F.OZONE, ("1",), "1", _d("0.1"), "UN GHS table 4.2.1"),
    ),
    sums=(
        *_skin_and_eye("UN GHS table 3.2.3", "UN GHS table 3.3.3", mild=True),
        *_stot_3("UN GHS 3.8.3.4.5"),
        *_aspiration("UN GHS 3.10.3.3", two=True),
        *_water("UN GHS table 4.1.3", "UN GHS table 4.1.4", all_acute=True),
    ),
)

CLP: Final = Rules(
    regime=Regime.EU_CLP,
    title="EU CLP Regulation (EC) No 1272/2008",
    categories_left_out=_MILD | _ACUTE_WATER | {(F.FLAMMABLE_LIQUID, "4")},
    aquatic=True,
    acute_categories=4,
    own_limits_bind=True,
    percent_as_metal=True,
    benzene_note=True,
    supplements=True,
    eye_letters=False,
    effect_letters=True,
    acute_paragraph="CLP Annex I 3.1.3.6",
    flammable_paragraph="CLP Annex I 2.6",
    ph_paragraph="CLP Annex I 3.2.3.1.2",
    single=(
        *_sensitiser(F.RESPIRATORY_SENSITISER, "1.0", "CLP Annex I table 3.4.5"),
        *_sensitiser(F.SKIN_SENSITISER, "1.0", "CLP Annex I table 3.4.5"),
        *_cmr("CLP Annex I 3.", "1.0", "0.3", "3.0", _READ),
        *_stot(F.STOT_SINGLE, "2", "10", "CLP Annex I table 3.8.3", _READ),
        *_stot(F.STOT_REPEATED, "2", "10", "CLP Annex I table 3.9.4", _READ),
        SingleLimit(F.OZONE, ("1",), "1", _d("0.1"), "CLP Annex I table 5.1"),
    ),
    sums=(
        *_skin_and_eye("CLP Annex I table 3.2.3", "CLP Annex I table 3.3.3", mild=False),
        *_stot_3("CLP Annex I 3.8.3.4.5"),
        *_aspiration("CLP Annex I 3.10.3.3", two=False),
        *_water("CLP Annex I table 4.1.1", "CLP Annex I table 4.1.2", all_acute=False),
    ),
)

HCS: Final = Rules(
    regime=Regime.US_HCS,
    title="US 29 CFR 1910.1200, 2024",
    categories_left_out=_MILD,
    aquatic=False,
    acute_categories=4,
    own_limits_bind=False,
    percent_as_metal=False,
    benzene_note=False,
    supplements=False,
    eye_letters=True,
    effect_letters=False,
    acute_paragraph="29 CFR 1910.1200 A.1.3.6",
    flammable_paragraph="29 CFR 1910.1200 B.6",
    ph_paragraph="29 CFR 1910.1200 A.2.4.1",
    single=(
        *_sensitiser(F.RESPIRATORY_SENSITISER, "0.1", "29 CFR 1910.1200 A.4.3"),
        *_sensitiser(F.SKIN_SENSITISER, "0.1", "29 CFR 1910.1200 A.4.3"),
        *_cmr("29 CFR 1910.1200 A.", "0.1", "0.1", "0.1", _MEMORY),
        *_stot(F.STOT_SINGLE, "1", "1.0", "29 CFR 1910.1200 A.8.3", _READ),
        *_stot(F.STOT_REPEATED, "1", "1.0", "29 CFR 1910.1200 A.9.3", _READ),
    ),
    sums=(
        *_skin_and_eye("29 CFR 1910.1200 table A.2.3", "29 CFR 1910.1200 table A.3.3", mild=False),
        *_stot_3("29 CFR 1910.1200 A.8.3.4.4"),
        *_aspiration("29 CFR 1910.1200 A.10.3.3", two=False),
    ),
)

RULES: Final[Mapping[Regime, Rules]] = {Regime.UN_GHS: UN, Regime.EU_CLP: CLP, Regime.US_HCS: HCS}

# An ingredient below its cut-off does not enter a sum, unless it has a lower limit of its own. Aquatic
# category 1: 0.1 % / M.
CUT_OFF_PERCENT: Final = Decimal(1)
AQUATIC_CUT_OFF_PERCENT: Final = Decimal("0.1")
# Acute toxicity, CLP Annex I table 1.1: categories 1 to 3 count from 0.1 %.
ACUTE_CUT_OFF_PERCENT: Final = Decimal("0.1")
ASPIRATION_VISCOSITY: Final = {"1": Decimal("20.5"), "2": Decimal("14")}
PH_ACID: Final = Decimal(2)
PH_BASE: Final = Decimal("11.5")
