-- What a lot was last told to be is looked up by the lot: only the ledger knows its supplier and the lot it came in.

CREATE INDEX ledger_lot_is ON ledger (lot, id) WHERE lot_is <> '';
