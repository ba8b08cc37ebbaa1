"""Parts, the drawer that holds them, and the catalogues that sell them."""

from shimopt.parts.part import FORMS, Offer, Part, StockLine, natural_key
from shimopt.parts.stock import load_stock

__all__ = ["FORMS", "Offer", "Part", "StockLine", "load_stock", "natural_key"]
