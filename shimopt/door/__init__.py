"""The friendly door for Python: plan, one_gap, order, why, letter, fit, record and came, with tables as pandas frames.

Each file is loaded when `shimopt` is first asked for one of its names: a plan does not wait for orders and parcels.
"""
