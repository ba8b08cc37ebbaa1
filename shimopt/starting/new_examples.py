"""What answers to `shimopt new` look like, in the unit of the job: a bare 16 is no shaft of sixteen thou."""

from __future__ import annotations

from typing import NamedTuple


# one for each kind of answer
class Examples(NamedTuple):
    """Blades held together, pieces, the drawer, a window of preload, a shaft, a dimension, two numbers, a dial's pulls,
    a window: each as it may be typed.
    """

    blades: str
    pieces: str
    sizes: str
    preload: str
    shaft: str
    dimension: str
    number: str
    pulls: str
    window: str


EXAMPLES = {
    "thou": Examples(
        "8 + 10",
        "10 + 2 x 3",
        "2 x 4, 5 x 1",
        "2 to 3",
        "625, 0.625 in, 16 h6",
        "1660 ± 0.4",
        "4 or 10.5",
        "16 16.5 16",
        "4 to 12",
    ),
    "mm": Examples(
        "0.2 + 0.25",
        "0.25 + 2 x 0.1",
        "0.1 x 4, 0.25 x 1",
        "0.05 to 0.08",
        "16, 16 ± 0.01, 16 h6",
        "42.15 ± 0.01",
        "4 or 0.35",
        "0.41 0.42 0.41",
        "0.10 to 0.25",
    ),
    "in": Examples(
        "0.008 + 0.010",
        "0.01 + 2 x 0.003",
        "0.002 x 4, 0.005 x 1",
        "0.002 to 0.003",
        "0.625, 0.625 ± 0.0002, 16 h6",
        "1.66 ± 0.0004",
        "0.012 or 0.0045",
        "0.016 0.0165 0.016",
        "0.004 to 0.012",
    ),
    "um": Examples(
        "200 + 250",
        "250 + 2 x 100",
        "100 x 4, 250 x 1",
        "50 to 80",
        "16000, 16 mm, 16 h6",
        "42150 ± 10",
        "350 or 12.5",
        "410 420 410",
        "100 to 250",
    ),
}
