-- Pieces, who they are promised to, and the ledger of all that happened to them. Lengths are whole nanometres.

CREATE TABLE schema_version (
    version INTEGER PRIMARY KEY,
    made_at TEXT NOT NULL
);

CREATE TABLE drawer (
    id INTEGER PRIMARY KEY,
    name TEXT NOT NULL UNIQUE CONSTRAINT drawer_is_named CHECK (name <> '')
);

-- like pieces are one lot; a piece that is measured again is another lot
CREATE TABLE lot (
    id INTEGER PRIMARY KEY,
    drawer INTEGER NOT NULL REFERENCES drawer (id),
    part TEXT NOT NULL CONSTRAINT lot_is_named CHECK (part <> ''),
    piece TEXT NOT NULL DEFAULT '',
    measured INTEGER NOT NULL CHECK (measured IN (0, 1)),
    low_nm BIGINT NOT NULL,
    high_nm BIGINT NOT NULL,
    marked_nm BIGINT,
    inner_low_nm BIGINT,
    inner_high_nm BIGINT,
    outer_low_nm BIGINT,
    outer_high_nm BIGINT,
    edge_nm BIGINT,
    material TEXT NOT NULL DEFAULT '',
    form TEXT NOT NULL DEFAULT '',
    hardness TEXT NOT NULL DEFAULT '',
    provenance TEXT NOT NULL DEFAULT '',
    lies_at TEXT NOT NULL DEFAULT '',
    note TEXT NOT NULL DEFAULT '',
    typed_in TEXT NOT NULL DEFAULT '',
    single INTEGER NOT NULL DEFAULT 0 CHECK (single IN (0, 1)),
    on_hand INTEGER NOT NULL DEFAULT 0,
    promised INTEGER NOT NULL DEFAULT 0,
    on_order INTEGER NOT NULL DEFAULT 0,
    CONSTRAINT lot_thickness CHECK (0 < low_nm AND low_nm <= high_nm),
    CONSTRAINT lot_promised CHECK (0 <= promised AND promised <= on_hand),
    CONSTRAINT lot_on_order CHECK (0 <= on_order),
    CONSTRAINT lot_single CHECK (single = 0 OR on_hand <= 1),
    CONSTRAINT lot_is_one UNIQUE (drawer, part, piece, measured, low_nm, high_nm)
);

CREATE TABLE promise (
    id INTEGER PRIMARY KEY,
    request TEXT NOT NULL CHECK (request <> ''),
    lot INTEGER NOT NULL REFERENCES lot (id),
    job TEXT NOT NULL CONSTRAINT promise_is_to_a_job CHECK (job <> ''),
    title TEXT NOT NULL,
    pieces INTEGER NOT NULL CONSTRAINT promise_of_some CHECK (pieces > 0),
    until TEXT NOT NULL,
    state TEXT NOT NULL CONSTRAINT promise_state CHECK (state IN ('held', 'fitted', 'freed', 'released')),
    who TEXT NOT NULL,
    bench TEXT NOT NULL,
    CONSTRAINT promise_once UNIQUE (request, lot)
);
CREATE INDEX promise_held ON promise (lot) WHERE state = 'held';
CREATE INDEX promise_job ON promise (job) WHERE state = 'held';

-- append-only; each row carries the hash of the one before it
CREATE TABLE ledger (
    id INTEGER PRIMARY KEY,
    at TEXT NOT NULL,
    kind TEXT NOT NULL CONSTRAINT ledger_kind CHECK (kind IN (
        'taken in', 'came', 'held', 'freed', 'released', 'fitted', 'back', 'counted', 'scrapped', 'measured',
        'described', 'ordered', 'arrived', 'undone')),
    drawer INTEGER NOT NULL REFERENCES drawer (id),
    lot INTEGER REFERENCES lot (id),
    moved INTEGER NOT NULL,
    held INTEGER NOT NULL,
    due INTEGER NOT NULL,
    on_hand INTEGER NOT NULL,
    request TEXT NOT NULL CHECK (request <> ''),
    step INTEGER NOT NULL,
    job TEXT NOT NULL,
    title TEXT NOT NULL,
    who TEXT NOT NULL,
    bench TEXT NOT NULL,
    why TEXT NOT NULL,
    detail TEXT NOT NULL,
    previous TEXT NOT NULL,
    hash TEXT NOT NULL UNIQUE CHECK (length(hash) = 64),
    CONSTRAINT ledger_once UNIQUE (request, step)
);
CREATE INDEX ledger_lot ON ledger (lot, id);
CREATE INDEX ledger_moves ON ledger (drawer, id) WHERE moved <> 0;

CREATE TRIGGER ledger_only_grows BEFORE INSERT ON ledger
WHEN NEW.id IS NOT (SELECT COALESCE(MAX(id), 0) + 1 FROM ledger)
    OR NEW.previous IS NOT COALESCE((SELECT hash FROM ledger ORDER BY id DESC LIMIT 1), '')
    OR NEW.at < COALESCE((SELECT at FROM ledger ORDER BY id DESC LIMIT 1), '')
BEGIN
    SELECT RAISE(ABORT, 'ledger_only_grows');
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
    UPDATE lot SET on_hand = on_hand + NEW.moved, on_order = on_order + NEW.due WHERE id = NEW.lot;
    SELECT RAISE(ABORT, 'ledger_on_hand') WHERE (SELECT on_hand FROM lot WHERE id = NEW.lot) IS NOT NEW.on_hand;
END;

CREATE TRIGGER lot_begins_empty BEFORE INSERT ON lot
WHEN NEW.on_hand <> 0 OR NEW.promised <> 0 OR NEW.on_order <> 0
    OR EXISTS (SELECT 1 FROM lot WHERE id = NEW.id)
    OR EXISTS (SELECT 1 FROM lot WHERE (drawer, part, piece, measured, low_nm, high_nm)
        = (NEW.drawer, NEW.part, NEW.piece, NEW.measured, NEW.low_nm, NEW.high_nm))
BEGIN
    SELECT RAISE(ABORT, 'lot_begins_empty');
END;
CREATE TRIGGER lot_stays_what_it_is BEFORE UPDATE OF id, drawer, part, piece, measured, low_nm, high_nm ON lot
BEGIN
    SELECT RAISE(ABORT, 'lot_stays_what_it_is');
END;
CREATE TRIGGER lot_not_deleted BEFORE DELETE ON lot
BEGIN
    SELECT RAISE(ABORT, 'lot_not_deleted');
END;
CREATE TRIGGER lot_counts_as_the_ledger BEFORE UPDATE OF on_hand ON lot
WHEN NEW.on_hand <> OLD.on_hand
    AND NEW.on_hand IS NOT (SELECT on_hand FROM ledger WHERE lot = NEW.id ORDER BY id DESC LIMIT 1)
BEGIN
    SELECT RAISE(ABORT, 'lot_counts_as_the_ledger');
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
END;
CREATE TRIGGER promise_ends_once BEFORE UPDATE ON promise
WHEN OLD.state <> 'held' OR NEW.state = 'held'
    OR (NEW.id, NEW.request, NEW.lot, NEW.job, NEW.title, NEW.pieces, NEW.until, NEW.who, NEW.bench)
        IS NOT (OLD.id, OLD.request, OLD.lot, OLD.job, OLD.title, OLD.pieces, OLD.until, OLD.who, OLD.bench)
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
