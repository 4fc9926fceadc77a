"""The balance of a batch: by mass where densities allow, else it says which one is missing."""

from __future__ import annotations

from decimal import Decimal

from service.core.batch import Part, balance
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
