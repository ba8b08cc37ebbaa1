"""The shimopt command as tests call it (fixture `run`)."""

from __future__ import annotations

from collections.abc import Callable

__all__ = ["Run"]

Run = Callable[..., tuple[int, str, str]]
