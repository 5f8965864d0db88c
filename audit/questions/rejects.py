"""What the import kept out or stored with a remark, with and without what tells of an outcome."""

import pandas as pd

from audit.intake.formats.tables import COLUMNS, OUTCOME_FIELDS

# a remark on any other column, also under a name of a file's own, may quote a newborn's value
_HARMLESS = COLUMNS - set(OUTCOME_FIELDS)


def without_outcomes(rows: pd.DataFrame) -> pd.DataFrame:
    """The rows whose `column_name` is that of a column without outcomes, or none."""
    if rows.empty:
        return rows
    return rows[rows["column_name"].isna() | rows["column_name"].isin(_HARMLESS)]
