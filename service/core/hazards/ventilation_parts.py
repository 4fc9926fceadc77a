"""What a ventilation class is judged from: the parts of a mix, their shares, and one way through the matrix.

Doors: core/hazards/ventilation_class.py, web/api/calc_ventilation.py, actions/judge_ventilation.py.

Sources: floor of 1 % and the worst part: rules of this program after HSE; that the whole batch counts:
from memory.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from service.core.hazards.amount_band import AmountBand
from service.core.hazards.dustiness import Dustiness
from service.core.hazards.hazard_band import Group, Statements
from service.core.hazards.mix import MixForm
from service.core.hazards.ventilation_matrix import Column, cell
from service.core.hazards.ventilation_reasons import HSE, About, Reason
from service.core.solvents.properties import Component, ShareKind
from service.core.sources import Provenance

FLOOR_PERCENT: Final = 1.0
"""Below this share by mass a part does not make the mix volatile; it is judged by itself."""
_NOT_GENERAL: Final = 2


@dataclass(frozen=True)
class Part:
    """One material, or one component of a mix.

    Args:
        said: its statements; None = not known.
        percent: upper share by mass; None = cannot be worked out, everything counts.
        dustiness: of a solid; None = not known.
        also, numbers: other names by which it may be known (substance, trade name), other CAS numbers.
    """

    component: Component
    said: Statements | None
    form: MixForm = MixForm.LIQUID
    percent: float | None = None
    dustiness: Dustiness | None = None
    dust_reasons: tuple[Reason, ...] = ()
    also: tuple[str, ...] = ()
    numbers: tuple[str, ...] = ()

    @property
    def name(self) -> str:
        return self.component.name

    @property
    def names(self) -> tuple[str, ...]:
        return (self.component.name, *self.also)

    @property
    def is_trace(self) -> bool:
        return self.percent is not None and self.percent < FLOOR_PERCENT

    @property
    def only_water(self) -> bool:
        """Water without a statement: its vapour harms nobody."""
        said = self.said
        harmless = said is not None and said.complete and not (said.codes or said.phrases)
        return self.component.water and harmless


@dataclass(frozen=True)
class Path:
    """One way through the matrix. ``group`` None: not known, ``group_least`` or worse.

    ``column`` None: not known. ``dry``: of a powder; ``measured``: by a figure of the whole mix.
    """

    what: str
    group: Group | None
    group_least: Group
    column: Column | None
    reasons: tuple[Reason, ...] = ()
    dry: bool = False
    measured: bool = False

    def judged(self, amount: AmountBand | None, heated: bool) -> tuple[int | None, int]:
        """The class, or None, and the least to treat it as.

        Readiness to go into the air that is not known counts as high, and never gives "general". Of a liquid
        that is heated it gives nothing: it might be above its boiling point.
        """
        least = cell(self.group_least, amount or AmountBand.SMALL, self.column or Column.HIGH)
        if self.group is Group.E:
            return least, least
        if self.group is None or amount is None:
            return None, least
        if self.column is None and (least < _NOT_GENERAL or (heated and not self.dry)):
            return None, least
        return least, least

    def in_matrix(self, amount: AmountBand | None) -> Reason:
        """The cell that gave it."""
        group = self.group_least.value + ("" if self.group else " at the least")
        column = self.column.value if self.column else "not known, taken as high"
        size = amount.value if amount else "amount not told, taken as small"
        found = cell(self.group_least, amount or AmountBand.SMALL, self.column or Column.HIGH)
        where = f"{group} / {size} / {column}"
        words = f"Matrix, {self.what}: {where} gives {found}."
        return Reason(
            About.MATRIX, words, HSE, Provenance.MEMORY, "", self.what, "control_approach", found, "", where
        )


def shares_known(components: Sequence[Component]) -> list[float | None]:
    """The highest share by mass each component can have, in per cent; None where densities or molar masses
    lack.

    >>> from service.core.solvents.properties import Share
    >>> oil = Component("oil", Share(ShareKind.MASS_G, 90, 90))
    >>> [round(one, 1) for one in shares_known([oil, Component("acetone", Share(ShareKind.MASS_G, 5, 10))])]
    [94.7, 10.0]
    """
    shares = [one.share for one in components]
    if all(s is not None and s.kind in (ShareKind.PERCENT, ShareKind.MASS_FRACTION) for s in shares):
        return [
            None if s is None else min(s.high * (100 if s.kind is ShareKind.MASS_FRACTION else 1), 100.0)
            for s in shares
        ]
    weights = [_grams(one) for one in components]
    if any(one is None for one in weights):
        return [None] * len(components)
    lows = sum(one[0] for one in weights if one)
    found: list[float | None] = []
    for one in weights:
        assert one is not None
        whole = one[1] + lows - one[0]
        found.append(100 * one[1] / whole if whole > 0 else 100.0)
    return found


def whole_of(parts: Sequence[Part]) -> tuple[float | None, float | None]:
    """Litres and kilograms of the batch, where every component is written in them; upper ends of ranges."""
    shares = [part.component.share for part in parts]
    for kind, place in ((ShareKind.VOLUME_ML, 0), (ShareKind.MASS_G, 1)):
        if shares and all(share is not None and share.kind is kind for share in shares):
            total = sum(share.high for share in shares if share) / 1000
            return (total, None) if place == 0 else (None, total)
    return _mixed_units(parts)


def _mixed_units(parts: Sequence[Part]) -> tuple[float | None, float | None]:
    """Grams and millilitres together, by density; (None, None) for shares or where a density lacks."""
    kinds = (ShareKind.VOLUME_ML, ShareKind.MASS_G)
    if not all(p.component.share and p.component.share.kind in kinds for p in parts):
        return None, None
    weights = [_grams(part.component) for part in parts]
    if any(one is None for one in weights):
        return None, None
    return None, sum(one[1] for one in weights if one) / 1000


def _grams(one: Component) -> tuple[float, float] | None:
    """Grams (of a gram, millilitre or mole of the mix) from the low to the high end."""
    share = one.share
    if share is None:
        return None
    if share.high == 0:
        return 0.0, 0.0
    by = 1.0
    if share.kind in (ShareKind.VOLUME_ML, ShareKind.VOLUME_FRACTION):
        if one.density is None:
            return None
        by = one.density.value
    if share.kind is ShareKind.MOLE_FRACTION:
        if one.molar_mass is None:
            return None
        by = one.molar_mass.value
    return share.low * by, share.high * by
