"""The film rules at random: binder, scale, solvent, and ranges that hold every point inside them."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.core.film import Film, FilmPart, film_of, solids_density
from service.core.film_ranges import Share, Span, extreme_share
from service.core.film_reading import loading_of, reading_of

grams = st.floats(0.5, 500)
percents = st.floats(0, 100)
densities = st.floats(0.7, 7)
absorptions = st.floats(5, 200)


def span(numbers: st.SearchStrategy[float]) -> st.SearchStrategy[Span]:
    return st.tuples(numbers, numbers).map(lambda two: (min(two), max(two)))


def part(
    name: str, mass: Span, pigment: float = 0, binder: float = 0, grain: float = 3.2, oil: float = 40
) -> FilmPart:
    """A thing of known figures: g, per cent, g/ml, g/100 g."""
    return FilmPart(
        name,
        mass,
        (pigment, pigment),
        (binder, binder),
        (grain, grain),
        (0.93, 0.93),
        (0.78, 0.78),
        oil_absorption=(oil, oil),
    )


@st.composite
def mixes(draw: st.DrawFn) -> list[FilmPart]:
    """One to six things with ranges in every figure; at least one holds pigment, one binder."""
    made: list[FilmPart] = []
    for number in range(draw(st.integers(1, 6))):
        pigment = draw(span(percents))
        binder = draw(span(st.floats(0, 100 - pigment[1])))
        made.append(
            FilmPart(
                f"thing {number}",
                draw(span(grams)),
                pigment,
                binder,
                draw(span(densities)),
                draw(span(densities)),
                draw(span(densities)),
                oil_absorption=draw(span(absorptions)),
            )
        )
    return [*made, part("umber", (1, 1), 100), part("oil", (1, 1), 0, 100)]


def point_inside(mix: list[FilmPart], data: st.DataObject) -> list[FilmPart]:
    """The same things with every figure at one point of its range."""

    def at(span: Span) -> Span:
        figure = span[0] if span[0] == span[1] else data.draw(st.floats(*span))
        return figure, figure

    return [
        replace(
            one,
            mass=at(one.mass),
            pigment=at(one.pigment),
            binder=at(one.binder),
            pigment_density=at(one.pigment_density or (1, 1)),
            binder_density=at(one.binder_density or (1, 1)),
            volatile_density=at(one.volatile_density or (1, 1)),
            oil_absorption=at(one.oil_absorption or (1, 1)),
        )
        for one in mix
    ]


def figures(film: Film) -> list[Span]:
    made = [
        film.pvc,
        film.cpvc,
        film.reduced_pvc,
        film.density_g_ml,
        film.mass_solids_percent,
        film.volume_solids_percent,
        film.pigment_mass_percent,
    ]
    told = [one for one in made if one is not None]
    assert len(told) == len(made)
    return told


@settings(max_examples=50, deadline=None)
@given(mixes(), st.data())
def test_every_range_holds_every_point_inside(mix: list[FilmPart], data: st.DataObject) -> None:
    whole, inside = figures(film_of(mix)), figures(film_of(point_inside(mix, data)))
    for (low, high), (point, same) in zip(whole, inside, strict=True):
        assert point == pytest.approx(same, rel=1e-9)
        assert low * (1 - 1e-9) - 1e-12 <= point <= high * (1 + 1e-9) + 1e-12


@settings(max_examples=50, deadline=None)
@given(mixes(), st.floats(0.001, 1000))
def test_scaling_all_masses_changes_nothing(mix: list[FilmPart], times: float) -> None:
    more = [replace(one, mass=(one.mass[0] * times, one.mass[1] * times)) for one in mix]
    for one, other in zip(figures(film_of(mix)), figures(film_of(more)), strict=True):
        assert one == pytest.approx(other, rel=1e-9)


@settings(max_examples=50, deadline=None)
@given(mixes(), grams)
def test_more_binder_never_raises_pvc(mix: list[FilmPart], more: float) -> None:
    before, after = film_of(mix), film_of([*mix, part("more oil", (more, more), 0, 100)])
    assert before.pvc and after.pvc and before.reduced_pvc and after.reduced_pvc
    for end in (0, 1):
        assert after.pvc[end] <= before.pvc[end] * (1 + 1e-12)
        assert after.reduced_pvc[end] <= before.reduced_pvc[end] * (1 + 1e-12)
    assert after.cpvc == before.cpvc, "what the grains take up is theirs"


@settings(max_examples=50, deadline=None)
@given(mixes(), grams)
def test_solvent_never_changes_pvc(mix: list[FilmPart], more: float) -> None:
    before, after = film_of(mix), film_of([*mix, part("spirit", (more, more))])
    assert after.cpvc == before.cpvc
    assert after.pvc == pytest.approx(before.pvc) and after.reduced_pvc == pytest.approx(before.reduced_pvc)
    assert after.mass_solids_percent and before.mass_solids_percent
    assert after.mass_solids_percent[1] <= before.mass_solids_percent[1]


@settings(max_examples=50, deadline=None)
@given(mixes())
def test_pvc_over_cpvc_is_the_reduced_pvc_where_all_is_known(mix: list[FilmPart]) -> None:
    exact = [
        replace(
            one,
            **{
                name: None if getattr(one, name) is None else (getattr(one, name)[0],) * 2
                for name in vars(one)
                if isinstance(getattr(one, name), tuple)
            },
        )
        for one in mix
    ]
    film = film_of(exact)
    assert film.pvc and film.cpvc and film.reduced_pvc
    assert film.reduced_pvc[0] == pytest.approx(film.pvc[0] / film.cpvc[0], rel=1e-9)


def test_an_endless_amount_is_anything_from_nothing_to_all() -> None:
    endless = float("inf")
    film = film_of([part("umber", (100, 100), 100), part("oil", (0, endless), 0, 100)])
    assert film.pvc == (0.0, 1.0)
    assert reading_of(film) == "oily to under-bound: rubs off"
    thinned = film_of([part("paste", (100, 100), 50, 50), part("spirit", (0, endless))])
    assert thinned.pvc == pytest.approx(film_of([part("paste", (1, 1), 50, 50)]).pvc)
    assert thinned.mass_solids_percent == (0.0, 100.0)


@pytest.mark.parametrize(
    ("lacking", "gone"),
    [
        ("pigment_density", {"pvc", "cpvc", "reduced_pvc", "density_g_ml", "volume_solids_percent"}),
        ("oil_absorption", {"cpvc", "reduced_pvc"}),
        ("binder_density", {"pvc", "reduced_pvc", "density_g_ml", "volume_solids_percent"}),
        ("volatile_density", {"density_g_ml", "volume_solids_percent"}),
    ],
)
def test_what_is_not_known_takes_only_what_needs_it(lacking: str, gone: set[str]) -> None:
    whole = part("stain", (100, 100), 20, 30)
    film = film_of([replace(whole, **{lacking: None})])
    assert {name for name, value in vars(film).items() if value is None} == gone
    assert (reading_of(film) is None) == ("reduced_pvc" in gone)
    assert loading_of(film) == "a strong stain: the grain is softened"


def test_words_fit_what_is_no_oil_stain() -> None:
    said = [
        ([part("spirit", (1, 1))], "nothing stays: it all evaporates"),
        ([part("shellac", (1, 1), 0, 23)], "no pigment in it"),
        ([part("umber", (1, 1), 100), part("water", (5, 5))], "no binder in it: rubs off"),
        ([part("umber", (10, 10), 100), part("glue", (1, 1), 0, 40)], "under-bound: rubs off"),
        ([part("umber", (1, 1), 100), part("oil", (100, 100), 0, 100)], "oily"),
        ([part("umber", (1, 1), 100), part("oil", (1, 2), 0, 100)], "well bound"),
        ([part("umber", (10, 10), 100), part("oil", (4, 4), 0, 100)], "about at its limit"),
    ]
    assert [reading_of(film_of(mix)) for mix, _ in said] == [words for _, words in said]
    dye = FilmPart("dye", (1, 1), dissolved=True)
    film = film_of([dye, part("shellac", (99, 99), 0, 20)])
    assert film.pvc == (0, 0) and film.volume_solids_percent is None
    assert film.mass_solids_percent == pytest.approx((20.8, 20.8))
    assert reading_of(film) == "no pigment in it"


def test_pigment_and_binder_are_never_more_than_all_of_it() -> None:
    film = film_of([replace(part("colour", (10, 10)), pigment=(40, 60), binder=(0, 100))])
    assert film.mass_solids_percent == (40, 100)
    assert film.pigment_mass_percent == (40, 60)


def test_what_stays_of_a_binder_is_at_least_as_heavy_as_the_whole() -> None:
    assert solids_density((0.93, 0.94), (100, 100)) == (0.93, 0.94)
    assert solids_density((0.9, 0.9), (40, 60)) == (0.9, 1.65)
    assert solids_density((1.8, 1.8), (40, 40)) == (1.8, 1.8)


def test_nothing_has_no_share() -> None:
    assert extreme_share([]) is None
    assert extreme_share([Share((0, 0), ((1, 1),))]) is None
    film = film_of([])
    assert film.pvc is film.density_g_ml is None
