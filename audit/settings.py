"""The settings: one packaged file, overridden key by key by a unit, checked once at load, hashed into every run."""

import copy
import hashlib
import json
import os
import tomllib
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from functools import cache, cached_property
from pathlib import Path
from typing import Any, Literal

import msgspec

from audit.agreement.options import AgreementOptions
from audit.control_charts.options import TrendOptions
from audit.errors import SettingsError
from audit.measures.burden import BurdenSettings
from audit.measures.cord_gas import CordGasLimits
from audit.response.rules import ResponseSettings
from audit.second_reading.card import read_card
from audit.setting_spans import check_spans
from audit.setting_tables.access import AccessOptions
from audit.setting_tables.equity import EquityOptions
from audit.setting_tables.find import FindOptions
from audit.setting_tables.intake import ImportOptions, Range
from audit.setting_tables.locale import LocaleTable
from audit.setting_tables.meeting import MeetingOptions
from audit.setting_tables.pack import PackTable
from audit.setting_tables.retired import instead_of
from audit.setting_tables.validate import SecondReadingSettings, ValidateSettings
from audit.setting_types import Name, Table, Unfit, build, dotted, plain
from audit.standards import figo_1986, figo_2015_table, nice_ng229_table, nichd_2008_table
from audit.standards.figo_1986 import Figo1986Settings
from audit.standards.figo_2015_table import Figo2015Settings
from audit.standards.nice_ng229_table import NiceNg229Settings
from audit.standards.nichd_2008_table import Nichd2008Settings
from audit.standards.settings import StandardSettings, StandardsSettings, with_common
from audit.tracing.parameters import TracingSettings

PACKAGED_FILE = Path(__file__).with_name("settings.toml")
UNIT_FILE_NAME = "unit_settings.toml"
FIGURES_FILE_NAME = "validation.json"  # what `validate --json` wrote, for packs to quote
_STANDARDS: dict[str, type[StandardSettings]] = {
    nichd_2008_table.NAME: Nichd2008Settings,
    figo_2015_table.NAME: Figo2015Settings,
    nice_ng229_table.NAME: NiceNg229Settings,
    figo_1986.NAME: Figo1986Settings,
}


class FileSettings(Table, frozen=True):
    """What the file says of itself."""

    version: Literal[1]  # a file of another layout is refused


class AnalysisSettings(Table, frozen=True):
    """The tables that a reading depends on. Workers get these and no others."""

    tracing: TracingSettings
    nichd_2008: Nichd2008Settings = msgspec.field(name="nichd-2008")
    figo_2015: Figo2015Settings = msgspec.field(name="figo-2015")
    figo_1986: Figo1986Settings = msgspec.field(name="figo-1986")
    nice_ng229: NiceNg229Settings = msgspec.field(name="nice-ng229")
    validate: ValidateSettings
    second_reading: SecondReadingSettings
    burden: BurdenSettings
    response: ResponseSettings

    def of_standards_for(self, period: str | None) -> dict[str, StandardSettings]:
        """The table of each standard with the text in force for a birth in that month (YYYY-MM, None = not given)."""
        return {name: table.for_month(period) for name, table in self.of_standards.items()}

    @property
    def of_standards(self) -> dict[str, StandardSettings]:
        """The table of each standard by the standard's name."""
        return {
            nichd_2008_table.NAME: self.nichd_2008,
            figo_2015_table.NAME: self.figo_2015,
            nice_ng229_table.NAME: self.nice_ng229,
            figo_1986.NAME: self.figo_1986,
        }


class Settings(AnalysisSettings, frozen=True, dict=True):
    """Every table by name, with the keys that the unit overrides."""

    settings: FileSettings
    standards: StandardsSettings
    cord_gas: CordGasLimits
    find: FindOptions
    import_: ImportOptions = msgspec.field(name="import")
    agreement: AgreementOptions
    trends: TrendOptions
    meeting: MeetingOptions
    pack: PackTable
    equity: EquityOptions
    locale: LocaleTable
    access: AccessOptions
    overridden: tuple[Name, ...] = ()

    def __post_init__(self) -> None:
        """Refuse tables that contradict each other. Raises Unfit."""
        known = sorted({rule.standard for rule in self.response.rules.values()})
        if self.trends.standard not in known:
            raise Unfit("trends.standard", self.trends.standard, f"one of {', '.join(map(repr, known))}")

    def range_of(self, column: str) -> Range | None:
        """Lowest and highest value of a column that is stored; None = any."""
        if column.endswith("_ph"):
            return self.cord_gas.ph_lowest, self.cord_gas.ph_highest
        if column.endswith("_pco2_kpa"):
            return self.cord_gas.pco2_lowest_kpa, self.cord_gas.pco2_highest_kpa
        return self.import_.ranges.of(column)

    @cached_property
    def tables(self) -> dict[str, Any]:
        """Every value in force, as a file would hold it."""
        values = plain(self)
        del values["overridden"]
        return values

    @cached_property
    def sha256(self) -> str:
        """Hash of every value in force; equal values give equal hashes whatever the order of the file."""
        return _hash_of(self.tables)

    @cached_property
    def analysis(self) -> AnalysisSettings:
        """The tables that a reading depends on."""
        return AnalysisSettings(**{name: getattr(self, name) for name in AnalysisSettings.__struct_fields__})

    @cached_property
    def analysis_sha256(self) -> str:
        """Hash of what a reading depends on: another word for the pack's paper makes no tracing stale."""
        return _hash_of(plain(self.analysis))


