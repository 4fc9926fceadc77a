"""POST /api/calc/self-heating: the arithmetic of the books, to check us by. No rule uses it."""

from __future__ import annotations

from decimal import Decimal
from typing import Annotated, Any, Final

from fastapi import APIRouter
from pydantic import BaseModel, Field

from service.core import self_heating_theory as theory
from service.core.findings import Finding, Invalid, Verdict, note, unknown
from service.core.self_heating_theory import CRITICAL, Shape
from service.core.solvents.properties import DataUsed
from service.web.api.hazard_answers import FindingOut, finding_out
from service.web.api.solvent_components import DataUsedOut, data_used_out
from service.web.api_model import ApiModel

router = APIRouter(prefix="/api/calc", tags=["calculators"])

_Degrees = Annotated[Decimal, Field(ge=-60, le=500)]
_Size = Annotated[Decimal, Field(ge=Decimal("0.0001"), le=1000)]
_Above = Annotated[Decimal, Field(ge=Decimal("0.001"), le=1_000_000)]
_MOST_KJ_MOL: Final = 1000
_NO_SIZE: Final = (
    "This arithmetic predicts no fire of rags. Fed with figures of bulk goods it says metres where rags have "
    "burned at the size of a hand. No size and no time here is harmless; the clocks of the rag log hold."
)
_BOOKS: Final = "The books draw the lines of drying oils in different places; look at the number."


class Critical(ApiModel):
    """A heap that is just critical: half side, half thickness or radius, and the air around it."""

    r_m: _Size
    temperature_c: _Degrees


class Wait(ApiModel):
    """How long it took until it began."""

    hours: _Above
    temperature_c: _Degrees


class Baskets(ApiModel):
    """Results of the UN N.4 test; missing: not made."""

    cube25_140: bool | None = None
    cube100_140: bool | None = None
    cube100_120: bool | None = None
    cube100_100: bool | None = None
    pack_l: Annotated[_Above | None, Field(description="missing counts as more than 3000 l")] = None


class Heap(ApiModel):
    """A shape with its size, or its delta."""

    shape: Shape
    size_m: _Size | None = None
    delta: Annotated[Decimal | None, Field(ge=0, le=1_000_000)] = None


class ShutIn(ApiModel):
    """Air over oily cloth in a closed can."""

    head_space_l: _Above
    oil_g: _Above
    cotton_g: Annotated[Decimal, Field(ge=0, le=1_000_000)] = Decimal(0)


class SelfHeatingIn(ApiModel):
    """Whatever is told is worked out; nothing told is refused."""

    critical: Annotated[list[Critical] | None, Field(min_length=1, max_length=2)] = None
    activation_kj_mol: Annotated[Decimal | None, Field(ge=1, le=_MOST_KJ_MOL)] = None
    at_r_m: Annotated[_Size | None, Field(description="at what temperature is this size critical?")] = None
    at_temperature_c: Annotated[_Degrees | None, Field(description="for times as fast by 10 °C")] = None
    waits: Annotated[list[Wait] | None, Field(min_length=2, max_length=2)] = None
    heap: Heap | None = None
    shut_in: ShutIn | None = None
    baskets: Baskets | None = None
    iodine_value: Annotated[Decimal | None, Field(ge=0, le=400)] = None


class SelfHeatingOut(BaseModel):
    """Null where nothing was told for it."""

    activation_kj_mol: float | None
    critical_at_c: float | None
    times_as_fast_by_10_c: float | None
    same_danger_m: dict[str, float] | None
    above_critical: bool | None
    critical_delta: float | None
    most_heat_kj: float | None
    most_rise_c: float | None
    category: str | None
    h_code: str | None
    drying_above_150: str | None
    drying_above_130: str | None
    findings: list[FindingOut]
    complete: bool
    data_used: list[DataUsedOut]


