-- Pieces, who they are promised to, and the ledger of all that happened to them. Lengths are whole nanometres.
-- SQLite lets a statement's own OR IGNORE and OR REPLACE reach into the triggers that it fires, so a trigger looks at
-- what it has done, and one that meets a row which is there already says so before anything is replaced.

CREATE TABLE schema_version (
    version INTEGER PRIMARY KEY,
    made_at TEXT NOT NULL
) STRICT;

CREATE TABLE drawer (
    id INTEGER PRIMARY KEY,
    name TEXT NOT NULL CONSTRAINT drawer_is_named CHECK (name <> ''),
    CONSTRAINT drawer_is_one UNIQUE (name)
) STRICT;

-- like pieces are one lot; a piece that is measured again is another lot. Counts are moved by the ledger alone
CREATE TABLE lot (
    id INTEGER PRIMARY KEY,
    drawer INTEGER NOT NULL REFERENCES drawer (id),
    part TEXT NOT NULL CONSTRAINT lot_is_named CHECK (part <> ''),
    piece TEXT NOT NULL DEFAULT '',
    measured INTEGER NOT NULL CONSTRAINT lot_measured CHECK (measured IN (0, 1)),
    low_nm INTEGER NOT NULL,
    high_nm INTEGER NOT NULL,
    marked_nm INTEGER CONSTRAINT lot_marked CHECK (marked_nm > 0),
    inner_low_nm INTEGER,
    inner_high_nm INTEGER,
    outer_low_nm INTEGER,
    outer_high_nm INTEGER,
    edge_nm INTEGER CONSTRAINT lot_edge CHECK (edge_nm >= 0),
    material TEXT NOT NULL DEFAULT '',
    form TEXT NOT NULL DEFAULT '',
    hardness TEXT NOT NULL DEFAULT '',
    provenance TEXT NOT NULL DEFAULT '',
    lies_at TEXT NOT NULL DEFAULT '',
    note TEXT NOT NULL DEFAULT '',
    typed_in TEXT NOT NULL DEFAULT '',
    single INTEGER NOT NULL DEFAULT 0 CONSTRAINT lot_is_single CHECK (single IN (0, 1)),
    on_hand INTEGER NOT NULL DEFAULT 0,
    promised INTEGER NOT NULL DEFAULT 0,
    on_order INTEGER NOT NULL DEFAULT 0,
    CONSTRAINT lot_thickness CHECK (0 < low_nm AND low_nm <= high_nm),
    CONSTRAINT lot_inner CHECK ((inner_low_nm IS NULL) = (inner_high_nm IS NULL)
        AND COALESCE(0 <= inner_low_nm AND inner_low_nm <= inner_high_nm, 1)),
    CONSTRAINT lot_outer CHECK ((outer_low_nm IS NULL) = (outer_high_nm IS NULL)
        AND COALESCE(0 <= outer_low_nm AND outer_low_nm <= outer_high_nm, 1)),
    CONSTRAINT lot_promised CHECK (0 <= promised AND promised <= on_hand),
    -- as many as a table may say
    CONSTRAINT lot_on_hand CHECK (on_hand <= 1000000),
    CONSTRAINT lot_on_order CHECK (0 <= on_order AND on_order <= 1000000),
    CONSTRAINT lot_single CHECK (single = 0 OR on_hand <= 1),
    CONSTRAINT lot_is_one UNIQUE (drawer, part, piece, measured, low_nm, high_nm)
) STRICT;
-- a tag is of one piece: there are not two of it at once
CREATE UNIQUE INDEX lot_of_a_tag ON lot (drawer, part, piece) WHERE piece <> '' AND on_hand > 0;

