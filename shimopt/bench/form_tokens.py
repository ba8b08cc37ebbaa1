"""Tokens of forms: each page carries one, so that what a form sends comes from us, and does its work once."""

from __future__ import annotations

import hmac
import secrets
from hashlib import sha256
from time import time

# so long a page may lie open before its form is sent [s]
_LASTS = 12 * 3600
_MOST_SPENT = 20_000


class FormTokens:
    """Makes tokens and knows those that were used; signed with a key, so that they outlive this process."""

    def __init__(self, key: bytes) -> None:
        self._key = key
        self._spent: dict[str, float] = {}

    def make(self, who: str) -> str:
        """A token for a page that is shown to somebody."""
        stem = f"{secrets.token_hex(12)}.{int(time()):x}"
        return f"{stem}.{self._signed(stem, who)}"

    def stem(self, token: str, who: str) -> str | None:
        """What names the form; None where the token is not one of ours, of somebody else, or too old."""
        stem, _, signed = token.rpartition(".")
        if not token.isascii() or not hmac.compare_digest(signed, self._signed(stem, who)):
            return None
        return stem if time() - int(stem.partition(".")[2], 16) <= _LASTS else None

    def spend(self, stem: str) -> bool:
        """Use a form; False where it was used before."""
        if stem in self._spent:
            return False
        now = time()
        if len(self._spent) >= _MOST_SPENT:
            self._spent = {one: at for one, at in self._spent.items() if now - at <= _LASTS}
        self._spent[stem] = now
        return True

    def _signed(self, stem: str, who: str) -> str:
        return hmac.new(self._key, f"{who} {stem}".encode(), sha256).hexdigest()
