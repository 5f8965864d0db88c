"""What the import accepts, as the tables `[import]`, `[import.ranges]` and `[import.usual]` say it."""

import re
from typing import Annotated

from msgspec import Meta

from audit.setting_tables.mapping import Mapping
from audit.setting_types import Count, Hours, Positive, Seconds, Table, Unfit, dotted
from audit.vocabulary import ASSESSORS, CARE_EVENTS, CODED

Range = tuple[float, float]
CASE_ID_PATTERN = "([A-Za-z]{1,2}[0-9]{1,5}|[0-9]{1,4})[a-z]?"
READER_PATTERN = "[A-Za-z]{1,2}[0-9]{1,3}|[A-Z]|[0-9]{1,3}|(reader|expert)[-_ ]?[0-9]{1,3}"
_APGAR_MOST = 10  # Apgar 1953
_STORED_WORD = re.compile(r"[a-z][a-z0-9_ ]{0,39}")
# invented; a pattern of codes fits none of them
_NEVER_A_CODE = ("", "Quill, Tessa", "Tessa Quill", "T. Quill", "tessa.quill", "14.03.2025", "quill@example.org",
                 "Quill", "QUILL", "quill", "quillt", "2025-03-14", "14/03/25")  # fmt: skip
Mebibytes = Annotated[int, Meta(ge=1, le=1_048_576, extra={"unit": "MiB"})]
Ratio = Annotated[float, Meta(ge=1, le=1_000_000, extra={"unit": "unpacked over packed"})]
Hertz = Annotated[float, Meta(ge=0.01, le=1000, extra={"unit": "Hz"})]
EarlierSeconds = Annotated[float, Meta(ge=-604_800, le=0, extra={"unit": "s"})]
CalendarSeconds = Annotated[float, Meta(ge=1_000_000, le=10_000_000_000, extra={"unit": "s"})]
MmolPerL = Annotated[float, Meta(ge=-30, le=0, extra={"unit": "mmol/L"})]


class _Ranges(Table, frozen=True):
    def __post_init__(self) -> None:
        for name in self.__struct_fields__:
            check_range(name, getattr(self, name))

    def of(self, column: str) -> Range | None:
        """Lowest and highest value of a column; None = any."""
        found: Range | None = getattr(self, column, None)
        return found


class ImportRanges(_Ranges, frozen=True):
    """Lowest and highest value that is stored; those of pH and pCO2 are in `CordGasLimits`."""

    fhr_bpm: Range
    mhr_bpm: Range
    toco: Range
    gestation_weeks: Range
    parity: Range
    plurality: Range
    cord_artery_base_deficit_mmol_l: Range
    cord_lactate_mmol_l: Range
    apgar_1: Range
    apgar_5: Range
    apgar_10: Range
    birth_weight_g: Range
    encephalopathy_grade: Range


class UsualRanges(_Ranges, frozen=True):
    """Values outside these are stored with a remark."""

    fhr_median_bpm: Range
    toco: Range
    gestation_weeks: Range
    cord_artery_ph: Range
    cord_vein_ph: Range
    cord_artery_pco2_kpa: Range
    cord_lactate_mmol_l: Range
    birth_weight_g: Range
    parity: Range


class CaseWords(Table, frozen=True):
    """The unit's own words of coded columns: left the word, right what is stored for it."""

    onset_of_labour: dict[str, str]
    mode_of_birth: dict[str, str]
    shift: dict[str, str]

    def __post_init__(self) -> None:
        for column in self.__struct_fields__:
            for word, stored in getattr(self, column).items():
                if not _STORED_WORD.fullmatch(stored):
                    key = dotted(column, word)
                    raise Unfit(key, stored, "a word to store: at most 40 small letters, digits, spaces and _")

    def of(self, column: str) -> dict[str, str]:
        """What is stored, by the word as it is compared."""
        return {plain_word(word): stored for word, stored in getattr(self, column).items()}


