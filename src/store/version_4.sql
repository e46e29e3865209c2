-- Times whose clock was not set.

-- Ports and brokers.
CREATE TABLE source (
    source_id INTEGER PRIMARY KEY,
    name      TEXT NOT NULL UNIQUE,
    -- The path that the grower named, where the source goes by another one that stays.
    given     TEXT,
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

-- Limits of probes.
