-- Times whose clock was not set.

-- Ports and brokers.

-- Sums of days, and which computer logs.

-- A row for each day (UTC, counted from 1970) of each probe that has readings. NULL: the day goes on, or was changed since, and is to
-- be summed up anew. sum_c_e4 leaves out readings without a number; digest: see store/day_sum.rs.
CREATE TABLE day_sum (
    probe_id INTEGER NOT NULL REFERENCES probe,
    day      INTEGER NOT NULL,
    readings INTEGER,
    sum_c_e4 INTEGER,
    digest   INTEGER,
    PRIMARY KEY (probe_id, day),
    CHECK ((readings IS NULL) = (digest IS NULL) AND (sum_c_e4 IS NULL) = (digest IS NULL))
) STRICT, WITHOUT ROWID;
CREATE INDEX day_sum_open ON day_sum (day) WHERE digest IS NULL;
INSERT INTO day_sum (probe_id, day)
    SELECT DISTINCT probe_id, time_us / 86400000000 - (time_us % 86400000000 < 0) FROM reading;

-- Whoever changes a reading or takes one away opens its day. One that is added is seen to in store/day_sum.rs: a trigger would cost
-- an import a third of its speed.
CREATE TRIGGER reading_changed AFTER UPDATE ON reading BEGIN
    INSERT INTO day_sum (probe_id, day)
        VALUES (old.probe_id, old.time_us / 86400000000 - (old.time_us % 86400000000 < 0)),
               (new.probe_id, new.time_us / 86400000000 - (new.time_us % 86400000000 < 0))
        ON CONFLICT DO UPDATE SET readings = NULL, sum_c_e4 = NULL, digest = NULL;
END;
CREATE TRIGGER reading_removed AFTER DELETE ON reading BEGIN
    UPDATE day_sum SET readings = NULL, sum_c_e4 = NULL, digest = NULL
        WHERE probe_id = old.probe_id AND day = old.time_us / 86400000000 - (old.time_us % 86400000000 < 0);
END;

-- Only in a backup: what each other table held when it was written. Opened as a bench it loses them.
CREATE TABLE table_sum (
    name   TEXT NOT NULL PRIMARY KEY,
    rows   INTEGER NOT NULL,
    digest INTEGER NOT NULL
) STRICT, WITHOUT ROWID;

-- What is known of the care for this file: see store/care.rs. The bench's own number tells its backups from another bench's.
CREATE TABLE care_note (
    key   TEXT NOT NULL PRIMARY KEY,
    value TEXT NOT NULL
) STRICT, WITHOUT ROWID;
INSERT INTO care_note VALUES ('bench', lower(hex(randomblob(16))));

-- Limits of probes.
