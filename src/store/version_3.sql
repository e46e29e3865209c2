-- Worked out from readings and settings, so that it need not be done again: how warm a spot was from one look at a box to the next.
-- body: see store/kept.rs. Nothing newer than rests_until_us has a part in it; whatever changes anything older empties the table.
CREATE TABLE stretch_table (
    spot           TEXT NOT NULL,
    from_us        INTEGER NOT NULL,
    until_us       INTEGER NOT NULL,
    rests_until_us INTEGER NOT NULL,
    body           BLOB NOT NULL,
    PRIMARY KEY (spot, from_us, until_us)
) STRICT, WITHOUT ROWID;
CREATE INDEX stretch_table_rests ON stretch_table (rests_until_us);

-- From when on a change has made a difference to how warm it was anywhere, the newest changes: so that what was worked out from
-- before one is not laid down after it.
CREATE TABLE warmth_change (
    change_id INTEGER PRIMARY KEY,
    from_us   INTEGER NOT NULL
) STRICT;

-- Fits that were made, each by a digest of all that went into it; the newest few of each kind of seed.
CREATE TABLE kept_fit (
    fit_id   INTEGER PRIMARY KEY,
    key      BLOB NOT NULL UNIQUE,
    species  TEXT NOT NULL,
    event    TEXT NOT NULL,
    made_us  INTEGER NOT NULL,
    body     BLOB NOT NULL
) STRICT;
CREATE INDEX kept_fit_of_species ON kept_fit (species, event);

-- Forecasts as they were made, so that they can be held against what came. A container is named, not referred to: what was said of
-- it stays when it is taken back.
CREATE TABLE kept_forecast (
    forecast_id INTEGER PRIMARY KEY,
    container   TEXT NOT NULL,
    as_of_us    INTEGER NOT NULL,
    made_us     INTEGER NOT NULL,
    -- The local day that it is the first of; NULL: kept because that was asked for.
    first_of    TEXT,
    -- What made it: version of the program, digest of the fit's evidence (lower-case hexadecimal; NULL: no fit), and options.
    program     TEXT NOT NULL,
    fit_key     TEXT,
    options     TEXT NOT NULL,
    seeds       INTEGER,
    sprouted    INTEGER NOT NULL,
    -- A JSON list of the levels, and one of a list of whole counts at these levels for each 24 h after as_of_us.
    levels      TEXT NOT NULL,
    counts      TEXT NOT NULL,
    UNIQUE (container, first_of)
) STRICT;