class ImportOptions(Table, frozen=True):
    """One value per key of the table; see there for units and sources."""

    case_id_pattern: str
    reader_pattern: str
    store_detail: bool
    max_file_mib: Mebibytes
    max_tracing_file_mib: Mebibytes
    max_gzip_ratio: Ratio
    max_table_rows: Positive
    max_field_characters: Positive
    max_listed: Count
    source_rate_hz: tuple[Hertz, Hertz]
    new_stretch_after_s: Seconds
    latest_s: Annotated[float, Meta(ge=3600, le=6_048_000, extra={"unit": "s"})]
    earliest_event_s: EarlierSeconds
    calendar_from_s: CalendarSeconds
    event_after_birth_kept_h: Hours
    event_after_birth_usual_h: Hours
    birth_after_tracing_usual_h: Hours
    birth_before_end_usual_s: Seconds
    window_outside_s: Seconds
    base_excess_from: MmolPerL
    ranges: ImportRanges
    usual: UsualRanges
    event_words: dict[str, str]
    fhir_codes: dict[str, str]
    assessor_words: dict[str, str]
    words: CaseWords
    mapping: dict[str, Mapping]

    def __post_init__(self) -> None:
        for key in ("case_id_pattern", "reader_pattern"):
            _check_pattern(key, getattr(self, key))
        check_range("source_rate_hz", self.source_rate_hz)
        for name in ("apgar_1", "apgar_5", "apgar_10"):
            low, high = getattr(self.ranges, name)
            if low < 0 or high > _APGAR_MOST:
                raise Unfit(f"ranges.{name}", [low, high], f"0 to {_APGAR_MOST}: the score has no others")
        for name in self.usual.__struct_fields__:
            kept, usual = self.ranges.of(name), getattr(self.usual, name)
            if kept is not None and not (usual[0] < kept[1] and kept[0] < usual[1]):
                raise Unfit(f"usual.{name}", list(usual), f"values that are kept, ranges.{name} ({list(kept)})")
        if self.calendar_from_s <= self.latest_s:
            raise Unfit("calendar_from_s", self.calendar_from_s, f"more than latest_s ({self.latest_s:g} s)")
        if self.event_after_birth_usual_h > self.event_after_birth_kept_h:
            raise Unfit(
                "event_after_birth_usual_h",
                self.event_after_birth_usual_h,
                f"at most event_after_birth_kept_h ({self.event_after_birth_kept_h:g} h)",
            )
        self._check_words()
        for code, names in self.fhir_codes.items():
            strange = [name for name in names.split() if name not in (*CODED, *CARE_EVENTS)]
            if strange or not names.split():
                raise Unfit(dotted("fhir_codes", code), names, f"one of {', '.join((*CODED, *CARE_EVENTS))}")

    @property
    def assessors(self) -> dict[str, str]:
        """The role that is stored, by the word as it is compared: those of the program and the unit's own."""
        own = {plain_word(word): role for word, role in self.assessor_words.items()}
        return {plain_word(role): role for role in (*ASSESSORS, *self.assessor_words.values())} | own

    def _check_words(self) -> None:
        for word, role in self.assessor_words.items():
            if not _STORED_WORD.fullmatch(role) or not plain_word(word):
                key = dotted("assessor_words", word)
                raise Unfit(key, role, "a role to store: at most 40 small letters, digits, spaces and _")
        named: dict[str, str] = {}
        for word, name in self.event_words.items():
            key = dotted("event_words", word)
            if name not in CARE_EVENTS:
                raise Unfit(key, name, f"one of {', '.join(CARE_EVENTS)}")
            if not plain_word(word):
                raise Unfit(key, word, "a word for an event")
            if (ours := "_".join(plain_word(word).split())) in CARE_EVENTS and ours != name:
                raise Unfit(key, name, f"{ours}: it is our own word for that")
            if named.setdefault(plain_word(word), name) != name:
                raise Unfit(key, name, f"{named[plain_word(word)]}, as the same word in another spelling says")


def _check_pattern(key: str, pattern: str) -> None:
    """Raise Unfit for what is no pattern, and for one that would let anything through."""
    try:
        compiled = re.compile(pattern, re.ASCII)
    except re.error as error:
        raise Unfit(key, pattern, f"a regular expression ({error.msg})") from error
    if not pattern or any(compiled.fullmatch(text) for text in _NEVER_A_CODE):
        raise Unfit(key, pattern, "a pattern of codes: it must not fit a name, a date or an address")


def plain_word(word: str) -> str:
    """A unit's word as it is compared: case, hyphens and spaces do not matter."""
    return " ".join(word.replace("_", " ").replace("-", " ").casefold().split())


def check_range(key: str, span: Range) -> None:
    """Raise Unfit unless the lower value stands first."""
    if not span[0] < span[1]:
        raise Unfit(key, list(span), "[lowest, highest], the lower one first")
