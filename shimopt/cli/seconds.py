"""Seconds on the command line: a range that NaN, which is neither below nor above it, does not slip through."""

from __future__ import annotations

import math
from typing import Any

import click

__all__ = ["Seconds"]


class Seconds(click.FloatRange):
    """A number of seconds between two bounds, both included."""

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> float:
        """The number; raises `click.BadParameter` where it is none or lies outside the bounds."""
        number = float(super().convert(value, param, ctx))
        if math.isnan(number):
            self.fail(f"{value} is no number of seconds", param, ctx)
        return number
