"""Old and trade names of what is never put together: which side each stands on, and which only look alike."""

from __future__ import annotations

import pytest

from service.core.findings import Severity, Verdict
from service.core.judge_together import judge_together
from service.core.materials import MaterialKind as Kind
from service.core.mixed_things import MixedThing, Names, is_on
from service.records.knowledge_never_with import never_with

SIDES = {side.key: side for row in never_with() for side in (row.a, row.b)}

NAMES = {
    "acid": """
        spirits of salt; Spirit of Salts; muriatic acid; Muriatic; vitriol; oil of vitriol; aqua
        fortis; aqua regia; salts of lemon; salt of sorrel; malt vinegar; lemon juice; brick
        cleaner; Toilet cleaner; Drain cleaner; descaler; kettle descaler; limescale remover; rust
        remover; sodium bisulphate; sulphamic acid; sulfuric acid 20 %; battery acid; lactic acid;
        cream of tartar; spirits of nitre; chromic acid; chromic anhydride; chromium trioxide;
        perchloric acid; CrO3; HCl; H2SO4; H₂SO₄; HNO3""",
    "oxalic": "salts of lemon; essence of sorrel; oxalic acid; potassium hydrogen oxalate",
    "nitric": "aqua fortis; spirits of nitre; nitric acid; HNO3",
    "hypochlorite": """
        Javel water; eau de Javel; Javelle water; chloride of lime; bleaching powder; pool chlorine;
        thick bleach; household bleach; bleach; wood bleach; toilet cleaner; mould remover; sodium
        dichloroisocyanurate; chlorine tablets; NaOCl""",
    "oxidiser": """
        perhydrol; Condy's crystals; Condy’s Crystals; Condys fluid; Chile nitre; Chile saltpetre;
        chile-saltpeter; nitre; potassium dichromate; Bichromate of potash; di-chromate of soda;
        aqua fortis; permanganate of potash; nitrate of soda; iron nitrate; ammonium persulphate;
        potassium chlorate; Javel water; pool chlorine; oxygen bleach; sodium perborate; saltpetre;
        chromic acid; chromic anhydride; chromium trioxide; Chromium(VI) oxide; perchloric acid;
        sodium persulphate; potassium persulfate; ammonium peroxydisulphate; CrO3; KMnO4; H2O2;
        H₂O₂; HNO3; NaOCl""",
    "peroxide-bleach": """
        perhydrol; peroxide; Peroxide 35 %; hydrogen peroxide; Chlorine-free bleach; oxygen bleach;
        non-chlorine bleach; bleach without chlorine; percarbonate; H2O2""",
    "alkali": """
        burnt lime; quicklime; quick-lime; caustic soda; drain cleaner; oven cleaner; lye; soda ash;
        washing soda; potash; pearl ash; salt of tartar; spirits of hartshorn; lime putty; water
        glass; carbonate of soda; ammonium hydroxide; NaOH; KOH; CaO; NH3""",
    "ammonia": "spirits of hartshorn; household ammonia; liquor ammoniae; ammonium hydroxide; NH3",
    "ammonium-salt": "sal ammoniac; Sal-Ammoniac; ammonium chloride; muriate of ammonia; salt of hartshorn",
    "quicklime": "quicklime; quick lime; burnt lime; unslaked lime; calcium oxide; lime; Builder's lime; CaO",
    "sulphide": """
        liver of sulphur; Liver of Sulfur; sodium sulphide; ammonium sulfide; lime sulphur;
        vermilion; ultramarine""",
    "sulphite": """
        sodium metabisulphite; potassium metabisulfite; meta-bisulphite; sodium bisulphite; sodium
        hydrosulphite; dithionite; sodium thiosulphate; Campden tablets; colour run remover""",
    "dithionite": "sodium dithionite; sodium hydrosulfite; decolouriser",
    "organic-peroxide": "MEKP; hardener; catalyst; benzoyl peroxide paste; methyl ethyl ketone peroxide",
    "isocyanate": "isocyanate hardener; MDI; polyurethane hardener; 2K hardener; PU-hardener; hardener",
    "metal-powder": """
        zinc powder; zinc dust; aluminium powder; aluminum flake; aluminium paste; bronze powder;
        powdered zinc; magnesium filings; zinc""",
    "iron-metal": "steel wool 0000; iron filings; wire wool",
    "lead": "sugar of lead; white lead; lead nitrate",
    "chlorine-maker": """
        manganese dioxide; Pyrolusite; manganese black; black oxide of manganese; MnO2; KMnO4;
        permanganate of potash; Condy's crystals; potassium dichromate; chromic acid""",
    "umber": "umber; raw umber; burnt umber; Cyprus umber; raw sienna; burnt sienna",
    "hydrochloric": "spirits of salt; muriatic acid; hydrochloric acid 30 %; HCl; aqua regia; brick cleaner",
    "sulphuric": "oil of vitriol; sulphuric acid; Sulfuric acid 96 %; H2SO4; battery acid; oleum; vitriol",
    "strong-acid": "HNO3; glacial acetic acid; nitric acid; spirits of salt; perchloric acid; conc. acid",
    "caustic": "caustic soda; caustic potash; lye; NaOH; KOH; sodium hydroxide",
    "dry-chlorine": "pool chlorine; pool shock; chlorine tablets; bleaching powder; chloride of lime",
    "water-reactive": "sodium metal; sodium; metallic potassium; lithium",
    "carbide": "calcium carbide; CaC2; carbide; carbide stones",
    "silver-nitrate": "silver nitrate; lunar caustic; nitrate of silver",
    "nitrate": "saltpetre; Chile nitre; silver nitrate; nitrate of potash",
    "aqueous": """
        battery acid; tap water; Water, distilled; water (tap); white vinegar; household ammonia; acrylic
        emulsion; water-based varnish; hydrogen peroxide 3 %; lime water; spirits of salt""",
}
NOT = {
    "acid": """
        blue vitriol; vitriol, blue; green vitriol; white vitriol; table salt; Epsom salts; salt;
        stearic acid; linseed fatty acid; boric acid; acid-free tissue; acid dye, brown; spirits;
        white spirit; lemon oil; citron yellow; brick red; brick dust; brush cleaner; descaled
        flakes; rust red; nitrocellulose; chromic oxide green; chromium oxide; perchloroethylene""",
    "hypochlorite": """
        Chlorine-free bleach; chlorine-free household bleach; oxygen bleach; non-chlorine bleach;
        bleach without chlorine; peroxide bleach; oxalic bleach; bleached shellac; bleached beeswax;
        bleached linseed oil; bleaching earth; chlorinated rubber varnish; chloroform; pool table
        polish; javanese teak oil; brush cleaner""",
    "oxidiser": """
        bleached shellac; bleaching clay; oxide red; chrome oxide green; nitrocellulose lacquer;
        cellulose nitrate; oxalic bleach; dichroic mica; condensed milk paint; nitrile gloves; raw
        umber; iron oxide; zinc oxide; chlorinated rubber; chromic oxide green; chromium oxide;
        chrome yellow; perchloroethylene; persimmon oil; chrome tanning""",
    "peroxide-bleach": """
        methyl ethyl ketone peroxide; benzoyl peroxide; dibenzoyl peroxide; organic peroxide paste;
        thick bleach; bleached shellac; iron oxide""",
    "quicklime": """
        limestone; ground limestone; lime green; slaked lime; hydrated lime; lime putty; lime wood
        dust; limewash; lime water; quick-drying varnish; burnt sienna; burnt umber; calcium
        carbonate; soda-lime glass; lime sulphur; limed oak wax; cacao""",
    "alkali": """
        limestone; lime green; baking soda; potash feldspar; potash alum; sulphate of potash; lyons
        blue; soda-lime glass beads; ammonium alum; drain oil; oven-dried clay""",
    "ammonia": "ammonium alum; sal ammoniac; ammonite grey",
    "ammonium-salt": "ammonia; spirits of hartshorn; potash alum",
    "sulphide": """
        barium sulphate; zinc sulphate; sulphite; flowers of sulphur; polysulphide sealant; liver
        brown""",
    "sulphite": """
        sulphate of iron; copper sulphate; barium sulphate; sulphur; zinc sulphide; hypochlorous;
        graphite""",
    "organic-peroxide": "epoxy hardener; wood hardener; acid catalyst; hydrogen peroxide; percarbonate",
    "isocyanate": "epoxy hardener; amine hardener; wood hardener; hardening oil; isopropanol; mdf dust",
    "metal-powder": """
        zinc oxide; zinc white; aluminium hydrate; aluminium stearate; zinc yellow; copper green;
        bronze green; silver grey; zinc stearate; iron oxide powder""",
    "iron-metal": "iron oxide powder; steel grey; wool wax; iron blue",
    "lead": "lead-free white; leaded light; sugar; black lead",
    "aqueous": """
        waterproof varnish; water-white rosin; water gilding bole; dewatered; white spirit; glue
        granules""",
    "chlorine-maker": "raw umber; manganese violet; manganese drier; manganese blue; iron black",
    "umber": "number; cucumber green; siena marble; umbrella paint",
    "hydrochloric": "blue vitriol; vinegar; hypochlorite; salt; brush cleaner",
    "sulphuric": """
        blue vitriol; green vitriol; vitriol, blue; copper sulphate; liver of sulphur; sulphurous acid;
        persulphuric acid; sulphated castor oil; battery""",
    "strong-acid": "vinegar; citric acid; acetic acid 5 %; boric acid; strong tea; nitrocellulose",
    "caustic": "washing soda; lyons blue; encaustic wax; slaked lime; potash",
    "dry-chlorine": "Javel water; household bleach; pool table polish; chlorinated rubber",
    "water-reactive": "sodium chloride; potassium alum; sodium carbonate; lithium soap; metallic gold paint",
    "carbide": "silicon carbide; tungsten carbide scraper; carbon black; carbide blade",
    "nitrate": "cellulose nitrate; nitrile gloves; nitrocellulose; nitric acid",
    "nitric": "sweet spirits; nitrocellulose; fortified",
}


