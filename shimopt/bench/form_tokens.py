"""Tokens of forms: each page carries one, so that what a form sends comes from us, and does its work once.

What forms did is known to this process alone: one from before it began does nothing that may be done only once.
"""

from __future__ import annotations

import hmac
import secrets
from hashlib import sha256
from time import time

# so long a page may lie open before its form is sent [s]; so many used forms are remembered
_LASTS = 12 * 3600
MOST_SPENT = 20_000


class FormTokens:
    """Makes tokens, signed with a key, and knows those that were used."""

    def __init__(self, key: bytes) -> None:
        self._key = key
        self._made_by = secrets.token_hex(4)
        # in the order in which they were used
        self._spent: dict[str, None] = {}
        # what was made by then is used, or as good as used
        self._closed = 0

    def make(self, who: str) -> str:
        """A token for a page that is shown to somebody."""
        stem = f"{secrets.token_hex(12)}.{int(time()):x}.{self._made_by}"
        return f"{stem}.{self._signed(stem, who)}"

    def stem(self, token: str, who: str) -> str | None:
        """What names the form; None where the token is not one of ours, of somebody else, or too old."""
        stem, _, signed = token.rpartition(".")
        if not token.isascii() or not hmac.compare_digest(signed, self._signed(stem, who)):
            return None
        return stem if stem.count(".") == 2 and time() - _made(stem) <= _LASTS else None

    def spend(self, stem: str) -> bool:
        """Use a form; False where it was used before, or nobody knows any more whether it was."""
        if stem in self._spent or _made(stem) <= self._closed or not stem.endswith(f".{self._made_by}"):
            return False
        self._spent[stem] = None
        if len(self._spent) > MOST_SPENT:
            first = next(iter(self._spent))
            del self._spent[first]
            self._closed = max(self._closed, _made(first))
        return True

    def _signed(self, stem: str, who: str) -> str:
        return hmac.new(self._key, f"{who} {stem}".encode(), sha256).hexdigest()


def _made(stem: str) -> int:
    """When a form was made, in whole seconds since 1970."""
    return int(stem.split(".")[1], 16)
