-- What was counted and measured, and the devices at the benches.

CREATE TABLE stocktake (
    id INTEGER PRIMARY KEY,
    drawer INTEGER NOT NULL REFERENCES drawer (id),
    at TEXT NOT NULL,
    who TEXT NOT NULL,
    why TEXT NOT NULL CHECK (why <> ''),
    request TEXT NOT NULL UNIQUE
);

CREATE TABLE measurement (
    id INTEGER PRIMARY KEY,
    lot INTEGER NOT NULL REFERENCES lot (id),
    at TEXT NOT NULL,
    who TEXT NOT NULL,
    low_nm BIGINT NOT NULL,
    high_nm BIGINT NOT NULL,
    spots TEXT NOT NULL,
    CONSTRAINT measurement_thickness CHECK (0 < low_nm AND low_nm <= high_nm)
);

-- a device's token is never kept, only its hash
CREATE TABLE device (
    id INTEGER PRIMARY KEY,
    name TEXT NOT NULL UNIQUE CHECK (name <> ''),
    token_hash TEXT NOT NULL UNIQUE CHECK (length(token_hash) = 64),
    rights TEXT NOT NULL CONSTRAINT device_rights CHECK (rights IN ('look', 'hold', 'book')),
    made_at TEXT NOT NULL
);