CREATE TABLE promise (
    id INTEGER PRIMARY KEY,
    request TEXT NOT NULL CONSTRAINT promise_is_asked CHECK (request <> ''),
    lot INTEGER NOT NULL REFERENCES lot (id),
    job TEXT NOT NULL CONSTRAINT promise_is_to_a_job CHECK (job <> ''),
    title TEXT NOT NULL,
    place TEXT NOT NULL,
    pieces INTEGER NOT NULL CONSTRAINT promise_of_some CHECK (pieces > 0),
    until TEXT NOT NULL CONSTRAINT promise_until CHECK (until GLOB '20[0-9][0-9]-[0-1][0-9]-[0-3][0-9]'),
    state TEXT NOT NULL CONSTRAINT promise_state CHECK (state IN ('held', 'fitted', 'freed', 'released')),
    who TEXT NOT NULL,
    bench TEXT NOT NULL,
    CONSTRAINT promise_once UNIQUE (request, lot)
) STRICT;
CREATE INDEX promise_held ON promise (lot) WHERE state = 'held';
CREATE INDEX promise_job ON promise (job) WHERE state = 'held';

-- append-only; each row carries the hash of the one before it. on_hand and on_order are those after it; lot_is says
-- what its lot is from then on, as an object by the columns of lot, or nothing where that stays
CREATE TABLE ledger (
    id INTEGER PRIMARY KEY,
    at TEXT NOT NULL CONSTRAINT ledger_at CHECK (
        at GLOB '20[0-9][0-9]-[0-1][0-9]-[0-3][0-9]T[0-2][0-9]:[0-5][0-9]:[0-6][0-9]+00:00'),
    kind TEXT NOT NULL CONSTRAINT ledger_kind CHECK (kind IN (
        'taken in', 'came', 'held', 'freed', 'released', 'fitted', 'back', 'counted', 'scrapped', 'measured',
        'described', 'ordered', 'arrived', 'undone')),
    drawer INTEGER NOT NULL REFERENCES drawer (id),
    lot INTEGER REFERENCES lot (id),
    moved INTEGER NOT NULL,
    held INTEGER NOT NULL,
    due INTEGER NOT NULL,
    on_hand INTEGER NOT NULL,
    on_order INTEGER NOT NULL,
    lot_is TEXT NOT NULL CONSTRAINT ledger_lot_is CHECK (lot_is = '' OR json_valid(lot_is)),
    request TEXT NOT NULL CONSTRAINT ledger_is_asked CHECK (request <> ''),
    step INTEGER NOT NULL,
    job TEXT NOT NULL,
    title TEXT NOT NULL,
    who TEXT NOT NULL,
    bench TEXT NOT NULL,
    why TEXT NOT NULL,
    detail TEXT NOT NULL CONSTRAINT ledger_detail CHECK (detail = '' OR json_valid(detail)),
    previous TEXT NOT NULL,
    hash TEXT NOT NULL CONSTRAINT ledger_hash CHECK (length(hash) = 64),
    -- what is of no lot moves nothing
    CONSTRAINT ledger_of_a_lot CHECK (lot IS NOT NULL
        OR (moved = 0 AND held = 0 AND due = 0 AND on_hand = 0 AND on_order = 0 AND lot_is = '')),
    CONSTRAINT ledger_hash_is_one UNIQUE (hash),
    CONSTRAINT ledger_once UNIQUE (request, step)
) STRICT;
CREATE INDEX ledger_lot ON ledger (lot, id);
CREATE INDEX ledger_moves ON ledger (drawer, id) WHERE moved <> 0;
CREATE INDEX ledger_dues ON ledger (drawer, id) WHERE due <> 0;

CREATE TABLE stocktake (
    id INTEGER PRIMARY KEY,
    drawer INTEGER NOT NULL REFERENCES drawer (id),
    at TEXT NOT NULL,
    who TEXT NOT NULL,
    why TEXT NOT NULL CONSTRAINT stocktake_why CHECK (why <> ''),
    request TEXT NOT NULL,
    CONSTRAINT stocktake_is_one UNIQUE (request)
) STRICT;

