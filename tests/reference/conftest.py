"""Known answers of published worked examples, read at test time."""

import csv
from collections.abc import Callable, Mapping
from pathlib import Path

import pytest

Rows = dict[str, dict[str, dict[str, str]]]


@pytest.fixture(scope="session")
def expected_rows(worked_examples: Path) -> Rows:
    """Rows of expected_values.csv by example and quantity."""
    rows: Rows = {}
    with (worked_examples / "expected_values.csv").open(encoding="utf-8", newline="") as file:
        for row in csv.DictReader(file):
            rows.setdefault(row["id"], {})[row["quantity"]] = row
    return rows


def _last_digit(text: str) -> float:
    """Half a unit of the last printed digit: how far a rounded figure may lie from what was rounded."""
    mantissa, _, exponent = text.lower().partition("e")
    decimals = len(mantissa.partition(".")[2])
    return 0.5 * 10.0 ** (int(exponent or 0) - decimals) if "." in mantissa or exponent else 0.0


@pytest.fixture
def check(expected_rows: Rows) -> Callable[[str, Mapping[str, float]], None]:
    """Compare our figures with every row of one example; a quantity without a row is an error of the test."""

    def compare(example: str, ours: Mapping[str, float]) -> None:
        wrong = []
        for quantity, value in ours.items():
            row = expected_rows[example][quantity]
            # the recomputed figures are printed to eight digits, which is coarser than the smallest tolerances
            allowed = float(row["tol_abs"]) + _last_digit(row["recomputed"])
            for column in ("recomputed", "published"):
                if row[column] and not abs(value - float(row[column])) <= allowed:
                    wrong.append(f"{quantity}: {value!r}, {column} {row[column]}, allowed {allowed:g}")
        assert not wrong, f"{example}: " + "; ".join(wrong)

    return compare
