"""What keeps long dry and short once it is dissolved: shellac in alcohol, glue and gum in water.

Doors: actions/dissolved_life.py, actions/key_of_content.py, actions/settle_solutions.py,
actions/jars_of_solution.py, records/dissolving_names.py.

The row of the dry stuff says nothing of its solution: flakes keep for years, a cut for months, wetted glue
for days.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

from service.core.materials import Form, MaterialKind

SHELLAC: Final = "shellac_cut"
GLUE: Final = "hide_glue_mixed"
"""Keys of the policy rows of the solutions."""

_WATER_CAS: Final = "7732-18-5"
_GUMS: Final = frozenset({"hide_glue_dry", "casein", "gum_arabic"})
_SPOILS_WET: Final = frozenset({MaterialKind.BINDER, MaterialKind.READY_MADE_FINISH})
"""What of these kinds is dry is casein, milk or gum until somebody says otherwise: wetted it spoils."""
_DRY: Final = frozenset({Form.POWDER, Form.SOLID, Form.PIECES})


@dataclass(frozen=True)
class Dissolved:
    """One thing in the pot: ``key`` of its published row, ``cas`` numbers, ``water``: it is tap water.

    ``named``: the keys of the solutions that its name or number means (`records.dissolving_names`).
    """

    name: str
    kind: MaterialKind
    form: Form
    key: str = ""
    cas: frozenset[str] = frozenset()
    water: bool = False
    named: frozenset[str] = frozenset()

    @property
    def dry(self) -> bool:
        return self.form in _DRY and not self.water

    @property
    def shellac(self) -> bool:
        return self.key.startswith("shellac") or SHELLAC in self.named

    @property
    def glue(self) -> bool:
        return GLUE in self.named or self.kind is MaterialKind.GLUE_OR_SIZE or self.key in _GUMS

    @property
    def wets(self) -> bool:
        """Water as such; what holds some unsaid counts through being a liquid."""
        return self.water or self.key == "water" or _WATER_CAS in self.cas

    @property
    def counts_as(self) -> tuple[bool, ...]:
        """All of it that `rows_of_solution` asks for: two with the same answers are the same in a pot."""
        return self.shellac, self.glue, self.wets, self.dry, self.kind in _SPOILS_WET


def may_become(one: Dissolved, key: str | None = None) -> bool:
    """Whether it is among what keeps otherwise once it is dissolved; with ``key`` as that solution."""
    if key is None:
        return may_become(one, SHELLAC) or may_become(one, GLUE)
    return one.shellac if key == SHELLAC else one.glue or (one.dry and one.kind in _SPOILS_WET)


def rows_of_solution(parts: Iterable[Dissolved]) -> tuple[str, ...]:
    """The keys of the rows that hold for what these things are together, besides each one's own.

    Shellac with any liquid is a cut. Glue, size and gum count as wetted with water, and with any other liquid
    where they were dry; so does a dry binder or finish with water (casein, milk paint). Powders alone are no
    solution.

    >>> flakes = Dissolved("Flakes", MaterialKind.RESIN, Form.PIECES, "shellac_dry_dewaxed")
    >>> spirit = Dissolved("Alcohol", MaterialKind.SOLVENT, Form.LIQUID, "ethanol")
    >>> rows_of_solution([flakes, spirit]), rows_of_solution([flakes])
    (('shellac_cut',), ())
    """
    things = list(parts)
    liquid = any(not one.dry for one in things)
    water = any(one.wets for one in things)
    glue = [one for one in things if one.glue]
    found = []
    if liquid and any(one.shellac for one in things):
        found.append(SHELLAC)
    wetted = water and any(one.dry and one.kind in _SPOILS_WET for one in things)
    if wetted or (glue and (water or (liquid and any(one.dry for one in glue)))):
        found.append(GLUE)
    return tuple(found)
