"""``POST /api/calc/convert``: one written amount, rate or temperature in another unit; touches no stock."""

from decimal import Decimal
from typing import Annotated, Literal

from fastapi import APIRouter
from pydantic import BaseModel, Field

from service.core.conversion import Conversion, Converted, convert
from service.core.materials import Form
from service.core.quantities import UnitSystem, plain
from service.web.api_model import ApiModel
from service.web.fields import Name, WrittenAmount

router = APIRouter(prefix="/api/calc", tags=["calculators"])


Density = Annotated[Decimal, Field(ge=Decimal("0.0001"), le=25, max_digits=20)]
MolarMass = Annotated[Decimal, Field(ge=1, le=100_000, max_digits=20)]


class ConvertRequest(ApiModel):
    """An amount as the bench writes it, and the unit wanted. A point always begins the decimals here."""

    amount: WrittenAmount = Field(
        description="As written: “1 1/2 tsp”, “2 lb/gal”, “75 °F”", examples=["1 1/2 pint"]
    )
    to: Name = Field(description="The unit wanted: “ml”, “lb/gal”, “°C”, “mg/m³”", examples=["ml"])
    system: Literal["us", "imperial"] | None = Field(None, description="Whose pints and gallons are meant")
    state: Literal["liquid", "paste", "powder"] | None = Field(None, description="How the material lies")
    density_g_ml: Density | None = Field(None, description="g/ml of a liquid or paste")
    bulk_density_g_ml: Density | Annotated[list[Density], Field(min_length=2, max_length=2)] | None = Field(
        None, description="Loose density of a powder in g/ml: one figure, or lowest and highest"
    )
    molar_mass_g_mol: MolarMass | None = Field(None, description="g/mol, for ppm and mg/m³")


class FoundOut(BaseModel):
    """One finding of an answer."""

    severity: str
    code: str
    sentence: str
    source: str
    about: str


class UsedOut(BaseModel):
    """One figure that the answer rests on, and whose it is."""

    ingredient: str
    property: str
    value: str
    unit: str
    source: str
    grade: str


class ConvertAnswer(BaseModel):
    """``value`` is one figure, or “low to high” where a range came in; figures are text, so none is lost."""

    value: str
    low: str
    high: str
    unit: str
    exact: bool = Field(description="False when rounded, when a range came in, or for a rough measure")
    how: str
    findings: list[FoundOut]
    complete: bool
    data_used: list[UsedOut]


@router.post("/convert", summary="Turn an amount into another unit")
def convert_amount(asked: ConvertRequest) -> ConvertAnswer:
    """Amounts between any two units (mass and volume by a given density), and g/l with lb/gal, °C with °F,
    m²/l with ft²/gal, m³/h with cfm, ppm and vol% with mg/m³ (at 25 °C and 101.325 kPa), °API with SG. What
    can be read in more than one way is answered 422 with `readings`.
    """
    done = convert(
        Conversion(
            amount=asked.amount,
            to=asked.to,
            system=UnitSystem(asked.system) if asked.system else None,
            form=Form(asked.state) if asked.state else None,
            density_g_ml=asked.density_g_ml,
            bulk_g_ml=_pair(asked.bulk_density_g_ml),
            molar_mass_g_mol=asked.molar_mass_g_mol,
        )
    )
    return _answer(done)


def _pair(bulk: Decimal | list[Decimal] | None) -> tuple[Decimal, Decimal] | None:
    if bulk is None:
        return None
    return (bulk, bulk) if isinstance(bulk, Decimal) else (bulk[0], bulk[1])


def _answer(done: Converted) -> ConvertAnswer:
    return ConvertAnswer(
        value=done.value,
        low=done.low,
        high=done.high,
        unit=done.unit,
        exact=done.exact,
        how=done.how,
        findings=[FoundOut(**found.as_dict()) for found in done.findings],
        complete=all(found.severity.value != "unknown" for found in done.findings),
        data_used=[
            UsedOut(
                ingredient="",
                property=used.name,
                value=plain(used.value),
                unit=used.unit,
                source=used.source,
                grade="",
            )
            for used in done.data_used
        ],
    )
