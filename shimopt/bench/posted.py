"""What a page sends: its fields, and that it comes from a page of ours: by our header, or by the token of its form."""

from __future__ import annotations

import json
from dataclasses import dataclass
from typing import Any
from urllib.parse import parse_qsl

from starlette.exceptions import HTTPException
from starlette.requests import Request

from shimopt.bench.devices import Me
from shimopt.bench.form_tokens import FormTokens
from shimopt.words.bench_words import LOAD_AGAIN, NO_FIELDS

_MOST_FIELDS = 400


@dataclass(frozen=True, slots=True)
class Posted:
    """The fields of a form; `form` names it where it came without script; `as_data` whether data is asked for."""

    fields: dict[str, Any]
    form: str
    as_data: bool

    @property
    def typed(self) -> dict[str, str]:
        """All fields that are text, as they came: to stand in their form again."""
        return {name: it for name, it in self.fields.items() if isinstance(it, str)}

    def text(self, name: str, most: int = 200) -> str:
        """A field as one line of text, empty where there is none."""
        found = self.fields.get(name, "")
        return " ".join(found.split())[:most] if isinstance(found, str) else str(found)[:most]


async def posted(request: Request, tokens: FormTokens, *, once: bool = True) -> Posted:
    """What was sent. Raises HTTPException: 400 where it is no form, 403 where it is not from a page of ours.

    Who answers a refusal finds the fields in `request.state.sent`.

    Parameter: once, whether the same form does its work only once (409 then).
    """
    fields = _fields(await request.body(), request.headers.get("content-type", "").partition(";")[0].strip().lower())
    as_data = "application/json" in request.headers.get("accept", "")
    # written there, for who answers a refusal has the request and no more
    request.state.sent = fields
    if request.headers.get("x-bench") == "1":
        return Posted(fields, "", as_data)
    me: Me = request.scope["me"]
    stem = tokens.stem(str(fields.pop("token", "")), me.id)
    if stem is None:
        raise HTTPException(403, LOAD_AGAIN)
    if once and not tokens.spend(stem):
        raise HTTPException(409, LOAD_AGAIN)
    return Posted(fields, stem, as_data)


def _fields(body: bytes, kind: str) -> dict[str, Any]:
    try:
        if kind == "application/json":
            found = json.loads(body)
            # half a pair of characters is no text that could be kept
            json.dumps(found, ensure_ascii=False).encode()
            if isinstance(found, dict):
                return found
        elif kind == "application/x-www-form-urlencoded":
            text = body.decode("ascii")
            return dict(parse_qsl(text, keep_blank_values=True, errors="strict", max_num_fields=_MOST_FIELDS))
    except (ValueError, RecursionError):
        pass
    raise HTTPException(400, NO_FIELDS)
