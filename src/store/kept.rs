//! What was worked out and is kept: stretches and fits, which can be made anew at any time, and forecasts, which cannot.

use std::collections::HashMap;

use rusqlite::{Connection, OptionalExtension, Row, TransactionBehavior, params};

use super::{Store, StoreError};
use crate::bench::rules::Key;
use crate::bench::{Event, Name};
use crate::civil::Time;
use crate::forecast::{KeptForecast, LEVELS};
use crate::thermal::{Profile, Stretch};

/// Fits kept of each kind of seed.
const FITS_KEPT: i64 = 8;
/// Changes remembered: a logger makes one with each commit, and no question takes as long as so many.
const CHANGES_KEPT: i64 = 1_000;
/// Whoever asks does not wait longer for a writer to finish, only to have things kept.
const PATIENCE: std::time::Duration = std::time::Duration::from_millis(100);
const USUAL_PATIENCE: std::time::Duration = super::schema::BUSY_TIMEOUT;

const KEPT_FORECASTS: &str =
    "SELECT container, as_of_us, made_us, first_of, program, fit_key, options, seeds, sprouted, levels, counts
     FROM kept_forecast";

/// A time at a spot.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Interval {
    /// Where.
    pub spot: Name,
    /// From when, microseconds since 1970.
    pub from_us: i64,
    /// Until when.
    pub until_us: i64,
}

/// How warm it was in an interval, settled.
#[derive(Debug, Clone, PartialEq)]
pub struct StretchTable {
    /// Where and when.
    pub interval: Interval,
    /// How warm.
    pub stretch: Stretch,
    /// Nothing newer has a part in it, microseconds since 1970.
    pub rests_until_us: i64,
}

/// A fit as plain bytes, by what went into it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct KeptFit {
    /// Digest of its evidence and options.
    pub key: [u8; 16],
    /// The plant.
    pub species: Name,
    /// The event.
    pub event: Event,
    /// The fit.
    pub body: Vec<u8>,
}

/// What may be kept after an answer.
#[derive(Debug, Default)]
pub struct Keepsakes<'a> {
    /// Stretches, and the last change ([`Store::last_warmth_change`]) when they were worked out.
    pub stretches: Option<(&'a [StretchTable], i64)>,
    /// Fits.
    pub fits: &'a [KeptFit],
    /// Forecasts; of those that are the first of a container's local day only where there is none yet.
    pub forecasts: &'a [KeptForecast],
}

impl Keepsakes<'_> {
    /// There is nothing to keep.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.stretches.is_none_or(|(stretches, _)| stretches.is_empty()) && self.fits.is_empty() && self.forecasts.is_empty()
    }
}

impl Store {
    /// Reads several things of one instant, though others write meanwhile.
    ///
    /// # Errors
    /// What `read` gives, and the store's.
    pub fn at_one_instant<T>(&self, read: impl FnOnce() -> Result<T, StoreError>) -> Result<T, StoreError> {
        self.connection.execute_batch("BEGIN").map_err(|source| self.failed(source, "reading"))?;
        let done = read();
        let ended = self.connection.execute_batch("ROLLBACK").map_err(|source| self.failed(source, "reading"));
        done.and_then(|done| ended.map(|()| done))
    }

