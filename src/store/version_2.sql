-- What is said of a spot holds from a time on (NULL: since ever) until the next saying. A spot that has only been named has none.
-- Either set_c or both day_c (8 to 20 o'clock local time) and night_c; set_sd_c is the uncertainty of whichever is given.
CREATE TABLE spot_setting (
    spot_id    INTEGER NOT NULL REFERENCES spot,
    since_us   INTEGER,
    kind       TEXT NOT NULL,
    set_c      REAL,
    set_sd_c   REAL,
    day_c      REAL,
    night_c    REAL,
    capacity   INTEGER,
    changed_us INTEGER,
    note       TEXT,
    CHECK ((day_c IS NULL) = (night_c IS NULL)),
    CHECK (set_c IS NULL OR day_c IS NULL),
    CHECK ((set_c IS NULL AND day_c IS NULL) = (set_sd_c IS NULL))
) STRICT;
-- Two NULLs are not alike to a plain unique index.
CREATE UNIQUE INDEX spot_setting_of_spot ON spot_setting (spot_id, ifnull(since_us, -9223372036854775807));

INSERT INTO spot_setting (spot_id, kind, set_c, set_sd_c, note)
    SELECT spot_id, kind, set_c, set_sd_c, note FROM spot
    WHERE kind <> 'indoors' OR set_c IS NOT NULL OR note IS NOT NULL;
CREATE TABLE spot_2 (
    spot_id INTEGER PRIMARY KEY,
    name    TEXT NOT NULL UNIQUE
) STRICT;
INSERT INTO spot_2 (spot_id, name) SELECT spot_id, name FROM spot;
DROP TABLE spot;
ALTER TABLE spot_2 RENAME TO spot;

ALTER TABLE container ADD COLUMN seeds_low INTEGER;
ALTER TABLE container ADD COLUMN seeds_high INTEGER;
ALTER TABLE container ADD COLUMN depth_mm REAL;
-- The container that these seeds came out of.
ALTER TABLE container ADD COLUMN source TEXT REFERENCES container (name) DEFERRABLE INITIALLY DEFERRED;
-- The lid's own name, reusable.
ALTER TABLE container ADD COLUMN lid TEXT;
-- Whose it is; NULL: the grower's own.
ALTER TABLE container ADD COLUMN owner TEXT;

CREATE TABLE lot (
    lot_id           INTEGER PRIMARY KEY,
    name             TEXT NOT NULL UNIQUE,
    species          TEXT NOT NULL,
    source           TEXT,
    collected        TEXT,
    packet_days_low  REAL,
    packet_days_high REAL,
    packet_c         REAL,
    packet_percent   REAL,
    chill_days       REAL,
    light            TEXT,
    note             TEXT
) STRICT;

-- Readings not to be used; NULL: the doubt goes on.
CREATE TABLE doubt (
    probe_id INTEGER NOT NULL REFERENCES probe,
    from_us  INTEGER NOT NULL,
    to_us    INTEGER,
    why      TEXT,
    PRIMARY KEY (probe_id, from_us)
) STRICT, WITHOUT ROWID;

-- Moves that are meant to be made.
CREATE TABLE planned_move (
    container_id INTEGER NOT NULL REFERENCES container,
    time_us      INTEGER NOT NULL,
    spot_id      INTEGER NOT NULL REFERENCES spot,
    PRIMARY KEY (container_id, time_us)
) STRICT, WITHOUT ROWID;

-- What was on record before it was corrected, undone or replaced. `old` is a JSON object of the values, names in place of numbers.
CREATE TABLE superseded (
    superseded_id INTEGER PRIMARY KEY,
    entry         TEXT NOT NULL,
    old           TEXT NOT NULL,
    time_us       INTEGER NOT NULL,
    why           TEXT NOT NULL
) STRICT;

-- What was answered about the columns of tables of temperatures that other programs write, by their header line.
CREATE TABLE table_form (
    header  TEXT NOT NULL PRIMARY KEY,
    columns TEXT NOT NULL
) STRICT, WITHOUT ROWID;

-- Commands typed that are still on record, so that the last can be taken back.
CREATE TABLE typed (
    typed_id INTEGER PRIMARY KEY,
    time_us  INTEGER NOT NULL
) STRICT;

-- What each did: an entry (its kind and what names it) put on record, perhaps in the place of one that was superseded; a spot made
-- by naming it; or a probe given another name.
CREATE TABLE typed_part (
    part_id       INTEGER PRIMARY KEY,
    typed_id      INTEGER NOT NULL REFERENCES typed,
    part          TEXT NOT NULL,
    name          TEXT NOT NULL,
    time_us       INTEGER,
    old_name      TEXT,
    superseded_id INTEGER REFERENCES superseded
) STRICT;
CREATE INDEX typed_part_of_typed ON typed_part (typed_id);
CREATE INDEX typed_part_of_name ON typed_part (name, part);

-- The name that a probe's lines carry, where it was given another one.
ALTER TABLE probe ADD COLUMN line_name TEXT;
CREATE UNIQUE INDEX probe_of_line ON probe (line_name);
