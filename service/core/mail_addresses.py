"""Addresses of mail as people type them, and lines that can stand in the head of a message.

Doors: actions/manage_people.py, actions/manage_channels.py, config.py, core/warning_words.py.
"""

from __future__ import annotations

import re
import unicodedata
from typing import Final

from service.core.findings import Invalid

LONGEST: Final = 200
_LOCAL = re.compile(r"[A-Za-z0-9!#$%&'*+/=?^_`{|}~-]+(\.[A-Za-z0-9!#$%&'*+/=?^_`{|}~-]+)*", re.ASCII)
_LABEL = re.compile(r"[a-z0-9]([a-z0-9-]{0,61}[a-z0-9])?", re.ASCII)
_UNSEEN: Final = frozenset({"Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp"})


def read_address(text: str) -> str:
    """One address such as orla@store.example; the part after the @ comes back in small ASCII letters.

    Quoted names, several addresses, routes and letters before the @ that not every server takes are refused.

    Raises:
        Invalid: it is no such address.

    >>> read_address(" Orla@Store.Example "), read_address("orla@tischlerei-müller.example")
    ('Orla@store.example', 'orla@xn--tischlerei-mller-uzb.example')
    """
    words = "Enter one e-mail address, like orla@store.example."
    local, at, domain = text.strip().rpartition("@")
    if set(domain) & set("\u00df\u03c2\u200c\u200d"):
        # The older rules of the standard library read these four signs as another name.
        raise Invalid(words, {"email": words})
    try:
        domain = domain.encode("idna").decode("ascii").lower() if not domain.isascii() else domain.lower()
    except UnicodeError:
        raise Invalid(words, {"email": words}) from None
    labels = domain.split(".")
    fits = at and len(local) <= 64 and _LOCAL.fullmatch(local) and all(map(_LABEL.fullmatch, labels))
    if not fits or (len(labels) < 2 and domain != "localhost") or len(local) + len(domain) + 1 > LONGEST:
        raise Invalid(words, {"email": words})
    return f"{local}@{domain}"


def one_line(text: str, most: int = 200) -> str:
    """A text as one line without signs that cannot be seen: no line break can end a head early.

    >>> one_line("Evening\\r\\nBcc: all@store.example\\u202e class", 30)
    'Evening Bcc: all@store.exampl…'
    """
    spaced = "".join(
        " " if sign.isspace() else "" if unicodedata.category(sign) in _UNSEEN else sign for sign in text
    )
    line = " ".join(spaced.split())
    return line if len(line) <= most else line[: most - 1] + "…"
