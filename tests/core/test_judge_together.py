"""What nobody can tell of a pot: said always, and asked about before it meets what some row stops."""

from __future__ import annotations

import itertools
from dataclasses import replace

import pytest

from service.core.access import Role
from service.core.findings import Severity, Verdict
from service.core.judge_together import judge_together
from service.core.materials import MaterialKind as Kind
from service.core.mixed_things import MixedThing
from service.core.never_with import NOT_IDENTIFIED, answer_key, answerable, may_answer, without_answered
from service.records.knowledge_never_with import never_with
from tests.core.test_never_with import (
    ACETIC,
    ALCOHOL,
    CHALK,
    CHLORINE,
    LEAD,
    LYE,
    OIL,
    TITANIUM,
    UMBER,
    WATER,
    classed,
    thing,
)

SECRET = thing("cleaner from the cellar")
STOP = {"never-unidentified": Severity.STOP}
UNKNOWN = {"never-identity-not-known": Severity.UNKNOWN}


def found(*things: MixedThing) -> Verdict:
    return judge_together(never_with(), things)


def said(*things: MixedThing) -> dict[str, Severity]:
    return {f.code: f.severity for f in found(*things)}


@pytest.mark.parametrize("other", [OIL, ALCOHOL, WATER, CHLORINE, ACETIC, LEAD], ids=lambda one: one.name)
@pytest.mark.parametrize(
    "dark",
    [
        SECRET,
        thing("old blue", Kind.DRY_PIGMENT),
        thing("spirit of the trade", Kind.SOLVENT),
        thing("jar of last year", Kind.MADE_MIX),
        thing("something thick", Kind.READY_MADE_FINISH),
    ],
    ids=lambda one: one.name,
)
def test_what_nobody_can_identify_stops_beside_what_some_row_stops(
    dark: MixedThing, other: MixedThing
) -> None:
    for pair in ((dark, other), (other, dark)):
        stops = [f for f in found(*pair) if f.severity is Severity.STOP and f.code in STOP]
        assert [(f.code, f.about) for f in stops] == [("never-unidentified", f"{dark.name}, {other.name}")]
        words = stops[0].sentence
        assert f"Nobody has said what {dark.name} is, so nothing can be said" in words and other.name in words
        assert "What it is, how you know it" in words and stops[0].source
        assert not found(*pair).complete


@pytest.mark.parametrize("other", [TITANIUM, UMBER, CHALK], ids=lambda one: one.name)
def test_beside_what_no_row_stops_it_is_said_and_does_not_stop(other: MixedThing) -> None:
    assert said(SECRET, other) == said(other, SECRET) == UNKNOWN
    assert said(thing("jar of last year", Kind.MADE_MIX), other) == UNKNOWN
    assert said(thing("spirit", Kind.SOLVENT), other) == UNKNOWN


def test_two_that_nobody_can_identify_stop_each_other() -> None:
    assert said(SECRET, thing("another cleaner")) == STOP | UNKNOWN


@pytest.mark.parametrize(
    "told",
    [
        UMBER,
        thing("a raw umber", Kind.DRY_PIGMENT, key="raw_umber"),
        thing("thinner", Kind.SOLVENT, cas="64742-88-7"),
        thing("stand oil", Kind.BINDER, oily=True),
        thing("walnut brown dye, powder", Kind.DYE),
        classed("examined, none"),
        thing("Oil varnish, satin", Kind.READY_MADE_FINISH, named=True),
    ],
    ids=lambda one: one.name,
)
def test_what_is_known_by_number_row_kind_or_classes_never_stops_as_unidentified(told: MixedThing) -> None:
    for other in (OIL, ALCOHOL, WATER, TITANIUM):
        assert "never-unidentified" not in said(told, other)


def test_a_number_alone_is_an_identity_though_nobody_knows_what_it_does() -> None:
    assert said(thing("mordant", cas="99999-99-4"), OIL) == UNKNOWN
    assert said(classed("examined, none"), TITANIUM) == {}


@pytest.mark.parametrize(
    "name",
    ["unidentified powder", "Unknown liquid", "white one, no label", "Unlabelled can", "mystery tin", "???"],
)
def test_a_name_that_says_nobody_knows_is_no_identity_whatever_was_ticked(name: str) -> None:
    ticked = classed(name, kind=Kind.DRY_PIGMENT)
    assert said(ticked, OIL) == STOP | UNKNOWN
    assert "never-unidentified" not in said(thing(name, Kind.DRY_PIGMENT, ci="PW6"), OIL)


def test_something_corrosive_of_no_kind_stops_beside_an_acid_an_alkali_or_bleach() -> None:
    burns = classed("stripper", "Skin Corr. 1B")
    corrosive = {"never-corrosive-not-known": Severity.UNKNOWN}
    for other in (LYE, ACETIC, CHLORINE):
        met = said(burns, other)
        met.pop("never-reagent-anything", None)
        assert met == STOP | corrosive
    assert said(burns, TITANIUM) == {}


def test_a_solvent_of_no_name_beside_water_is_asked_for_both() -> None:
    spirit = thing("spirit", Kind.SOLVENT)
    assert said(spirit, WATER) == STOP | {"never-solvent-not-known": Severity.UNKNOWN}
    numbered = thing("spirit", Kind.SOLVENT, named=True)
    assert said(numbered, WATER) == {"never-solvent-not-known": Severity.UNKNOWN}