CREATE TABLE measurement (
    id INTEGER PRIMARY KEY,
    lot INTEGER NOT NULL REFERENCES lot (id),
    at TEXT NOT NULL,
    who TEXT NOT NULL,
    low_nm INTEGER NOT NULL,
    high_nm INTEGER NOT NULL,
    spots TEXT NOT NULL,
    CONSTRAINT measurement_thickness CHECK (0 < low_nm AND low_nm <= high_nm)
) STRICT;

-- a device's token is never kept, only its hash
CREATE TABLE device (
    id INTEGER PRIMARY KEY,
    name TEXT NOT NULL CONSTRAINT device_is_named CHECK (name <> ''),
    token_hash TEXT NOT NULL CONSTRAINT device_token CHECK (length(token_hash) = 64),
    rights TEXT NOT NULL CONSTRAINT device_rights CHECK (rights IN ('look', 'hold', 'book')),
    made_at TEXT NOT NULL,
    CONSTRAINT device_is_one UNIQUE (name),
    CONSTRAINT device_token_is_one UNIQUE (token_hash)
) STRICT;

CREATE TRIGGER drawer_is_new BEFORE INSERT ON drawer
WHEN EXISTS (SELECT 1 FROM drawer WHERE id = NEW.id OR name = NEW.name)
BEGIN
    SELECT RAISE(ABORT, 'drawer_is_new');
END;
CREATE TRIGGER drawer_not_changed BEFORE UPDATE ON drawer
BEGIN
    SELECT RAISE(ABORT, 'drawer_not_changed');
END;
CREATE TRIGGER drawer_not_deleted BEFORE DELETE ON drawer
BEGIN
    SELECT RAISE(ABORT, 'drawer_not_deleted');
END;

CREATE TRIGGER ledger_only_grows BEFORE INSERT ON ledger
WHEN NEW.id IS NOT (SELECT COALESCE(MAX(id), 0) + 1 FROM ledger)
    OR NEW.previous IS NOT COALESCE((SELECT hash FROM ledger ORDER BY id DESC LIMIT 1), '')
    OR NEW.at < COALESCE((SELECT at FROM ledger ORDER BY id DESC LIMIT 1), '')
BEGIN
    SELECT RAISE(ABORT, 'ledger_only_grows');
END;
-- a moment that has not come would be the ledger's clock from then on; what is restored (version 0 says so) had it
CREATE TRIGGER ledger_not_ahead BEFORE INSERT ON ledger
WHEN NEW.at > strftime('%Y-%m-%dT%H:%M:%S+00:00', 'now', '+1 day')
    AND NEW.at > COALESCE((SELECT at FROM ledger ORDER BY id DESC LIMIT 1), '')
    AND NOT EXISTS (SELECT 1 FROM schema_version WHERE version = 0)
BEGIN
    SELECT RAISE(ABORT, 'ledger_not_ahead');
END;
CREATE TRIGGER ledger_not_changed BEFORE UPDATE ON ledger
BEGIN
    SELECT RAISE(ABORT, 'ledger_not_changed');
END;
CREATE TRIGGER ledger_not_deleted BEFORE DELETE ON ledger
BEGIN
    SELECT RAISE(ABORT, 'ledger_not_deleted');
END;
CREATE TRIGGER ledger_moves_the_count AFTER INSERT ON ledger WHEN NEW.lot IS NOT NULL
BEGIN
    UPDATE lot SET on_hand = on_hand + NEW.moved, on_order = on_order + NEW.due
        WHERE id = NEW.lot AND drawer = NEW.drawer AND (NEW.moved <> 0 OR NEW.due <> 0);
    SELECT RAISE(ABORT, 'ledger_counts') WHERE NOT EXISTS (SELECT 1 FROM lot
        WHERE (id, drawer, on_hand, on_order) = (NEW.lot, NEW.drawer, NEW.on_hand, NEW.on_order));
