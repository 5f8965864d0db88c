"""A unit's database as frames."""

from pathlib import Path

import pandas as pd

from audit.errors import AuditError, UsageError
from audit.months import checked_period
from audit.notebook.reading import Reading, read
from audit.settings import settings_for
from audit.store import database, published
from audit.store.tracings import load_tracing
from audit.tracing.types import Tracing


class Unit:
    """A unit's database as frames, read from the published copy that the pages read. Made by `open_unit`."""

    def __init__(self, db: Path) -> None:
        self.db = db
        self.settings = settings_for(db)

    def __repr__(self) -> str:
        return f"Unit({self.db.name!r})"

    def table(self, name: str, *, case_id: str | None = None) -> pd.DataFrame:
        """A table or view of the database.

        Parameters
        ----------
        name
            Of the table or view.
        case_id
            Only this case's rows; None = all.

        Returns
        -------
        DataFrame
            Its rows.

        Raises
        ------
        UsageError
            A name that is not there, with those that are.
        """
        with published.open_for_reading(published.required(self.db)) as con:
            known = database.tables(con)
            if name not in known:
                raise UsageError(f"table {name!r}: expected one of {', '.join(known)}")
            rows = con.table(name).df()
        return (
            rows
            if case_id is None or "case_id" not in rows
            else rows[rows["case_id"] == case_id].reset_index(drop=True)
        )

    def cases(self, *, period: str | None = None) -> pd.DataFrame:
        """One row per labour: month, facts, and what is there of it.

        Parameters
        ----------
        period
            Month of birth, YYYY-MM; None = all months.

        Returns
        -------
        DataFrame
            The view `labours`.
        """
        return self._of_month("labours", period)

    def episodes(self, *, period: str | None = None, standard: str | None = None) -> pd.DataFrame:
        """One row per concern episode with what answered it.

        Parameters
        ----------
        period
            Month of birth, YYYY-MM; None = all months.
        standard
            Only under this standard; None = under all.

        Returns
        -------
        DataFrame
            The view `episodes`.
        """
        rows = self._of_month("episodes", period)
        return rows if standard is None else rows[rows["standard"] == standard].reset_index(drop=True)

    def tracing(self, case_id: str, fetus: str = "A") -> Tracing:
        """One stored tracing.

        Parameters
        ----------
        case_id
            The case.
        fetus
            The fetus.

        Returns
        -------
        Tracing
            On the case's clock.

        Raises
        ------
        UsageError
            A case without a tracing.
        """
        with published.open_for_reading(published.required(self.db)) as con:
            try:
                return load_tracing(con, case_id, fetus)
            except LookupError as error:
                raise UsageError(str(error)) from None

    def reading(self, case_id: str, fetus: str = "A") -> Reading:
        """One stored tracing read again with the unit's settings.

        Parameters
        ----------
        case_id
            The case.
        fetus
            The fetus.

        Returns
        -------
        Reading
            The same findings as `analyse` stored, when neither samples nor settings have changed since.
        """
        made = self.tracing(case_id, fetus)
        facts = self.table("cases", case_id=case_id).iloc[0]
        weeks, second = (
            None if pd.isna(facts[name]) else float(facts[name]) for name in ("gestation_weeks", "second_stage_s")
        )
        return read(made, gestation_weeks=weeks, second_stage_s=second, settings=self.settings)

    def _of_month(self, name: str, period: str | None) -> pd.DataFrame:
        rows = self.table(name)
        return rows if period is None else rows[rows["period"] == checked_period(period)].reset_index(drop=True)


def open_unit(db: str | Path) -> Unit:
    """A unit's database.

    Parameters
    ----------
    db
        The database file.

    Returns
    -------
    Unit
        Its tables as frames.

    Raises
    ------
    AuditError
        No database there, or one that this program cannot read.

    Examples
    --------
    >>> import audit
    >>> unit = audit.open_unit("unit.duckdb")  # doctest: +SKIP
    >>> unit.episodes(period="2031-04", standard="figo-2015")  # doctest: +SKIP
    """
    path = Path(db)
    if not path.is_file():
        raise AuditError(f"{path.name}: no database here; import files first")
    return Unit(path)