def _hash_of(tables: Mapping[str, Any]) -> str:
    text = json.dumps(tables, sort_keys=True, separators=(",", ":"))
    return hashlib.sha256(text.encode()).hexdigest()


def load_settings(unit_file: Path | None = None) -> Settings:
    """The packaged settings with a unit's overrides.

    Raises SettingsError, naming file, key, what was found and what was expected, when the file is not TOML, a key is
    unknown or no longer read, a value is of another kind or outside its range, or values contradict each other.
    """
    tables = copy.deepcopy(_packaged())
    packaged = frozenset(tables)
    overridden: list[str] = []
    if unit_file is not None:
        _override(tables, _read(unit_file), "", overridden, unit_file.name)

    def file_of(name: str) -> str:
        own = name.partition(".")[0] not in packaged
        own |= any(name == key or key.startswith(f"{name}.") or name.startswith(f"{key}.") for key in overridden)
        return unit_file.name if unit_file is not None and own else PACKAGED_FILE.name

    for name in _STANDARDS:
        if name in tables["standards"]:
            where = dotted("standards", name)
            raise SettingsError(f"{file_of(where)}: {where}: unknown key; the table of this standard is [{name}]")
    build(StandardsSettings, tables["standards"], "standards", file_of)
    for name, kind in _STANDARDS.items():
        tables[name] = with_common(kind, tables[name], tables["standards"]["common"])
    settings = msgspec.structs.replace(build(Settings, tables, "", file_of), overridden=tuple(overridden))
    if overridden:
        check_spans(Settings, tables, _packaged_in_full(), file_of)
    return settings


@contextmanager
def rewritten(file: Path, text: str) -> Iterator[Settings]:
    """The settings that a unit's file with another text would give, put in place when the block ends.

    Raises SettingsError where they would not be valid; the file is as it was then, and where the block raises.
    """
    beside = file.with_name(f".{file.name}.new")
    try:
        with os.fdopen(os.open(beside, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600), "w", encoding="utf-8") as stream:
            stream.write(text)
        yield load_settings(beside)
        os.replace(beside, file)
    except SettingsError as error:
        raise SettingsError(str(error).replace(beside.name, file.name)) from error
    finally:
        beside.unlink(missing_ok=True)


def settings_for(db: Path, *, second_reading: bool = True) -> Settings:
    """The settings in force for a database: the packaged ones and `unit_settings.toml` beside it, if there.

    `second_reading`: False where one is about to be fitted, so that the file named there may be one of another version.
    """
    folder = db.resolve().parent
    unit_file = folder / UNIT_FILE_NAME
    settings = load_settings(unit_file if unit_file.is_file() else None)
    if not second_reading:
        return msgspec.structs.replace(settings, second_reading=SecondReadingSettings(file=""))
    return _with_second_reading(settings, folder)


def _with_second_reading(settings: Settings, folder: Path) -> Settings:
    """The settings with the fitted model that they name, so that a change of its content changes their hash."""
    name = settings.second_reading.file
    if not name:
        return settings
    file = folder / name
    try:
        read_card(file)
        sha256 = hashlib.sha256(file.read_bytes()).hexdigest()
    except OSError as error:
        raise SettingsError(
            f"{UNIT_FILE_NAME}: second_reading.file: found {name!r}, but there is no such file"
        ) from error
    except ValueError as error:
        raise SettingsError(f"{name}: {error}") from error
    return msgspec.structs.replace(settings, second_reading=SecondReadingSettings(file=name, sha256=sha256))


@cache
def _packaged() -> dict[str, Any]:
    """The packaged file, which does not change while a process runs: half of the time that settings take."""
    return _read(PACKAGED_FILE)


@cache
def _packaged_in_full() -> dict[str, Any]:
    """The packaged file with the common values in each standard's table."""
    tables = copy.deepcopy(_packaged())
    for name, kind in _STANDARDS.items():
        tables[name] = with_common(kind, tables[name], tables["standards"]["common"])
    return tables


def _read(file: Path) -> dict[str, Any]:
    try:
        return tomllib.loads(file.read_text(encoding="utf-8"))
    except FileNotFoundError as error:
        raise SettingsError(f"{file.name}: no such settings file") from error
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise SettingsError(f"{file.name}: not a TOML file: {error}") from error


def _override(base: dict[str, Any], change: Mapping[str, Any], where: str, overridden: list[str], file: str) -> None:
    """Put a unit's values over the packaged ones, and note the dotted name of each. Retired keys are refused."""
    for key, value in change.items():
        name = dotted(where, key)
        instead = instead_of(name)
        if instead is not None:
            raise SettingsError(f"{file}: {name}: found a key that is no longer read; {instead}")
        if isinstance(value, dict) and isinstance(base.get(key, {}), dict):
            _override(base.setdefault(key, {}), value, name, overridden, file)
        else:
            base[key] = value
            overridden.append(name)


def editions(settings: Settings) -> dict[str, str]:
    """The edition in force of every standard; where it follows the month of birth, every one with its months."""
    return {name: table.printed_edition for name, table in settings.of_standards.items()}


def with_edition(settings: Settings, standard: str, name: str, period: str | None = None) -> str:
    """The standard's name, with the edition where the name does not say it already.

    Where the edition follows the month of birth, all of them, or with `period` (YYYY-MM) that of the month.
    """
    tables = settings.of_standards if period is None else settings.of_standards_for(period)
    edition = tables[standard].printed_edition if standard in tables else None
    return name if edition is None or edition == name else f"{name} ({edition})"
