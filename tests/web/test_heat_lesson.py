"""Why oily rags heat: figures for teaching with their limits, and nothing that a rule could go by."""

from __future__ import annotations

import re

import pytest

from service.core import heat_lesson
from service.core.access import Role
from tests.house.tree import SERVICE, python_files
from tests.web.conftest import Shop


@pytest.mark.parametrize("role", list(Role))
def test_everybody_may_read_it_and_sees_what_it_does_not_say(shop: Shop, role: Role) -> None:
    text = shop.signed_in(role).get("/rags/why").text.replace("\u00a0", " ")
    assert "For teaching. It loosens no rule." in text and "No size is harmless" in text
    # By hand from the sources: Gardner 1911 (188; 16 %), the Ohio code (160), the coatings journal (12 %).
    for figure in ("188 g iodine/100 g", "160 or more g iodine/100 g", "about 16 % of its mass",
                   "at most 12 %", "10.2 to 14.4 %", "0.57 % and 10.5 %", "0.2787 g of oxygen"):  # fmt: skip
        assert figure in text, figure


def test_no_critical_size_stands_on_it(shop: Shop) -> None:
    text = re.sub(r"<[^>]+>", " ", shop.signed_in(Role.KEEPER).get("/rags/why").text).lower()
    for word in ("critical", "frank", "kamenetskii", " cm ", " mm ", "safe size", "delta"):
        assert word not in text, word


def test_no_rule_and_no_act_reads_it() -> None:
    """Only the page does, so that no figure of it can make a rule milder."""
    said = heat_lesson.__name__.rpartition(".")[2]
    readers = {
        path.as_posix().rpartition("/service/")[2]
        for path in python_files(SERVICE)
        if f"service.core.{said}" in (text := path.read_text(encoding="utf-8"))
        or re.search(rf"from service\.core import .*\b{said}\b", text)
    }
    assert readers == {"web/pages/heat_lesson.py"}
