"""What surrounds a reading: heat, tightening, gears. Plain physics with its sources; knows no gaps and no jobs."""

from shimopt.assembly.heat import Length, coefficients, growth, kelvin
from shimopt.assembly.torque import RunningTorque, Torque, Turns, running_torque, tool_error, torque_range, turns

__all__ = [
    "Length",
    "RunningTorque",
    "Torque",
    "Turns",
    "coefficients",
    "growth",
    "kelvin",
    "running_torque",
    "tool_error",
    "torque_range",
    "turns",
]
