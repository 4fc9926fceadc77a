"""What is asked of ``POST /api/calc/waste``: months, what stands here, a drum's start, streams, records."""

from __future__ import annotations

import re
from datetime import date
from decimal import Decimal, InvalidOperation
from enum import StrEnum
from fractions import Fraction
from typing import Annotated, Any, Final, Self

from pydantic import BeforeValidator, Field, model_validator

from service.core.component_lines import read_cas
from service.core.findings import Invalid
from service.core.material_facts import FlashMethod
from service.core.storage_ladders import Temperature
from service.core.waste import Mass, Month
from service.core.waste_codes import leaching_row
from service.core.waste_rules import Category, Jurisdiction, Kind
from service.core.waste_streams import SolventShare, Stream
from service.records.knowledge_waste import solvent_share, waste_tables
from service.web.api.hazard_mix import Span
from service.web.api.storage_measures import TemperatureIn, VolumeIn
from service.web.api_model import ApiModel
from service.web.text_guard import sentence

MOST_MONTHS: Final = 120
MOST_STREAMS: Final = 50
_ALSO_CALLED: Final = {
    "us-epa": "us", "us-federal": "us", "epa": "us", "usa": "us", "rcra": "us", "gb": "uk", "eu-low": "eu",
}  # fmt: skip


def _jurisdiction(value: Any) -> Any:
    if not isinstance(value, str) or len(value) > 40:
        return value
    low = value.strip().lower().replace("_", "-").replace(" ", "-")
    return _ALSO_CALLED.get(low, low)


def _figure(value: Any, most: int) -> Any:
    """A number from 0 to ``most`` or null; never true, NaN or other digits."""
    if value is None:
        return None
    told = value if isinstance(value, str) else None
    if isinstance(value, bool) or not isinstance(value, int | float | str | Decimal):
        raise sentence("Send a number here, or null for what is not known.")
    if told is not None and not re.fullmatch(r"\d{1,16}(\.\d{1,18})?", told, re.ASCII):
        raise sentence("Send a number here, like 12 or 0.5.")
    try:
        number = Decimal(str(value))
    except InvalidOperation:
        raise sentence("Send a number here, like 12 or 0.5.") from None
    if not number.is_finite() or not 0 <= number <= most or -int(number.as_tuple().exponent) > 40:
        raise sentence(f"Send a number from 0 to {most}.")
    return number


def _figures(value: Any) -> Any:
    """Milligrams by name."""
    if value is None or not isinstance(value, dict):
        raise sentence('Send names with figures, like {"lead": 5.0}.')
    return {name: _figure(one, 1_000_000) for name, one in _named(value).items()}


def _named(value: dict[Any, Any]) -> dict[str, Any]:
    if len(value) > 40 or any(not str(key).strip() or len(str(key)) > 120 for key in value):
        raise sentence("Send at most 40 names, each of 1 to 120 signs.")
    return {str(key): one for key, one in value.items()}


def _months(value: Any) -> Any:
    """One figure, a list, or figures by the name of the month; at most ten years of them."""
    if isinstance(value, dict | list) and not 1 <= len(value) <= MOST_MONTHS:
        raise sentence(f"Send 1 to {MOST_MONTHS} months.")
    if isinstance(value, dict):
        if any(len(str(key)) > 20 or not str(key).strip() for key in value):
            raise sentence("Name a month in 1 to 20 signs, like 2026-03.")
        return {str(key): _figure(one, 1_000_000_000) for key, one in value.items()}
    if isinstance(value, list):
        return [_figure(one, 1_000_000_000) for one in value]
    return _figure(value, 1_000_000_000)


def _parts_of(value: Any) -> Any:
    """Parts may be told as names with per cents."""
    if isinstance(value, dict):
        return [{"name": name, "percent": one} for name, one in _named(value).items()]
    return value


def _cas(value: Any) -> Any:
    if not isinstance(value, str) or not value.strip():
        return value
    try:
        return read_cas(value[:30])
    except Invalid as error:
        raise sentence(error.sentence) from None


