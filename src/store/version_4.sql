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

-- Sums of days, and which computer logs.

-- Limits of probes.
