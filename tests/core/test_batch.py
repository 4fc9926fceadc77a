"""The balance of a batch: by mass where densities allow, else it says which one is missing."""

from __future__ import annotations

from decimal import Decimal

from service.core.batch import Part, balance, most_made
from service.core.findings import Severity
from service.core.materials import Basis

UMBER = Part("raw umber", 100_000, Basis.MASS, None)
OIL = Part("boiled oil", 200_000, Basis.VOLUME, Decimal("0.93"))
JAR = Part("stain", 250_000, Basis.VOLUME, Decimal("1.1"))


def test_mass_and_volume_meet_through_densities() -> None:
    told = balance([UMBER, OIL], [JAR])
    # 100 g + 186 g in, 275 g out.
    assert (told.basis, told.difference) == (Basis.MASS, 11_000)
    assert told.went_in == ("100 g raw umber", "200 ml boiled oil") and told.came_out == ("250 ml stain",)
    assert [f.code for f in told.findings] == ["not-explained"]
    assert not balance([UMBER, OIL], [JAR], loss_explained=True).findings


def test_every_missing_density_is_named_and_nothing_is_guessed() -> None:
    bare = [Part(p.name, p.amount, p.basis) for p in (OIL, JAR)]
    told = balance([UMBER, bare[0]], [bare[1]])
    assert (told.basis, told.difference) == (None, None)
    assert {(f.code, f.about) for f in told.findings} == {
        ("density-not-known", "boiled oil"), ("density-not-known", "stain"),
    }  # fmt: skip
    assert all(f.severity is Severity.UNKNOWN for f in told.findings)


def test_one_basis_needs_no_density_but_volumes_do_not_add_exactly() -> None:
    told = balance(
        [Part("a", 300, Basis.VOLUME), Part("b", 200, Basis.VOLUME)], [Part("c", 480, Basis.VOLUME)]
    )
    assert (told.basis, told.difference) == (Basis.VOLUME, 20)
    assert {f.code for f in told.findings} == {"volumes-do-not-add", "not-explained"}
    assert balance([UMBER], [Part("c", 100_000, Basis.MASS)]).findings == ()


def test_more_out_than_in_is_told() -> None:
    told = balance([UMBER], [Part("c", 120_000, Basis.MASS)], loss_explained=True)
    assert told.difference == -20_000 and [f.code for f in told.findings] == ["more-came-out"]


def test_an_unknown_amount_or_yield_is_never_nothing() -> None:
    told = balance([UMBER, Part("oil", None, Basis.VOLUME)], [JAR])
    assert told.difference is None and "oil, amount not known" in told.went_in
    assert {f.code for f in balance([UMBER], []).findings} == {"yield-not-known"}
    assert balance([], [JAR]).difference is None
    assert balance([UMBER, Part("raw umber", None, Basis.MASS)], [JAR]).went_in == (
        "raw umber, amount not known",
    )


def test_pieces_have_no_known_weight() -> None:
    told = balance([UMBER, Part("tablets", 3, Basis.PIECES)], [JAR])
    assert [(f.code, f.about) for f in told.findings] == [("pieces-do-not-meet", "tablets")]


def test_in_is_out_and_loss_and_what_is_not_explained() -> None:
    put_in, jar = Part("oil", 500_000, Basis.MASS), Part("jar", 480_000, Basis.MASS)
    told = balance([put_in], [jar], loss=Part("jar", 17_000, Basis.MASS))
    assert (told.difference, told.lost, told.unexplained) == (20_000, 17_000, 3_000)
    assert not told.findings, "3 g of 500 g may be a slip of the scale"
    more = balance([put_in], [jar], loss=Part("jar", 30_000, Basis.MASS), loss_explained=True)
    assert more.unexplained == -10_000 and [f.code for f in more.findings] == ["more-lost-than-missing"]
    assert more.sentence.endswith("30 g recorded as lost − 10 g not explained.")


def test_a_loss_by_volume_meets_mass_by_density_only() -> None:
    put_in, jar = Part("oil", 500_000, Basis.MASS), Part("jar", 480_000, Basis.MASS)
    told = balance([put_in], [jar], loss=Part("mix", 10_000, Basis.VOLUME, Decimal("0.9")))
    assert (told.lost, told.unexplained) == (9_000, 11_000)
    open_end = balance([put_in], [jar], loss=Part("mix", 10_000, Basis.VOLUME))
    assert open_end.difference is None and [f.code for f in open_end.findings] == ["density-not-known"]


def test_nothing_lost_is_not_told_as_a_difference_of_nothing() -> None:
    oil, jar = Part("oil", 500_000, Basis.VOLUME), Part("jar", 500_000, Basis.VOLUME)
    assert balance([oil], [jar]).sentence == "As much came out as went in; no loss was measured."
    nothing = Part("loss", 0, Basis.VOLUME)
    told = balance([oil], [jar], loss=nothing)
    assert told.sentence == "As much came out as went in, and nothing was lost."


def test_the_most_that_can_have_come_out() -> None:
    # Our own figures: a twentieth measured, a fifth by eye, and half a gram or millilitre in any case.
    assert most_made(0) == 0 and most_made(2000) == 2500 and most_made(1_000_000) == 1_050_000
    assert most_made(1_000_000, estimated=True) == 1_200_000
