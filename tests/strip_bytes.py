"""Reads the bytes of a strip as the browser does, in Python: options of the page, head, channels as numbers."""

import json
from typing import Any

import numpy as np


def text_at(block: bytes, at: int) -> tuple[dict[str, Any], int]:
    length = int.from_bytes(block[at : at + 4], "little")
    return json.loads(block[at + 4 : at + 4 + length]), at + 4 + length


def strip(block: bytes) -> tuple[dict[str, Any], dict[str, Any]]:
    head, base = text_at(block, 0)
    channels = {}
    for channel in head["channels"]:
        kind = {"u16": "<u2", "u8": "u1"}[channel["kind"]]
        numbers = np.frombuffer(block, kind, channel["n"], base + channel["at"])
        if channel["kind"] == "u16":
            numbers = np.where(numbers == 65535, np.nan, numbers / 100 + channel["zero"])
        channels[channel["name"]] = numbers
    return head, channels


def options_and_strip(block: bytes) -> tuple[dict[str, Any], dict[str, Any], dict[str, Any]]:
    options, at = text_at(block, 0)
    return (options, *strip(block[at:]))
