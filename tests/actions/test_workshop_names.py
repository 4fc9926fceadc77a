"""Pairs as a workshop writes them: every dangerous one stops, whatever its kind and name; daily ones do not.

That these pairs are dangerous, or are not, is from memory (taught in every course on chemicals); which names
a shop uses for them is common practice, no source.
"""

from __future__ import annotations

import pytest

from service.actions.judge_never_with import judge_never_with
from service.core.findings import Verdict
from service.core.materials import Form, MaterialKind
from service.core.never_with import answerable
from service.records.engine import Database
from service.records.knowledge_never_with import never_with
from service.records.materials import Material
from tests.builders import NOW

CHEMICAL, DRY, DYE = MaterialKind.OTHER_CHEMICAL, MaterialKind.DRY_PIGMENT, MaterialKind.DYE
BINDER, SOLVENT, IN_OIL = MaterialKind.BINDER, MaterialKind.SOLVENT, MaterialKind.COLOUR_IN_OIL
GLUE, DRIER, FINISH = MaterialKind.GLUE_OR_SIZE, MaterialKind.DRIER, MaterialKind.READY_MADE_FINISH
Thing = tuple[str, MaterialKind] | tuple[str, MaterialKind, str]

FUELS: list[Thing] = [
    ("Lamp black", DRY), ("PBk7", DRY), ("Ivory black", DRY), ("Graphite", DRY), ("Realgar", DRY),
    ("Orpiment", DRY), ("Ultramarine", DRY), ("Vermilion", DRY), ("Lithopone", DRY), ("Prussian blue", DRY),
    ("Antimony sulfide", CHEMICAL), ("Flowers of sulphur", CHEMICAL), ("Phthalo blue", DRY),
]  # fmt: skip
OXIDISERS: list[Thing] = [
    ("Potassium chlorate", CHEMICAL), ("Saltpeter", CHEMICAL), ("KNO3", CHEMICAL),
    ("Kaliumpermanganat", CHEMICAL), ("Ammonium nitrate", CHEMICAL), ("NH4NO3", CHEMICAL),
    ("Nitric acid", CHEMICAL), ("eau forte", CHEMICAL),
    ("Chromium trioxide", CHEMICAL), ("Sodium nitrite", CHEMICAL), ("a crystal", DYE, "3811-04-9"),
]  # fmt: skip
BLEACHES = (
    "Household bleach", "Chlorkalk", "Lejía", "Candeggina", "sodium hypochlorit", "7681-52-9", "NaOCl",
)  # fmt: skip
ACIDS = (
    "Vinegar", "Salzsäure", "Schwefelsäure", "Salpetersäure", "Descaler", "Muriatic acid 33 %",
    "Scheidewasser",
)  # fmt: skip
PAIRS: list[tuple[Thing, Thing]] = [
    *[(one, other) for one in OXIDISERS for other in FUELS],
    *[((one, CHEMICAL), (other, CHEMICAL)) for one in BLEACHES for other in ACIDS],
    (("Potassium cyanide", DYE), ("Vinegar", CHEMICAL)),
    (("KCN", CHEMICAL), ("Vinegar", CHEMICAL)),
    (("Chalk", DRY, "151-50-8"), ("Vinegar", CHEMICAL)),
    (("Picric acid", DYE), ("Red lead", DRY)),
    (("Old yellow", DYE, "88-89-1"), ("Copper powder", DRY)),
    (("Iodine", DYE), ("Household ammonia", CHEMICAL)),
    (("Sodium azide", DYE), ("Hydrochloric acid", CHEMICAL)),
    (("Potassium ferrocyanide", DYE), ("Hydrochloric acid", CHEMICAL)),
    (("Prussian blue in oil", IN_OIL), ("Hydrochloric acid", CHEMICAL)),
    (("Antwerp blue", DRY), ("Hydrochloric acid", CHEMICAL)),
    (("Chrome green", DRY), ("Hydrochloric acid", CHEMICAL)),
    (("p-Toluenesulfonic acid", DRIER), ("Ultramarine", DRY)),
    (("Lime casein", GLUE), ("Aluminium powder", DRY)),
    (("MEKP", CHEMICAL), ("Bronze powder", DRY)),
    (("1338-23-4", CHEMICAL), ("Manganese dioxide", DRY)),
    (("MEKP hardener", CHEMICAL), ("Raw umber", DRY)),
    (("Sodium nitrite", CHEMICAL), ("Vinegar", CHEMICAL)),
    (("Formic acid", CHEMICAL), ("Sulfuric acid", CHEMICAL)),
    (("a", CHEMICAL, "144-62-7"), ("b", CHEMICAL, "7664-93-9")),
    (("Nitric acid", CHEMICAL), ("Glacial acetic acid", CHEMICAL)),
    (("Sulfuric acid", CHEMICAL), ("Sal ammoniac", CHEMICAL)),
    (("Hydrochloric acid", CHEMICAL), ("Formalin", CHEMICAL)),
    (("Isocyanate", BINDER), ("Denatured alcohol", SOLVENT)),
    (("2K polyurethane part B", BINDER), ("Tap water", CHEMICAL)),
    (("PU-Härter", BINDER), ("Tap water", CHEMICAL)),
    (("Hydrogen peroxide 30 %", CHEMICAL), ("Raw umber", DRY)),
    (("Wasserstoffperoxid", CHEMICAL), ("PBr7", DRY)),
    (("Aluminium paint", FINISH), ("Lye", CHEMICAL)),
    (("Zinc dust paste", IN_OIL), ("Muriatic acid", CHEMICAL)),
    (("Aluminium powder", DRY), ("Red lead", DRY)),
    (("Zinc dust", CHEMICAL), ("Minium", DRY)),
    (("Raw umber", DRY), ("Muriatic acid 33 %", CHEMICAL)),
    (("Steel wool", MaterialKind.CONSUMABLE), ("Hydrochloric acid", CHEMICAL)),
    (("Pickling acid", CHEMICAL), ("Yellow prussiate of potash", CHEMICAL)),
    (("Masonry acid", CHEMICAL), ("Prussian blue", DRY)),
    (("Pickling acid", CHEMICAL), ("Water", SOLVENT)),
    (("Iodine crystals", CHEMICAL), ("Aluminium powder", DRY)),
    (("Iodine", CHEMICAL), ("Turpentine", SOLVENT)),
    (("Aluminium powder", DRY), ("Litharge", DRY)),
    (("Pot. permang.", DYE), ("Glycerine", BINDER)),
    (("Red chromate of potash", DYE), ("Boiled linseed oil", BINDER)),
    (("Bichrome", DYE), ("Denatured alcohol", SOLVENT)),
    (("Liver of sulphur", CHEMICAL), ("Tannic acid", CHEMICAL)),
    (("Sodium sulphide", CHEMICAL), ("Alum", CHEMICAL)),
    (("Chloroform", SOLVENT), ("Acetone", SOLVENT)),
    (("a", SOLVENT, "79-01-6"), ("Aluminium powder", DRY)),
    (("b", SOLVENT, "56-23-5"), ("Zinc dust", CHEMICAL)),
    (("Aluminium paste", IN_OIL), ("Water", SOLVENT)),
    (("Prussian blue", DYE), ("Boiled linseed oil", BINDER)),
    (("Prussian blue", CHEMICAL), ("Boiled linseed oil", BINDER)),
    (("Zinc dust", MaterialKind.CONSUMABLE), ("Vinegar", CHEMICAL)),
    (("Lithium aluminium hydride", CHEMICAL), ("Denatured alcohol", SOLVENT)),
    (("Triethylaluminium", CHEMICAL), ("Water", SOLVENT)),
    (("Aluminium nitrate", CHEMICAL), ("Flowers of sulphur", CHEMICAL)),
    (("Cadmium nitrate", CHEMICAL), ("Flowers of sulphur", CHEMICAL)),
    (("Cobalt nitrate", DYE), ("Linseed oil", BINDER)),
    (("Sodium chlorite", DYE), ("Vinegar", CHEMICAL)),
    (("Javelwater", DYE), ("Vinegar", CHEMICAL)),
    (("Acrylic dispersion", FINISH), ("Aluminium powder", DRY)),
    (("LAH", CHEMICAL), ("Tap water", CHEMICAL)),
    (("Bleach neutraliser", CHEMICAL), ("Household bleach", CHEMICAL)),
]  # fmt: skip
FINAL: list[tuple[Thing, Thing]] = [
    (("KCN", CHEMICAL), ("Vinegar", CHEMICAL)),
    (("Potassium chlorate", CHEMICAL), ("Lamp black", DRY)),
    (("Potassium dichromate", CHEMICAL), ("Sulphuric acid", CHEMICAL)),
    (("Nitric acid", CHEMICAL), ("Glacial acetic acid", CHEMICAL)),
    (("Iodine", CHEMICAL), ("Household ammonia", CHEMICAL)),
    (("Lejía", CHEMICAL), ("Vinegar", CHEMICAL)),
]
DAILY: list[tuple[Thing, Thing]] = [
    *[((pigment, DRY), ("Boiled linseed oil", BINDER)) for pigment in (
        "Titanium white", "Iron oxide red", "Yellow ochre", "Burnt umber", "Vandyke brown", "Zinc white",
        "Whiting", "Phthalo blue", "Ultramarine", "Pumice",
    )],
    (("Shellac", MaterialKind.RESIN), ("Alcohol", SOLVENT)),
    (("Shellac", MaterialKind.RESIN), ("Meths", SOLVENT)),
    (("Gum arabic", BINDER), ("Tap water", CHEMICAL)),
    (("Hide glue", GLUE), ("Water", SOLVENT)),
    (("Walnut crystals", DYE), ("Water", SOLVENT)),
    (("Prussian blue", DRY), ("Water", SOLVENT)),
    (("Prussian blue", DRY), ("Gum arabic", GLUE)),
    (("Household bleach", CHEMICAL), ("Water", SOLVENT)),
    (("Oxalic acid", CHEMICAL), ("Tap water", CHEMICAL)),
    (("Borax", CHEMICAL), ("Casein", GLUE)),
    (("Red iron oxide", DRY), ("Lime putty", CHEMICAL)),
    (("Beeswax", CHEMICAL), ("Turpentine", SOLVENT)),
    (("Boiled linseed oil", BINDER), ("White spirit", SOLVENT)),
    (("Ultramarine", DRY), ("Aluminium powder", DRY)),
    (("Cadmium yellow", DRY), ("Aluminium bronze", DRY)),
    (("Alumina hydrate", DRY), ("Ultramarine", DRY)),
    (("Salt", CHEMICAL), ("Water", SOLVENT)),
    (("Baking soda", CHEMICAL), ("Water", SOLVENT)),
    (("Pumice", DRY), ("Mineral oil", BINDER)),
    (("Ammonia-free cleaner", CHEMICAL), ("Titanium white", DRY)),
]  # fmt: skip


