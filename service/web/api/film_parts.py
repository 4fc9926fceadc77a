"""The things of a film question as JSON: dry pigments, pastes, binders, solvents.

What is given beats the tables; by ``name`` a figure that is not given is taken from the published tables, if
the name means one material only. What neither holds is not known.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from decimal import Decimal
from typing import Annotated, Any, Final

from pydantic import Field, field_validator

from service.core.film import FilmPart, solids_density
from service.core.film_ranges import Span
from service.core.findings import Finding, Invalid, note, unknown
from service.core.solvents.properties import DataUsed
from service.records.film_facts import FilmFacts, Held, film_facts_by_name
from service.web.api.film_figures import ABSORPTION, DENSITY, MOST_G, Percent, given, span_of
from service.web.api.hazard_mix import Span as SpanIn
from service.web.api.hazard_mix import span_or_sentence
from service.web.api_model import ApiModel

MAY_BE_RANGES: Final = (
    "mass_g", "density_g_ml", "oil_absorption_g_100g", "pigment_density_g_ml", "volatile_density_g_ml",
    "solids_density_g_ml", "oil_density_g_ml",
)  # fmt: skip
_SUM_OFF: Final = 0.5
"""Shares of a paste as printed may be off by so many per cent."""


class _PartIn(ApiModel):
    name: Annotated[str, Field(max_length=120, description="as in the published tables, or any name")] = ""
    mass_g: SpanIn

    @field_validator(*MAY_BE_RANGES, mode="before", check_fields=False)
    @classmethod
    def _range(cls, value: Any) -> Any:
        """Before the plain guard of numbers, whose sentence knows nothing of ranges."""
        return value if value is None else span_or_sentence(value)


class PigmentIn(_PartIn):
    """A dry pigment; its density is that of the grains."""

    density_g_ml: SpanIn | None = None
    oil_absorption_g_100g: SpanIn | None = None


class PasteIn(_PartIn):
    """A colour in oil. Shares by mass; two of the three are enough."""

    pigment_percent: Percent | None = None
    oil_percent: Percent | None = None
    volatile_percent: Percent | None = None
    pigment_density_g_ml: SpanIn | None = None
    oil_density_g_ml: Annotated[SpanIn | None, Field(description="missing: that of the question")] = None
    volatile_density_g_ml: SpanIn | None = None
    density_g_ml: Annotated[SpanIn | None, Field(description="of the paste as it comes")] = None
    oil_absorption_g_100g: SpanIn | None = None


class BinderIn(_PartIn):
    """An oil, varnish, resin or glue as it comes; ``non_volatile_percent`` missing: not known."""

    density_g_ml: SpanIn | None = None
    non_volatile_percent: Percent | None = None
    solids_density_g_ml: Annotated[
        SpanIn | None, Field(description="of what stays; missing: from as heavy as the whole to 1.65")
    ] = None


class SolventIn(_PartIn):
    """What evaporates: thinner, alcohol, water."""

    density_g_ml: SpanIn | None = None


@dataclass
class ReadPart:
    """A thing as the rules read it, what was missing, and the figures it rests on."""

    name: str
    part: FilmPart
    findings: list[Finding] = field(default_factory=list)
    used: list[DataUsed] = field(default_factory=list)


class _Reader:
    """One thing while it is read: the given figure first, then the published one."""

    def __init__(self, asked: _PartIn, what: str, number: int, table: str) -> None:
        self.asked = asked
        self.name = asked.name.strip() or f"{what} {number}"
        held = film_facts_by_name(asked.name)
        self.held: FilmFacts | None = held if held is not None and held.table == table else None
        self.findings: list[Finding] = []
        self.used: list[DataUsed] = []
        mass = span_of(asked.mass_g, "mass_g", (0, MOST_G), about=self.name)
        assert mass is not None
        self.mass = mass

    def figure(self, field: str, words: str, unit: str, within: Span, published: str = "") -> Span | None:
        """The field as sent, else as published; kept as used."""
        held: Held | None = getattr(self.held, published) if self.held and published else None
        span = span_of(getattr(self.asked, field, None), field, within, about=self.name)
        if span is not None:
            self.used += given(self.name)(words, span, unit)
        elif held is not None:
            span = held.span
            low, high = span
            value: float | str = low if low == high else f"{low:g} to {high:g}"
            self.used.append(DataUsed(self.name, words, value, held.unit, held.source, held.grade))
        return span

    def share(self, value: Decimal | None, words: str) -> Span | None:
        if value is None:
            return None
        span = float(value), float(value)
        self.used += given(self.name)(words, span, "%")
        return span

    def lacks(self, code: str, sentence: str) -> None:
        self.findings.append(unknown(code, f"{self.name}: {sentence}", about=self.name))

    def made(self, part: FilmPart) -> ReadPart:
        return ReadPart(self.name, part, self.findings, self.used)


def read_pigment(asked: PigmentIn, number: int) -> ReadPart:
    """A dry pigment. Raises Invalid, naming the field."""
    reader = _Reader(asked, "pigment", number, "pigments")
    density = reader.figure("density_g_ml", "density", "g/ml", DENSITY, "density")
    return reader.made(
        FilmPart(
            reader.name,
            reader.mass,
            pigment=(100, 100),
            pigment_density=_grains(reader, density),
            oil_absorption=_absorbs(reader),
        )
    )


def read_paste(asked: PasteIn, number: int, oil_density: float) -> ReadPart:
    """A colour in oil. Raises Invalid, naming the field, also for shares that make no whole."""
    reader = _Reader(asked, "paste", number, "pigments")
    density = reader.figure("pigment_density_g_ml", "pigment density", "g/ml", DENSITY, "density")
    pigment, oil, gone = _paste_shares(reader, asked)
    oil_weighs = reader.figure("oil_density_g_ml", "density of the oil", "g/ml", DENSITY)
    whole = reader.figure("density_g_ml", "density", "g/ml", DENSITY)
    volatile = reader.figure("volatile_density_g_ml", "density of the volatile", "g/ml", DENSITY)
    if gone[1] > 0 and whole is None and volatile is None:
        words = (
            "how dense what evaporates of it is, is not known. Send volatile_density_g_ml or density_g_ml."
        )
        reader.lacks("density-not-known", words)
    return reader.made(
        FilmPart(
            reader.name,
            reader.mass,
            pigment=pigment,
            binder=oil,
            pigment_density=_grains(reader, density) if pigment[1] > 0 else None,
            binder_density=oil_weighs or (oil_density, oil_density),
            volatile_density=volatile,
            whole_density=whole,
            oil_absorption=_absorbs(reader) if pigment[1] > 0 else None,
        )
    )


def read_binder(asked: BinderIn, number: int) -> ReadPart:
    """An oil, varnish, resin or glue. Raises Invalid, naming the field."""
    reader = _Reader(asked, "binder", number, "binders")
    stays = reader.share(asked.non_volatile_percent, "non-volatile")
    if stays is None:
        stays = reader.figure("non_volatile", "non-volatile", "%", (0, 100), "non_volatile")
    if stays is None:
        words = (
            "how much of it stays when it has dried is not known. It is taken as anything from nothing to "
        )
        reader.lacks("non-volatile-not-known", words + "all: send non_volatile_percent.")
        stays = (0.0, 100.0)
    whole = reader.figure("density_g_ml", "density", "g/ml", DENSITY, "density")
    solids = reader.figure("solids_density_g_ml", "density of what stays", "g/ml", DENSITY)
    if whole is None and (solids is None or stays != (100, 100)):
        reader.lacks("density-not-known", "its density is not known. Send density_g_ml.")
    if whole is not None and solids is None:
        solids = solids_density(whole, stays)
        if solids != whole and stays[1] > 0:
            words = f"{reader.name}: how heavy what stays of it is was not told, so it is taken as a range. "
            reader.findings.append(
                note("solids-density-range", words + "Send solids_density_g_ml.", about=reader.name)
            )
    return reader.made(
        FilmPart(reader.name, reader.mass, binder=stays, binder_density=solids, whole_density=whole)
    )


def read_solvent(asked: SolventIn, number: int) -> ReadPart:
    """What evaporates. Raises Invalid, naming the field."""
    reader = _Reader(asked, "solvent", number, "solvents")
    density = reader.figure("density_g_ml", "density", "g/ml", DENSITY, "density")
    if density is None:
        reader.lacks("density-not-known", "its density is not known. Send density_g_ml.")
    return reader.made(FilmPart(reader.name, reader.mass, volatile_density=density))


def _grains(reader: _Reader, density: Span | None) -> Span | None:
    if density is None:
        words = "how dense its grains are is not known. Send the density, or a name of the tables."
        reader.lacks("pigment-density-not-known", words)
    return density


def _absorbs(reader: _Reader) -> Span | None:
    found = reader.figure("oil_absorption_g_100g", "oil absorption", "g/100 g", ABSORPTION, "oil_absorption")
    if found is None:
        words = "how much oil the pigment takes up is not known, so whether the binder is enough is not."
        reader.lacks("oil-absorption-not-known", words)
    return found


def _paste_shares(reader: _Reader, asked: PasteIn) -> tuple[Span, Span, Span]:
    """Pigment, oil, and what evaporates, in per cent."""
    shares = [
        reader.share(asked.pigment_percent, "pigment"),
        reader.share(asked.oil_percent, "oil"),
        reader.share(asked.volatile_percent, "volatile"),
    ]
    known = [one for one in shares if one is not None]
    total = sum(one[0] for one in known)
    if total > 100 + _SUM_OFF or (len(known) == 3 and total < 100 - _SUM_OFF):
        words = f"{reader.name}: its shares add up to {total:g} per cent. Together they make 100."
        raise Invalid(words, {"pastes": words})
    if len(known) == 3:
        shares = [(one[0] * 100 / total,) * 2 for one in known]
        return shares[0], shares[1], shares[2]  # type: ignore[return-value]
    left = max(0.0, 100 - total)
    if len(known) < 2:
        words = "what it is made of is not known. Send two of pigment_percent, oil_percent, volatile_percent."
        reader.lacks("paste-not-told", words)
    rest: Span = (left, left) if len(known) == 2 else (0.0, left)
    pigment, oil, gone = (one or rest for one in shares)
    return pigment, oil, gone
