"""One file per revision."""
