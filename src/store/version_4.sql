-- How warm it was is worked out anew: what the sun made of a probe is now left out.
DELETE FROM stretch_table;

-- Times whose clock was not set.
-- A start of a computer that logged. began_us: when it was started, NULL: not known yet; began_by, who said so: 0 a plausible clock, 1
-- a clock vouched for, 2 the network, 3 the grower. after_us: the newest reading on record when it was first logged in.
CREATE TABLE computer_start (
    start_id INTEGER PRIMARY KEY,
    boot_id  TEXT NOT NULL UNIQUE,
    began_us INTEGER,
    began_by INTEGER,
    after_us INTEGER,
    CHECK ((began_us IS NULL) = (began_by IS NULL))
) STRICT;

-- Readings made while the clock was not known to be right: since_us after their computer was started. They go over to the readings
-- once it is known when that was.
CREATE TABLE undated_reading (
    start_id INTEGER NOT NULL REFERENCES computer_start,
    probe_id INTEGER NOT NULL REFERENCES probe,
    since_us INTEGER NOT NULL,
    raw_c_e4 INTEGER,
    proof    INTEGER NOT NULL,
    PRIMARY KEY (start_id, probe_id, since_us)
) STRICT, WITHOUT ROWID;

-- The clock was set while readings were dated by it: when, by the time that they go by from then on; by how much forward; and whether
-- they follow it.
CREATE TABLE clock_event (
    start_id INTEGER NOT NULL REFERENCES computer_start,
    since_us INTEGER NOT NULL,
    time_us  INTEGER NOT NULL,
    ahead_us INTEGER NOT NULL,
    followed INTEGER NOT NULL,
    PRIMARY KEY (start_id, since_us)
) STRICT, WITHOUT ROWID;

-- Ports and brokers.
CREATE TABLE source (
    source_id INTEGER PRIMARY KEY,
    name      TEXT NOT NULL UNIQUE,
    -- Whether the logger that began last reads it (0, 1), how it stands since then, in a word and in words, and what to do.
    read_now  INTEGER NOT NULL,
    state     TEXT,
    words     TEXT,
    next      TEXT,
    since_us  INTEGER,
    -- What was found out of a port: bits a second, and which device it is.
    baud      INTEGER,
    device    TEXT
) STRICT;

-- Which probes a source has brought, and under which names they are kept: another one where two sources bring the same.
CREATE TABLE source_probe (
    source_id INTEGER NOT NULL REFERENCES source,
    line_name TEXT NOT NULL,
    kept_as   TEXT NOT NULL,
    PRIMARY KEY (source_id, line_name)
) STRICT, WITHOUT ROWID;

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

-- Limits of probes, in °C as the probe shows them: what its sensor can measure, what its place can be, how fast it may change and how far
-- a reading may stand out before it is suspect and before it fails, and how long one value may repeat. NULL: the usual limit.
CREATE TABLE probe_limits (
    probe_id                    INTEGER PRIMARY KEY REFERENCES probe,
    lowest_c                    REAL,
    highest_c                   REAL,
    place_low_c                 REAL,
    place_high_c                REAL,
    change_suspect_c_per_minute REAL,
    change_fail_c_per_minute    REAL,
    spike_suspect_c             REAL,
    spike_fail_c                REAL,
    repeat_hours                REAL
) STRICT;

-- While somebody watches probes, until when: readings are then put on disk as they come.
CREATE TABLE watch (
    watch_id INTEGER PRIMARY KEY CHECK (watch_id = 1),
    until_us INTEGER NOT NULL
) STRICT;

-- Alarms.
-- Times in which nobody is there.
CREATE TABLE away (
    from_us  INTEGER NOT NULL PRIMARY KEY,
    until_us INTEGER NOT NULL
) STRICT;
-- What the grower calls too hot at a spot, °C.
ALTER TABLE spot_setting ADD COLUMN too_hot_c REAL;
-- How it stands with each thing that is watched, by kind and by what it is about (a spot, a probe, a box). looked_us: up to when it was
-- judged; over_us, under_us: since when without a break beyond the limit, and well within it again; worst_c, limit_c: the most, and the
-- limit, °C; since_us: since when it is an alarm; ended_us: since when no more; told_us: when it was told, and told_end_us its end;
-- seen_us: when the grower said that it was seen.
CREATE TABLE alarm (
    kind        TEXT NOT NULL,
    subject     TEXT NOT NULL,
    looked_us   INTEGER NOT NULL,
    over_us     INTEGER,
    under_us    INTEGER,
    worst_c     REAL,
    limit_c     REAL,
    since_us    INTEGER,
    ended_us    INTEGER,
    told_us     INTEGER,
    told_end_us INTEGER,
    seen_us     INTEGER,
    PRIMARY KEY (kind, subject)
) STRICT, WITHOUT ROWID;
-- The last delivery of each alarm by each way: of its beginning or its end (0, 1), how often it was tried, when last and by what time
-- again (none: it is done), and why it failed (none: it did not), and
-- what came back.
CREATE TABLE alarm_delivery (
    kind     TEXT NOT NULL,
    subject  TEXT NOT NULL,
    way      TEXT NOT NULL,
    ended    INTEGER NOT NULL,
    tries    INTEGER NOT NULL,
    tried_us INTEGER,
    next_us  INTEGER,
    failure  TEXT,
    answer   TEXT,
    PRIMARY KEY (kind, subject, way)
) STRICT, WITHOUT ROWID;

-- The page.
-- Codes that let a device in once: their SHA-256, what it may then ('all', 'look': only record looks), whose it is, until when.
CREATE TABLE pairing_code (
    digest   BLOB NOT NULL PRIMARY KEY,
    may      TEXT NOT NULL,
    name     TEXT NOT NULL,
    until_us INTEGER NOT NULL
) STRICT, WITHOUT ROWID;
-- Devices that were let in: the SHA-256 of what they know themselves by.
CREATE TABLE device (
    device_id INTEGER PRIMARY KEY,
    digest    BLOB NOT NULL UNIQUE,
    may       TEXT NOT NULL,
    name      TEXT NOT NULL,
    paired_us INTEGER NOT NULL,
    seen_us   INTEGER NOT NULL
) STRICT;
-- What was sent by a page, by a number of its own: sent again it is not done again.
CREATE TABLE page_request (
    request TEXT NOT NULL PRIMARY KEY,
    done_us INTEGER NOT NULL
) STRICT, WITHOUT ROWID;
-- Looks that cannot be as they were counted at the sill, with the reason: kept until the grower has said what is right.
CREATE TABLE waiting_look (
    waiting_id INTEGER PRIMARY KEY,
    container  TEXT NOT NULL,
    time_us    INTEGER NOT NULL,
    sprouted   INTEGER NOT NULL,
    removed    INTEGER NOT NULL,
    lost       INTEGER NOT NULL,
    potted_on  INTEGER NOT NULL,
    died       INTEGER NOT NULL,
    condition  TEXT,
    note       TEXT,
    why        TEXT NOT NULL
) STRICT;
-- Photographs: JPEG without anything that the camera wrote beside it.
CREATE TABLE photo (
    photo_id  INTEGER PRIMARY KEY,
    container TEXT NOT NULL,
    time_us   INTEGER NOT NULL,
    width     INTEGER NOT NULL,
    height    INTEGER NOT NULL,
    jpeg      BLOB NOT NULL
) STRICT;
CREATE INDEX photo_of ON photo (container, time_us);
