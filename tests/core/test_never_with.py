"""What is never mixed with what: every row has a case that meets it and one that just does not."""

from __future__ import annotations

import itertools

import pytest

from service.core.access import Role
from service.core.findings import stop
from service.core.hazards.read_class import read_class
from service.core.judge_together import judge_together
from service.core.materials import MaterialKind as Kind
from service.core.mixed_things import MixedThing, Names, is_on
from service.core.never_with import answerable, may_answer, met_rows, without_answered
from service.records.knowledge_never_with import never_with

ROWS = {row.key: row for row in never_with()}


def thing(name: str, kind: Kind = Kind.OTHER_CHEMICAL, **facts: object) -> MixedThing:
    cas = frozenset(str(facts.pop("cas", "")).split()) - {""}
    ci = frozenset(str(facts.pop("ci", "")).casefold().split()) - {""}
    keys = frozenset(str(facts.pop("key", "")).split()) - {""}
    return MixedThing(name, kind, Names(keys, cas, ci, (name,)), **facts)  # type: ignore[arg-type]


def classed(name: str, *written: str, kind: Kind = Kind.OTHER_CHEMICAL) -> MixedThing:
    read = [read_class(one) for one in written]
    hazards = tuple(hazard for one in read for hazard in one.hazards)
    said = frozenset(code for one in read for code in one.supplements) | {h.code for h in hazards}
    return MixedThing(name, kind, Names(called=(name,)), hazards=hazards, statements=said)


PEROXIDE = thing("hydrogen peroxide", cas="7722-84-1")
PERMANGANATE = thing("potassium permanganate", cas="7722-64-7")
CHLORINE = thing("sodium hypochlorite", cas="7681-52-9")
OXALIC = thing("oxalic acid", cas="6153-56-6")
ACETIC = thing("acetic acid", cas="64-19-7")
NITRIC = thing("nitric acid", cas="7697-37-2")
LYE = thing("caustic soda", cas="1310-73-2")
AMMONIA = thing("ammonia water", cas="1336-21-6")
BORAX = thing("borax", cas="1303-96-4")
HARDENER = thing("hardener", cas="1338-23-4")
OIL = thing("boiled oil", Kind.BINDER, key="linseed_boiled", oily=True)
MINERAL_OIL = thing("white oil", Kind.BINDER, cas="8042-47-5")
ALCOHOL = thing("alcohol", Kind.SOLVENT, key="ethanol")
ACETONE = thing("acetone", Kind.SOLVENT, key="acetone")
SPIRITS = thing("white spirit", Kind.SOLVENT, key="white_spirit_regular")
WATER = thing("tap water", key="water")
DRIER = thing("cobalt drier", Kind.DRIER, key="co_drier", oily=True)
BLUE = thing("iron blue", Kind.DRY_PIGMENT, ci="PB27")
BLUE_IN_OIL = thing("iron blue in oil", Kind.COLOUR_IN_OIL, ci="PB27", oily=True)
GREEN = thing("chrome green", Kind.DRY_PIGMENT, ci="PG15")
OXIDE_GREEN = thing("chrome green", Kind.DRY_PIGMENT, ci="PG17")
BLACK = thing("lampblack", Kind.DRY_PIGMENT, ci="PBk6")
IRON_BLACK = thing("iron black", Kind.DRY_PIGMENT, ci="PBk11")
LEAD = thing("white lead", Kind.DRY_PIGMENT, ci="PW1")
TITANIUM = thing("titanium white", Kind.DRY_PIGMENT, ci="PW6")
CADMIUM = thing("cadmium red", Kind.DRY_PIGMENT, ci="PR108")
CADMIUM_HUE = thing("cadmium red hue", Kind.DRY_PIGMENT, ci="PR170")
ULTRAMARINE = thing("ultramarine", Kind.DRY_PIGMENT, ci="PB29")
COBALT_BLUE = thing("cobalt blue", Kind.DRY_PIGMENT, ci="PB28")
MALACHITE = thing("malachite", Kind.DRY_PIGMENT, ci="PG39")
EMERALD = thing("emerald green", Kind.DRY_PIGMENT, ci="PG21")
VIRIDIAN = thing("emerald green", Kind.DRY_PIGMENT, ci="PG18")
UMBER = thing("raw umber", Kind.DRY_PIGMENT, ci="PBr7")
CHALK = thing("whiting", Kind.DRY_PIGMENT, ci="PW18")
ALUMINIUM = thing("aluminium powder", Kind.DRY_PIGMENT, ci="PM1")
METHYLENE = thing("stripper", Kind.SOLVENT, cas="75-09-2")
SHELLAC = thing("shellac solution", Kind.RESIN, key="shellac_cut")
FLAKES = thing("shellac flakes", Kind.RESIN, key="shellac_dry_waxy")
SULPHITE = classed("fixing salt", "EUH031")
HARMLESS = classed("salt")
SAL_AMMONIAC = thing("sal ammoniac", cas="12125-02-9")
METABISULPHITE = thing("metabisulphite", cas="7681-57-4")
DITHIONITE = thing("dithionite", cas="7775-14-6")
QUICKLIME = thing("quicklime", cas="1305-78-8")
SLAKED = thing("slaked lime", cas="1305-62-0")
ISOCYANATE = thing("two-pack hardener", cas="28182-81-2")
ZINC = thing("zinc dust", cas="7440-66-6")
WOOL = thing("steel wool", Kind.CONSUMABLE)
LIVER = thing("liver of sulphur", cas="39365-88-3")
MURIATIC = thing("hydrochloric acid", cas="7647-01-0")
VITRIOL = thing("sulphuric acid", cas="7664-93-9")
MANGANESE = thing("pyrolusite", Kind.DRY_PIGMENT)
POOL = thing("calcium hypochlorite", cas="7778-54-3")
TABLETS = thing("chlorine tablets")
CARBIDE = thing("carbide stones", cas="75-20-7")
SODIUM = thing("sodium metal")

