"""Where and when each material was used, as CSV. What is not known says so; no cell of it is empty."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from typing import Final

from service.core.materials import KIND_WORDS
from service.outreach.csv_tables import Cell
from service.records.use_queries import UseSeen

HEADER: Final = (
    "material", "kind", "maker", "colour_index", "cas", "archived", "first_use", "last_use", "still_here",
    "places", "containers", "kept_until_at_least",
)  # fmt: skip


def use_rows(found: Iterable[UseSeen]) -> Iterator[Sequence[Cell]]:
    """One row for each material."""
    yield HEADER
    for one in found:
        row, use = one.row, one.use
        yield (
            row.name, KIND_WORDS[row.kind], row.maker or "not known", row.ci_name or "not known",
            row.cas or "not known", "no" if row.active else "yes", use.first or "not known",
            use.last or "not known", "yes" if use.here else "no", "; ".join(one.places) or "not known",
            one.containers, one.keep_until or ("30 years after the last use" if use.first else "not known"),
        )  # fmt: skip
