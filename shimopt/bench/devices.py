"""Who may use the page from elsewhere: devices that joined with a code, and customers who were sent an address.

A token is told once, to whoever gets it; what is kept is its hash.
"""

from __future__ import annotations

import secrets
from collections import deque
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from hashlib import sha256
from threading import Lock
from time import monotonic
from typing import Any

from shimopt.bench.kept_apart import KeptApart
from shimopt.errors import InputError
from shimopt.words.bench_words import TOO_MANY_DEVICES

_CODE_LASTS = 5 * 60
# wrong codes within a minute, of one address and of all
_WRONG_OF_ONE, _WRONG_OF_ALL, _MINUTE = 5, 20, 60
_MOST_DEVICES, _MOST_CUSTOMERS = 200, 2_000
# so long a device may come back after it has joined [days]
DEVICE_LASTS = 366


@dataclass(frozen=True, slots=True)
class Me:
    """Who asks: this computer (`local`), or a device by its id and name."""

    id: str
    name: str
    local: bool


HERE = Me("here", "this computer", True)


def _hashed(token: str) -> str:
    return sha256(token.encode("utf-8", "surrogateescape")).hexdigest()


def _today() -> date:
    return datetime.now(UTC).astimezone().date()


class Pairing:
    """The code that a device joins with: six digits, for one device, five minutes; wrong ones are counted."""

    def __init__(self) -> None:
        self._code, self._until = "", 0.0
        self._wrong: deque[tuple[float, str]] = deque()

    def offer(self) -> tuple[str, int]:
        """The code, made anew where there is none, and for how many minutes it holds."""
        if monotonic() >= self._until or not self._code:
            self._code, self._until = f"{secrets.randbelow(10**6):06d}", monotonic() + _CODE_LASTS
        return self._code, max(1, round((self._until - monotonic()) / 60))

    def too_often(self, address: str) -> bool:
        """Whether wrong codes came too often to look at another."""
        while self._wrong and self._wrong[0][0] < monotonic() - _MINUTE:
            self._wrong.popleft()
        of_one = sum(one == address for _, one in self._wrong)
        return of_one >= _WRONG_OF_ONE or len(self._wrong) >= _WRONG_OF_ALL

    def use(self, code: str, address: str) -> bool:
        """Use a code up; False where it is none that holds."""
        right = (
            bool(self._code)
            and monotonic() < self._until
            and secrets.compare_digest(_hashed(code), _hashed(self._code))
        )
        if right:
            self._code = ""
        else:
            self._wrong.append((monotonic(), address))
        return right


class Devices:
    """Devices that joined, and customers' addresses. Raises InputError where their files cannot be read."""

    def __init__(self, kept: KeptApart) -> None:
        self._kept = kept
        self._devices, self._customers = kept.load("devices"), kept.load("customers")
        self._last: dict[str, str] = {}
        # what is changed is brought to the disk beside whoever answers, one change after the other
        self._changing = Lock()

    def join(self, name: str) -> str:
        """A new device's token. Raises InputError where it cannot be kept, or as many devices joined as may."""
        token, today = secrets.token_urlsafe(32), _today()
        row = {"id": secrets.token_hex(8), "name": name, "hash": _hashed(token), "since": today.isoformat()}
        with self._changing:
            living = [row for row in self._devices if not _over(row)]
            if len(living) >= _MOST_DEVICES:
                raise InputError.at("", *TOO_MANY_DEVICES)
            self._save("devices", devices=[*living, row | {"until": _end(today, DEVICE_LASTS)}])
        return token

    def known(self, token: str) -> Me | None:
        """The device with this token, until its last day."""
        found = _found(self._devices, token)
        if found is None or _over(found):
            return None
        self._last[found["id"]] = datetime.now(UTC).astimezone().strftime("%Y-%m-%d %H:%M")
        return Me(found["id"], found["name"], False)

    def lets_in(self, device: str) -> bool:
        """Whether the device of this id, or this computer itself, is still let in."""
        return device == HERE.id or any(row["id"] == device and not _over(row) for row in self._devices)

    def invite(self, job: str, title: str, days: int) -> tuple[str, str]:
        """A customer's token for one job, of 128 bits, and its last day. Raises InputError where it cannot be kept."""
        token, until = secrets.token_urlsafe(16), _end(_today(), days)
        row = {"id": secrets.token_hex(8), "job": job, "title": title, "hash": _hashed(token), "until": until}
        with self._changing:
            living = [one for one in self._customers if not _over(one)]
            self._save("customers", customers=[*living, row][-_MOST_CUSTOMERS:])
        return token, until

    def invited(self, token: str) -> tuple[str, str] | None:
        """The job that a customer may see, and its title then: another job may lie in its place by now."""
        found = _found(self._customers, token)
        return None if found is None or _over(found) else (found["job"], found["title"])

    def revoke(self, which: str) -> bool:
        """Let a device or a customer in no longer; False where there is none of this id."""
        with self._changing:
            devices = [row for row in self._devices if row["id"] != which]
            customers = [row for row in self._customers if row["id"] != which]
            if len(devices) < len(self._devices):
                self._save("devices", devices=devices)
            elif len(customers) < len(self._customers):
                self._save("customers", customers=customers)
            else:
                return False
            return True

    def listed(self) -> dict[str, list[dict[str, Any]]]:
        """All of them, without their tokens."""
        devices = [
            {"id": row["id"], "name": row["name"], "since": row["since"], "last": self._last.get(row["id"], "")}
            for row in self._devices
            if not _over(row)
        ]
        living = [row for row in self._customers if not _over(row)]
        customers = [{key: row[key] for key in ("id", "job", "title", "until")} for row in living]
        return {"devices": devices, "customers": customers}

    def _save(self, name: str, **rows: list[dict[str, Any]]) -> None:
        # on disk before it holds
        self._kept.save(name, rows[name])
        self._devices = rows.get("devices", self._devices)
        self._customers = rows.get("customers", self._customers)


def _end(since: date, days: int) -> str:
    return (since + timedelta(days=days)).isoformat()


def _over(row: dict[str, Any]) -> bool:
    """Whether a device's or a customer's last day is over."""
    until: str = row.get("until") or _end(date.fromisoformat(row["since"]), DEVICE_LASTS)
    return until < _today().isoformat()


def _found(rows: list[dict[str, Any]], token: str) -> dict[str, Any] | None:
    hashed = _hashed(token)
    return next((row for row in rows if secrets.compare_digest(row["hash"], hashed)), None)
