"""Serves a seeded shop as `umberkeep serve` does, on the day it was seeded for.

Only the clock is another: it starts at `stock_plan.NOW`, so that the same containers want attention at
every run.
"""

from __future__ import annotations

import argparse
import time
from datetime import datetime, timedelta
from functools import partial

from service import serving
from service.config import read_settings
from tests.bench.stock_plan import NOW

_STARTED = time.monotonic()


def bench_clock() -> datetime:
    """The instant of the seeded shop, running on from the start of this process."""
    return NOW + timedelta(seconds=time.monotonic() - _STARTED)


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--data", required=True)
    parser.add_argument("--port", type=int, required=True)
    asked = parser.parse_args()
    settings = read_settings({**_environment(), "UMBERKEEP_PORT": str(asked.port)}, asked.data)
    serving.create_app = partial(serving.create_app, clock=bench_clock)
    serving.serve(settings, lambda _: None)


def _environment() -> dict[str, str]:
    import os

    return {key: value for key, value in os.environ.items() if key.startswith("UMBERKEEP_")}


if __name__ == "__main__":
    main()