def named(name: str, kind: Kind = Kind.OTHER_CHEMICAL) -> MixedThing:
    return MixedThing(name, kind, Names(called=(name,)))


def listed(table: dict[str, str]) -> list[tuple[str, str]]:
    return [(side, " ".join(name.split())) for side, names in table.items() for name in names.split(";")]


@pytest.mark.parametrize(("side", "name"), listed(NAMES))
def test_a_name_of_the_trade_is_known(side: str, name: str) -> None:
    only = SIDES[side].only_kinds
    written_so = (
        name, name.upper(), f"  {name.title()} ", name.replace(" ", "  "), name.replace(" ", "-"),
        f"{name}, 1 l", f"{name} (old tin)", f"{name}, Kettle Yard",
    )  # fmt: skip
    for written in written_so:
        assert is_on(SIDES[side], named(written, min(only) if only else Kind.OTHER_CHEMICAL)), written


@pytest.mark.parametrize(("side", "name"), listed(NOT))
def test_a_name_that_only_looks_alike_is_not(side: str, name: str) -> None:
    for kind in (*(SIDES[side].only_kinds or Kind), Kind.OTHER_CHEMICAL):
        if kind not in SIDES[side].kinds:
            assert not is_on(SIDES[side], named(name, kind)), kind


def first_stop(*things: MixedThing) -> str:
    return next(f.code for f in judge_together(never_with(), things) if f.severity is Severity.STOP)