END;
CREATE TRIGGER ledger_describes AFTER INSERT ON ledger WHEN NEW.lot_is <> ''
BEGIN
    UPDATE lot SET
        inner_low_nm = json_extract(NEW.lot_is, '$.inner_low_nm'),
        inner_high_nm = json_extract(NEW.lot_is, '$.inner_high_nm'),
        outer_low_nm = json_extract(NEW.lot_is, '$.outer_low_nm'),
        outer_high_nm = json_extract(NEW.lot_is, '$.outer_high_nm'),
        edge_nm = json_extract(NEW.lot_is, '$.edge_nm'),
        material = json_extract(NEW.lot_is, '$.material'),
        form = json_extract(NEW.lot_is, '$.form'),
        hardness = json_extract(NEW.lot_is, '$.hardness'),
        lies_at = json_extract(NEW.lot_is, '$.lies_at'),
        note = json_extract(NEW.lot_is, '$.note')
        WHERE id = NEW.lot;
END;

CREATE TRIGGER lot_begins_empty BEFORE INSERT ON lot
WHEN NEW.on_hand <> 0 OR NEW.promised <> 0 OR NEW.on_order <> 0
    OR EXISTS (SELECT 1 FROM lot WHERE id = NEW.id)
    OR EXISTS (SELECT 1 FROM lot WHERE (drawer, part, piece, measured, low_nm, high_nm)
        = (NEW.drawer, NEW.part, NEW.piece, NEW.measured, NEW.low_nm, NEW.high_nm))
BEGIN
    SELECT RAISE(ABORT, 'lot_begins_empty');
END;
CREATE TRIGGER lot_stays_what_it_is BEFORE UPDATE OF
    id, drawer, part, piece, measured, low_nm, high_nm, marked_nm, provenance, typed_in, single ON lot
BEGIN
    SELECT RAISE(ABORT, 'lot_stays_what_it_is');
END;
CREATE TRIGGER lot_not_deleted BEFORE DELETE ON lot
BEGIN
    SELECT RAISE(ABORT, 'lot_not_deleted');
END;
CREATE TRIGGER lot_counts_as_the_ledger BEFORE UPDATE OF on_hand, on_order ON lot
WHEN (NEW.on_hand, NEW.on_order) IS NOT (OLD.on_hand, OLD.on_order)
    AND NOT EXISTS (SELECT 1 FROM ledger WHERE id = (SELECT MAX(id) FROM ledger WHERE lot = NEW.id)
        AND (on_hand, on_order) = (NEW.on_hand, NEW.on_order))
BEGIN
    SELECT RAISE(ABORT, 'lot_counts_as_the_ledger');
END;
CREATE TRIGGER lot_tagged_once BEFORE UPDATE OF on_hand ON lot
WHEN NEW.piece <> '' AND NEW.on_hand > 0 AND EXISTS (SELECT 1 FROM lot
    WHERE (drawer, part, piece) = (NEW.drawer, NEW.part, NEW.piece) AND on_hand > 0 AND id <> NEW.id)
BEGIN
    SELECT RAISE(ABORT, 'lot_of_a_tag');
END;
CREATE TRIGGER lot_is_as_the_ledger BEFORE UPDATE OF inner_low_nm, inner_high_nm, outer_low_nm, outer_high_nm, edge_nm,
    material, form, hardness, lies_at, note ON lot
WHEN NOT EXISTS (SELECT 1 FROM ledger WHERE id = (SELECT MAX(id) FROM ledger WHERE lot = NEW.id) AND lot_is <> ''
    AND NEW.inner_low_nm IS json_extract(lot_is, '$.inner_low_nm')
    AND NEW.inner_high_nm IS json_extract(lot_is, '$.inner_high_nm')
    AND NEW.outer_low_nm IS json_extract(lot_is, '$.outer_low_nm')
    AND NEW.outer_high_nm IS json_extract(lot_is, '$.outer_high_nm')
    AND NEW.edge_nm IS json_extract(lot_is, '$.edge_nm')
    AND NEW.material IS json_extract(lot_is, '$.material')
    AND NEW.form IS json_extract(lot_is, '$.form')
    AND NEW.hardness IS json_extract(lot_is, '$.hardness')
    AND NEW.lies_at IS json_extract(lot_is, '$.lies_at')
    AND NEW.note IS json_extract(lot_is, '$.note'))