NITRITE = thing("sodium nitrite", cas="7632-00-0")
VERDIGRIS = thing("verdigris", Kind.DRY_PIGMENT, ci="PG20")
RED_LEAD = thing("red lead", Kind.DRY_PIGMENT, ci="PR105")
OCHRE = thing("red ochre", Kind.DRY_PIGMENT, ci="PR102")
CHROMIC = thing("chromic acid", cas="1333-82-0")

CASES = [
    ("never-here", (thing("picric acid"), CHALK), (OXALIC, CHALK)),
    ("chloroform-ketone", (thing("chloroform", Kind.SOLVENT), ACETONE), (METHYLENE, ACETONE)),
    ("metal-powder-sulphur", (ZINC, thing("flowers of sulphur")), (ZINC, thing("sulphur dioxide"))),
    ("sulphide-sour-salt", (LIVER, thing("tannic acid")), (ULTRAMARINE, thing("tannic acid"))),
    ("nitrite-acid", (NITRITE, ACETIC), (NITRITE, CHALK)),
    ("nitric-organic-acid", (NITRIC, ACETIC), (MURIATIC, ACETIC)),
    ("chromate-sulphuric", (thing("potassium dichromate"), VITRIOL), (thing("potassium dichromate"), ACETIC)),
    ("chromic-organic-acid", (CHROMIC, OXALIC), (MURIATIC, OXALIC)),
    ("sulphuric-carbon-monoxide", (VITRIOL, OXALIC), (VITRIOL, ACETIC)),
    ("metal-powder-thermite", (ALUMINIUM, RED_LEAD), (ALUMINIUM, TITANIUM)),
    ("metal-powder-iron-oxide", (ALUMINIUM, OCHRE), (ALUMINIUM, TITANIUM)),
    ("oxidiser-fuel", (thing("saltpetre"), BLACK), (thing("saltpetre"), IRON_BLACK)),
    ("oxidiser-fuel", (PERMANGANATE, thing("flowers of sulphur")), (PERMANGANATE, thing("sulphur dioxide"))),
    ("copper-cadmium", (VERDIGRIS, CADMIUM), (VERDIGRIS, CADMIUM_HUE)),
    ("acid-copper", (ACETIC, MALACHITE), (ACETIC, TITANIUM)),
    ("shellac-spirits", (SHELLAC, SPIRITS), (SHELLAC, ALCOHOL)),
    ("iron-blue-strong-acid", (BLUE_IN_OIL, MURIATIC), (BLUE_IN_OIL, ACETIC)),
    ("iron-blue-sulphuric", (GREEN, VITRIOL), (OXIDE_GREEN, VITRIOL)),
    ("reagent-anything", (MURIATIC, UMBER), (ACETIC, UMBER)),
    ("reagent-anything", (ISOCYANATE, ALCOHOL), (SHELLAC, ALCOHOL)),
    ("reagent-anything", (PEROXIDE, UMBER), (PEROXIDE, WATER)),
    ("reagent-anything", (LYE, TITANIUM), (LYE, WATER)),
    ("alkali-metal-powder", (LYE, thing("aluminium paste", Kind.COLOUR_IN_OIL, oily=True)), (LYE, WATER)),
    ("chlorine-hydrochloric", (MANGANESE, MURIATIC), (MANGANESE, ACETIC)),
    ("permanganate-sulphuric", (PERMANGANATE, VITRIOL), (PERMANGANATE, MURIATIC)),
    ("sulphuric-organic", (VITRIOL, ALCOHOL), (MURIATIC, ALCOHOL)),
    ("water-reactive-water", (SODIUM, WATER), (SODIUM, CHALK)),
    ("water-reactive-acid", (SODIUM, ACETIC), (SODIUM, LYE)),
    ("carbide-water", (CARBIDE, WATER), (CARBIDE, CHALK)),
    ("carbide-acid", (CARBIDE, ACETIC), (CARBIDE, LYE)),
    ("water-reactive-organic", (SODIUM, ALCOHOL), (SODIUM, CHALK)),
    ("water-reactive-oxidiser", (SODIUM, PERMANGANATE), (SODIUM, CHALK)),
    ("carbide-organic", (CARBIDE, ALCOHOL), (CARBIDE, CHALK)),
    ("carbide-oxidiser", (CARBIDE, PERMANGANATE), (CARBIDE, CHALK)),
    ("peroxide-manganese", (PEROXIDE, MANGANESE), (PEROXIDE, UMBER)),
    ("iodine-ammonia", (thing("iodine"), AMMONIA), (thing("iodine"), BORAX)),
    ("silver-ammonia", (thing("silver nitrate"), AMMONIA), (thing("saltpetre"), AMMONIA)),
    ("oxidiser-ammonia", (PERMANGANATE, AMMONIA), (PEROXIDE, AMMONIA)),
    ("sulphuric-water", (VITRIOL, WATER), (ACETIC, WATER)),
    ("strong-acid-water", (NITRIC, WATER), (ACETIC, WATER)),
    ("caustic-water", (LYE, WATER), (SLAKED, WATER)),
    ("dry-chlorine-water", (POOL, WATER), (CHLORINE, WATER)),
    ("dry-chlorine-mixed", (POOL, TABLETS), (CHLORINE, thing("Javel water"))),
    ("organic-peroxide-acid", (HARDENER, ACETIC), (HARDENER, CHALK)),
    ("organic-peroxide-alkali", (HARDENER, LYE), (HARDENER, BORAX)),
    ("organic-peroxide-manganese", (HARDENER, MANGANESE), (HARDENER, UMBER)),
    ("organic-peroxide-oxidiser", (HARDENER, PERMANGANATE), (HARDENER, CHALK)),
    ("organic-peroxide-sulphite", (HARDENER, METABISULPHITE), (HARDENER, CHALK)),
    ("oxidiser-metal-powder", (PERMANGANATE, ZINC), (OXALIC, ZINC)),
    ("oxidiser-ammonium", (PERMANGANATE, SAL_AMMONIAC), (PERMANGANATE, BORAX)),
    ("iron-blue-chlorine", (BLUE, CHLORINE), (BLUE, PEROXIDE)),
    ("iron-blue-strong-acid", (BLUE, NITRIC), (BLUE, ACETIC)),
    ("iron-blue-sulphuric", (BLUE, VITRIOL), (BLUE, ACETIC)),
    ("nitrate-sulphuric", (thing("saltpetre"), VITRIOL), (thing("saltpetre"), ACETIC)),
    ("oxidiser-acid", (PERMANGANATE, ACETIC), (PERMANGANATE, LYE)),
    ("umber-hydrochloric", (UMBER, MURIATIC), (UMBER, ACETIC)),
    ("oxidiser-organic", (PERMANGANATE, ALCOHOL), (PERMANGANATE, WATER)),
    ("oxidiser-organic", (classed("mordant", "Ox. Sol. 2"), ALCOHOL), (HARMLESS, ALCOHOL)),
    ("oxidiser-organic", (CHLORINE, SHELLAC), (CHLORINE, TITANIUM)),
    ("oxidiser-oil", (PEROXIDE, OIL), (PEROXIDE, ALCOHOL)),
    ("organic-peroxide-drier", (HARDENER, DRIER), (HARDENER, OIL)),
    ("organic-peroxide-organic", (HARDENER, SHELLAC), (HARDENER, CHALK)),
    ("peroxide-ketone", (PEROXIDE, ACETONE), (PEROXIDE, ALCOHOL)),
    ("peroxide-alkali", (PEROXIDE, LYE), (PEROXIDE, BORAX)),
    ("hypochlorite-acid", (CHLORINE, OXALIC), (CHLORINE, LYE)),
    ("hypochlorite-ammonia", (CHLORINE, AMMONIA), (CHLORINE, LYE)),
    ("hypochlorite-peroxide", (CHLORINE, PEROXIDE), (CHLORINE, WATER)),
    ("hypochlorite-ammonium", (CHLORINE, SAL_AMMONIAC), (CHLORINE, LYE)),
    ("gas-acid", (SULPHITE, ACETIC), (SULPHITE, LYE)),
    ("acid-alkali", (ACETIC, LYE), (ACETIC, BORAX)),
    ("nitric-organic", (NITRIC, ALCOHOL), (ACETIC, ALCOHOL)),
    ("peroxide-acid", (PEROXIDE, ACETIC), (PERMANGANATE, ACETIC)),
    ("sulphite-acid", (METABISULPHITE, ACETIC), (METABISULPHITE, LYE)),
    ("sulphite-oxidiser", (METABISULPHITE, CHLORINE), (METABISULPHITE, WATER)),
    ("dithionite-water", (DITHIONITE, WATER), (METABISULPHITE, WATER)),
    ("quicklime-water", (QUICKLIME, WATER), (SLAKED, WATER)),
    ("quicklime-organic", (QUICKLIME, OIL), (SLAKED, OIL)),
    ("isocyanate-water", (ISOCYANATE, WATER), (ISOCYANATE, ACETONE)),
    ("isocyanate-alkali", (ISOCYANATE, LYE), (ISOCYANATE, BORAX)),
    ("ammonium-alkali", (SAL_AMMONIAC, LYE), (SAL_AMMONIAC, BORAX)),
    ("acid-iron", (ACETIC, WOOL), (OIL, WOOL)),
    ("oxidiser-oxalic", (PERMANGANATE, OXALIC), (PERMANGANATE, ACETIC)),
    ("acid-sulphide", (ACETIC, ULTRAMARINE), (ACETIC, COBALT_BLUE)),
    ("acid-sulphide", (LIVER, ACETIC), (LIVER, LYE)),
    ("acid-cadmium", (ACETIC, CADMIUM), (ACETIC, CADMIUM_HUE)),
    ("acid-lead", (ACETIC, LEAD), (ACETIC, TITANIUM)),
    ("acid-metal-powder", (ACETIC, ALUMINIUM), (ACETIC, UMBER)),
    ("acid-metal-powder", (ACETIC, ZINC), (ALCOHOL, ZINC)),
    ("alkali-metal-powder", (LYE, ALUMINIUM), (BORAX, ALUMINIUM)),
    ("water-metal-powder", (WATER, ALUMINIUM), (ALCOHOL, ALUMINIUM)),
    ("methylene-metal-powder", (METHYLENE, ALUMINIUM), (ACETONE, ALUMINIUM)),
    ("methylene-alkali", (METHYLENE, LYE), (METHYLENE, BORAX)),
    ("oxalic-iron", (OXALIC, BLUE), (ACETIC, BLUE)),
    ("acid-chalk", (ACETIC, CHALK), (ACETIC, TITANIUM)),
    ("iron-blue-oil", (BLUE, OIL), (BLUE, SHELLAC)),
    ("iron-blue-oil", (BLUE, OIL), (BLUE_IN_OIL, OIL)),
    ("chrome-green-oil", (GREEN, OIL), (OXIDE_GREEN, OIL)),
    ("iron-blue-alkali", (BLUE, LYE), (ULTRAMARINE, LYE)),
    ("carbon-black-oil", (BLACK, OIL), (IRON_BLACK, OIL)),
    ("cadmium-lead", (CADMIUM, LEAD), (CADMIUM_HUE, LEAD)),
    ("lead-sulphide", (LEAD, ULTRAMARINE), (LEAD, COBALT_BLUE)),
    ("copper-sulphide", (MALACHITE, ULTRAMARINE), (MALACHITE, COBALT_BLUE)),
    ("arsenic-any", (EMERALD, WATER), (VIRIDIAN, WATER)),
    ("water-spirits", (WATER, SPIRITS), (WATER, ALCOHOL)),
    ("water-oil", (WATER, OIL), (WATER, MINERAL_OIL)),
    ("water-shellac", (WATER, SHELLAC), (WATER, FLAKES)),
]