def test_what_is_dark_inside_a_made_mix_stops_too() -> None:
    jar = MixedThing("jar", Kind.MADE_MIX, thing("jar").itself, OIL.itself, inside=(SECRET, OIL), oily=True)
    stops = [f for f in found(jar, ALCOHOL) if f.code == "never-unidentified"]
    assert [f.about for f in stops] == ["jar, alcohol"]
    assert "cleaner from the cellar in jar" in stops[0].sentence


def test_an_answer_holds_for_the_two_it_was_given_for() -> None:
    other = thing("another cleaner")
    met = found(SECRET, OIL)
    keys = {answer_key(f) for f in met if f.severity is Severity.STOP}
    left = without_answered(met, keys)
    assert not left.blocking and not left.complete and "never-confirmed" in left.codes
    for more in ((SECRET, ALCOHOL), (other, OIL), (SECRET, other)):
        assert without_answered(found(*more), keys).blocking
    roles = (Role.READER, Role.STUDENT, Role.FINISHER, Role.KEEPER)
    row = answerable(())[NOT_IDENTIFIED.code]
    assert [may_answer(row, role) for role in roles] == [False, False, True, True]


def test_a_third_material_never_takes_a_stop_away() -> None:
    things = [SECRET, OIL, ACETIC, TITANIUM, WATER, thing("jar of last year", Kind.MADE_MIX)]
    for pair in itertools.combinations(things, 2):
        stops = {(f.code, f.about) for f in found(*pair) if f.severity is Severity.STOP}
        for more in things:
            assert stops <= {(f.code, f.about) for f in found(*pair, more) if f.severity is Severity.STOP}


def test_a_guess_of_oil_gives_way_to_what_the_two_are() -> None:
    """Nobody said of a chemical whether its rags heat: that is no better reason than its name."""
    lime, acid = (thing(name, oily=True, oil_guessed=True) for name in ("quicklime", "spirits of salt"))
    bleach, hardener = (thing(name, oily=True, oil_guessed=True) for name in ("Javel water", "MDI"))
    assert found(lime, WATER).codes == {"never-quicklime-water"}
    assert found(bleach, acid).codes == {"never-hypochlorite-acid"}
    assert found(hardener, WATER).codes == {"never-isocyanate-water"}
    assert "never-quicklime-organic" in found(lime, OIL).codes
    # Alone, or beside a stop that somebody may answer, the guess of a stop stays.
    assert "never-oxidiser-oil" in found(bleach, thing("grease", oily=True, oil_guessed=True)).codes
    assert "never-water-oil" in found(WATER, thing("grease", oily=True, oil_guessed=True)).codes
    peroxide = thing("perhydrol", oily=True, oil_guessed=True)
    assert {"never-peroxide-alkali", "never-oxidiser-oil"} <= found(peroxide, replace(LYE, oily=True)).codes
    # Lye is no oil by its number, so there is nothing to guess.
    guessed = replace(LYE, oily=True, oil_guessed=True)
    assert found(peroxide, guessed).codes == {"never-peroxide-alkali"}


def test_what_is_guessed_says_that_it_is_a_guess() -> None:
    """Bleach with a thing that nobody knows stops as bleach with oil, and says why it counts as oil."""
    guess = thing("Sp. of s.", oily=True, oil_guessed=True)
    told = next(f for f in found(CHLORINE, guess) if f.code == "never-oxidiser-oil")
    assert "Nobody said whether Sp. of s. holds oil, so it counts as if it did." in told.sentence
    sure = next(f for f in found(CHLORINE, OIL) if f.code == "never-oxidiser-oil")
    assert "counts as if" not in sure.sentence


def test_no_answer_is_asked_for_beside_a_stop_that_nobody_may_answer() -> None:
    """Hydrochloric acid and permanganate free chlorine; that both are thinned does not help."""
    permanganate, muriatic = thing("potassium permanganate"), thing("muriatic acid")
    met = found(permanganate, muriatic)
    assert {"never-chlorine-hydrochloric", "never-oxidiser-acid"} <= met.codes
    assert not any("confirms in writing" in f.sentence for f in met)
    # Between other two of the same pot the question stays.
    asked = [f.about for f in found(permanganate, muriatic, ACETIC) if "confirms in writing" in f.sentence]
    assert asked == ["potassium permanganate, acetic acid", "muriatic acid, acetic acid"]


def test_a_strong_chemical_asks_before_it_meets_what_no_row_speaks_of() -> None:
    """The rows cannot name every pair of a workshop; what they do not name is not harmless."""
    rest = "never-reagent-anything"
    permanganate = thing("KMnO4", cas="7722-64-7")
    for reagent in (permanganate, LYE, thing("saltpetre"), thing("aqua fortis"), thing("MEKP hardener")):
        for other in (TITANIUM, UMBER, thing("borax", cas="1303-96-4"), LEAD):
            for pair in ((reagent, other), (other, reagent)):
                assert found(*pair).blocking, [one.name for one in pair]
        assert rest not in found(reagent, WATER).codes
    # Where a row tells what the two do, nobody is asked in general words.
    assert rest not in found(CHLORINE, ACETIC).codes
    # What a finishing shop mixes every day is not asked about.
    gum = thing("gum arabic", Kind.BINDER, key="gum_arabic")
    daily = [(OIL, UMBER), (CHALK, WATER), (TITANIUM, UMBER), (gum, WATER), (gum, UMBER), (ACETIC, WATER)]
    for pair in daily:
        assert not found(*pair).blocking, [one.name for one in pair]
