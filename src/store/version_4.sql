-- Times whose clock was not set.

-- Ports and brokers.

-- Sums of days, and which computer logs.

-- Limits of probes.
-- While somebody watches probes, until when: readings are then put on disk as they come.
CREATE TABLE watch (
    watch_id INTEGER PRIMARY KEY CHECK (watch_id = 1),
    until_us INTEGER NOT NULL
) STRICT;
