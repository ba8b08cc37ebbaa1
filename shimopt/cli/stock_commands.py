"""`shimopt stock`: the shop's drawer in a database. Each file named here adds its commands."""

from __future__ import annotations

from shimopt.cli import stock_bookings, stock_keeping, stock_tables
from shimopt.cli.stock_shared import stock_command

__all__ = ["stock_bookings", "stock_command", "stock_keeping", "stock_tables"]
