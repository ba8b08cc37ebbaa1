"""Whether a drawer is one of a stock, such as `stock:main`, or a file: asked of every job, so it loads nothing."""

from __future__ import annotations

import os

from shimopt.errors import InputError

_START = "stock:"


def drawer_meant(name: str | os.PathLike[str] | None) -> str | None:
    """The drawer of the stock that a job's `drawer` names, such as `stock:main`; None where it names a file.

    Raises InputError where it names none.
    """
    text = "" if name is None else os.fspath(name)
    if not text.startswith(_START):
        return None
    if not (drawer := text.removeprefix(_START).strip()):
        rule, remedy = "a drawer of the stock has a name", 'write it like drawer = "stock:main"'
        raise InputError.at("", rule, remedy, where="drawer", value=text)
    return drawer
