"""The sizes of a hazard label: paper, pictogram and letters, by what the container holds.

Sources: CLP Annex I 1.2.1.4 Table 1.3 (from memory): label and pictogram, each pictogram at least 1/15 of
the smallest label and 1 cm². The height of letters: Regulation (EU) 2024/2865, by third-party pages, from
2028 on. The other laws name no sizes; these are used for them too. A pictogram is measured along a side of
its square, the stricter reading.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from typing import Final

from service.core.findings import Invalid


@dataclass(frozen=True)
class HazardLabelSize:
    """A paper: its ``short`` and ``long`` side and the least ``side`` of a pictogram in hundredths of a
    millimetre; for what holds ``most_ml`` at most. ``hint``: only the front of a fold-out or tag.
    """

    key: str
    short: int
    long: int
    side: int
    most_ml: Decimal | None
    hint: bool = False

    @property
    def words(self) -> str:
        """For people: "52 × 74 mm"."""
        return f"{self.short // 100} × {self.long // 100} mm"


SMALL: Final = HazardLabelSize("25x38", 2500, 3800, 1000, Decimal(125), hint=True)
TO_3_L: Final = HazardLabelSize("52x74", 5200, 7400, 1610, Decimal(3000))
TO_50_L: Final = HazardLabelSize("74x105", 7400, 10500, 2300, Decimal(50_000))
TO_500_L: Final = HazardLabelSize("105x148", 10500, 14800, 3225, Decimal(500_000))
ABOVE: Final = HazardLabelSize("148x210", 14800, 21000, 4600, None)
SIZES: Final = {size.key: size for size in (SMALL, TO_3_L, TO_50_L, TO_500_L, ABOVE)}
LEAST_SIDE: Final = 1000
"""No pictogram is smaller: 10 mm along its side, 1 cm²."""
LEAST_X_HEIGHT: Final = 120
"""A small x is at least 1.2 mm high, in hundredths of a millimetre: below that we do not print."""
_X_HEIGHTS: Final = ((Decimal(500), 120), (Decimal(3000), 140), (Decimal(50_000), 180))


def size_for(volume_ml: Decimal | None, *, whole: bool = False) -> HazardLabelSize:
    """The smallest size for a container.

    Args:
        volume_ml: what it holds; Invalid where nobody told: the size hangs on it.
        whole: never the small front of a fold-out.

    >>> size_for(Decimal(1000)).words, size_for(Decimal(100)).hint, size_for(Decimal(100), whole=True).key
    ('52 × 74 mm', True, '52x74')
    """
    if volume_ml is None:
        raise Invalid(
            "Say how much the container holds, or choose the size of the label: the law sets it by volume.",
            {"volume_ml": "Not told."},
        )
    return next(
        size
        for size in SIZES.values()
        if not (whole and size.hint) and (size.most_ml is None or volume_ml <= size.most_ml)
    )


def next_size(size: HazardLabelSize) -> HazardLabelSize | None:
    """The one after this; None after the largest."""
    sizes = list(SIZES.values())
    at = sizes.index(size) + 1
    return sizes[at] if at < len(sizes) else None


def x_height_from_2028(volume_ml: Decimal) -> int:
    """How high the EU wants a small x from 2028 on, in hundredths of a millimetre.

    >>> x_height_from_2028(Decimal(1000)), x_height_from_2028(Decimal(200_000))
    (140, 200)
    """
    return next((height for most, height in _X_HEIGHTS if volume_ml <= most), 200)
