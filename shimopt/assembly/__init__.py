"""What surrounds a reading: heat, tightening. Plain physics with its sources; knows no gaps and no jobs."""

from shimopt.assembly.heat import Length, growth
from shimopt.assembly.materials import coefficients
from shimopt.assembly.temperature import TemperatureError, kelvin
from shimopt.assembly.torque import Torque, TorqueError, tool_error, torque_range

__all__ = [
    "Length",
    "TemperatureError",
    "Torque",
    "TorqueError",
    "coefficients",
    "growth",
    "kelvin",
    "tool_error",
    "torque_range",
]
