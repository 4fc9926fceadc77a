"""`python -m service` is the command `umberkeep`."""

from __future__ import annotations

import gc


def run() -> int:
    """Load the program and run the command; 0 done, 1 found something or could not, 2 not understood.

    The collector rests while the program is loaded and never looks at what was loaded: nothing of that is
    garbage, and looking for some, once, takes a sixth of the start.
    """
    gc.disable()
    try:
        from service.cli import main
    finally:
        gc.freeze()
        gc.enable()
    return main()


if __name__ == "__main__":
    raise SystemExit(run())
