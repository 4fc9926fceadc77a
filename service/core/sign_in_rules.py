"""What a password, a PIN and a sign-in name may be, how long wrong tries wait, when a sign-in ends.

Doors: actions/sign_in.py, actions/tablets.py, actions/manage_people.py, web/pages/sign_in.py.
"""

from __future__ import annotations

import hashlib
import ipaddress
import itertools
import re
import unicodedata
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Final

from service.core.findings import Invalid

PASSWORD_LENGTH: Final = (12, 128)
"""Signs, counted after Unicode composition (NFC). No rules of composition: length is what counts."""
PIN_LENGTH: Final = (4, 8)
FREE_TRIES: Final = 5
LONGEST_WAIT: Final = timedelta(minutes=15)
FORGOTTEN_AFTER: Final = timedelta(hours=24)
"""Wrong tries older than this no longer count; nobody is ever locked out for good."""
TAP_LASTS: Final = timedelta(minutes=2)
"""How long a person stays tapped on a shared tablet after giving their PIN; not renewed by use."""
SEEN_EVERY: Final = timedelta(minutes=5)
CLOCK_SLACK: Final = timedelta(minutes=5)
"""A sign-in's last use is written down at most this often."""
LINK_LASTS: Final = timedelta(minutes=10)
PASSWORD_LINK_LASTS: Final = timedelta(hours=24)


def judge_password(text: str) -> str:
    """A new password in the form in which it is hashed.

    Raises:
        Invalid: shorter than 12 or longer than 128 signs, or a sign that no keyboard types.

    >>> judge_password("four walnut drawers")
    'four walnut drawers'
    """
    composed = as_typed(text)
    low, high = PASSWORD_LENGTH
    if composed is None:
        raise Invalid("Take out the signs that cannot be seen from the password.")
    if len(composed) < low:
        raise Invalid(f"Choose a longer password: at least {low} signs. A few plain words will do.")
    if len(composed) > high:
        raise Invalid(f"Choose a shorter password: at most {high} signs.")
    if len(set(composed)) < 3:
        raise Invalid("Choose a password with more than two different signs.")
    return composed


def as_typed(text: str) -> str | None:
    """A secret composed alike whatever keyboard typed it (NFC); None when it holds NUL, a control sign or
    half a surrogate pair, which no keyboard types and no hash takes.

    >>> as_typed("e\\u0301t\\u00e9"), as_typed("a\\x00b"), as_typed("\\ud800")
    ('été', None, None)
    """
    if any(unicodedata.category(sign) in ("Cc", "Cs") for sign in text):
        return None
    return unicodedata.normalize("NFC", text)


def judge_pin(text: str) -> str:
    """A new PIN: 4 to 8 digits.

    Raises:
        Invalid: anything else, one digit repeated, or digits that only count up or down.

    >>> judge_pin("7305")
    '7305'
    """
    low, high = PIN_LENGTH
    if re.fullmatch(rf"[0-9]{{{low},{high}}}", text, re.ASCII) is None:
        raise Invalid(f"Choose a PIN of {low} to {high} digits.")
    steps = {int(b) - int(a) for a, b in itertools.pairwise(text)}
    if steps in ({0}, {1}, {-1}):
        raise Invalid("Choose a PIN that does not repeat one digit or count up or down.")
    return text


def sign_in_name(text: str) -> str:
    """A sign-in name as it is stored: small letters, so that capitals make no difference.

    Raises:
        Invalid: empty, longer than 60, or with signs other than letters, digits, dot, hyphen, @.

    >>> sign_in_name("  Orla.B ")
    'orla.b'
    """
    folded = unicodedata.normalize("NFKC", text).strip().casefold()
    if re.fullmatch(r"[\w.@-]{1,60}", folded) is None:
        raise Invalid("Use letters, digits, dot, hyphen or @ for the sign-in name, up to 60 and no spaces.")
    return folded


def wait_after(failures: int) -> timedelta:
    """How long the next try waits after this many wrong ones: five free, then 2, 4, 8 … s, at most 15 min.

    >>> [wait_after(n).total_seconds() for n in (0, 5, 6, 7, 10, 99)]
    [0.0, 0.0, 2.0, 4.0, 32.0, 900.0]
    """
    over = failures - FREE_TRIES
    if over <= 0:
        return timedelta(0)
    return min(timedelta(seconds=2 ** min(over, 12)), LONGEST_WAIT)


def address_key(host: str | None) -> str:
    """The caller's address as the throttle counts it; an IPv6 caller by its /64, which one machine may own.

    >>> address_key("192.0.2.7"), address_key("2001:db8::1:2"), address_key(None)
    ('192.0.2.7', '2001:db8::/64', 'unknown')
    """
    try:
        address = ipaddress.ip_address((host or "").partition("%")[0])
    except ValueError:
        return (host or "unknown")[:100]
    if isinstance(address, ipaddress.IPv6Address):
        if address.ipv4_mapped:
            return str(address.ipv4_mapped)
        return str(ipaddress.ip_network((address, 64), strict=False))
    return str(address)


def is_loopback(host: str | None) -> bool:
    """Whether the caller is this machine itself (127.0.0.0/8 or ::1).

    >>> [is_loopback(h) for h in ("127.0.0.1", "127.8.0.9", "::1", "192.0.2.7", "localhost", None)]
    [True, True, True, False, False, False]
    """
    try:
        address = ipaddress.ip_address(host or "")
    except ValueError:
        return False
    mapped = address.ipv4_mapped if isinstance(address, ipaddress.IPv6Address) else None
    return (mapped or address).is_loopback


@dataclass(frozen=True)
class Limits:
    """How long a sign-in lasts: without use (``idle``) and in any case (``longest``)."""

    idle: timedelta
    longest: timedelta


def clock_went_back(noted: datetime, now: datetime) -> bool:
    """Whether an instant that was written down lies ahead of now by more than clocks differ.

    What lasts for a time cannot be judged then: a sign-in made while the clock stood years ahead would last
    for years.

    >>> t = datetime(2026, 3, 12, 8)
    >>> clock_went_back(t, t - timedelta(minutes=4)), clock_went_back(t, t - timedelta(minutes=6))
    (False, True)
    """
    return noted - now > CLOCK_SLACK


def session_is_over(created: datetime, last_seen: datetime, limits: Limits, now: datetime) -> bool:
    """Whether a sign-in has ended by time, or was used at a time that has not come yet.

    >>> t, limits = datetime(2026, 3, 12, 8), Limits(timedelta(hours=10), timedelta(days=7))
    >>> session_is_over(t, t, limits, t + timedelta(hours=9)), session_is_over(t, t, limits, t + limits.idle)
    (False, True)
    """
    if clock_went_back(max(created, last_seen), now):
        return True
    return now >= last_seen + limits.idle or now >= created + limits.longest


def has_expired(expires_on: date | None, today: date) -> bool:
    """Whether a dated account has run out; its last day still counts, in the shop's zone.

    >>> has_expired(date(2026, 3, 12), date(2026, 3, 12)), has_expired(date(2026, 3, 12), date(2026, 3, 13))
    (False, True)
    """
    return expires_on is not None and today > expires_on


def token_hash(token: str) -> str:
    """What is stored of a token: its SHA-256 in hex. A token has 256 bits, so it needs no slow hash.

    >>> token_hash("x")[:8]
    '2d711642'
    """
    return hashlib.sha256(token.encode("utf-8", "replace")).hexdigest()