    /// The number of the last change that made a difference to how warm it was anywhere.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn last_warmth_change(&self) -> Result<i64, StoreError> {
        self.connection
            .query_row("SELECT ifnull(max(change_id), 0) FROM warmth_change", [], |row| row.get(0))
            .map_err(|source| self.failed(source, "reading"))
    }

    /// All stretches kept. What cannot be read back is left out: it will be worked out anew.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn stretches(&self) -> Result<HashMap<Interval, Stretch>, StoreError> {
        let mut stretches = HashMap::new();
        self.each("SELECT spot, from_us, until_us, body FROM stretch_table", |row| {
            let spot = self.name(&self.get::<String>(row, 0)?)?;
            let interval = Interval { spot, from_us: self.get(row, 1)?, until_us: self.get(row, 2)? };
            let body: Vec<u8> = self.get(row, 3)?;
            stretches.extend(stretch_of(&body).map(|stretch| (interval, stretch)));
            Ok(())
        })?;
        Ok(stretches)
    }

    /// The fit made from what has this digest.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn kept_fit(&self, key: &[u8; 16]) -> Result<Option<Vec<u8>>, StoreError> {
        self.connection
            .prepare_cached("SELECT body FROM kept_fit WHERE key = ?1")
            .and_then(|mut ask| ask.query_row([&key[..]], |row| row.get(0)).optional())
            .map_err(|source| self.failed(source, "reading"))
    }

    /// All forecasts kept that were made by `now`, in order of making.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn kept_forecasts(&self, now: Time) -> Result<Vec<KeptForecast>, StoreError> {
        let mut kept = Vec::new();
        let sql = format!("{KEPT_FORECASTS} ORDER BY as_of_us, forecast_id");
        self.each(&sql, |row| {
            kept.extend(self.kept_forecast(row)?.filter(|one| one.made <= now));
            Ok(())
        })?;
        Ok(kept)
    }

    /// The first forecast kept of a container since a time, by which it had so many sprouts.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn first_forecast(&self, container: &Name, since: Time, sprouted: u32) -> Result<Option<KeptForecast>, StoreError> {
        let sql = format!(
            "{KEPT_FORECASTS} WHERE container = ?1 AND as_of_us >= ?2 AND sprouted = ?3 ORDER BY as_of_us, forecast_id LIMIT 1"
        );
        let failed = |source| self.failed(source, "reading");
        let mut ask = self.connection.prepare_cached(&sql).map_err(failed)?;
        let mut rows = ask.query(params![container.as_str(), since.timestamp_micros(), sprouted]).map_err(failed)?;
        rows.next().map_err(failed)?.map_or(Ok(None), |row| self.kept_forecast(row))
    }

    fn kept_forecast(&self, row: &Row<'_>) -> Result<Option<KeptForecast>, StoreError> {
        let made = self.time(self.get(row, 2)?)?;
        let first_of: Option<String> = self.get(row, 3)?;
        let (levels, counts): (String, String) = (self.get(row, 9)?, self.get(row, 10)?);
        // Kept by a program that spoke of other levels.
        if serde_json::from_str::<Vec<f64>>(&levels).ok().as_deref() != Some(&LEVELS[..]) {
            return Ok(None);
        }
        Ok(Some(KeptForecast {
            container: self.name(&self.get::<String>(row, 0)?)?,
            as_of: self.time(self.get(row, 1)?)?,
            made,
            first_of: first_of
                .map(|day| day.parse().map_err(|_| self.damaged(format!("'{day}' stands where a day should"))))
                .transpose()?,
            program: self.get(row, 4)?,
            fit_key: self.get(row, 5)?,
            options: self.get(row, 6)?,
            seeds: self.get(row, 7)?,
            sprouted: self.get(row, 8)?,
            counts: serde_json::from_str(&counts)
                .map_err(|_| self.damaged(format!("the counts of a kept forecast are '{counts}'")))?,
        }))
    }

    /// Keeps what can be kept, also on a bench that was opened for asking only. Waits but a moment for another writer.
    ///
    /// # Errors
    /// [`StoreError::Busy`] where another process writes, and whatever a file that cannot be written to gives; nothing is kept then.
    pub fn keep(&mut self, keepsakes: &Keepsakes<'_>, now: Time) -> Result<(), StoreError> {
        if keepsakes.is_empty() {
            return Ok(());
        }
        let asking: bool = self
            .connection
            .query_row("PRAGMA query_only", [], |row| row.get(0))
            .map_err(|source| self.failed(source, "reading"))?;
        let sql = |source| StoreError::from_sql(source, &self.path, "writing to");
        self.connection.pragma_update(None, "query_only", false).map_err(sql)?;
        self.connection.busy_timeout(PATIENCE).map_err(sql)?;
        let kept = keep(&mut self.connection, keepsakes, now);
        self.connection.busy_timeout(USUAL_PATIENCE).map_err(sql)?;
        self.connection.pragma_update(None, "query_only", asking).map_err(sql)?;
        kept.map_err(sql)
    }
}

