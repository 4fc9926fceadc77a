"""What is dissolved keeps as its solution does, whatever the dry stuff does (common practice, no source)."""

from __future__ import annotations

import pytest

from service.core.dissolved_life import GLUE, SHELLAC, Dissolved, rows_of_solution
from service.core.materials import Form, MaterialKind

FLAKES = Dissolved("Flakes", MaterialKind.RESIN, Form.PIECES, "shellac_dry_waxy")
TYPED = Dissolved(
    "dewaxed Shellac of last year", MaterialKind.OTHER_CHEMICAL, Form.PIECES, named=frozenset({SHELLAC})
)
SPIRIT = Dissolved("Alcohol", MaterialKind.SOLVENT, Form.LIQUID, "ethanol")
WATER = Dissolved("Tap water", MaterialKind.OTHER_CHEMICAL, Form.LIQUID, water=True)
PEARLS = Dissolved("Hide glue", MaterialKind.GLUE_OR_SIZE, Form.PIECES, "hide_glue_dry")
GUM = Dissolved("Gum", MaterialKind.RESIN, Form.POWDER, "gum_arabic")
WHITE = Dissolved("White glue", MaterialKind.GLUE_OR_SIZE, Form.LIQUID, "pva")
UMBER = Dissolved("Umber", MaterialKind.DRY_PIGMENT, Form.POWDER)
OIL = Dissolved("Oil", MaterialKind.BINDER, Form.LIQUID, "linseed_boiled")


@pytest.mark.parametrize(
    ("pot", "rows"),
    [
        ([FLAKES, SPIRIT], (SHELLAC,)),
        ([TYPED, SPIRIT, UMBER], (SHELLAC,)),
        ([PEARLS, WATER], (GLUE,)),
        ([GUM, WATER, UMBER], (GLUE,)),
        ([WHITE, WATER], (GLUE,)),
        ([PEARLS, SPIRIT, FLAKES], (SHELLAC, GLUE)),
        ([FLAKES, UMBER], ()),
        ([PEARLS, UMBER], ()),
        ([WHITE, UMBER], ()),
        ([OIL, UMBER, SPIRIT], ()),
        ([WATER, UMBER], ()),
    ],
)
def test_what_is_dissolved_has_a_row_of_its_own(pot: list[Dissolved], rows: tuple[str, ...]) -> None:
    assert rows_of_solution(pot) == rows
    assert rows_of_solution(pot[::-1]) == rows
