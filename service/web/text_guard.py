"""What is wrong with the signs of a text, as the error that the validators of forms and calls raise."""

from __future__ import annotations

from pydantic_core import PydanticCustomError

from service.core.written_signs import wrong_sign


def sentence(text: str) -> PydanticCustomError:
    """A validator error that is shown to the person word for word."""
    return PydanticCustomError("sentence", "{sentence}", {"sentence": text})


def check_text(text: str, *, lines: bool) -> str:
    """``text`` as it came, or a sentence when it holds a sign that no one types.

    ``lines`` allows line breaks and tabs (notes); one-line texts may not hold them.

    >>> check_text("raw umber", lines=False)
    'raw umber'
    """
    wrong = wrong_sign(text, lines=lines)
    if wrong:
        raise sentence(wrong)
    return text