fn keep(connection: &mut Connection, keepsakes: &Keepsakes<'_>, now: Time) -> rusqlite::Result<()> {
    let transaction = connection.transaction_with_behavior(TransactionBehavior::Immediate)?;
    if let Some((stretches, seen)) = keepsakes.stretches {
        // Somebody may have changed what some of them were worked out from.
        let good_until_us = unchanged_until(&transaction, seen)?;
        for kept in stretches.iter().filter(|kept| kept.rests_until_us < good_until_us) {
            let interval = &kept.interval;
            transaction
                .prepare_cached(
                    "INSERT INTO stretch_table (spot, from_us, until_us, rests_until_us, body) VALUES (?1, ?2, ?3, ?4, ?5)
                     ON CONFLICT DO NOTHING",
                )?
                .execute(params![
                    interval.spot.as_str(),
                    interval.from_us,
                    interval.until_us,
                    kept.rests_until_us,
                    body_of(&kept.stretch)
                ])?;
        }
    }
    for fit in keepsakes.fits {
        transaction
            .prepare_cached(
                "INSERT INTO kept_fit (key, species, event, made_us, body) VALUES (?1, ?2, ?3, ?4, ?5)
                 ON CONFLICT (key) DO UPDATE SET body = excluded.body",
            )?
            .execute(params![&fit.key[..], fit.species.as_str(), fit.event.word(), now.timestamp_micros(), fit.body])?;
        transaction
            .prepare_cached(
                "DELETE FROM kept_fit WHERE species = ?1 AND event = ?2 AND fit_id <=
                 (SELECT fit_id FROM kept_fit WHERE species = ?1 AND event = ?2 ORDER BY fit_id DESC LIMIT 1 OFFSET ?3)",
            )?
            .execute(params![fit.species.as_str(), fit.event.word(), FITS_KEPT])?;
    }
    for kept in keepsakes.forecasts {
        keep_forecast(&transaction, kept)?;
    }
    transaction.commit()
}

fn keep_forecast(connection: &Connection, kept: &KeptForecast) -> rusqlite::Result<()> {
    // Lists of numbers cannot fail to become JSON.
    let json = |list: serde_json::Result<String>| list.unwrap_or_default();
    connection
        .prepare_cached(
            "INSERT INTO kept_forecast (container, as_of_us, made_us, first_of, program, fit_key, options, seeds, sprouted, levels, counts)
             VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11) ON CONFLICT DO NOTHING",
        )?
        .execute(params![
            kept.container.as_str(),
            kept.as_of.timestamp_micros(),
            kept.made.timestamp_micros(),
            kept.first_of.map(|day| day.to_string()),
            kept.program,
            kept.fit_key,
            kept.options,
            kept.seeds,
            kept.sprouted,
            json(serde_json::to_string(&LEVELS)),
            json(serde_json::to_string(&kept.counts)),
        ])
        .map(drop)
}

/// From when on a change of the entry with this key changes how warm it was anywhere; none: not at all.
pub(super) fn warmth_changed_by(key: &Key) -> Option<i64> {
    match key {
        Key::Bench("zone" | "units") | Key::Limits(_) => Some(i64::MIN),
        Key::Spot(_, since) => Some(since.map_or(i64::MIN, |since| since.timestamp_micros())),
        Key::Placement(_, since) | Key::Doubt(_, since) => Some(since.timestamp_micros()),
        Key::Bench(_) | Key::Away(_) | Key::Lot(_) | Key::Container(_) | Key::Check(..) | Key::Move(..) | Key::Plan(..) => None,
    }
}