@router.post("/self-heating", summary="Arithmetic of self-heating, for teaching; nothing here is harmless")
def self_heating(asked: SelfHeatingIn) -> SelfHeatingOut:
    """Frank-Kamenetskii and Arrhenius, the N.4 test, classes by iodine value. Touches no stock."""
    if not asked.model_fields_set:
        words = "Tell something to be worked out, such as critical, waits, heap, shut_in or baskets."
        raise Invalid(words, {"critical": words})
    energy, fast = _energy(asked)
    findings: list[Finding] = [note("no-harmless-size", _NO_SIZE)]
    heap, shut_in = asked.heap, asked.shut_in
    heat, rise = (None, None) if shut_in is None else theory.heat_of_air(
        float(shut_in.head_space_l), float(shut_in.oil_g), float(shut_in.cotton_g)
    )  # fmt: skip
    category, h_code = _category(asked.baskets, findings)
    iodine = None if asked.iodine_value is None else float(asked.iodine_value)
    if iodine is not None:
        findings.append(note("books-differ", _BOOKS))
    verdict = Verdict.of(findings)
    delta = None if heap is None or heap.delta is None else float(heap.delta)
    return SelfHeatingOut(
        activation_kj_mol=_short(energy),
        critical_at_c=_short(_critical(asked, energy)),
        times_as_fast_by_10_c=_short(fast),
        same_danger_m=None if heap is None or heap.size_m is None else {
            other.value: float(f"{size:.7g}")
            for other, size in theory.same_danger(heap.shape, float(heap.size_m)).items()
        },
        above_critical=None if heap is None or delta is None else theory.runs_away(heap.shape, delta),
        critical_delta=None if heap is None else CRITICAL[heap.shape],
        most_heat_kj=_short(heat),
        most_rise_c=_short(rise),
        category=category,
        h_code=h_code,
        drying_above_150=None if iodine is None else theory.drying_class(iodine, 150, 125),
        drying_above_130=None if iodine is None else theory.drying_class(iodine, 130, 115),
        findings=[finding_out(one) for one in verdict],
        complete=verdict.complete,
        data_used=data_used_out(_used(asked)),
    )  # fmt: skip


def _energy(asked: SelfHeatingIn) -> tuple[float | None, float | None]:
    """The activation energy that is told or follows, and how much faster 10 °C make it."""
    energy = None if asked.activation_kj_mol is None else float(asked.activation_kj_mol)
    fast = None
    if asked.critical is not None and len(asked.critical) == 2:
        one, two = asked.critical
        _differ(one.temperature_c, two.temperature_c, "critical")
        energy = theory.activation_kj_mol(
            float(one.r_m), float(one.temperature_c), float(two.r_m), float(two.temperature_c)
        )
        words = "The larger heap is critical at the lower temperature. Check both."
        _within_reason(energy, "critical", words)
    if asked.waits is not None:
        first, then = asked.waits
        _differ(first.temperature_c, then.temperature_c, "waits")
        energy, fast = theory.activation_of_waits(
            float(first.hours), float(first.temperature_c), float(then.hours), float(then.temperature_c)
        )
        _within_reason(energy, "waits", "What is warmer begins sooner. Check both.")
    elif asked.at_temperature_c is not None and energy is not None:
        fast = theory.faster_by_10_c(energy, float(asked.at_temperature_c))
    return energy, fast


def _within_reason(energy: float, field: str, words: str) -> None:
    if energy <= 0:
        raise Invalid(words, {field: words})
    if energy > _MOST_KJ_MOL:
        words = f"This gives more than {_MOST_KJ_MOL} kJ/mol, which no stuff has. Check the figures."
        raise Invalid(words, {field: words})


def _differ(one: Decimal, other: Decimal, field: str) -> None:
    if abs(one - other) < 1:
        words = "Tell two temperatures at least 1 °C apart."
        raise Invalid(words, {field: words})


def _critical(asked: SelfHeatingIn, energy: float | None) -> float | None:
    if asked.at_r_m is None:
        return None
    if energy is None or not asked.critical:
        words = "For this size tell one critical heap and the activation energy, or two critical heaps."
        raise Invalid(words, {"at_r_m": words})
    known = asked.critical[0]
    return theory.critical_at_c(energy, float(known.r_m), float(known.temperature_c), float(asked.at_r_m))


def _category(asked: Baskets | None, findings: list[Finding]) -> tuple[str | None, str | None]:
    if asked is None:
        return None, None
    pack = None if asked.pack_l is None else float(asked.pack_l)
    found = theory.basket_class(
        asked.cube25_140, asked.cube100_140, asked.cube100_120, asked.cube100_100, pack
    )
    if found is None:
        words = "A result that the class hangs on is missing, so it is not known. Treat it as self-heating."
        findings.append(unknown("basket-test-missing", words, "CLP Annex I 2.11"))
        return None, None
    return {1: ("1", "H251"), 2: ("2", "H252"), 0: ("none", None)}[found]


def _used(asked: SelfHeatingIn) -> list[DataUsed]:
    used = []
    if asked.heap is not None:
        shape = asked.heap.shape
        read = "memory" if shape is Shape.CUBE else "read"
        what = f"critical delta, {shape.value}"
        used.append(DataUsed("the heap", what, CRITICAL[shape], "", "Frank-Kamenetskii", read))
    if asked.shut_in is not None:
        figures: tuple[tuple[str, float, str], ...] = (
            ("heat of oxygen", theory.KJ_PER_G_OXYGEN, "kJ/g"),
            ("heat capacity of oil", theory.OIL_J_G_K, "J/(g K)"),
            ("heat capacity of cotton", theory.COTTON_J_G_K, "J/(g K)"),
        )
        for name, value, unit in figures:
            used.append(DataUsed("the can", name, value, unit, "from memory", "memory"))
    return used


def _short(value: float | None) -> Any:
    return None if value is None else float(f"{value:.9g}")
