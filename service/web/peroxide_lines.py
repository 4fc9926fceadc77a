"""What institutions say of solvents that form peroxides, as lines of a table."""

from typing import Final

from service.records.knowledge_conditions import peroxide_rules

PEROXIDE_COLUMNS: Final = [
    {"key": "institution", "label": "Institution"},
    {"key": "unopened", "label": "Unopened"},
    {"key": "opened_severe", "label": "Opened, severe class"},
    {"key": "opened_concentrating", "label": "Opened, concentrating class"},
]


def peroxide_lines() -> list[dict[str, str]]:
    """One line for each institution; what it does not say is said.

    >>> peroxide_lines()[0]["opened_severe"]
    '3 months'
    """
    keys = [column["key"] for column in PEROXIDE_COLUMNS]
    return [{key: getattr(rule, key) or "says nothing" for key in keys} for rule in peroxide_rules()]
