"""Goals of the hazard rules: mixes in process, a sweep over all seeded materials, the call by HTTP."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from decimal import Decimal
from typing import Any

from service.actions.material_composition import composition_as_ingredients
from service.core.hazards.classify import classify
from service.core.hazards.mix import Ingredient, Mix
from service.core.hazards.read_class import read_classes
from service.core.hazards.regimes import CLP, Regime
from service.records.knowledge import load_known_materials
from service.records.materials import Material
from tests.bench.load import get, post, run_load
from tests.bench.ratio import Figure, Spread, interleaved, ms
from tests.bench.stock_plan import NOW
from tests.bench.workbench import BEARER, Workbench, plain, shop

WANTED_A_SECOND = 2_000
# An invented brushing lacquer with drier and skin inhibitor: shares in per cent.
PARTS: tuple[tuple[str, str, tuple[str, ...]], ...] = (
    ("butyl acetate", "28", ("Flam. Liq. 3", "STOT SE 3 H336")),
    ("acetone", "15", ("Flam. Liq. 2", "STOT SE 3 H336", "Eye Irrit. 2")),
    (
        "toluene",
        "10",
        ("Flam. Liq. 2", "Repr. 2 H361d", "Asp. Tox. 1", "STOT SE 3 H336", "STOT RE 2", "Skin Irrit. 2"),
    ),
    (
        "butanol",
        "5",
        ("Acute Tox. 4 oral", "STOT SE 3 H335", "STOT SE 3 H336", "Skin Irrit. 2", "Eye Dam. 1"),
    ),
    ("xylene", "8", ("Acute Tox. 4 dermal", "Acute Tox. 4 vapour", "Skin Irrit. 2")),
    (
        "drier",
        "0.5",
        ("Carc. 1B", "Repr. 1B", "Skin Sens. 1", "STOT RE 1", "Aquatic Acute 1", "Aquatic Chronic 1"),
    ),
    ("inhibitor", "0.4", ("Carc. 1B", "Acute Tox. 3 oral", "Skin Sens. 1", "Eye Dam. 1")),
    ("zinc white", "2", ("Aquatic Acute 1", "Aquatic Chronic 1")),
    ("resin", "20", ()),
    ("oil", "9.1", ()),
    ("wax", "1", ()),
    ("matting agent", "1", ()),
)


def the_mix(count: int) -> Mix:
    """The first ``count`` ingredients of the lacquer, filled up with the last of them."""
    parts = [
        Ingredient(
            name, Decimal(share), Decimal(share), read_classes(list(classes)).hazards, m_acute=Decimal(1)
        )
        for name, share, classes in PARTS[:count]
    ]
    rest = 100 - sum((one.high for one in parts), Decimal(0))
    if rest:
        parts[-1] = Ingredient("filler", parts[-1].low + rest, parts[-1].high + rest, ())
    flash, viscosity = Decimal(2), Decimal(25)
    return Mix(
        tuple(parts), flash_point_c=flash, initial_boiling_point_c=Decimal(56), viscosity_mm2_s=viscosity
    )


def bare_loop(mix: Mix) -> Callable[[], object]:
    """The same limits over the same shares, as floats in plain tuples, with no reasons and nothing
    unknown.
    """
    lines = [
        (float(one.high), {(h.family, h.category) for h in one.hazards or ()}) for one in mix.ingredients
    ]
    sums = [([(f, names, w) for f, names, w in row.terms], float(row.at_least)) for row in CLP.sums]
    single = [(row.family, row.ingredient, float(row.at_least)) for row in CLP.single]

    def run() -> object:
        found = []
        for terms, limit in sums:
            total = 0.0
            for share, classes in lines:
                total += sum(share * w for f, names, w in terms if any((f, n) in classes for n in names))
            found.append(total >= limit)
        for family, names, limit in single:
            for share, classes in lines:
                found.append(share >= limit and any((family, name) in classes for name in names))
        return found

    return run


def in_process(bench: Workbench, size: int) -> Iterator[Figure]:
    """P14: mixes of 10 and 12 ingredients, with reasons, against the bare loop, and how many a second."""
    for count, word in ((10, "ten"), (12, "twelve")):
        mix = the_mix(count)
        pair = interleaved(
            ms(lambda mix=mix: classify(mix, Regime.EU_CLP), 200), ms(bare_loop(mix), 200), bench.turns
        )
        what = f"a mix of {word} classified / bare loop over the limits"
        yield Figure("P14", what, size, "ms", *pair.sides, pair.ratio)
        rates = Spread.of([1000 / value for value in pair.a])
        wanted = Spread(WANTED_A_SECOND, WANTED_A_SECOND, WANTED_A_SECOND)
        ratio = Spread(*(value / WANTED_A_SECOND for value in (rates.least, rates.median, rates.most)))
        what = f"mixes of {word} classified a second / {WANTED_A_SECOND:,}"
        yield Figure("P14", what, size, "a second", rates, wanted, ratio, 1.0, at_most=False)
    yield _sweep(bench, size)


def _sweep(bench: Workbench, size: int) -> Figure:
    """Every seeded material from its composition, against as many bare loops."""
    mixes = []
    for known in load_known_materials():
        material = Material(
            name=known.name, kind=known.kind, form=known.form, known_key=known.key, created_at=NOW
        )
        mixes.append(Mix(composition_as_ingredients(material, Regime.EU_CLP).ingredients))
    loops = [bare_loop(mix) for mix in mixes]

    def ours() -> object:
        return [classify(mix, Regime.EU_CLP) for mix in mixes]

    pair = interleaved(ms(ours), ms(lambda: [loop() for loop in loops]), bench.turns)
    return Figure("P14", "all seeded materials classified / bare loops", size, "ms", *pair.sides, pair.ratio)


def by_http(bench: Workbench, size: int) -> Iterator[Figure]:
    """P14b: the call with a mix of ten, token and label, against an empty endpoint."""
    ingredients: list[dict[str, Any]] = [
        {"name": one.name, "percent": str(one.high), "hazards": [h.text for h in one.hazards or ()]}
        for one in the_mix(10).ingredients
    ]
    body = {"regime": "eu-clp", "ingredients": ingredients, "mixture": {"flash_point_c": 2}}
    sent = post("/api/calc/classify", json.dumps(body).encode(), BEARER)
    address = f"sqlite:///{bench.store(size)}"
    with bench.copy(size) as data, shop(bench, data) as ours, plain(bench, address) as bare:
        pair = interleaved(
            lambda: run_load(ours.port, lambda: sent, 1, bench.seconds).p50,
            lambda: run_load(bare.port, lambda: get("/nothing"), 1, bench.seconds).p50,
            bench.turns,
        )
    yield Figure("P14b", "a mix of 10 by HTTP / empty endpoint, p50", size, "ms", *pair.sides, pair.ratio)
