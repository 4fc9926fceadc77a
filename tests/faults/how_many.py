"""How long the fault tests run: a sample every day, everything with `FAULTS_LONG=1` in the environment."""

from __future__ import annotations

import os

LONG = bool(os.environ.get("FAULTS_LONG"))


def how_many(everyday: int, long: int) -> int:
    """The number of rounds for this run."""
    return long if LONG else everyday
