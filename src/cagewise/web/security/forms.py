"""Forms are ours: what another site makes a browser send is not served.

Every browser gets a random *seed* (the secret of its session, or a cookie of its own). The *mark*
of its forms is a keyed hash of the seed, which no other site can read or compute. In each page it
is masked anew, so that the compressed lengths of pages tell nothing about it.
"""

from __future__ import annotations

import binascii
import hmac
import secrets
from base64 import urlsafe_b64decode, urlsafe_b64encode
from hashlib import sha256

from cagewise.web.keeping import SecretRow, Workbench

_BYTES = 32
_NAME = "forms"


class Forms:
    """What signs the forms of a workbench; it survives a restart, and so do forms that are open."""

    def __init__(self, workbench: Workbench) -> None:
        with workbench.writing() as session:
            row = session.get(SecretRow, _NAME)
            if row is None:
                row = SecretRow(name=_NAME, value=secrets.token_bytes(_BYTES))
                session.add(row)
            self._secret = row.value

    def mark(self, seed: str) -> str:
        """Return the mark of a browser's forms, masked anew."""
        mask = secrets.token_bytes(_BYTES)
        masked = bytes(a ^ b for a, b in zip(mask, self._plain(seed), strict=True))
        return urlsafe_b64encode(mask + masked).decode()

    def fits(self, mark: str, seed: str) -> bool:
        """Return whether a mark was made for a browser."""
        try:
            both = urlsafe_b64decode(mark.encode())
        except (binascii.Error, ValueError):
            return False
        if not seed or len(both) != 2 * _BYTES:
            return False
        plain = bytes(a ^ b for a, b in zip(both[:_BYTES], both[_BYTES:], strict=True))
        return hmac.compare_digest(plain, self._plain(seed))

    def _plain(self, seed: str) -> bytes:
        """Return the mark of a browser, not masked."""
        return hmac.new(self._secret, seed.encode(), sha256).digest()


def new_seed() -> str:
    """Return the seed of a browser that has no session."""
    return secrets.token_urlsafe(_BYTES)
