-- Times are microseconds since 1970, UTC; unknown is NULL.
CREATE TABLE setting (
    key   TEXT NOT NULL PRIMARY KEY,
    value TEXT NOT NULL
) STRICT, WITHOUT ROWID;

CREATE TABLE spot (
    spot_id  INTEGER PRIMARY KEY,
    name     TEXT NOT NULL UNIQUE,
    kind     TEXT NOT NULL,
    set_c    REAL,
    set_sd_c REAL,
    note     TEXT,
    CHECK ((set_c IS NULL) = (set_sd_c IS NULL))
) STRICT;

CREATE TABLE probe (
    probe_id INTEGER PRIMARY KEY,
    name     TEXT NOT NULL UNIQUE
) STRICT;

-- A probe stands at a spot until its next placement. True temperature = gain * raw + offset_c; NULL: never calibrated.
CREATE TABLE placement (
    probe_id INTEGER NOT NULL REFERENCES probe,
    since_us INTEGER NOT NULL,
    spot_id  INTEGER NOT NULL REFERENCES spot,
    offset_c REAL,
    gain     REAL,
    siting   TEXT NOT NULL,
    PRIMARY KEY (probe_id, since_us),
    CHECK ((offset_c IS NULL) = (gain IS NULL))
) STRICT, WITHOUT ROWID;

CREATE TABLE container (
    container_id INTEGER PRIMARY KEY,
    name         TEXT NOT NULL UNIQUE,
    batch        TEXT NOT NULL,
    species      TEXT NOT NULL,
    lot          TEXT,
    treatment    TEXT,
    seeds        INTEGER,
    event        TEXT NOT NULL,
    sown_us      INTEGER NOT NULL,
    spot_id      INTEGER NOT NULL REFERENCES spot,
    ended_us     INTEGER
) STRICT;

-- One look at a container; counts are new since the look before. (CHECK alone is a word of SQL.)
CREATE TABLE container_check (
    container_id INTEGER NOT NULL REFERENCES container,
    time_us      INTEGER NOT NULL,
    sprouted     INTEGER NOT NULL,
    removed      INTEGER NOT NULL,
    lost         INTEGER NOT NULL,
    potted_on    INTEGER NOT NULL,
    died         INTEGER NOT NULL,
    condition    TEXT,
    note         TEXT,
    PRIMARY KEY (container_id, time_us)
) STRICT, WITHOUT ROWID;

CREATE TABLE container_move (
    container_id INTEGER NOT NULL REFERENCES container,
    time_us      INTEGER NOT NULL,
    spot_id      INTEGER NOT NULL REFERENCES spot,
    PRIMARY KEY (container_id, time_us)
) STRICT, WITHOUT ROWID;

-- Raw, as received: 1/10 000 degree Celsius, NULL where the line held no number.
-- proof, what the line itself showed: 0 nothing more, 1 power-on value, 2 disconnected, 3 not a number.
CREATE TABLE reading (
    probe_id INTEGER NOT NULL REFERENCES probe,
    time_us  INTEGER NOT NULL,
    raw_c_e4 INTEGER,
    proof    INTEGER NOT NULL,
    PRIMARY KEY (probe_id, time_us)
) STRICT, WITHOUT ROWID;

-- Lines that could not be read, as received; the newest of each port.
CREATE TABLE unread_line (
    line_id INTEGER PRIMARY KEY,
    port    TEXT NOT NULL,
    time_us INTEGER NOT NULL,
    line    BLOB NOT NULL,
    why     TEXT NOT NULL
) STRICT;
CREATE INDEX unread_line_of_port ON unread_line (port, line_id);
