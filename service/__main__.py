"""`python -m service` is the command `umberkeep`."""

from service.cli import main

if __name__ == "__main__":
    raise SystemExit(main())