def case_name(part: object) -> str:
    return part if isinstance(part, str) else ""


@pytest.mark.parametrize(("key", "meets", "just_not"), CASES, ids=case_name)
def test_a_row_is_met_and_just_not_met(
    key: str, meets: tuple[MixedThing, MixedThing], just_not: tuple[MixedThing, MixedThing]
) -> None:
    row = ROWS[key]
    for pair in (meets, meets[::-1]):
        found = [f for f in judge_together(never_with(), pair) if f.code == f"never-{key}"]
        assert [f.severity for f in found] == [row.severity]
        assert meets[0].name in found[0].sentence and row.sentence in found[0].sentence and found[0].source
    assert key not in {met.row.key for met in met_rows(never_with(), just_not)}


def test_every_row_has_its_cases() -> None:
    assert {key for key, *_ in CASES} == set(ROWS)


@pytest.mark.parametrize("alone", [BLUE, PEROXIDE, EMERALD, thing("something")], ids=lambda one: one.name)
def test_nothing_is_said_of_one_thing_alone(alone: MixedThing) -> None:
    assert not list(judge_together(never_with(), [alone]))


def test_a_third_material_never_takes_a_finding_away() -> None:
    things = [PEROXIDE, LYE, OIL, BLUE, LEAD, WATER, SPIRITS, thing("something")]
    for pair in itertools.combinations(things, 2):
        codes = judge_together(never_with(), pair).codes
        assert all(codes <= judge_together(never_with(), [*pair, more]).codes for more in things)


