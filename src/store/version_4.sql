-- Times whose clock was not set.

-- Ports and brokers.

-- Sums of days, and which computer logs.

-- Limits of probes.
