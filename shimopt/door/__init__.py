"""The friendly door for Python: plan, order, why, letter, fit and record, with tables as pandas frames."""

from shimopt.door.planned import Plan, letter, plan, why
from shimopt.door.purchased import Order, order
from shimopt.door.workshop import Recording, fit, record

__all__ = ["Order", "Plan", "Recording", "fit", "letter", "order", "plan", "record", "why"]
