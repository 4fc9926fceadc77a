"""What stands in a pot as the rules of never-with look at it, and on which side of a row it stands.

Doors: core/never_with.py, core/judge_together.py, actions/judge_never_with.py.

What is not known counts where it would be the worse. A name is read as the trade writes it: old names,
hyphens and bent apostrophes among them.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from enum import StrEnum
from functools import lru_cache
from typing import Final

from service.core.hazards.classes import Family, Hazard
from service.core.materials import MaterialKind
from service.core.written_numbers import ci_names

_ORGANIC_KINDS: Final = frozenset(
    {
        MaterialKind.COLOUR_IN_OIL,
        MaterialKind.COLOUR_IN_JAPAN,
        MaterialKind.DYE,
        MaterialKind.BINDER,
        MaterialKind.DRIER,
        MaterialKind.SOLVENT,
        MaterialKind.RESIN,
        MaterialKind.GLUE_OR_SIZE,
        MaterialKind.READY_MADE_FINISH,
    }
)
_COLOURS: Final = frozenset(
    {MaterialKind.DRY_PIGMENT, MaterialKind.COLOUR_IN_OIL, MaterialKind.COLOUR_IN_JAPAN}
)
_UNTOLD_KINDS: Final = frozenset(
    {
        MaterialKind.OTHER_CHEMICAL,
        MaterialKind.DRY_PIGMENT,
        MaterialKind.MADE_MIX,
        MaterialKind.SOLVENT,
        MaterialKind.DRIER,
        MaterialKind.READY_MADE_FINISH,
    }
)
"""Kinds under which anything may be filed: what nobody identified of these is asked about."""
_SAID_ONLY: Final = frozenset(MaterialKind) - _UNTOLD_KINDS
"""Of these it is said that nobody knows it, and nothing more: every dye and glue would stop otherwise."""
_SAYS_UNKNOWN: Final = re.compile(
    r"\bunidentified\b|\bunlabell?ed\b|\bmystery\b|\b(no|without a|lost its) label\b|^\W*$|^unknown\b|"
    r"\bunknown (powder|liquid|solvent|stuff|thing|pigment|colou?r|oil|chemical|material|mix|contents?)\b|"
    r"\b(contents?|powder|liquid|solvent|stuff) (not known|unknown)\b"
)
_HOLDS_OIL: Final = re.compile(
    r"\boil\b(?! of vitriol)|\boily\b|varnish|linseed|\btung\b|alkyd|lacquer|paint|resin|\bwax|\bsoap|"
    r"shellac|\b(butyl|cumyl|ketone|benzoyl|lauroyl|organic) "
)
_WATER: Final = re.compile(
    r"^(tap |distilled |rain |hot |cold |warm |boiled |soft |clean |spring |well |de ?ioni[sz]ed |"
    r"demineralised )?water(?= ?([,(]|$))"
)
_GAPS: Final = re.compile(r"[\s_\u00ad\u2010-\u2015\u2212-]+")
_APOSTROPHES: Final = str.maketrans({"\u2019": "'", "\u2018": "'", "\u00b4": "'", "`": "'"})


@lru_cache(maxsize=4096)
def plain_name(name: str) -> str:
    """A name as the patterns of the sides read it: small letters, one space for every gap, hyphen or dash.

    >>> plain_name("Condy\u2019s  Crystals"), plain_name("Spirits-of-Salt")
    ("condy's crystals", 'spirits of salt')
    """
    folded = unicodedata.normalize("NFKC", name).casefold().translate(_APOSTROPHES)
    return _GAPS.sub(" ", folded).strip()


def says_unknown(name: str) -> bool:
    """Whether a name says that nobody knows what the thing is.

    >>> says_unknown("Unknown solvent"), says_unknown("Mystery thinner"), says_unknown("White spirit")
    (True, True, False)
    """
    return _SAYS_UNKNOWN.search(plain_name(name)) is not None


@lru_cache(maxsize=4096)
def _ci_in(name: str) -> frozenset[str]:
    return frozenset(ci_names(name))


class ByFact(StrEnum):
    """A side that a fact of the material decides, not a list of names."""

    OIL = "oil"
    ORGANIC = "organic"
    ANY = "any"
    BUT_WATER = "but-water"


class NoOil(StrEnum):
    """Whether what is on a side is known to be no oil: by a name that is sure, or by a doubtful one too."""

    BY_NAME = "by name"
    YES = "yes"


@dataclass(frozen=True)
class Names:
    """What a thing is called: keys of the published tables, CAS numbers, Colour Index names, plain names.

    Numbers and Colour Index names stand in the plain form of core/written_numbers.py, such as ``pb27``.
    """

    keys: frozenset[str] = frozenset()
    cas: frozenset[str] = frozenset()
    ci: frozenset[str] = frozenset()
    called: tuple[str, ...] = ()

    @property
    def told(self) -> bool:
        """Whether anything but its name says what it is."""
        return bool(self.keys or self.cas or self.ci)


@dataclass(frozen=True)
class MixedThing:
    """One material of a mix as these rules look at it.

    ``parts``: what stands in its composition. ``hazards`` None = not known. ``statements``: H- and EUH-codes.
    ``metals`` None = not known. ``oily``: what counts as self-heating, not known among it. ``kinds_inside``:
    what went into a made mix; none = nobody knows. ``inside``: the materials of a made mix, each by itself.
    ``named``: its name is one the trade or the tables know, or its binder is told; that is an identity, and
    tells no more of what it does. ``oil_guessed``: oily only as nobody said of this chemical that it is not.
    """

    name: str
    kind: MaterialKind
    itself: Names
    parts: Names = field(default_factory=Names)
    hazards: tuple[Hazard, ...] | None = None
    statements: frozenset[str] = frozenset()
    metals: frozenset[str] | None = None
    oily: bool = False
    kinds_inside: frozenset[MaterialKind] = frozenset()
    inside: tuple[MixedThing, ...] = ()
    named: bool = False
    oil_guessed: bool = False

    @property
    def says_unknown(self) -> bool:
        """Its own name says that nobody knows what it is, and nothing else tells it."""
        return not self.itself.told and any(map(says_unknown, self.itself.called))

    @property
    def unidentified(self) -> bool:
        """Nobody said what it is: not even a number, a line of its sheet, or a name that anybody knows."""
        return self.says_unknown or (self.untold and self.kind not in _SAID_ONLY and not self._named_at_all)

    @property
    def _named_at_all(self) -> bool:
        return self.itself.told or self.parts.told or bool(self.parts.called) or self.named

    @property
    def untold(self) -> bool:
        """Nobody can tell what it does: no number, no row, no parts, no classes.

        Of an other chemical a number alone tells nothing where no list gives its classes.
        """
        nothing = not self.itself.told and not self.parts.told and not self.parts.called
        nothing = nothing or self.kind is MaterialKind.OTHER_CHEMICAL
        if self.kind in _SAID_ONLY and self.named:
            return self.says_unknown
        untold = self.kind in _UNTOLD_KINDS | _SAID_ONLY
        return self.says_unknown or (nothing and self.hazards is None and untold)


@dataclass(frozen=True)
class Side:
    """One side of a row. It is met by a fact, or by any of the names, classes, codes, kinds or metals.

    ``only_kinds`` narrows it. ``doubtful``: words that count only where no better name tells what it is; a
    trade name such as "chrome green" is then read as the worse of its meanings. ``of_itself``: what stands in
    the composition does not count. ``no_oil``: what stands here by its own name or number is no oil.
    ``also``: other sides, each of which is enough.
    """

    key: str
    words: str
    names: Names = field(default_factory=Names)
    families: frozenset[Family] = frozenset()
    statements: frozenset[str] = frozenset()
    kinds: frozenset[MaterialKind] = frozenset()
    only_kinds: frozenset[MaterialKind] = frozenset()
    metals: frozenset[str] = frozenset()
    named: re.Pattern[str] | None = None
    doubtful: re.Pattern[str] | None = None
    fact: ByFact | None = None
    of_itself: bool = False
    no_oil: NoOil | None = None
    also: tuple[Side, ...] = ()


def is_on(side: Side, thing: MixedThing) -> bool:
    """Whether a material stands on a side. What is not known counts where it would be the worse.

    >>> water = Side("water", "water", Names(cas=frozenset({"7732-18-5"})))
    >>> is_on(water, MixedThing("tap", MaterialKind.OTHER_CHEMICAL, Names(cas=frozenset({"7732-18-5"}))))
    True
    """
    # In a made mix every material is looked at by itself, by its own name and kind; dry colour that has been
    # ground into it is dry no more.
    if not side.of_itself and side.fact is None and any(is_on(side, one) for one in thing.inside):
        return True
    if side.only_kinds and thing.kind not in side.only_kinds:
        return False
    if side.fact is not None:
        return _by_fact(side.fact, thing)
    if any(is_on(other, thing) for other in side.also):
        return True
    held = (thing.itself,) if side.of_itself else (thing.itself, thing.parts)
    return (
        any(_called(side, names) for names in held)
        or thing.kind in side.kinds
        or bool(side.families & {hazard.family for hazard in thing.hazards or ()})
        or bool(side.statements & thing.statements)
        or bool(side.metals & {metal.casefold() for metal in thing.metals or ()})
        or _by_doubtful_name(side, thing)
    )


def no_false_oil(sides: Iterable[Side], thing: MixedThing) -> MixedThing:
    """The thing without a guess of oil where its own name or number says that it is none: bleach and acids.

    >>> no_false_oil((), MixedThing("x", MaterialKind.OTHER_CHEMICAL, Names(), oily=True)).oily
    True
    """
    called = (*thing.itself.called, *thing.parts.called)
    if not thing.oil_guessed or any(_HOLDS_OIL.search(plain_name(name)) for name in called):
        return thing
    if any(side.no_oil and _surely(side, thing) for side in sides):
        return replace(thing, oily=False, oil_guessed=False)
    return thing


def _surely(side: Side, thing: MixedThing) -> bool:
    return _called(side, thing.itself) or (side.no_oil is NoOil.YES and _by_doubtful_name(side, thing))


def _by_fact(fact: ByFact, thing: MixedThing) -> bool:
    if fact is ByFact.ANY:
        return True
    if fact is ByFact.BUT_WATER:
        return not _is_water(thing)
    oily = thing.oily and thing.kind is not MaterialKind.DRY_PIGMENT
    if fact is ByFact.OIL:
        return oily
    if thing.kind is MaterialKind.MADE_MIX:
        return oily or not thing.kinds_inside or bool(thing.kinds_inside & _ORGANIC_KINDS)
    return oily or (thing.kind in _ORGANIC_KINDS and not _is_water(thing))


def _is_water(thing: MixedThing) -> bool:
    if "water" in thing.itself.keys or thing.itself.cas == frozenset({"7732-18-5"}):
        return True
    own = thing.itself
    return not own.told and not thing.parts.told and any(_WATER.search(plain_name(n)) for n in own.called)


def _called(side: Side, names: Names) -> bool:
    ours = side.names
    if ours.keys & names.keys or ours.cas & names.cas or ours.ci & names.ci:
        return True
    if ours.ci and any(ours.ci & _ci_in(name) for name in names.called):
        return True
    return side.named is not None and any(side.named.search(plain_name(name)) for name in names.called)


def _by_doubtful_name(side: Side, thing: MixedThing) -> bool:
    own = thing.itself
    if side.doubtful is None or own.keys or own.ci or (own.cas and thing.kind not in _COLOURS):
        return False
    return any(side.doubtful.search(plain_name(name)) for name in own.called)