BEGIN
    SELECT RAISE(ABORT, 'lot_is_as_the_ledger');
END;
CREATE TRIGGER lot_promised_as_promises BEFORE UPDATE OF promised ON lot
WHEN NEW.promised <> OLD.promised
    AND NEW.promised <> (SELECT COALESCE(SUM(pieces), 0) FROM promise WHERE lot = NEW.id AND state = 'held')
BEGIN
    SELECT RAISE(ABORT, 'lot_promised_as_promises');
END;

CREATE TRIGGER promise_is_new BEFORE INSERT ON promise
WHEN EXISTS (SELECT 1 FROM promise WHERE id = NEW.id OR (request = NEW.request AND lot = NEW.lot))
BEGIN
    SELECT RAISE(ABORT, 'promise_is_new');
END;
CREATE TRIGGER promise_made AFTER INSERT ON promise WHEN NEW.state = 'held'
BEGIN
    UPDATE lot SET promised = promised + NEW.pieces WHERE id = NEW.lot;
    SELECT RAISE(ABORT, 'lot_promised') WHERE (SELECT promised FROM lot WHERE id = NEW.lot)
        IS NOT (SELECT SUM(pieces) FROM promise WHERE lot = NEW.lot AND state = 'held');
END;
CREATE TRIGGER promise_ends_once BEFORE UPDATE ON promise
WHEN OLD.state <> 'held' OR NEW.state = 'held'
    OR (NEW.id, NEW.request, NEW.lot, NEW.job, NEW.title, NEW.place, NEW.pieces, NEW.until, NEW.who, NEW.bench) IS NOT
        (OLD.id, OLD.request, OLD.lot, OLD.job, OLD.title, OLD.place, OLD.pieces, OLD.until, OLD.who, OLD.bench)
BEGIN
    SELECT RAISE(ABORT, 'promise_ends_once');
END;
CREATE TRIGGER promise_ended AFTER UPDATE OF state ON promise
BEGIN
    UPDATE lot SET promised = promised - OLD.pieces WHERE id = OLD.lot;
END;
CREATE TRIGGER promise_not_deleted BEFORE DELETE ON promise
BEGIN
    SELECT RAISE(ABORT, 'promise_not_deleted');
END;

CREATE TRIGGER stocktake_is_new BEFORE INSERT ON stocktake
WHEN EXISTS (SELECT 1 FROM stocktake WHERE id = NEW.id OR request = NEW.request)
BEGIN
    SELECT RAISE(ABORT, 'stocktake_is_new');
END;
CREATE TRIGGER stocktake_not_changed BEFORE UPDATE ON stocktake
BEGIN
    SELECT RAISE(ABORT, 'stocktake_not_changed');
END;
CREATE TRIGGER stocktake_not_deleted BEFORE DELETE ON stocktake
BEGIN
    SELECT RAISE(ABORT, 'stocktake_not_deleted');
END;
CREATE TRIGGER measurement_is_new BEFORE INSERT ON measurement
WHEN EXISTS (SELECT 1 FROM measurement WHERE id = NEW.id)
BEGIN
    SELECT RAISE(ABORT, 'measurement_is_new');
END;
CREATE TRIGGER measurement_not_changed BEFORE UPDATE ON measurement
BEGIN
    SELECT RAISE(ABORT, 'measurement_not_changed');
END;
CREATE TRIGGER measurement_not_deleted BEFORE DELETE ON measurement
BEGIN
    SELECT RAISE(ABORT, 'measurement_not_deleted');
END;
