"""The shop's stock: drawers in a database that several benches share, so that no piece is promised twice.

A job reaches it as `drawer = "stock:main"`. That counts and promises agree is kept by the database itself: constraints
and triggers in `migrations/`, numbered, per dialect. Every change of a count is a row of a ledger that only grows, each
row with the hash of the one before; counts are moved by the ledger's own trigger and by no one else.

- `address`: which database, and which drawer of it, a name means; `sqlite_store`, `postgres_store`: how it is opened,
  read and written, one shape (`store.Store`); `turns`: who writes next; `migrating`: the numbered files.
- `lots`: a lot as a part and back; `ledger`: rows appended; `checking`: whether all agrees; `job_id`: which job is
  which; `stock_drawer`: the drawer that jobs see.
"""