Kg = Annotated[Decimal, Field(ge=0, le=1_000_000_000)]
Name = Annotated[str, Field(max_length=120)]
Figures = Annotated[dict[str, Decimal | None], BeforeValidator(_figures)]


class Form(StrEnum):
    """As it arises."""

    LIQUID = "liquid"
    SOLID = "solid"


class PartIn(ApiModel):
    """One part of a solvent before use, in per cent by volume; left out: how much is not known."""

    name: Name = ""
    cas: Annotated[Annotated[str, Field(max_length=20)], BeforeValidator(_cas)] = ""
    percent: Span | None = None

    @model_validator(mode="after")
    def _share(self) -> Self:
        low, high = _ends(self.percent)
        if not 0 <= low <= high <= 100:
            raise sentence("A share is from 0 to 100 %, the smaller end first.")
        if not self.name and not self.cas:
            raise sentence("Name the part, or give its CAS number.")
        return self

    def known(self) -> SolventShare:
        low, high = _ends(self.percent)
        return solvent_share(self.name, self.cas, low, high)


class StreamIn(ApiModel):
    """One kind of waste. What is left out is not known, and codes of it are not judged."""

    name: Name = ""
    form: Annotated[
        Form | None, Field(description="left out: judged as a liquid where it has a flash point")
    ] = None
    kind: Annotated[str, Field(max_length=30, description="paint, sludge, paint-removal, remover, solvent, "
                               "packaging, wipes, laboratory: for the List of Waste")] = ""  # fmt: skip
    flash_point: TemperatureIn | None = None
    flash_point_c: Annotated[Decimal | None, Field(ge=-273, le=2000)] = None
    flash_point_method: FlashMethod = FlashMethod.CLOSED_CUP
    no_flash_point: Annotated[bool, Field(description="examined, and it has none")] = False
    self_heating: bool | None = None
    oxidizer: bool | None = None
    ph: Annotated[Decimal | None, Field(ge=-2, le=16)] = None
    spent: Annotated[
        bool | None, Field(description="used as a solvent; false: part of a paint, or unused")
    ] = None
    metals: Annotated[
        bool | None,
        Field(description="whether metals of pigments or driers may be in it: arsenic, barium, cadmium, "
              "chromium, lead, mercury, selenium, silver"),
    ] = None  # fmt: skip
    composition: Annotated[
        list[PartIn],
        Field(default_factory=list, max_length=40, description="before use, per cent by volume; or by name"),
        BeforeValidator(_parts_of),
    ]
    tclp_mg_l: Annotated[Figures, Field(default_factory=dict, description="found by the leaching test")]
    total_mg_kg: Annotated[Figures, Field(default_factory=dict, description="whole content of the waste")]

    def known(self, number: int) -> Stream:
        """The stream as the rules know it. Raises Invalid, naming the field, for what cannot be."""
        where = f"streams.{number - 1}"
        flash = self._flash(where)
        if flash is not None and self.no_flash_point:
            raise _wrong(f"{where}.flash_point", "It is said to have a flash point and to have none.")
        parts = tuple(one.known() for one in self.composition)
        if sum(one.low for one in parts) > 100:
            raise _wrong(f"{where}.composition", "The parts make more than 100 %.")
        for field, figures in (("tclp_mg_l", self.tclp_mg_l), ("total_mg_kg", self.total_mg_kg)):
            for name in figures:
                try:
                    leaching_row(waste_tables(), name)
                except ValueError:
                    words = f"No limit of the leaching test is held for {name[:60]}. Leave it out."
                    raise _wrong(f"{where}.{field}", words) from None
        return Stream(
            name=self.name or f"stream {number}",
            liquid=None if self.form is None else self.form is Form.LIQUID,
            flash=flash,
            flash_method=self.flash_point_method,
            no_flash_point=self.no_flash_point,
            self_heating=self.self_heating,
            oxidizer=self.oxidizer,
            ph=None if self.ph is None else Fraction(self.ph),
            spent=self.spent,
            metals=self.metals,
            parts=parts,
            leached={name: _whole(value) for name, value in self.tclp_mg_l.items()},
            content={name: _whole(value) for name, value in self.total_mg_kg.items()},
        )

    def _flash(self, where: str) -> Temperature | None:
        if self.flash_point is not None and self.flash_point_c is not None:
            raise _wrong(f"{where}.flash_point_c", "Give the flash point once.")
        if self.flash_point_c is not None:
            return Temperature(Fraction(self.flash_point_c), "C")
        return self.flash_point.known() if self.flash_point else None


