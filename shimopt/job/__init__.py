"""A rebuild as its files describe it: windows, seats, places, gaps, balances."""

from shimopt.job.loading import built_in_catalogues, load_job
from shimopt.job.model import Balance, Gap, Heat, Job, Micrometer, Place, Seat, Supplier, Tightening, Window

__all__ = ["Balance", "Gap", "Heat", "Job", "Micrometer", "Place", "Seat", "Supplier", "Tightening",
           "Window", "built_in_catalogues", "load_job"]  # fmt: skip
