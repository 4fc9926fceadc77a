"""The second clock of an opened tin of drying oil: how much oil the air that was shut in with it can spend.

Doors: actions/clock_of_air.py, web/api/calc_oxygen.py.

Each time the lid comes on again it shuts in fresh air over the oil; that air's oxygen can dry so much oil and
no more. An estimate: it never makes a date later or a standing milder. It counts neither what gets in while
the lid is off or does not sit tight, nor openings nobody wrote down. No factor for driers, pigments or agents
against skin has a source, so there is none. What is not known is not known: never no air and no opening.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from math import pi
from typing import Final

from service.core.film_ranges import Span
from service.core.findings import Finding, Findings, Verdict, note, unknown, warn
from service.core.headspace import UPTAKE_RANGE, oil_spent_range_g, oxygen_g, skin_um
from service.core.material_facts import ALWAYS_SELF_HEATING, NO_BINDER_BY_KIND, MaterialFacts, has_oil
from service.core.materials import SelfHeating, Unknown

MUCH: Final = 0.10
"""From this share of the oil on a tin moves up the list of what goes first. House measure, no source."""


class Oxidises(StrEnum):
    """Whether what is in a container takes up oxygen as a drying oil does."""

    YES = "yes"
    NO = "no"
    NOT_KNOWN = "not-known"


def oxidises(facts: MaterialFacts, inherited: SelfHeating | None = None) -> Oxidises:
    """By what is known of the oil in it, else by whether its rags heat by themselves.

    ``inherited``: what a decanted or made container took over; it never makes the answer milder.

    >>> from service.core.materials import MaterialKind
    >>> oxidises(MaterialFacts("boiled oil", MaterialKind.BINDER, binder="linseed oil")).value
    'yes'
    >>> oxidises(MaterialFacts("some size", MaterialKind.GLUE_OR_SIZE)).value
    'not-known'
    """
    if inherited in (SelfHeating.YES, SelfHeating.NOT_KNOWN):
        return Oxidises.YES if inherited is SelfHeating.YES else Oxidises.NOT_KNOWN
    if facts.kind in NO_BINDER_BY_KIND:  # turpentine takes up oxygen as well; no such figure is its
        return Oxidises.NO
    oil, flag = has_oil(facts), facts.self_heating
    if oil or facts.kind in ALWAYS_SELF_HEATING or flag is SelfHeating.YES:
        return Oxidises.YES
    # A keeper's written no speaks of oil as much as of rags; a bare no does so only where no oil is told.
    said = flag is SelfHeating.NO and bool(facts.not_self_heating_because.strip())
    if said or (oil is False and flag is SelfHeating.NO):
        return Oxidises.NO
    return Oxidises.NOT_KNOWN


def head_space_ul(capacity_ul: Span | None, left_ul: Span | None) -> Span | None:
    """The air above so much: what it holds less what is in it, least and most; None where either is missing.

    None as well where the book says that it holds more than it can.

    >>> head_space_ul((1000, 1000), (200, 250)), head_space_ul(None, (0, 0)), head_space_ul((9, 9), (10, 10))
    ((750, 800), None, None)
    """
    if capacity_ul is None or left_ul is None or left_ul[0] > capacity_ul[1]:
        return None
    return max(0, capacity_ul[0] - left_ul[1]), capacity_ul[1] - left_ul[0]


@dataclass(frozen=True)
class AirShutIn:
    """One closing of the lid: litres of air, grams of its oxygen and of oil it can spend. None: not known."""

    air_l: Span | None
    oxygen_g: Span | None
    oil_g: Span | None


@dataclass(frozen=True)
class SecondClock:
    """The estimate. ``each`` is in the order of the lifts; spans are least and most.

    ``oxygen_g`` and ``oil_g`` are None unless the air of every opening is known; ``known_oil_g`` adds up
    those that are. ``whole_g``: what is in it, oil or not. ``share``: of the oil in it now, at most 1.
    ``skin_um``: None without the free surface.
    """

    each: tuple[AirShutIn, ...]
    oxygen_g: Span | None
    oil_g: Span | None
    known_oil_g: Span
    oil_now_g: Span | None
    whole_g: Span | None
    share: Span | None
    skin_um: Span | None

    @property
    def openings(self) -> int:
        return len(self.each)

    @property
    def known(self) -> int:
        """How many openings have known air."""
        return sum(1 for one in self.each if one.air_l is not None)

    @property
    def share_left(self) -> Span | None:
        """Of the oil in it, least and most."""
        return None if self.share is None else (1 - self.share[1], 1 - self.share[0])

    @property
    def much(self) -> bool:
        """Whether so much may be spent, by the openings that are known, that it moves up the list."""
        return self.known_share >= MUCH

    @property
    def known_share(self) -> float:
        """Of the oil in it now by the openings that are known, at most 1, as if what is not known were none.

        Where the share of oil is not known, as if all of it were oil: then it is more.
        """
        oil = self.oil_now_g or self.whole_g
        return 0.0 if oil is None or oil[0] <= 0 else min(1.0, self.known_oil_g[1] / oil[0])


def reckon(
    heads_l: Sequence[Span | None],
    *,
    uptake: Span = UPTAKE_RANGE,
    oil_now_g: Span | None = None,
    whole_g: Span | None = None,
    surface_cm2: float | None = None,
    celsius: float = 20.0,
    pascal: float = 101325.0,
) -> SecondClock:
    """The second clock of a tin that was closed over so much air each time.

    >>> once = reckon([(1.0, 1.0)], oil_now_g=(100.0, 100.0))
    >>> [round(end, 2) for end in once.oil_g], [round(end, 3) for end in once.share]
    ([1.74, 2.32], [0.017, 0.023])
    >>> reckon([(1.0, 1.0), None]).oil_g is None
    True
    """
    each = tuple(_shut_in(one, uptake, celsius, pascal) for one in heads_l)
    known = [one for one in each if one.oil_g is not None and one.oxygen_g is not None]
    oxygen = _sum([one.oxygen_g for one in known if one.oxygen_g is not None])
    oil = _sum([one.oil_g for one in known if one.oil_g is not None])
    whole = len(known) == len(each)
    share = None
    if whole and oil_now_g is not None and oil_now_g[0] > 0:
        share = min(1.0, oil[0] / oil_now_g[1]), min(1.0, oil[1] / oil_now_g[0])
    skin = None
    if whole and surface_cm2 is not None:
        skin = skin_um(oil[0], surface_cm2), skin_um(oil[1], surface_cm2)
    return SecondClock(
        each=each,
        oxygen_g=oxygen if whole else None,
        oil_g=oil if whole else None,
        known_oil_g=oil,
        oil_now_g=oil_now_g,
        whole_g=whole_g,
        share=share,
        skin_um=skin,
    )


def _shut_in(head_l: Span | None, uptake: Span, celsius: float, pascal: float) -> AirShutIn:
    if head_l is None:
        return AirShutIn(None, None, None)
    oxygen = oxygen_g(head_l[0], celsius, pascal), oxygen_g(head_l[1], celsius, pascal)
    return AirShutIn(head_l, oxygen, oil_spent_range_g(oxygen, uptake))


def _sum(spans: Sequence[Span]) -> Span:
    return sum(one[0] for one in spans), sum(one[1] for one in spans)


@dataclass(frozen=True)
class NotTold:
    """What the estimate of a container lacks beside the air of single openings."""

    oxidises: Oxidises = Oxidises.YES
    capacity: bool = False
    capacity_said: str = ""
    volume: str = ""
    oil_share: bool = False
    came_open: bool = False
    poured_in: bool = False


def judge_clock(clock: SecondClock, lacks: NotTold, has_drier: Unknown) -> Verdict:
    """What to know beside the figures: what is missing, what has no figure, and that it is an estimate.

    >>> once = reckon([(1.0, 1.0)], oil_now_g=(100.0, 100.0))
    >>> judge_clock(once, NotTold(), Unknown.NO).complete, judge_clock(once, NotTold(capacity=True),
    ...     Unknown.NO).complete
    (True, False)
    """
    found = Findings()
    found.add(*_gaps(clock, lacks))
    if clock.much:
        found.add(
            warn(
                "air-much", "Much of the oil in it may be spent. Use it first, or decant it into a full jar.",
                "a tenth of the oil: house measure, no source",
            )
        )
    found.add(_DRIER[has_drier])
    found.add(
        note("air-estimate", "An estimate: it never makes a date later. Whether it is sound, looking tells.")
    )
    return found.verdict()


_DRIER: Final = {
    Unknown.YES: note(
        "drier-no-figure", "It holds a drier, so it skins sooner; by how much, nobody published."
    ),
    Unknown.NOT_KNOWN: unknown(
        "drier-not-known",
        "Whether it holds a drier is not known: count on a skin sooner. There is no figure for that.",
    ),
    Unknown.NO: note(
        "drier-no-figure",
        "Some pigments (umber, cobalt) hasten it as driers do. There is no figure for that.",
    ),
}


def say_openings(number: int) -> str:
    """
    >>> say_openings(1), say_openings(0), say_openings(12)
    ('1 opening', 'no opening', '12 openings')
    """
    return {0: "no opening", 1: "1 opening"}.get(number, f"{number} openings")


def _gaps(clock: SecondClock, lacks: NotTold) -> list[Finding]:
    found = []
    if lacks.oxidises is Oxidises.NOT_KNOWN:
        words = "Whether there is a drying oil in it is not known: counted as yes."
        found.append(unknown("oil-not-known", words))
    if lacks.capacity:
        words = "What it holds when full is not written down, so the air in it is not known."
        if lacks.capacity_said:
            words = f"What it holds when full is written as {lacks.capacity_said}, which is no volume, so "
            words += "the air in it is not known. Write it like 500 ml."
        found.append(unknown("capacity-not-known", words))
    if lacks.volume:
        found.append(unknown("volume-not-known", lacks.volume))
    if clock.known < clock.openings and not lacks.capacity and not lacks.volume:
        some = clock.openings - clock.known
        words = (
            f"The air of {say_openings(some)} is not known: how much was in it then is not, or the book has "
            "more in it than it holds."
        )
        found.append(unknown("air-not-known", words))
    if not clock.each:
        found.append(unknown("openings-not-known", "It is open and no opening stands in the book."))
    if lacks.oil_share:
        words = "How much oil is in it now is not known, so no share is given."
        found.append(unknown("oil-share-not-known", words))
    if lacks.came_open:
        found.append(unknown("came-open", "It came open. How often it was opened before is not known."))
    if lacks.poured_in:
        found.append(
            unknown("poured-in", "What was poured in had been under air before. That is not counted here.")
        )
    return found


def circle_cm2(across_mm: float) -> float:
    """The free surface in a round tin of this inside width.

    >>> round(circle_cm2(108), 1)
    91.6
    """
    return pi / 4 * (across_mm / 10) ** 2


JARS_ML: Final = (
    30, 50, 100, 125, 200, 250, 375, 500, 750, 1000, 1500, 2000, 2500, 3000, 4000, 5000, 10000, 20000
)  # fmt: skip
"""Round sizes in which jars and tins are sold."""
FULL_JAR: Final = 0.9
"""How full a jar is poured at most: what grows warm needs room. Common practice, no source."""
WORTH_IT: Final = 0.2
"""A smaller jar is worth the trouble from this share of the tin on. House measure."""


@dataclass(frozen=True)
class SmallerJar:
    """A jar that takes all of it, and what it saves each time the lid comes on again."""

    ml: int
    air_l: float
    oxygen_g: float
    oil_g: float


def smaller_jar(capacity_ul: float | None, left_ul: Span | None) -> SmallerJar | None:
    """The smallest usual jar that takes what is left with room above it.

    None where it saves little or something is not known.

    >>> jar = smaller_jar(1_000_000, (180_000, 200_000))
    >>> jar.ml, jar.air_l, round(jar.oxygen_g, 3), round(jar.oil_g, 2)
    (250, 0.75, 0.209, 1.74)
    """
    if capacity_ul is None or left_ul is None or not 0 < left_ul[1] <= capacity_ul:
        return None
    fits = next((ml for ml in JARS_ML if ml * 1000 * FULL_JAR >= left_ul[1]), None)
    if fits is None or capacity_ul - fits * 1000 < WORTH_IT * capacity_ul:
        return None
    saved = (capacity_ul - fits * 1000) / 1e6
    oxygen = oxygen_g(saved)
    return SmallerJar(fits, saved, oxygen, oil_spent_range_g((oxygen, oxygen))[1])


@dataclass(frozen=True)
class Practice:
    """One thing the trade does, with its source and grade."""

    words: str
    source: str
    grade: str


PRACTICES: Final = (
    Practice("Press film or waxed paper onto the surface before the lid goes on.", "woodworking pages", "W"),
    Practice("Fill the room above it with clean glass marbles.", "woodworking pages, common practice", "W"),
    Practice("Wipe threads and rim, so that the lid sits tight.", "a maker's help page at a retailer", "V"),
    Practice("A skin is lifted or cut out whole, and the rest strained. Never stir it in.",
             "old practice of letterers; house rule", "W"),
)  # fmt: skip
