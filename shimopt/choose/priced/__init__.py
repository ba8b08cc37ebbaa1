"""Large jobs: clusters that share nothing but the drawer, chosen by what a piece is worth to all of them."""

from shimopt.choose.priced.way import priced_choice

__all__ = ["priced_choice"]
