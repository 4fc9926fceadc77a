"""The HTML part of the morning mail, made from its plain text: the same words in the same order.

Nothing is fetched from anywhere: no picture, no style sheet, no address but those of the text itself.
"""

from __future__ import annotations

from collections.abc import Sequence
from html import escape
from typing import Final

from service.core.morning_words import OVERDUE

LIGHT: Final = {"ground": "#f5ede0", "paper": "#fffbf4", "ink": "#2a1d13", "soft": "#5e4a39",
                "link": "#7a3a12", "grain": "#d8c4a6", "red": "#9b1c1c", "redground": "#fadbd3"}  # fmt: skip
DARK: Final = {"ground": "#1a1410", "paper": "#261d16", "ink": "#f4e8d6", "soft": "#c9b59c",
               "link": "#f0b780", "grain": "#4a3a2c", "red": "#ffb0a3", "redground": "#4a1b18"}  # fmt: skip
"""Ink stands on ground, paper and redground; red on redground; soft and link on paper."""
_FACE: Final = "font-family:'Segoe UI',Roboto,'Helvetica Neue',Arial,sans-serif"
_DARK_RULES: Final = (
    "@media (prefers-color-scheme: dark){"
    f".g{{background:{DARK['ground']}!important;color:{DARK['ink']}!important}}"
    f".p{{background:{DARK['paper']}!important;color:{DARK['ink']}!important;"
    f"border-color:{DARK['grain']}!important}}"
    f".r{{background:{DARK['redground']}!important;color:{DARK['ink']}!important;"
    f"border-color:{DARK['red']}!important}}"
    f".h{{color:{DARK['red']}!important}}.t{{color:{DARK['ink']}!important}}.s{{color:{DARK['soft']}!important}}"
    f".a{{color:{DARK['link']}!important}}}}"
)


def mail_page(subject: str, text: str, base: str) -> str:
    """The page of a mail. What is overdue or past stands in a box with a bar, never by its colour alone.

    Args:
        base: the service's own address; only what begins with it becomes a link. "" = nothing does.

    >>> page = mail_page("Morning", "Harbour Lane, 2 March 2026.\\n\\nTo do today (1):\\n- Count <it>.", "")
    >>> "Count &lt;it&gt;." in page, "<a " in page, "src=" in page
    (True, False, False)
    """
    first, *rest = text.split("\n\n")
    blocks = "".join(_block(one.split("\n"), base) for one in rest)
    head = "".join(
        f'<p style="margin:0 0 16px;font-size:20px;line-height:1.4">{_linked(line, base)}</p>'
        for line in first.split("\n")
    )
    return (
        '<!DOCTYPE html>\n<html lang="en"><head><meta charset="utf-8">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        '<meta name="color-scheme" content="light dark">\n'
        '<meta name="supported-color-schemes" content="light dark">\n'
        f"<title>{escape(subject)}</title>\n"
        f"<style>:root{{color-scheme:light dark}}{_DARK_RULES}</style></head>\n"
        f'<body class="g" style="margin:0;padding:0;background:{LIGHT["ground"]};color:{LIGHT["ink"]}">\n'
        f'<div class="g" style="{_FACE};font-size:18px;line-height:1.5;background:{LIGHT["ground"]};'
        f'color:{LIGHT["ink"]};padding:20px 14px"><div style="max-width:640px;margin:0 auto;'
        'overflow-wrap:anywhere;word-break:break-word">\n'
        f"{head}{blocks}</div></div></body></html>\n"
    )


def _block(lines: Sequence[str], base: str) -> str:
    heading, *rest = lines
    if rest and heading.endswith(":") and rest[0].startswith("- "):
        return _box(heading, _items(rest, base))
    if heading.startswith(OVERDUE):  # told by codes alone, because there are too many
        return _box(heading, "".join(_said(line, base) for line in rest))
    inner = "<br>".join(_linked(line, base) for line in lines)
    return f'<p class="s" style="margin:0 0 14px;font-size:16px;color:{LIGHT["soft"]}">{inner}</p>\n'


def _box(heading: str, inner: str) -> str:
    grave = heading.startswith(OVERDUE)
    ground, edge = ("redground", "red") if grave else ("paper", "grain")
    name, ink = ("h", LIGHT["red"]) if grave else ("t", LIGHT["ink"])
    bar = f"border:1px solid {LIGHT[edge]};border-left-width:{8 if grave else 1}px;"
    return (
        f'<div class="{"r" if grave else "p"}" style="background:{LIGHT[ground]};color:{LIGHT["ink"]};{bar}'
        'border-radius:8px;padding:14px 16px;margin:0 0 18px">'
        f'<h2 class="{name}" style="margin:0 0 8px;font-size:22px;line-height:1.3;color:{ink}">'
        f"{escape(heading)}</h2>{inner}</div>\n"
    )


def _items(lines: Sequence[str], base: str) -> str:
    """Each line that begins with a dash, with the address below it; another line ends the list."""
    made, after = "", ""
    for line in lines:
        if line.startswith("- "):
            said = _linked(line[2:], base) if _cut(line) else escape(line[2:])
            made += f'<li style="margin:0 0 12px">{said}'
        elif line.startswith("  "):
            made += f"<br>{_linked(line.strip(), base)}"
        else:
            after += _said(line, base)
    return f'<ul style="margin:0;padding:0 0 0 20px">{made}</ul>{after}'


def _cut(line: str) -> bool:
    """Whether it is the line of our own that says where the rest stands."""
    return line.startswith("- and ") and ", not in this mail: " in line


def _said(line: str, base: str) -> str:
    return f'<p style="margin:0 0 8px">{_linked(line, base)}</p>'


def _linked(line: str, base: str) -> str:
    """A line with its addresses of our own made links, everything else as it is written."""
    made = []
    for word in line.split(" "):
        said = escape(word)
        if base and word.startswith(f"{base}/"):
            style = f"color:{LIGHT['link']};font-weight:600;display:inline-block;padding:6px 0"
            said = f'<a class="a" href="{said}" style="{style}">{said}</a>'
        made.append(said)
    return " ".join(made)