def found(*things: MixedThing) -> Verdict:
    return judge_together(never_with(), things)


ACIDS = [name for side, name in listed(NAMES) if side == "acid" and "cleaner" not in name.lower()]
BLEACHES = ["bleach", "Javel water", "pool chlorine", "chloride of lime", "thick bleach", "toilet cleaner"]


@pytest.mark.parametrize("acid", ACIDS)
@pytest.mark.parametrize("bleach", BLEACHES)
def test_bleach_with_any_acid_names_the_chlorine_gas_first(bleach: str, acid: str) -> None:
    oil = MixedThing("boiled oil", Kind.BINDER, Names(called=("boiled oil",)), oily=True)
    for things in ((named(bleach), named(acid)), (oil, named("zinc dust"), named(acid), named(bleach))):
        verdict = found(*things)
        first = next(iter(verdict))
        assert first.code == "never-hypochlorite-acid" and "chlorine gas" in first.sentence


@pytest.mark.parametrize("acid", ["vinegar", "salts of lemon", "descaler", "spirits of salt"])
def test_bleach_without_chlorine_beside_an_acid_is_no_hypochlorite_but_makes_a_peracid(acid: str) -> None:
    verdict = found(named("Chlorine-free bleach"), named(acid))
    assert "never-hypochlorite-acid" not in verdict.codes
    told = [f for f in verdict if f.code == "never-peroxide-acid"]
    assert [f.severity for f in told] == [Severity.STOP] and "peracid" in told[0].sentence
    assert "hypochlor" not in " ".join(f.sentence for f in verdict).lower()


