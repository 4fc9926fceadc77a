"""The page audit itself: a page in order passes, and each known defect is found, alone."""

from __future__ import annotations

from urllib.parse import quote

import pytest
from playwright.sync_api import Browser, Page

from tests.browser.conftest import DESKTOP, PHONE
from tests.browser.page_audit import page_faults, watch

BIG = "min-height:48px;min-width:48px;box-sizing:border-box"
STYLE = f"body{{margin:0;background:#fff;color:#222}} .b{{{BIG};display:inline-block}} a{{color:#00c}}"


def page_of(body: str, head: str = "<title>T</title>", html: str = 'lang="en"') -> str:
    text = f"<!doctype html><html {html}><head><meta charset=utf-8>"
    text += f'<meta name=viewport content="width=device-width">{head}<style>{STYLE}</style></head>'
    return "data:text/html;charset=utf-8," + quote(f"{text}<body>{body}</body></html>")


IN_ORDER = """<h1>Store</h1>
<p>A sentence with <a href="#x">a link</a> inside it.</p>
<label class=b style="display:block"><input type=checkbox> opened</label>
<label for=q>Amount</label><input id=q class=b placeholder="2 tsp" style="color:#000">
<button class=b style="background:#333;color:#fff">Draw</button>
<a href="#y" class=b>Next</a>
<p style="color:#777;font-size:24px">large and grey</p>
<p style="background:rgba(0,0,0,.9)"><span style="color:#eee">light on dark</span></p>
<button class=b disabled style="color:#ccc;background:#fff">Not now</button>
<button tabindex=-1 aria-hidden=true style="position:absolute;width:1px;height:1px;padding:0;border:0;
overflow:hidden;clip-path:inset(50%)">Enter</button>
<a href="#x" style="position:absolute;left:-999px">Skip</a><p hidden style="color:#fff">gone</p>"""

DEFECTS = {
    "overflow": "<div style='width:500px;height:9px'></div>",
    "target: <button>": "<button style='width:60px;height:40px'>Low</button>",
    "target: <button> \"Tab\"": "<button style='position:absolute;width:1px;height:1px;padding:0;border:0;"
    "overflow:hidden;clip-path:inset(50%)'>Tab</button>",
    "target: <a>": "<nav><a href='#x'>Alone</a></nav>",
    "target: <input>": "<label>opened <input type=checkbox></label>",
    "target: <select>": "<select aria-label=S style='height:30px;width:90px'><option>1</select>",
    "target: <summary>": "<details><summary>More</summary>text</details>",
    "label: <input>": "<input class=b>",
    "label: <button>": "<button class=b></button>",
    "label: <select>": "<select class=b><option>1</select>",
    "label: <img>": "<img src='data:,' width=9>",
    "contrast: <p>": "<p style='color:#777'>grey</p>",
    "contrast: <b>": "<p style='background:#333;color:#fff'>a<b style='color:#555'>dark on dark</b></p>",
    "contrast: <i>": "<p style='opacity:.5'><i>half seen</i></p>",
    "contrast: <u>": "<p style='background-image:linear-gradient(#000,#fff)'><u>on a picture</u></p>",
    "contrast: <em>": "<p><em style='color:oklch(0.7 0.1 200)'>another way to write a colour</em></p>",
    "contrast: placeholder": "<style>#h::placeholder{color:#aaa}</style>"
    "<input id=h class=b aria-label=H placeholder=hint>",
    "contrast: <input": "<input class=b aria-label=H value=typed style='color:#aaa;background:#fff'>",
    "document: 2 h1": "<h1>Again</h1>",
    "document: id": "<p id=q></p>",
}


def opened(page: Page, address: str) -> list[str]:
    page.goto(address)
    return page_faults(page)


def test_a_page_in_order_passes(phone: Page, desktop: Page) -> None:
    assert opened(phone, page_of(IN_ORDER)) == []
    assert opened(desktop, page_of(IN_ORDER)) == []


@pytest.mark.parametrize("fault", DEFECTS)
def test_a_defect_is_found_and_nothing_else(phone: Page, fault: str) -> None:
    found = opened(phone, page_of(IN_ORDER + DEFECTS[fault]))
    assert len(found) == 1, found
    assert found[0].startswith(fault)


@pytest.mark.parametrize(
    ("fault", "address"),
    [
        ("document: no title", page_of(IN_ORDER, head="")),
        ("document: no lang", page_of(IN_ORDER, html="")),
        ("document: 0 h1", page_of("<p>text</p>")),
    ],
)
def test_a_defect_of_the_document_is_found(desktop: Page, fault: str, address: str) -> None:
    assert [line[: len(fault)] for line in opened(desktop, address)] == [fault]


def test_small_targets_count_under_a_finger_only(phone: Page, desktop: Page) -> None:
    small = page_of("<h1>S</h1><button style='height:30px'>Draw</button>")
    assert opened(desktop, small) == []
    assert len(opened(phone, small)) == 1


def test_contrast_in_the_dark_scheme_is_judged_too(browser: Browser) -> None:
    page = browser.new_page(**DESKTOP, color_scheme="dark")  # type: ignore[arg-type]
    dark = "<style>@media (prefers-color-scheme:dark){body{background:#111;color:#444}}</style><h1>D</h1>"
    assert [line.split(":")[0] for line in opened(page, page_of(dark + "<p>too dark</p>"))].count("contrast")
    page.close()


# Contrast ratios by WCAG 2.2 relative luminance: grey #767676 on white is 4.54:1, #777777 is 4.48:1
# (the pair that the W3C's technique G18 and its understanding document use as the edge).
@pytest.mark.parametrize(("grey", "passes"), [("#767676", True), ("#777777", False)])
def test_the_edge_of_contrast(desktop: Page, grey: str, passes: bool) -> None:
    found = opened(desktop, page_of(f"<h1>E</h1><p style='color:{grey}'>edge</p>"))
    assert (found == []) is passes


def test_a_broken_policy_is_heard(browser: Browser) -> None:
    page = browser.new_page(**PHONE)  # type: ignore[arg-type]
    heard = watch(page)
    policy = "<meta http-equiv=Content-Security-Policy content=\"style-src 'none'\"><title>T</title>"
    page.goto(page_of("<h1>P</h1><p style='color:red'>painted</p>", head=policy))
    page.wait_for_timeout(200)
    assert any(fault.startswith("policy: ") for fault in heard.faults)
    page.close()


def test_an_error_of_a_script_is_heard(browser: Browser) -> None:
    page = browser.new_page()
    heard = watch(page)
    page.goto(page_of("<h1>S</h1><script>nothing.here()</script>"))
    assert any(fault.startswith("script: ") for fault in heard.faults)
    page.close()


def test_no_name_leads_outside(desktop: Page) -> None:
    # "localhost" is a name as well; only the number of this machine is let through.
    failed: list[str] = []
    desktop.on("requestfailed", lambda request: failed.append(request.failure or ""))
    desktop.goto(page_of("<h1>N</h1><img alt=n src='http://pictures.shop.example/a.png'>"))
    assert any("ERR_NAME_NOT_RESOLVED" in why for why in failed)
