"""What thinning with air never settles: groups C, D and E, typed by hand from the table of banding."""

from __future__ import annotations

from service.core.solvents.dilution import NEVER_BY_AIR_ALONE

TYPED = """
H300 H301 H310 H311 H314 H317 H318 H330 H331 H334 H335 H340 H341 H350 H351
H360 H361 H362 H370 H372 H373 EUH071
"""


def test_the_statements_are_those_of_the_table() -> None:
    assert frozenset(TYPED.split()) == NEVER_BY_AIR_ALONE