@pytest.mark.parametrize(
    ("name", "kind", "code"),
    [
        ("chrome green", Kind.DRY_PIGMENT, "never-chrome-green-oil"),
        ("Brunswick green", Kind.DRY_PIGMENT, "never-chrome-green-oil"),
        ("Prussian blue", Kind.DRY_PIGMENT, "never-iron-blue-oil"),
        ("wood bleach", Kind.OTHER_CHEMICAL, "never-oxidiser-oil"),
        ("emerald green", Kind.DRY_PIGMENT, "never-arsenic-any"),
    ],
)
def test_a_trade_name_alone_is_read_as_the_worse_of_its_meanings(name: str, kind: Kind, code: str) -> None:
    assert code in judge_together(never_with(), [thing(name, kind), OIL]).codes


def test_parts_of_a_mix_count_and_what_a_mix_is_nobody_knows_counts_as_burning() -> None:
    jar = MixedThing("jar", Kind.MADE_MIX, Names(), Names(cas=frozenset({"7681-52-9"})), hazards=())
    assert "never-hypochlorite-acid" in judge_together(never_with(), [jar, ACETIC]).codes
    told = MixedThing("jar", Kind.MADE_MIX, Names(), hazards=(), kinds_inside=frozenset({Kind.GLUE_OR_SIZE}))
    dry = MixedThing("jar", Kind.MADE_MIX, Names(), hazards=(), kinds_inside=frozenset({Kind.DRY_PIGMENT}))
    untold = MixedThing("jar", Kind.MADE_MIX, Names(), hazards=())
    burns = [
        "never-oxidiser-organic" in judge_together(never_with(), [one, PERMANGANATE]).codes
        for one in (told, dry, untold)
    ]
    assert burns == [True, False, True]


