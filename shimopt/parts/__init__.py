"""Parts, the drawer that holds them, and the catalogues that sell them."""

from shimopt.parts.drawer_and_catalogues import load_stock
from shimopt.parts.part import FORMS, Offer, Part, StockLine, natural_key, sizes_of

__all__ = ["FORMS", "Offer", "Part", "StockLine", "load_stock", "natural_key", "sizes_of"]
