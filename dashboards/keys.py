"""Names of session and widget state, in one place so that no two pages meet by accident."""

from enum import StrEnum


class Key(StrEnum):
    """Session and widget keys."""

    PERIOD = "period"
    STANDARD = "standard"
    CASE = "case"
    FETUS = "fetus"
    CASE_SCALE = "case_scale"
    CASE_LENGTH = "case_length"
    CASE_START = "case_start_min"
    CASE_VIEW = "case_view"
    CASE_LAYERS = "case_layers"
    CASE_TWIN = "case_twin"
    CASE_JUMP = "case_jump"
    CASE_OVERVIEW = "case_overview"
    OUTCOME_OPEN = "outcome_open"
    OUTCOME_BUTTON = "outcome_button"
    RESPONSE_TRIGGER = "response_trigger"
    RESPONSE_SHIFT = "response_shift"
    RESPONSE_STATUS = "response_status"
    RESPONSE_GROUP = "response_group"
    RESPONSE_CURVE = "response_curve"
    TREND_FROM = "trend_from"
    TREND_LABEL = "trend_label"
    DISCUSS_QUESTION = "discuss_question"
    DISCUSS_OUTCOME = "discuss_outcome"
    DISCUSS_KIND = "discuss_kind"
    QUALITY_SOURCE = "quality_source"