@pytest.mark.parametrize(
    ("one", "other", "code", "words"),
    [
        ("quicklime", "tap water", "never-quicklime-water", "violent heat"),
        ("burnt lime", "white vinegar", "never-quicklime-water", "violent heat"),
        ("quicklime", "acrylic emulsion", "never-quicklime-water", "violent heat"),
        ("isocyanate hardener", "tap water", "never-isocyanate-water", "pressure"),
        ("2K hardener", "water-based varnish", "never-isocyanate-water", "pressure"),
        ("sodium hydrosulphite", "tap water", "never-dithionite-water", "pressure"),
        ("zinc dust", "spirits of salt", "never-acid-metal-powder", "hydrogen"),
        ("liver of sulphur", "vinegar", "never-acid-sulphide", "hydrogen sulphide"),
        ("sodium metabisulphite", "oil of vitriol", "never-sulphite-acid", "sulphur dioxide"),
        ("sal ammoniac", "pool chlorine", "never-hypochlorite-ammonium", "chloramine"),
        ("spirits of hartshorn", "Javel water", "never-hypochlorite-ammonia", "chloramine"),
        ("sal ammoniac", "burnt lime", "never-ammonium-alkali", "ammonia gas"),
        ("KMnO4", "spirits of salt", "never-chlorine-hydrochloric", "chlorine gas"),
        ("manganese dioxide", "muriatic acid", "never-chlorine-hydrochloric", "chlorine gas"),
        ("manganese black", "HCl", "never-chlorine-hydrochloric", "chlorine gas"),
        ("potassium permanganate", "oil of vitriol", "never-permanganate-sulphuric", "explodes"),
        ("potassium chlorate", "battery acid", "never-permanganate-sulphuric", "explodes"),
        ("oil of vitriol", "tap water", "never-sulphuric-water", "never water into it"),
        ("spirits of salt", "water", "never-strong-acid-water", "never water into it"),
        ("caustic soda", "water", "never-caustic-water", "never water into it"),
        ("pool chlorine", "water", "never-dry-chlorine-water", "chlorine gas"),
        ("sodium metal", "water", "never-water-reactive-water", "catches fire"),
        ("calcium carbide", "water", "never-carbide-water", "acetylene"),
        ("KMnO4", "H2O2", "never-peroxide-manganese", "foams over"),
        ("silver nitrate", "ammonia", "never-silver-ammonia", "explodes"),
    ],
)
def test_the_reason_that_comes_first_is_the_gravest(one: str, other: str, code: str, words: str) -> None:
    for pair in ((named(one), named(other)), (named(other), named(one))):
        told = [f for f in found(*pair) if f.severity is Severity.STOP]
        assert told[0].code == code and words in told[0].sentence and told[0].source


@pytest.mark.parametrize("partner", ["boiled oil", "white spirit", "shellac"])
def test_quicklime_with_what_burns_names_the_heat(partner: str) -> None:
    kind = {"boiled oil": Kind.BINDER, "white spirit": Kind.SOLVENT, "shellac": Kind.RESIN}[partner]
    other = MixedThing(partner, kind, Names(called=(partner,)), oily=kind is Kind.BINDER)
    assert first_stop(named("quicklime"), other) == "never-quicklime-organic"
    assert first_stop(named("quicklime"), other, named("tap water")) == "never-quicklime-water"


