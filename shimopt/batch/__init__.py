"""Many at once: millions of separate gaps by one table of stacks, or a folder of jobs on all cores.

Nothing is loaded here, so that `shimopt --help` does not wait for tables: `batching` answers files of gaps, `plan_many`
frames; `job_folder` plans folders of jobs; `cluster` has pieces answered on other machines.

`terms` says what holds for all gaps, `stack_table` lists the stacks of a seat once. A file (`sources`, `csv_source`) is
cut into `table_pieces` that anybody can read by themselves; a piece becomes cells, cells become gaps in whole
half-nanometres (`decimals`, `gap_rows`), gaps that are alike are decided once (`best_stacks`, `chances`), and the
`answers` become a table or lines (`packing`). Threads, or the workers of a cluster, answer pieces (`batching`,
`cluster`); `unfinished` keeps them until all are there.

All this needs pyarrow, which is the extra `batch`; pyarrow itself loads pandas as soon as it is given a Python value.

The decision looks at kinds of stacks: alike in pieces, cautions and how far they can be below and above their best
estimate. Within a kind, doubt is flat between two corners and rises with slope one outside them, so the best of a kind
is found by three binary searches, for all gaps at once. Kinds are taken by pieces, then cautions; a gap drops out when
no kind that is left can have less doubt. `tests/test_batch_equals_plan.py` holds all this against `plan`, row by row.

A trap: Arrow's cast from text to decimal takes some numbers with a large exponent for nought, so that exponents never
go that way.

What a thousand million gaps a day take. On paper, from one million gaps measured on two shared cores of an AMD EPYC
(14 sizes, three pieces, CSV in and out):

| | readings in steps of 0.001 mm | hardly two gaps alike |
| --- | --- | --- |
| a million gaps, two cores to itself | 0.9 to 1.5 s | 1.9 to 2.6 s |
| processor time for a gap | 0.9 to 1.3 µs | 2.6 to 3.4 µs |
| bytes in, CSV | 23 | 29 |
| bytes out, CSV (parquet) | 112 (15) | 137 (39) |

- A thousand million a day are 11,600 a second: 0.01 to 0.04 of one core. One machine of two cores does a day's gaps in
  15 to 45 minutes, reading 23 to 29 GB and writing 112 to 137 GB of CSV, or 15 to 39 GB of parquet; the disk needs
  twice the output while pieces are put together. Memory does not grow with the number of gaps (0.3 GB for one million,
  0.28 GB for four, two threads).
- A cluster is worth it only when a day's gaps must be answered within a few minutes. Then a piece goes out as some
  hundred bytes (a path and two numbers), the terms once per worker, and the answers come back: with 16 workers at 0.3
  to 1 million gaps a second each, 0.6 to 1.8 GB/s of CSV arrive at the one who asked: as much as a 10 Gbit/s network
  carries (1.25 GB/s), or more. Beyond about ten workers each should therefore get a folder of its own (a batch per
  part of the parquet folder).
- A worker that dies costs its pieces under way, three at most, each of 2 MiB of CSV or 100,000 rows of parquet.

Gaps that share one drawer are another matter: they cannot be answered one by one. Priced against the drawer, though,
every cluster of gaps (those tied together by places or balances) looks for its best option by itself, and prices are
the only thing that has to be exchanged. One round sends a price for every size to all workers and brings back how many
pieces of every size their clusters took, and what that came to: 14 sizes are some hundred bytes per worker and round,
whatever the number of gaps. So the pricing spreads over machines as a batch does, each keeping its own clusters in
memory. Where it stops: with sizes by the hundred, for the search over prices has as many dimensions; with many scarce
sizes, for as many clusters as sizes are left fractional and are rounded together on one machine; and with clusters so
large that their own options cannot be listed. Then the drawer is best divided first: a share for every bench, by last
year's use, each planned by itself, and what is left over offered once more to what stayed outside.
"""
