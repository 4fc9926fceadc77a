"""When a written reason says something: the one measure of every sentence that lets something through.

Doors: core/late_entries.py, core/rag_override.py, core/wipes.py, core/material_entry.py, actions/rag_duty.py,
actions/judge_never_with.py, actions/run_job.py, actions/give_rags.py.

No measure can tell whether a sentence is true. This one refuses a row of dots, one word over and over, and a
hand laid on the keys.
"""

from __future__ import annotations

import re
from typing import Final

SHORTEST_SENTENCE: Final = 10
"""Letters in all."""
FEWEST_WORDS: Final = 3
"""Different words; a word of one letter over and over is none."""
FEWEST_LETTERS: Final = 5
"""Different letters."""
A_SENTENCE: Final = f"a real sentence, {FEWEST_WORDS} different words and {SHORTEST_SENTENCE} letters or more"
"""How it is asked for, after "Write" or "Say in"."""

# Chinese and Japanese are written without gaps: there each sign counts as a word.
_WORDS: Final = re.compile(r"[\u3040-\u30ff\u3400-\u9fff]|[^\W\d_\u3040-\u30ff\u3400-\u9fff]+")


def is_sentence(text: str) -> bool:
    """Whether a text says something: ten letters or more, five of them different, in three different words.

    >>> is_sentence("Written up after the class"), is_sentence("done"), is_sentence("." * 40)
    (True, False, False)
    >>> is_sentence("a" * 15), is_sentence("asdf asdf asdf"), is_sentence("aaaa bbbb cccc dddd eeee")
    (False, False, False)
    """
    words = [word for word in _WORDS.findall(text.casefold()) if len(set(word)) > 1 or not word.isascii()]
    letters = [sign for sign in text.casefold() if sign.isalpha()]
    return (
        len(letters) >= SHORTEST_SENTENCE
        and len(set(letters)) >= FEWEST_LETTERS
        and len(set(words)) >= FEWEST_WORDS
    )
