"""Hazard classes as somebody copied them from a sheet: judged for their shape, kept as written.

Doors: actions/describe_material.py, web/pages/material_facts.py, outreach/labels.py.

What a class means is not decided here; only that the line looks like one, so that a remark or a slip of the
pen is not kept as if it were a hazard class.
"""

from __future__ import annotations

import re
from typing import Final

from service.core.findings import Invalid
from service.core.own_figures import wrong_field

MOST_CLASSES: Final = 40
_LONGEST: Final = 100
_CODE: Final = r"(?:EUH\d{3}[A-Z]?|H\d{3}[A-Za-z]{0,2}(?: ?\+ ?H\d{3}[A-Za-z]{0,2})*)"
_NAME: Final = r"[A-Z][A-Za-z]*\.?(?:[ -][A-Za-z]+\.?){0,3}(?: \([A-Za-z.]+\))?"
_CATEGORY: Final = r"(?:[1-5][A-Fa-f]?|[A-G])"
_ROUTE: Final = "oral|dermal|inhalation|vapours?|dust_mist|dusts? or mists?|dusts?|mists?|gas(?:es)?"
_MORE: Final = rf"(?:,? (?:\([^()]{{1,60}}\)|{_ROUTE}))*"
_SAID: Final = r"(?:(?:[:,.]| ?[-–—])? [A-Za-z][A-Za-z ,.'’/-]*)?"
"""What a sheet says after a number: words, without a figure or a bracket."""
_CLASS: Final = re.compile(
    rf"(?:{_CODE}{_SAID}(?: \([^()]{{1,60}}\))*|"
    rf"{_NAME} {_CATEGORY}{_MORE}(?:[,:;]? {_CODE})?{_MORE}|{_NAME}[,:;]? {_CODE}{_MORE})",
    re.ASCII,
)
_NONE: Final = frozenset({"none", "not classified", "no hazard class", "no hazard classes", "not hazardous"})


def read_classes(text: str) -> tuple[str, ...]:
    """The classes of a text, one to a line or parted by semicolons, as written but with single spaces.

    An empty text gives none; whether that means "not known" or "examined and none" is asked apart. Raises
    Invalid for a line that does not look like a class, for words such as "none", and for more than 40.

    >>> read_classes("Flam. Liq. 3 H226; STOT RE 2 H373 (hearing organs)")
    ('Flam. Liq. 3 H226', 'STOT RE 2 H373 (hearing organs)')
    >>> read_classes("Carc. 1B\\nH411")
    ('Carc. 1B', 'H411')
    >>> read_classes("EUH019 (may form explosive peroxides)")
    ('EUH019 (may form explosive peroxides)',)
    """
    found = [" ".join(line.split()).rstrip(".,") for line in re.split(r"[;\n]", text)]
    kept = list(dict.fromkeys(line for line in found if line))
    if len(kept) > MOST_CLASSES:
        raise Invalid(f"Enter at most {MOST_CLASSES} hazard classes.")
    for line in kept:
        if line.lower() in _NONE:
            raise Invalid("If the sheet names no class, choose “examined, none” and leave this empty.")
        if misplaced := wrong_field(line):
            raise Invalid(misplaced)
        if len(line) > _LONGEST or not _CLASS.fullmatch(line):
            raise Invalid(
                f"“{line[:60]}” does not look like a hazard class. Copy it as in section 2 of the sheet, "
                "like Flam. Liq. 3 H226, one to a line."
            )
    return tuple(kept)


def read_metals(text: str) -> tuple[str, ...]:
    """Names or signs of metals, parted by commas, semicolons or lines. Raises Invalid for anything else.

    >>> read_metals("Pb, Cr(VI)")
    ('Pb', 'Cr(VI)')
    """
    found = [" ".join(part.split()) for part in re.split(r"[,;\n]", text)]
    kept = list(dict.fromkeys(part for part in found if part))
    for part in kept:
        if part.lower() in _NONE:
            raise Invalid("If there is none, choose “examined, none” and leave this empty.")
        if len(part) > 40 or not re.fullmatch(r"[A-Za-z][A-Za-z ]*(?:\([IVX]{1,4}\))?", part, re.ASCII):
            raise Invalid(f"“{part[:40]}” does not look like a metal. Write it like Pb, Cd or Cr(VI).")
    if len(kept) > 20:
        raise Invalid("Enter at most 20 metals.")
    return tuple(kept)
