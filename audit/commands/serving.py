"""Where the pages are served and for whom: this computer alone, or others too, through an identity provider and TLS."""

import importlib.util
import stat
import tomllib
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from urllib.parse import urlparse

from audit.errors import UsageError
from audit.setting_tables.access import AccessOptions

HOST = "127.0.0.1"
LOOPBACK = (HOST, "localhost", "::1")
_EVERY_ADDRESS = ("0.0.0.0", "::")
_KEYS = ("redirect_uri", "cookie_secret", "client_id", "client_secret", "server_metadata_url")
_SECRET_LEAST = 32  # characters; a signing key as long as its hash, RFC 7518 section 3.2 (HS256: 256 bits)


@dataclass(frozen=True)
class Serving:
    """How the pages are served. `name` is the host name under which others reach them; `provider` the file with the
    table `[auth]` of the identity provider; `behind_proxy`: a server in front of this one does TLS."""

    address: str = HOST
    name: str | None = None
    certificate: Path | None = None
    key: Path | None = None
    behind_proxy: bool = False
    provider: Path | None = None

    @property
    def for_others(self) -> bool:
        """Can anybody but this computer's own browser reach the pages?"""
        return self.address not in LOOPBACK or self.name not in (None, *LOOPBACK) or self.behind_proxy

    @property
    def names(self) -> tuple[str, ...]:
        """The host names that a request may ask for."""
        if self.name is not None:
            return (self.name,)
        return (HOST, "localhost") if self.address in LOOPBACK else (self.address,)

    @property
    def reached(self) -> str:
        """An address at which this computer itself reaches the pages."""
        return HOST if self.address in _EVERY_ADDRESS else self.address

    def address_of(self, port: int) -> str:
        """The address to open."""
        if self.behind_proxy:
            return f"https://{self.names[0]}"
        return f"http{'s' if self.certificate else ''}://{self.names[0]}:{port}"

    def check(self, options: AccessOptions) -> None:
        """Raise UsageError, in one sentence, for a way of serving that lets in who does not belong."""
        if self.for_others and self.provider is None:
            raise UsageError(
                "pages that others can reach (--address, --name, --behind-proxy) need an identity provider: give its"
                " file with --provider, or leave these options out to serve this computer alone"
            )
        if (self.certificate is None) != (self.key is None):
            raise UsageError("--certificate and --key belong together; give both")
        if self.for_others and self.certificate is None and not self.behind_proxy:
            raise UsageError(
                "pages that others can reach are encrypted: give --certificate and --key, or --behind-proxy where a"
                " server in front does it"
            )
        if self.for_others and self.name is None:
            raise UsageError("--name is missing: the host name under which others reach the pages")
        if self.provider is not None:
            _check_provider(self.provider, self, options)


def _check_provider(file: Path, serving: Serving, options: AccessOptions) -> None:
    auth = _auth_of(file)
    missing = [key for key in _KEYS if not isinstance(auth.get(key), str) or not auth[key]]
    if missing:
        raise UsageError(f"{file.name}: [auth] lacks {', '.join(missing)}")
    if file.stat().st_mode & (stat.S_IRWXG | stat.S_IRWXO):
        raise UsageError(f"{file.name}: holds secrets and must be readable by its owner alone (chmod 600)")
    back = urlparse(auth["redirect_uri"])
    if back.path != "/oauth2callback" or back.hostname not in serving.names:
        raise UsageError(
            f"{file.name}: redirect_uri: expected https://{serving.names[0]}/oauth2callback, with the port where others"
            " need one"
        )
    for key in ("redirect_uri", "server_metadata_url"):
        found = urlparse(auth[key])
        if found.scheme != "https" and not (found.scheme == "http" and found.hostname in LOOPBACK):
            raise UsageError(f"{file.name}: {key}: expected an address that begins with https://")
    if len(auth["cookie_secret"]) < _SECRET_LEAST:
        raise UsageError(f"{file.name}: cookie_secret: expected {_SECRET_LEAST} random characters or more")
    if not options.roles:
        raise UsageError(
            "[access.roles] in unit_settings.toml is empty, so nobody could sign in; name each role's word"
        )
    if importlib.util.find_spec("authlib") is None:
        raise UsageError("signing in through an identity provider needs Authlib: install intrapartum-audit[provider]")


def _auth_of(file: Path) -> dict[str, Any]:
    try:
        found = tomllib.loads(file.read_text(encoding="utf-8")).get("auth")
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise UsageError(f"{file.name}: not a TOML file") from error
    except OSError as error:
        raise UsageError(f"{file.name}: cannot be read ({error.strerror})") from error
    if not isinstance(found, dict):
        raise UsageError(f"{file.name}: has no table [auth]")
    return found
