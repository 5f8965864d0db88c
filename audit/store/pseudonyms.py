"""Keyed pseudonyms: what takes the place of a typed code that is not of the unit's own pattern.

HMAC-SHA-256 (RFC 2104, FIPS 198-1) with a key that lies in a file of its own beside the database, readable by its
owner alone. Who has the key can work out the pseudonym of a code again; without it nobody can, not even by trying all
codes, which a plain hash would allow. A pseudonym ends in a seal made with the same key, so that one that comes back in
a file (a reading form, an export) is known as ours and stays what it is.
"""

import base64
import contextlib
import hashlib
import hmac
import os
import re
import secrets
import unicodedata
from pathlib import Path

from audit import paths
from audit.errors import AuditError

_SHAPE = re.compile(r"P-([a-z2-7]{10})([a-z2-7]{3})")
_KEY_BYTES = 32


def key_file(db: Path) -> Path:
    """Where the key of a database lies."""
    return paths.beside(db, "key")


def looks_like_one(code: str) -> bool:
    """Has it the shape of a pseudonym, whoever's?"""
    return _SHAPE.fullmatch(code) is not None


class Pseudonyms:
    """The pseudonyms of one key."""

    def __init__(self, key: bytes) -> None:
        self._key = key

    def of(self, code: str) -> str:
        """The pseudonym of a typed code; one of our own is given back. Spaces around and within count as one."""
        plain = " ".join(unicodedata.normalize("NFC", code).split())
        if self.is_ours(plain):
            return plain
        body = self._digest("code", plain)[:10]
        return f"P-{body}{self._digest('seal', body)[:3]}"

    def is_ours(self, code: str) -> bool:
        """Was it made with this key?"""
        found = _SHAPE.fullmatch(code)
        return found is not None and hmac.compare_digest(self._digest("seal", found[1])[:3], found[2])

    def _digest(self, use: str, text: str) -> str:
        made = hmac.new(self._key, f"{use}\0{text}".encode(), hashlib.sha256).digest()
        return base64.b32encode(made).decode("ascii").lower()


def for_nobody() -> Pseudonyms:
    """With a key that is thrown away: for a dry run, and wherever nothing is stored."""
    return Pseudonyms(secrets.token_bytes(_KEY_BYTES))


def beside(db: Path, *, make: bool, in_use: str | None = None) -> Pseudonyms | None:
    """Those of a database's key; None when there is no key and none is to be made.

    `in_use`: a pseudonym that the database holds. Raises AuditError when its key is not there, or is another one: the
    same case would get a second pseudonym.
    """
    file = key_file(db)
    try:
        key = bytes.fromhex(file.read_text(encoding="ascii").strip())
    except FileNotFoundError:
        if in_use is not None:
            raise AuditError(
                f"{file.name}: the key is missing, and the database holds pseudonyms made with it; put it back,"
                " with `restore --key` or from where you keep it, before importing"
            ) from None
        if not make:
            return None
        key = _made(file)
    except (OSError, ValueError) as error:
        raise AuditError(f"{file.name}: the key cannot be read ({type(error).__name__}); put it back") from error
    found = Pseudonyms(key)
    if len(key) != _KEY_BYTES or (in_use is not None and not found.is_ours(in_use)):
        raise AuditError(f"{file.name}: this is not the key that the database's pseudonyms were made with; put it back")
    return found


def checked_key(file: Path, in_use: str | None = None) -> Path:
    """The same path. Raises AuditError for a file that holds no key, or not the one that made a pseudonym in use."""
    try:
        key = bytes.fromhex(file.read_text(encoding="ascii").strip())
    except (OSError, ValueError):
        key = b""
    if len(key) != _KEY_BYTES:
        raise AuditError(f"{file}: holds no key of this program; nothing was changed")
    if in_use is not None and not Pseudonyms(key).is_ours(in_use):
        raise AuditError(f"{file}: not the key that the backup's pseudonyms were made with; nothing was changed")
    return file


def _made(file: Path) -> bytes:
    key = secrets.token_bytes(_KEY_BYTES)
    with contextlib.suppress(FileExistsError):  # another process was quicker: its key counts
        descriptor = os.open(file, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
        with os.fdopen(descriptor, "w", encoding="ascii") as stream:
            stream.write(f"{key.hex()}\n")
            stream.flush()
            os.fsync(stream.fileno())
    return bytes.fromhex(file.read_text(encoding="ascii").strip())
