"""Hashing of passwords and PINs by Argon2id. It is slow: never inside a write transaction."""

from __future__ import annotations

import logging
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

from pwdlib import PasswordHash
from pwdlib.exceptions import UnknownHashError
from pwdlib.hashers.argon2 import Argon2Hasher

from service.core.sign_in_rules import as_typed

_log = logging.getLogger("umberkeep.sign_in")


@dataclass(frozen=True)
class Checked:
    """Whether a secret fits, and the new hash to store when the old one was made with other parameters."""

    ok: bool
    better_hash: str | None = None


class Hasher:
    """Argon2id with one set of parameters.

    The default is the smaller set of the OWASP Password Storage Cheat Sheet (19 MiB, two passes, one lane);
    several people signing in at once must not exhaust a small machine.
    """

    def __init__(self, memory_kib: int = 19_456, passes: int = 2, lanes: int = 1) -> None:
        argon2 = Argon2Hasher(time_cost=passes, memory_cost=memory_kib, parallelism=lanes)
        self._hashing = PasswordHash((argon2,))
        # Checked when there is no such person, so that an unknown name takes as long as a known one. Made
        # beside the rest of the start, and there long before anybody can have typed a name.
        with_own_thread = ThreadPoolExecutor(1)
        self._nobody = with_own_thread.submit(self._hashing.hash, "nobody has this password")
        with_own_thread.shutdown(wait=False)

    def make(self, secret: str) -> str:
        """The hash to store."""
        return self._hashing.hash(secret)

    def check(self, secret: str, stored: str | None) -> Checked:
        """Whether ``secret`` fits ``stored``; with None it takes as long and never fits."""
        typed = as_typed(secret)
        if stored is None or typed is None:
            self._hashing.verify("x", self._nobody.result())
            return Checked(False)
        try:
            ok, better = self._hashing.verify_and_update(typed, stored)
        except UnknownHashError:
            _log.error("a stored hash is of no kind known here; the person needs a new password")
            return Checked(False)
        return Checked(ok, better if ok else None)
