"""What is bought or made: kinds, bases, and which of them can set their rags alight.

Doors: records/materials.py, actions/describe_material.py, web/pages/materials.py, web/api/materials.py.
"""

from __future__ import annotations

from enum import StrEnum
from typing import Final


class MaterialKind(StrEnum):
    """Kinds of material a finishing shop keeps (design section 1 words)."""

    DRY_PIGMENT = "dry-pigment"
    COLOUR_IN_OIL = "colour-in-oil"
    COLOUR_IN_JAPAN = "colour-in-japan"
    DYE = "dye"
    BINDER = "binder"
    DRIER = "drier"
    SOLVENT = "solvent"
    RESIN = "resin"
    GLUE_OR_SIZE = "glue-or-size"
    READY_MADE_FINISH = "ready-made-finish"
    OTHER_CHEMICAL = "other-chemical"
    CONSUMABLE = "consumable"
    MADE_MIX = "made-mix"


KIND_WORDS: Final[dict[MaterialKind, str]] = {
    MaterialKind.DRY_PIGMENT: "dry pigment",
    MaterialKind.COLOUR_IN_OIL: "colour in oil",
    MaterialKind.COLOUR_IN_JAPAN: "colour in japan",
    MaterialKind.DYE: "dye",
    MaterialKind.BINDER: "binder",
    MaterialKind.DRIER: "drier",
    MaterialKind.SOLVENT: "solvent",
    MaterialKind.RESIN: "resin",
    MaterialKind.GLUE_OR_SIZE: "glue or size",
    MaterialKind.READY_MADE_FINISH: "ready-made finish",
    MaterialKind.OTHER_CHEMICAL: "other chemical",
    MaterialKind.CONSUMABLE: "consumable",
    MaterialKind.MADE_MIX: "made mix",
}


class Basis(StrEnum):
    """What a material is counted in, fixed at its first movement: whole mg, whole microlitres, or pieces."""

    MASS = "mass"
    VOLUME = "volume"
    PIECES = "pieces"


class Form(StrEnum):
    """How it lies in the container; decides which spoon and ounce readings make sense."""

    LIQUID = "liquid"
    PASTE = "paste"
    POWDER = "powder"
    SOLID = "solid"
    PIECES = "pieces"


# Common practice, no source. Kinds that are sold in several forms are left out: there it is asked.
USUAL_FORM: Final[dict[MaterialKind, Form]] = {
    MaterialKind.DRY_PIGMENT: Form.POWDER,
    MaterialKind.COLOUR_IN_OIL: Form.PASTE,
    MaterialKind.COLOUR_IN_JAPAN: Form.PASTE,
    MaterialKind.BINDER: Form.LIQUID,
    MaterialKind.DRIER: Form.LIQUID,
    MaterialKind.SOLVENT: Form.LIQUID,
    MaterialKind.READY_MADE_FINISH: Form.LIQUID,
    MaterialKind.CONSUMABLE: Form.PIECES,
    MaterialKind.MADE_MIX: Form.LIQUID,
}


class SelfHeating(StrEnum):
    """Whether rags with this material can ignite by themselves. ``not-known`` counts as yes."""

    YES = "yes"
    NO = "no"
    NOT_KNOWN = "not-known"


class Unknown(StrEnum):
    """Three-valued answers that people tick on a form."""

    YES = "yes"
    NO = "no"
    NOT_KNOWN = "not-known"
