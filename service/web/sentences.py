"""What a person reads when a field cannot be used: one table by (field, kind of error), one by kind alone.

Sentences say what to do in the words of the label, never what is wrong with the person.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final

# {label} is the label in lower case, {asked} the label with "enter" after it; the rest comes from the
# validator's own context.
BY_KIND: Final[dict[str, str]] = {
    "missing": "Enter {label}.",
    "string_type": "Enter {label} as text.",
    "string_too_short": "Enter {label}: at least {min_length} signs.",
    "string_too_long": "Shorten {label} to at most {max_length} signs.",
    "string_pattern_mismatch": "Enter {label} in the form shown.",
    "int_type": "Enter {label} as a whole number.",
    "int_parsing": "Enter {label} as a whole number.",
    "int_parsing_size": "Enter {label} as a smaller number.",
    "int_from_float": "Enter {label} as a whole number.",
    "float_type": "Enter {label} as a number.",
    "float_parsing": "Enter {label} as a number.",
    "finite_number": "Enter {label} as a number.",
    "decimal_type": "Enter {label} as a number.",
    "decimal_parsing": "Enter {label} as a number.",
    "decimal_max_digits": "Enter {label} with fewer digits.",
    "decimal_max_places": "Enter {label} with at most {decimal_places} digits after the point.",
    "decimal_whole_digits": "Enter {label} as a smaller number.",
    "greater_than": "{asked} a number above {gt}.",
    "greater_than_equal": "{asked} a number of {ge} or more.",
    "less_than": "{asked} a number below {lt}.",
    "less_than_equal": "{asked} a number of {le} or less.",
    "bool_type": "Answer {label} with yes or no.",
    "bool_parsing": "Answer {label} with yes or no.",
    "enum": "Choose {label} from the list: {expected}.",
    "literal_error": "Choose {label} from the list: {expected}.",
    "list_type": "Give {label} as a list.",
    "too_short": "Give {label}: at least {min_length}.",
    "too_long": "Give {label}: at most {max_length}.",
    "date_type": "Enter {label} as a day, such as 2026-11-25.",
    "date_parsing": "Enter {label} as a day, such as 2026-11-25.",
    "date_from_datetime_parsing": "Enter {label} as a day, such as 2026-11-25.",
    "datetime_type": "Enter {label} as a time with its zone, such as 2026-11-25T14:05:00+01:00.",
    "datetime_parsing": "Enter {label} as a time with its zone, such as 2026-11-25T14:05:00+01:00.",
    "timezone_aware": "Enter {label} with its zone, such as 2026-11-25T14:05:00+01:00.",
    "extra_forbidden": "Leave out {label}: it is not known here.",
    "json_invalid": "Send the body as JSON.",
    "model_type": "Send {label} as an object.",
    "model_attributes_type": "Send the body as a JSON object, with Content-Type application/json.",
    "dict_type": "Send {label} as an object.",
    "recursion_loop": "Send {label} without nesting it in itself.",
}

# For a call, whose {label} is the name of a field in quotes; of the kinds that are not here see `BY_KIND`.
OF_CALL: Final[dict[str, str]] = {
    "missing": "{label} is missing: write it.",
    "empty": "{label} is empty: write it.",
    "string_too_short": "Write at least {min_length} signs for {label}.",
    "string_pattern_mismatch": "Write {label} in the form that the description of the call shows.",
    "int_type": "Enter a whole number for {label}.",
    "int_parsing": "Enter a whole number for {label}.",
    "int_parsing_size": "Enter a smaller number for {label}.",
    "int_from_float": "Enter a whole number for {label}.",
    "float_type": "Enter a number for {label}.",
    "float_parsing": "Enter a number for {label}.",
    "finite_number": "Enter a number for {label}.",
    "decimal_type": "Enter a number for {label}.",
    "decimal_parsing": "Enter a number for {label}.",
    "decimal_whole_digits": "Enter a smaller number for {label}.",
    "greater_than": "Enter a number above {gt} for {label}.",
    "greater_than_equal": "Enter a number of {ge} or more for {label}.",
    "less_than": "Enter a number below {lt} for {label}.",
    "less_than_equal": "Enter a number of {le} or less for {label}.",
    "bool_type": "Write true or false for {label}.",
    "bool_parsing": "Write true or false for {label}.",
    "enum": "Write one of these for {label}: {expected}.",
    "literal_error": "Write one of these for {label}: {expected}.",
    "too_short": "{label} holds too little: write at least {min_length}.",
    "too_long": "{label} holds too much: write at most {max_length}.",
}


def lower_first(label: str) -> str:
    """The label inside a sentence: first letter small, unless the word is an abbreviation.

    >>> lower_first("Amount drawn"), lower_first("PIN"), lower_first("CAS number"), lower_first("")
    ('amount drawn', 'PIN', 'CAS number', '')
    """
    head = label.split(" ", 1)[0]
    return label if len(head) > 1 and head.isupper() else label[:1].lower() + label[1:]


def asked_for(label: str) -> str:
    """A label and "enter", before what is to be entered.

    >>> asked_for("Heads"), asked_for("How many came?")
    ('Heads: enter', 'How many came? Enter')
    """
    return f"{label} Enter" if label.endswith("?") else f"{label}: enter"


def said_of_call(error: Mapping[str, Any], label: str) -> str:
    """The sentence for one validator error of a call or an address; ``label`` as it stands in a sentence.

    >>> said_of_call({"type": "greater_than_equal", "ctx": {"ge": 1}}, "“every”")
    'Enter a number of 1 or more for “every”.'
    >>> said_of_call({"type": "missing"}, "the body"), said_of_call({"type": "date_type"}, "“first”")
    ('The body is missing: write it.', 'Enter “first” as a day, such as 2026-11-25.')
    """
    kind = str(error.get("type", ""))
    context = dict(error.get("ctx") or {})
    if kind == "string_too_short" and context.get("min_length") == 1:
        kind = "empty"
    pattern = OF_CALL.get(kind)
    if pattern is None:
        return sentence_for(error, label)
    try:
        words = pattern.format(label=label, **context)
    except KeyError:  # a validator of another version leaves out a bound
        words = f"Write {label} another way."
    return words[:1].upper() + words[1:]


def sentence_for(
    error: Mapping[str, Any],
    label: str,
    own: Mapping[tuple[str, str], str] | None = None,
    field: str = "",
) -> str:
    """The sentence for one validator error.

    ``own`` is the form's table (field, kind) -> sentence and goes first; then the sentences that our own
    field types raise ("sentence"); then `BY_KIND`; last the validator's own message with the label.

    >>> sentence_for({"type": "missing"}, "Amount, in grams")
    'Enter amount, in grams.'
    >>> sentence_for({"type": "string_too_short", "ctx": {"min_length": 1}}, "Flakes")
    'Enter flakes.'
    >>> sentence_for({"type": "never_heard", "msg": "Odd"}, "Amount")
    'Amount: odd.'
    """
    kind = str(error.get("type", ""))
    context = dict(error.get("ctx") or {})
    if own and (field, kind) in own:
        return own[field, kind]
    if kind == "sentence":
        return str(context.get("sentence", ""))
    if kind == "value_error":
        return str(context.get("error", "")) or f"Enter {lower_first(label)} another way."
    if kind == "string_too_short" and context.get("min_length") == 1:
        kind = "missing"
    pattern = BY_KIND.get(kind)
    if pattern is not None:
        try:
            return pattern.format(label=lower_first(label), asked=asked_for(label), **context)
        except KeyError:  # a validator of another version leaves out a bound
            return f"Enter {lower_first(label)} another way."
    message = str(error.get("msg", "")).strip().rstrip(".")
    return f"{label}: {message[:1].lower() + message[1:]}."
