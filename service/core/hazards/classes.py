"""Hazard classes and categories: statement code, signal word, pictogram, and which category is the more
severe.

Doors: core/hazards/read_class.py, core/hazards/classify.py, core/hazards/label.py.

Source: UN GHS Rev. 10 annex 1 and EU CLP Annex I, as held in ``seed_data/knowledge/hazard_statements.csv``,
which a
test holds against this table.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from functools import cached_property
from typing import Final


class Family(StrEnum):
    """A hazard class, by the abbreviation of CLP Annex VI table 1.1; skin and eye have two each."""

    EXPLOSIVE = "Expl."
    DESENSITISED = "Desen. Expl."
    FLAMMABLE_GAS = "Flam. Gas"
    AEROSOL = "Aerosol"
    OXIDISING_GAS = "Ox. Gas"
    GAS_UNDER_PRESSURE = "Press. Gas"
    FLAMMABLE_LIQUID = "Flam. Liq."
    FLAMMABLE_SOLID = "Flam. Sol."
    SELF_REACTIVE = "Self-react."
    PYROPHORIC_LIQUID = "Pyr. Liq."
    PYROPHORIC_SOLID = "Pyr. Sol."
    SELF_HEATING = "Self-heat."
    WATER_REACTIVE = "Water-react."
    OXIDISING_LIQUID = "Ox. Liq."
    OXIDISING_SOLID = "Ox. Sol."
    ORGANIC_PEROXIDE = "Org. Perox."
    CORROSIVE_TO_METALS = "Met. Corr."
    ACUTE_TOXICITY = "Acute Tox."
    SKIN = "Skin"
    EYE = "Eye"
    RESPIRATORY_SENSITISER = "Resp. Sens."
    SKIN_SENSITISER = "Skin Sens."
    MUTAGEN = "Muta."
    CARCINOGEN = "Carc."
    REPRODUCTIVE = "Repr."
    LACTATION = "Lact."
    STOT_SINGLE = "STOT SE"
    STOT_REPEATED = "STOT RE"
    ASPIRATION = "Asp. Tox."
    AQUATIC_ACUTE = "Aquatic Acute"
    AQUATIC_CHRONIC = "Aquatic Chronic"
    OZONE = "Ozone"


PHYSICAL: Final = frozenset(list(Family)[: list(Family).index(Family.ACUTE_TOXICITY)])
AQUATIC: Final = frozenset({Family.AQUATIC_ACUTE, Family.AQUATIC_CHRONIC})


class Route(StrEnum):
    """A way into the body; ``INHALATION`` when the sheet does not say in which form it is breathed."""

    ORAL = "oral"
    DERMAL = "dermal"
    GAS = "gas"
    VAPOUR = "vapour"
    DUST_MIST = "dust_mist"
    INHALATION = "inhalation"


INHALED: Final = frozenset({Route.GAS, Route.VAPOUR, Route.DUST_MIST, Route.INHALATION})


class Signal(StrEnum):
    """The signal word of a label."""

    DANGER = "Danger"
    WARNING = "Warning"


RESPIRATORY: Final = "H335"
NARCOTIC: Final = "H336"

# One line a family: category, statement, signal word (D, W or -), pictogram; the most severe first. A
# category that
# starts with = is as severe as the one before it: "1" with no letter may be either.
_FLAME_D_W: Final = "1 H271 D GHS03 | 2 H272 D GHS03 | 3 H272 W GHS03"
_PEROXIDE: Final = (
    "A H240 D GHS01 | B H241 D GHS01+GHS02 | C H242 D GHS02 | D H242 D GHS02 | E H242 W GHS02 | "
    "F H242 W GHS02 | G - - -"
)
_SENSITISER: Final = "1A {0} {1} {2} | =1 {0} {1} {2} | 1B {0} {1} {2}"
_TABLE: Final[dict[Family, str]] = {
    Family.EXPLOSIVE: "unstable H200 D GHS01 | 1.1 H201 D GHS01 | 1.2 H202 D GHS01 | 1.3 H203 D GHS01 | "
    "1.4 H204 W GHS01 | 1.5 H205 D - | 1.6 - - -",
    Family.DESENSITISED: "1 H206 D GHS02 | 2 H207 D GHS02 | 3 H207 W GHS02 | 4 H208 W GHS02",
    Family.FLAMMABLE_GAS: "1A H220 D GHS02 | =1 H220 D GHS02 | 1B H221 D GHS02 | 2 H221 W -",
    Family.AEROSOL: "1 H222 D GHS02 | 2 H223 W GHS02 | 3 H229 W -",
    Family.OXIDISING_GAS: "1 H270 D GHS03",
    Family.GAS_UNDER_PRESSURE: " H280 W GHS04 | refrigerated H281 W GHS04",
    Family.FLAMMABLE_LIQUID: "1 H224 D GHS02 | 2 H225 D GHS02 | 3 H226 W GHS02 | 4 H227 W -",
    Family.FLAMMABLE_SOLID: "1 H228 D GHS02 | 2 H228 W GHS02",
    Family.SELF_REACTIVE: _PEROXIDE,
    Family.PYROPHORIC_LIQUID: "1 H250 D GHS02",
    Family.PYROPHORIC_SOLID: "1 H250 D GHS02",
    Family.SELF_HEATING: "1 H251 D GHS02 | 2 H252 W GHS02",
    Family.WATER_REACTIVE: "1 H260 D GHS02 | 2 H261 D GHS02 | 3 H261 W GHS02",
    Family.OXIDISING_LIQUID: _FLAME_D_W,
    Family.OXIDISING_SOLID: _FLAME_D_W,
    Family.ORGANIC_PEROXIDE: _PEROXIDE,
    Family.CORROSIVE_TO_METALS: "1 H290 W GHS05",
    Family.ACUTE_TOXICITY: "1 H3{0}0 D GHS06 | 2 H3{0}0 D GHS06 | 3 H3{0}1 D GHS06 | "
    "4 H3{0}2 W GHS07 | 5 H3{0}3 W -",
    Family.SKIN: "1A H314 D GHS05 | =1 H314 D GHS05 | 1B H314 D GHS05 | 1C H314 D GHS05 | "
    "2 H315 W GHS07 | 3 H316 W -",
    Family.EYE: "1 H318 D GHS05 | 2A H319 W GHS07 | =2 H319 W GHS07 | 2B H320 W -",
    Family.RESPIRATORY_SENSITISER: _SENSITISER.format("H334", "D", "GHS08"),
    Family.SKIN_SENSITISER: _SENSITISER.format("H317", "W", "GHS07"),
    Family.MUTAGEN: "1A H340 D GHS08 | =1 H340 D GHS08 | 1B H340 D GHS08 | 2 H341 W GHS08",
    Family.CARCINOGEN: "1A H350 D GHS08 | =1 H350 D GHS08 | 1B H350 D GHS08 | 2 H351 W GHS08",
    Family.REPRODUCTIVE: "1A H360 D GHS08 | =1 H360 D GHS08 | 1B H360 D GHS08 | 2 H361 W GHS08",
    Family.LACTATION: " H362 - -",
    Family.STOT_SINGLE: "1 H370 D GHS08 | 2 H371 W GHS08 | 3 H335 W GHS07",
    Family.STOT_REPEATED: "1 H372 D GHS08 | 2 H373 W GHS08",
    Family.ASPIRATION: "1 H304 D GHS08 | 2 H305 W GHS08",
    Family.AQUATIC_ACUTE: "1 H400 W GHS09 | 2 H401 - - | 3 H402 - -",
    Family.AQUATIC_CHRONIC: "1 H410 W GHS09 | 2 H411 - GHS09 | 3 H412 - - | 4 H413 - -",
    Family.OZONE: "1 H420 W GHS07",
}
# The middle figure of an acute toxicity statement is its route's.
_ROUTE_FIGURE: Final = {Route.ORAL: "0", Route.DERMAL: "1"} | dict.fromkeys(INHALED, "3")
_SIGNALS: Final = {"D": Signal.DANGER, "W": Signal.WARNING, "-": None}


@dataclass(frozen=True)
class Category:
    """One category of a family. ``rank``: 0 is the most severe; equal ranks are equally severe."""

    family: Family
    name: str
    code: str
    signal: Signal | None
    pictograms: tuple[str, ...]
    rank: int


def _read_table() -> dict[tuple[Family, str], Category]:
    read: dict[tuple[Family, str], Category] = {}
    for family, line in _TABLE.items():
        rank = -1
        for written in line.split("|"):
            *name, code, signal, pictogram = written.split()
            category = " ".join(name)
            rank += not category.startswith("=")
            category = category.removeprefix("=")
            pictures = () if pictogram == "-" else tuple(pictogram.split("+"))
            read[family, category] = Category(
                family, category, "" if code == "-" else code, _SIGNALS[signal], pictures, rank
            )
    return read


CATEGORIES: Final = _read_table()


@dataclass(frozen=True)
class Hazard:
    """One hazard class with its category, and what goes with it.

    Args:
        category: as in ``CATEGORIES``; empty for classes that have none (Lact., Press. Gas).
        route: for acute toxicity; elsewhere the only route that causes it, where a sheet says so.
        effect: H335 or H336 for STOT SE 3; the letters after H350, H360, H361.
        organs: for STOT 1 and 2, as the sheet names them.

    >>> Hazard(Family.SKIN, "1B").text, Hazard(Family.ACUTE_TOXICITY, "4", Route.ORAL).code
    ('Skin Corr. 1B H314', 'H302')
    """

    family: Family
    category: str
    route: Route | None = None
    effect: str = ""
    organs: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        if (self.family, self.category) not in CATEGORIES:
            raise ValueError(f"{self.family.value} has no category {self.category or 'without a number'}")

    @property
    def facts(self) -> Category:
        return CATEGORIES[self.family, self.category]

    @property
    def rank(self) -> int:
        """0 is the most severe category of its family."""
        return CATEGORIES[self.family, self.category].rank

    @cached_property
    def code(self) -> str:
        """The H-code; empty for a category that has none."""
        code = self.facts.code
        if self.family is Family.ACUTE_TOXICITY:
            return code.format(_ROUTE_FIGURE[self.route or Route.ORAL])
        if self.family is Family.STOT_SINGLE and self.category == "3":
            return self.effect or RESPIRATORY
        return code + self.effect

    @property
    def signal(self) -> Signal | None:
        return self.facts.signal

    @property
    def pictograms(self) -> tuple[str, ...]:
        return self.facts.pictograms

    @property
    def abbreviation(self) -> str:
        """``Skin Corr. 1A``, ``Eye Irrit. 2``: class and category as a sheet writes them."""
        word = self.family.value
        if self.family is Family.SKIN:
            word += " Corr." if self.category.startswith("1") else " Irrit."
        elif self.family is Family.EYE:
            word += " Dam." if self.category == "1" else " Irrit."
        return f"{word} {self.category}".strip()

    @property
    def text(self) -> str:
        """The whole line: class, category, route, code, organs."""
        where = f" {self.route.value}" if self.route and self.family is Family.ACUTE_TOXICITY else ""
        organs = f" ({', '.join(self.organs)})" if self.organs else ""
        return f"{self.abbreviation}{where} {self.code}".rstrip() + organs

    @property
    def kind(self) -> tuple[Family, str]:
        """What can be compared: the family, apart by way into the body and by effect of STOT SE 3."""
        if self.family is Family.ACUTE_TOXICITY:
            return self.family, _ROUTE_FIGURE[self.route or Route.ORAL]
        if self.family is Family.STOT_SINGLE:
            return self.family, self.code if self.category == "3" else "organ"
        return self.family, ""


CORROSIVE: Final = frozenset({"1", "1A", "1B", "1C"})


def most_severe(hazards: list[Hazard]) -> list[Hazard]:
    """Of each kind the most severe, in the order the kinds came; organs and effects of equals are joined.

    >>> [h.text for h in most_severe([Hazard(Family.SKIN, "2"), Hazard(Family.SKIN, "1B")])]
    ['Skin Corr. 1B H314']
    """
    best: dict[tuple[Family, str], Hazard] = {}
    for hazard in hazards:
        held = best.get(hazard.kind)
        if held is None or hazard.rank < held.rank:
            best[hazard.kind] = hazard
        elif hazard.rank == held.rank and hazard != held:
            best[hazard.kind] = _joined(held, hazard)
    return list(best.values())


def _joined(one: Hazard, other: Hazard) -> Hazard:
    organs = tuple(dict.fromkeys((*one.organs, *other.organs)))
    effect = one.effect
    if one.family in (Family.REPRODUCTIVE, Family.CARCINOGEN):
        effect = join_effects(one.effect, other.effect)
    return Hazard(one.family, one.category, one.route, effect, organs)


def join_effects(one: str, other: str) -> str:
    """The letters after H350, H360 or H361 of two together. None at all means any: it is the wider one.

    A capital letter (known) beats the small one (suspected) of the same effect.

    >>> join_effects("F", "d"), join_effects("Df", "FD"), join_effects("i", "")
    ('Fd', 'FD', '')
    """
    if one == other:
        return one
    if not one or not other or "i" in one + other:
        return ""
    letters = set(one + other)
    known = [mark for mark in "FD" if mark in letters]
    suspected = [mark for mark in "fd" if mark in letters and mark.upper() not in letters]
    return "".join([*known, *suspected])
