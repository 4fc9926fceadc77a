"""Goals of solvents: the flash point of mixes of ten liquids, and what loading the library costs."""

from __future__ import annotations

import random
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from service.core.solvents.activity import Variant, coefficients, groups_of, missing_for
from service.core.solvents.flash_point import anchor, solve_flash
from service.core.solvents.properties import Component
from service.core.solvents.vapour_pressure import ZERO_C_K
from service.records.solvent_facts import all_solvents
from tests.bench.ratio import Figure, Spread, interleaved, ms
from tests.bench.stock_plan import SEED
from tests.bench.workbench import Workbench

COUNT = 10
CLOSE_K = 1e-4
MOST_MIXES = 10_000


@dataclass(frozen=True)
class Drawn:
    """A random mix: liquids, mole fractions, variant."""

    parts: tuple[Component, ...]
    fractions: tuple[float, ...]
    variant: Variant


def liquids(variant: Variant) -> list[Component]:
    """Every seeded liquid that burns and has all that the calculation needs, each with each."""
    able = [one for one in all_solvents() if one.flash_point and one.curve and groups_of(one, variant)]
    chosen: list[Component] = []
    for one in able:
        if not missing_for([*chosen, one], variant):
            chosen.append(one)
    return chosen


def draw(chance: random.Random, pool: dict[Variant, list[Component]]) -> Drawn:
    variant = chance.choice(list(Variant))
    parts = tuple(chance.sample(pool[variant], COUNT))
    weights = [chance.expovariate(1) for _ in parts]
    return Drawn(parts, tuple(weight / sum(weights) for weight in weights), variant)


def ours(mix: Drawn) -> float:
    """The flash point in K as the program works it out."""
    anchors = [anchor(one, x) for one, x in zip(mix.parts, mix.fractions, strict=True)]
    lowest = min(one.flash_point.value for one in mix.parts if one.flash_point) + ZERO_C_K
    found = solve_flash(anchors, coefficients(mix.parts, mix.fractions, mix.variant), lowest)
    assert found is not None, mix
    return found


def library_route(mix: Drawn) -> float:
    """The same criterion the plain way: the library's model built anew at each temperature of a bracket."""
    from fluids.numerics import brenth
    from thermo.unifac import UNIFAC

    groups = [dict(groups_of(one, mix.variant) or ()) for one in mix.parts]
    version = 0 if mix.variant is Variant.ORIGINAL else 1
    xs = list(mix.fractions)
    curves = [one.curve for one in mix.parts]
    at_flash = [
        one.curve.kpa(one.flash_point.value) if one.curve and one.flash_point else 1.0 for one in mix.parts
    ]

    def off(kelvin: float) -> float:
        gammas = UNIFAC.from_subgroups(T=kelvin, xs=xs, chemgroups=groups, version=version).gammas()
        terms = zip(xs, gammas, curves, at_flash, strict=True)
        return sum(x * g * c.kpa(kelvin - ZERO_C_K) / p for x, g, c, p in terms if c is not None) - 1

    return float(brenth(off, 180.0, 450.0, xtol=1e-9, rtol=1e-12))


def flash_points(bench: Workbench, size: int) -> Iterator[Figure]:
    """P13: mixes a second against the library's build-and-bracket route; agreement over random mixes."""
    chance = random.Random(SEED)
    pool = {variant: liquids(variant) for variant in Variant}
    mixes = [draw(chance, pool) for _ in range(20)]
    pair = interleaved(
        ms(lambda: [ours(one) for one in mixes]),
        ms(lambda: [library_route(one) for one in mixes]),
        bench.turns,
    )
    rates = [Spread.of([1000 * len(mixes) / value for value in side]) for side in (pair.a, pair.b)]
    ratio = Spread.of([b / a for a, b in zip(pair.a, pair.b, strict=True)])
    what = "flash points of ten liquids a second / the library built anew in a bracket"
    yield Figure("P13", what, size, "a second", rates[0], rates[1], ratio, 2.5, at_most=False)
    count = min(size, MOST_MIXES)
    worst = 0.0
    for _ in range(count):
        mix = draw(chance, pool)
        worst = max(worst, abs(ours(mix) - library_route(mix)))
    most, bound = max(worst, 1e-12), CLOSE_K
    what = f"largest difference over {count:,} random mixes of ten / {CLOSE_K:g} K"
    yield Figure(
        "P13", what, size, "K", Spread.of([most]), Spread.of([bound]), Spread.of([most / bound]), 1.0
    )


_ONE_FLASH = (
    "from service.core.solvents.flash_point import flash_of_mix\n"
    "from service.records.solvent_facts import component_of\n"
    "assert flash_of_mix([component_of('octane_n'), component_of('ethanol')], [0.5, 0.5]).decisive\n"
)
_SCRIPT = (
    "import resource, time\nstart = time.perf_counter()\nimport service.app\n{more}"
    "print((time.perf_counter() - start) * 1000, resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024)\n"
)


def loading(bench: Workbench, size: int) -> Iterator[Figure]:
    """P13b: a process that loads the program and works out one flash point against one that loads it only."""

    def run(more: str) -> tuple[float, float]:
        command = [sys.executable, "-c", _SCRIPT.format(more=more)]
        done = subprocess.run(
            command, capture_output=True, text=True, check=True, cwd=Path(__file__).parents[2]
        )
        first, second = done.stdout.split()
        return float(first), float(second)

    turns = [(run(_ONE_FLASH), run("")) for _ in range(bench.turns)]
    for place, (unit, what) in enumerate((("ms", "time"), ("MiB", "memory"))):
        a, b = [one[0][place] for one in turns], [one[1][place] for one in turns]
        ratio = Spread.of([x / y for x, y in zip(a, b, strict=True)])
        words = f"{what} to load the program and give one flash point / to load it"
        yield Figure("P13b", words, size, unit, Spread.of(a), Spread.of(b), ratio)
