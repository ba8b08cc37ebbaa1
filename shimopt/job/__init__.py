"""A rebuild as its files describe it: windows, seats, places, gaps, balances."""

from shimopt.job.clusters import Balance, Cluster
from shimopt.job.from_files import built_in_catalogues, load_job
from shimopt.job.from_mapping import job_from, load_stock
from shimopt.job.gap import EffectSource, Gap, Heat, Window
from shimopt.job.model import UNTITLED, Job, Micrometer, Money, Place, Rate, Supplier, Tightening
from shimopt.job.seat import Seat

__all__ = [
    "UNTITLED",
    "Balance",
    "Cluster",
    "EffectSource",
    "Gap",
    "Heat",
    "Job",
    "Micrometer",
    "Money",
    "Place",
    "Rate",
    "Seat",
    "Supplier",
    "Tightening",
    "Window",
    "built_in_catalogues",
    "job_from",
    "load_job",
    "load_stock",
]