class SatelliteIn(ApiModel):
    """A drum where the waste arises: how much is in it, and the day it went over its amount."""

    volume: VolumeIn | None = None
    acute: Annotated[
        bool | None, Field(description="acute waste, with 1 quart; left out: not known, and may be")
    ] = None
    excess_on: date | None = None


class RecordsIn(ApiModel):
    """Records whose time is asked: the last use of a material, a new thing and the list of chemicals."""

    last_use: date | None = None
    added_on: date | None = None
    listed: bool | None = None
    state: Annotated[str, Field(max_length=20)] = ""


class WasteIn(ApiModel):
    """Told whole: it touches no stock. A mass of null is not known, and never counts as nothing."""

    jurisdiction: Annotated[Jurisdiction, BeforeValidator(_jurisdiction)] = Jurisdiction.US
    months_kg: Annotated[
        Decimal | list[Decimal | None] | dict[str, Decimal | None] | None,
        Field(description="hazardous waste by calendar month: one figure, a list, or by name"),
        BeforeValidator(_months),
    ] = None
    acute_kg: Annotated[
        Kg | None, Field(description="acute waste of each of these months; left out: not known")
    ] = None
    acute_residue_kg: Annotated[
        Kg | None, Field(description="left out: none where no acute waste arose, else not known")
    ] = None
    category: Annotated[Category | None, Field(description="if it is known already; else by months")] = None
    on_site_kg: Kg | None = None
    acute_on_site_kg: Kg | None = None
    streams: Annotated[list[StreamIn], Field(default_factory=list, max_length=MOST_STREAMS)]
    start: Annotated[date | None, Field(description="accumulation start date")] = None
    today: date | None = None
    haul_miles: Annotated[Decimal | None, Field(ge=0, le=20_000)] = None
    satellite: SatelliteIn | None = None
    records: RecordsIn | None = None

    def months(self) -> list[Month]:
        """The months asked, each with what is known of it."""
        told = self.months_kg
        if told is None:
            return []
        if isinstance(told, dict):
            return [self._month(name, value) for name, value in told.items()]
        many = told if isinstance(told, list) else [told]
        return [self._month(f"month {number}", value) for number, value in enumerate(many, start=1)]

    def _month(self, name: str, value: Decimal | None) -> Month:
        residue = _mass(self.acute_residue_kg)
        if self.acute_residue_kg is None and self.acute_kg == 0:
            residue = Mass()
        return Month(
            name, {Kind.WASTE: _mass(value), Kind.ACUTE: _mass(self.acute_kg), Kind.RESIDUE: residue}
        )


def _mass(value: Decimal | None) -> Mass:
    return Mass(Fraction(0), True) if value is None else Mass(Fraction(value))


def _whole(value: Decimal | None) -> Fraction | None:
    return None if value is None else Fraction(value)


def _ends(told: Any) -> tuple[Fraction, Fraction]:
    """Both ends of a share; not known is anything from 0 to 100."""
    if told is None:
        return Fraction(0), Fraction(100)
    low, high = told if isinstance(told, list | tuple) else (told, told)
    return Fraction(low), Fraction(high)


def _wrong(field: str, words: str) -> Invalid:
    return Invalid(words, {field: words})
