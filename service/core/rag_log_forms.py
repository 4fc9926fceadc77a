"""The written forms of entries met so far, so that most entries of a long log need not be taken apart.

Doors: records/rag_queries.py.

Entries of one kind are written alike but for their values. From one that was read in full a pattern is made
that holds its names, their order and every sign between them as they stand, and lets a value be another one
of the same sort: a text without quotes, backslashes and control signs; a whole number without leading zeros
and of at most 18 digits; true, false, null. A text that fits such a pattern, and is composed (NFC), is
therefore the one written form of its entry (see core/rag_log.py). What fits none is read in full.
"""

from __future__ import annotations

import json
import re
import unicodedata
from collections.abc import Callable, Mapping
from typing import Final

_TEXT: Final = r'"[^"\\\x00-\x1f]*"'
_NUMBER: Final = "(?:0|-?[1-9][0-9]{0,17})"
_ANY: Final = f"(?:{_TEXT}|{_NUMBER}|null|true|false)"
_SAID_TEXT: Final = r'"([^"\\\x00-\x1f]*)"'
_SAID_NUMBER: Final = f"(null|{_NUMBER})"
_MOST: Final = 12
"""Forms kept for one kind; entries in any further one are read in full."""


Told = tuple[str, ...]
"""Beside its data, as in its text: happened_at, kind, load, person, posting, recorded_at; null for none."""

_SAID: Final = {
    "happened_at": _SAID_TEXT, "kind": _SAID_TEXT, "load": _SAID_NUMBER, "person": _SAID_NUMBER,
    "posting": _SAID_NUMBER, "recorded_at": _SAID_TEXT,
}  # fmt: skip
Match = Callable[[str], "re.Match[str] | None"]


class Forms:
    """The patterns of entries met so far, by kind.

    >>> import json
    >>> text = '{"happened_at":"a","kind":"k","load":1,"person":2,"posting":null,"recorded_at":"b"}'
    >>> forms = Forms()
    >>> forms.told("k", text) is None
    True
    >>> forms.learn(json.loads(text))
    >>> forms.told("k", text.replace("2", "17"))
    ('a', 'k', '1', '17', 'null', 'b')
    >>> forms.told("k", text.replace("2", "017")) is None
    True
    """

    def __init__(self) -> None:
        self._known: dict[str, list[Match]] = {}

    def told(self, kind: str, text: str) -> Told | None:
        """What a text says, if it is the one written form of an entry; None if that is not known yet."""
        for match in self._known.get(kind, ()):
            found = match(text)
            if found is not None and (text.isascii() or unicodedata.is_normalized("NFC", text)):
                return found.groups()
        return None

    def learn(self, entry: Mapping[str, object]) -> None:
        """Keep the form of an entry whose text was read in full and is its one written form."""
        kind = entry.get("kind")
        if not isinstance(kind, str) or not _SAID.keys() <= entry.keys():
            return
        known = self._known.setdefault(kind, [])
        if len(known) < _MOST:
            parts = (f"{_name(name)}:{_SAID.get(name) or _value(entry[name])}" for name in sorted(entry))
            known.append(re.compile(r"\{" + ",".join(parts) + r"\}").fullmatch)


def _name(name: str) -> str:
    return re.escape(json.dumps(name, ensure_ascii=False))


def _value(value: object) -> str:
    if isinstance(value, dict):
        return r"\{" + ",".join(f"{_name(name)}:{_value(value[name])}" for name in sorted(value)) + r"\}"
    if isinstance(value, list):
        return r"\[" + ",".join(map(_value, value)) + r"\]"
    return _ANY