/// Notes that from `changed_us` on something is different, and forgets all stretches if any rests on what was then or later.
pub(super) fn warmth_changed(connection: &Connection, changed_us: i64) -> rusqlite::Result<()> {
    connection
        .prepare_cached("DELETE FROM stretch_table WHERE ?1 <= (SELECT max(rests_until_us) FROM stretch_table)")?
        .execute([changed_us])?;
    connection.prepare_cached("INSERT INTO warmth_change (from_us) VALUES (?1)")?.execute([changed_us])?;
    let newest = connection.last_insert_rowid();
    connection.prepare_cached("DELETE FROM warmth_change WHERE change_id <= ?1")?.execute([newest - CHANGES_KEPT]).map(drop)
}

/// Until when nothing has become different since the change `seen`; never where that was too many changes ago.
fn unchanged_until(connection: &Connection, seen: i64) -> rusqlite::Result<i64> {
    let sql = "SELECT count(*), ifnull(max(change_id), ?1), ifnull(min(from_us), ?2) FROM warmth_change WHERE change_id > ?1";
    let (count, newest, earliest_us): (i64, i64, i64) =
        connection.query_row(sql, params![seen, i64::MAX], |row| Ok((row.get(0)?, row.get(1)?, row.get(2)?)))?;
    Ok(if count == newest - seen { earliest_us } else { i64::MIN })
}

/// A stretch as 8-byte little-endian floats: unknown days, bounds of guesses below and above, then of known and of guessed
/// temperatures each the number of values and, for each, the value, days and sum ([`Profile::columns`]).
fn body_of(stretch: &Stretch) -> Vec<u8> {
    let mut body = Vec::new();
    let mut put = |number: f64| body.extend_from_slice(&number.to_le_bytes());
    [stretch.unknown_days, stretch.guess_below_c, stretch.guess_above_c].into_iter().for_each(&mut put);
    for profile in [&stretch.known, &stretch.guessed] {
        let columns = profile.columns();
        put(columns[0].len() as f64);
        columns.into_iter().flatten().copied().for_each(&mut put);
    }
    body
}

/// None where the bytes are of no stretch.
fn stretch_of(body: &[u8]) -> Option<Stretch> {
    let (numbers, rest) = body.as_chunks::<8>();
    if !rest.is_empty() {
        return None;
    }
    let mut numbers = numbers.iter().map(|bytes| f64::from_le_bytes(*bytes));
    let (unknown_days, guess_below_c, guess_above_c) = (numbers.next()?, numbers.next()?, numbers.next()?);
    let mut profile = || {
        let count = numbers.next().filter(|count| *count >= 0.0)? as usize;
        let mut column = || -> Option<Vec<f64>> {
            let column: Vec<f64> = numbers.by_ref().take(count).collect();
            (column.len() == count).then_some(column)
        };
        Profile::from_columns([column()?, column()?, column()?])
    };
    let (known, guessed) = (profile()?, profile()?);
    numbers.next().is_none().then_some(Stretch { known, guessed, guess_below_c, guess_above_c, unknown_days })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_stretch_comes_back_to_the_last_bit_and_bytes_cut_short_are_none() {
        let stretch = Stretch {
            known: Profile::new([(19.0625, 1.0 / 3.0), (18.9, 0.1), (-2.5, 1e-9)]),
            guessed: Profile::new([(17.3, 0.2)]),
            guess_below_c: 0.1 + 0.2,
            guess_above_c: 4.0,
            unknown_days: 1e-5,
        };
        let body = body_of(&stretch);
        assert_eq!(stretch_of(&body), Some(stretch));
        assert!((0..body.len()).all(|cut| stretch_of(&body[..cut]).is_none()));
    }
}
