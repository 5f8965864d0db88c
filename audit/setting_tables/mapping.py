"""How a unit's own export is read: one table `[import.mapping.NAME]` for each shape of file."""

import re
import zoneinfo
from typing import Literal

from audit.setting_types import Table, Unfit, dotted

Kind = Literal["tracing", "cases", "care_events", "reads", "assessments"]
# What a column of the file may be given in, by the column of ours that it becomes; the first is what is stored.
UNITS: dict[str, tuple[str, ...]] = {
    "cord_artery_pco2_kpa": ("kPa", "mmHg"),
    "cord_vein_pco2_kpa": ("kPa", "mmHg"),
    "cord_artery_base_deficit_mmol_l": ("base deficit", "base excess"),
    "cord_lactate_mmol_l": ("mmol/L", "mg/dL"),
    "cord_artery_ph": ("pH", "nmol/L"),
    "cord_vein_ph": ("pH", "nmol/L"),
    "birth_weight_g": ("g", "kg", "lb", "oz", "lb+oz"),
    "gestation_weeks": ("weeks", "weeks+days", "days"),
    "toco": ("mmHg", "kPa"),
    "t_s": (
        "seconds",
        "clock",
        "milliseconds",
        "minutes",
        "hours",
        "duration",
        "samples",
    ),  # counted: `samples_per_s` says how fast
    "period": ("YYYY-MM", "date"),
}
TIME_UNITS = ("seconds", "clock", "milliseconds", "minutes", "hours", "duration")
CLOCK_COLUMNS = ("t_s", "at_s", "birth_s", "second_stage_s")  # that may be a clock time
CHANNELS = ("fhr_bpm", "toco", "mhr_bpm")
EXTRA_COLUMNS = ("date",)  # that go with a clock time and are not stored
_FETUS = re.compile(r"[A-F]")


class Mapping(Table, frozen=True):
    """One shape of file. Names of columns and words are compared without regard to case and outer blanks."""

    kind: Kind
    columns: dict[str, str]  # ours = theirs
    delimiter: Literal["auto", ",", ";", "tab", "|"] = "auto"
    decimal: Literal["auto", ".", ","] = "auto"
    encoding: Literal["auto", "UTF-8", "UTF-16", "Windows-1252"] = "auto"
    lines_before_header: int = 0
    units: dict[str, str] = {}  # noqa: RUF012 (msgspec copies it)
    no_signal: tuple[str, ...] = ()
    fetus: dict[str, dict[str, str]] = {}  # noqa: RUF012  # A = {ours = theirs}: wide files
    constant: dict[str, str] = {}  # noqa: RUF012  # ours = the same in every row
    words: dict[str, dict[str, str]] = {}  # noqa: RUF012  # ours = {their word = ours}
    case_id_from_file: str = ""  # pattern with one group, for a file a case
    time_zone: str = ""
    date_order: Literal["dmy", "mdy", "ymd"] = "dmy"
    samples: dict[str, tuple[str, ...]] = {}  # noqa: RUF012  # ours = {their columns of a row, in order of time}
    samples_between: str = ""  # what stands between the samples that share a cell
    samples_per_s: float = 0.0  # of a tracing whose rows are counted
    row_s: float = 0.0  # how long a row of several samples lasts
    clock_offset_s: float = 0.0  # added to this file's clock so that it agrees with the tracing's

    def __post_init__(self) -> None:
        """Refuse what does not go together. Raises Unfit."""
        for name, unit in self.units.items():
            allowed = UNITS.get(name) or (TIME_UNITS if name.endswith("_s") else ())
            if unit not in allowed or (unit == "clock" and name not in CLOCK_COLUMNS):
                fits = tuple(each for each in allowed if each != "clock" or name in CLOCK_COLUMNS)
                raise Unfit(dotted("units", name), unit, f"one of {', '.join(fits)}" if fits else "no unit")
        for fetus in self.fetus:
            if not _FETUS.fullmatch(fetus):
                raise Unfit(dotted("fetus", fetus), fetus, "one of A to F")
        if not 0 <= self.lines_before_header <= 1000:
            raise Unfit("lines_before_header", self.lines_before_header, "a whole number from 0 to 1000")
        if abs(self.clock_offset_s) > 86_400:
            raise Unfit("clock_offset_s", self.clock_offset_s, "a number from -86400 to 86400 (s)")
        if (self.units.get("t_s") == "samples") != (self.samples_per_s != 0) or not 0 <= self.samples_per_s <= 1000:
            expected = "how many samples a second, up to 1000, where t_s counts samples"
            raise Unfit("samples_per_s", self.samples_per_s, expected)
        self._check_samples()
        self._check_pattern()
        self._check_zone()

    @property
    def has_several(self) -> bool:
        """A row holds several samples."""
        return bool(self.samples or self.samples_between)

    @property
    def uses_clock(self) -> bool:
        """A column of it is a clock time."""
        return "clock" in self.units.values()

    def _check_samples(self) -> None:
        if self.has_several != (self.row_s != 0) or not 0 <= self.row_s <= 3600:
            raise Unfit("row_s", self.row_s, "the seconds that a row lasts, where samples share a row or a cell")
        for name, theirs in self.samples.items():
            if self.kind != "tracing" or name not in CHANNELS or name in self.columns or not 2 <= len(theirs) <= 1000:
                key = dotted("samples", name)
                raise Unfit(key, list(theirs), f"2 to 1000 columns of one of {', '.join(CHANNELS)}, of a tracing")
        if self.has_several and (self.kind != "tracing" or (self.samples and self.fetus)):
            raise Unfit("samples", list(self.samples), "a tracing, with the fetuses in rows")

    def _check_pattern(self) -> None:
        if not self.case_id_from_file:
            return
        try:
            groups = re.compile(self.case_id_from_file).groups
        except re.error as error:
            raise Unfit("case_id_from_file", self.case_id_from_file, f"a regular expression ({error.msg})") from error
        if groups != 1:
            raise Unfit(
                "case_id_from_file", self.case_id_from_file, "a pattern with one group in brackets, the case id"
            )

    def _check_zone(self) -> None:
        if not self.time_zone and not self.uses_clock:
            return
        try:
            zoneinfo.ZoneInfo(self.time_zone)
        except (zoneinfo.ZoneInfoNotFoundError, ValueError, OSError) as error:
            raise Unfit(
                "time_zone", self.time_zone, "a time zone such as Europe/Berlin, as clock times need"
            ) from error