def judged(database: Database, *pair: Thing) -> Verdict:
    stuff = [
        Material(
            name=one[0], kind=one[1], form=Form.POWDER if one[1] in (DRY, DYE) else Form.LIQUID,
            cas=one[2] if len(one) > 2 else "", created_at=NOW,
        )
        for one in pair
    ]  # fmt: skip
    with database.reading() as session:
        return judge_never_with(session, stuff)


def test_every_dangerous_pair_stops_in_both_orders(database: Database) -> None:
    silent = [
        (one[0], other[0])
        for one, other in PAIRS
        if not (judged(database, one, other).blocking and judged(database, other, one).blocking)
    ]
    assert not silent


@pytest.mark.parametrize("pair", FINAL, ids=lambda pair: f"{pair[0][0]} + {pair[1][0]}")
def test_what_kills_is_answered_by_nobody(database: Database, pair: tuple[Thing, Thing]) -> None:
    stops = [f for f in judged(database, *pair) if f.severity.value == "stop"]
    assert any(f.code not in answerable(never_with()) for f in stops)
    assert not any("confirms in writing" in f.sentence for f in stops if f.about.startswith(pair[0][0]))


@pytest.mark.parametrize("pair", DAILY, ids=lambda pair: f"{pair[0][0]} + {pair[1][0]}")
def test_what_is_mixed_every_day_does_not_stop(database: Database, pair: tuple[Thing, Thing]) -> None:
    assert [f.sentence for f in judged(database, *pair) if f.severity.value == "stop"] == []
