"""The friendly door for Python: plan, order, why, letter, fit, record and came, with tables as pandas frames."""

from shimopt.door.arrived import Arrival, came
from shimopt.door.planned import Plan, letter, plan, why
from shimopt.door.purchased import Order, order
from shimopt.door.workshop import Recording, fit, record

__all__ = ["Arrival", "Order", "Plan", "Recording", "came", "fit", "letter", "order", "plan", "record", "why"]