def test_metals_count_as_names_do() -> None:
    yellow = thing("sign yellow", Kind.COLOUR_IN_JAPAN, metals=frozenset({"Pb"}), oily=True)
    assert is_on(ROWS["lead-sulphide"].a, yellow)
    assert not is_on(ROWS["lead-sulphide"].a, thing("sign yellow", Kind.COLOUR_IN_JAPAN, metals=frozenset()))


def test_only_a_stop_with_a_condition_is_answered_and_by_whom_it_says() -> None:
    assert not may_answer(ROWS["hypochlorite-acid"], Role.KEEPER)
    assert not may_answer(ROWS["water-oil"], Role.KEEPER)
    roles = (Role.READER, Role.STUDENT, Role.FINISHER, Role.KEEPER)
    assert [may_answer(ROWS["iron-blue-oil"], role) for role in roles] == [False, False, True, True]
    assert [may_answer(ROWS["cadmium-lead"], role) for role in roles] == [False, False, False, True]
    assert "never-iron-blue-oil" in answerable(never_with())
    met = judge_together(never_with(), [BLUE, OIL, CHLORINE, ACETIC])
    left = without_answered(met, {"never-iron-blue-oil"})
    assert met.codes - left.codes == {"never-iron-blue-oil"} and left.blocking
    assert not without_answered([stop("never-iron-blue-oil", "No.")], {"never-iron-blue-oil"}).blocking