BURNS = {
    "boiled oil": Kind.BINDER,
    "alcohol": Kind.SOLVENT,
    "acetone": Kind.SOLVENT,
    "turpentine": Kind.SOLVENT,
    "shellac": Kind.RESIN,
}


def burning(name: str) -> MixedThing:
    return MixedThing(name, BURNS[name], Names(called=(name,)), oily=BURNS[name] is Kind.BINDER)


@pytest.mark.parametrize("partner", BURNS)
@pytest.mark.parametrize(
    "name",
    [
        "chromic acid", "Chromium trioxide", "CrO3", "chromic anhydride", "perchloric acid 60 %",
        "ammonium persulphate", "sodium persulfate", "KMnO4",
    ],
)  # fmt: skip
def test_a_strong_oxidiser_by_name_alone_stops_beside_what_burns(name: str, partner: str) -> None:
    told = found(named(name), burning(partner))
    assert told.blocking and {"never-oxidiser-organic", "never-oxidiser-oil"} & told.codes


@pytest.mark.parametrize("partner", BURNS)
@pytest.mark.parametrize("name", ["oil of vitriol", "sulphuric acid", "H2SO4", "Battery acid"])
def test_sulphuric_acid_stops_beside_what_burns(name: str, partner: str) -> None:
    told = found(guessed(name), burning(partner))
    assert first_stop(guessed(name), burning(partner)) == "never-sulphuric-organic"
    assert "can catch fire" in next(iter(told)).sentence


def guessed(name: str) -> MixedThing:
    """An other chemical of which nobody said whether its rags heat."""
    return MixedThing(name, Kind.OTHER_CHEMICAL, Names(called=(name,)), oily=True, oil_guessed=True)


@pytest.mark.parametrize("name", ["raw umber", "burnt umber", "raw sienna"])
def test_an_earth_with_manganese_warns_beside_hydrochloric_acid(name: str) -> None:
    told = found(named(name, Kind.DRY_PIGMENT), guessed("spirits of salt"))
    assert [f.severity for f in told if f.code == "never-umber-hydrochloric"] == [Severity.WARN]


NO_OIL = ["spirits of salt", "oil of vitriol", "caustic soda", "pool chlorine", "calcium carbide", "NaOH",
          "sodium metal", "bleach", "Javel water", "ammonia", "KMnO4", "quicklime",
          "sodium metabisulphite"]  # fmt: skip


@pytest.mark.parametrize("name", NO_OIL)
def test_what_is_no_oil_by_its_name_is_never_called_oil(name: str) -> None:
    iron_blue = MixedThing("PB27", Kind.DRY_PIGMENT, Names(called=("PB27",)))
    codes = found(guessed(name), guessed("tap water"), iron_blue).codes
    assert not {code for code in codes if code.endswith(("-oil", "-organic"))}


@pytest.mark.parametrize("name", ["ammonia soap of linseed oil", "acid varnish", "some cleaner"])
def test_a_name_that_may_hold_oil_or_says_nothing_stays_a_guess(name: str) -> None:
    assert "never-water-oil" in found(guessed(name), guessed("tap water")).codes


def test_iron_blue_with_bleach_names_the_bleach_alone() -> None:
    iron_blue = MixedThing("Prussian blue", Kind.DRY_PIGMENT, Names(called=("Prussian blue",)))
    for bleach in ("bleach", "thick bleach", "Javel water", "pool chlorine"):
        assert found(iron_blue, guessed(bleach)).codes == {"never-iron-blue-chlorine"}


@pytest.mark.parametrize("name", ["Two-pack hardener (HDI)", "HDI hardener", "hardener, MDI"])
def test_an_isocyanate_hardener_is_no_organic_peroxide(name: str) -> None:
    assert is_on(SIDES["isocyanate"], named(name))
    assert not is_on(SIDES["organic-peroxide"], named(name))
