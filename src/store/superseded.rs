//! What was on record before it was corrected, undone or replaced.

use rusqlite::types::ToSql;
use rusqlite::{Connection, params, params_from_iter};

use super::{Store, StoreError};
use crate::bench::rules::Key;
use crate::civil::Time;

/// Why something is no longer on record as it was.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Why {
    /// The grower corrected it.
    Corrected,
    /// The grower took it back.
    Undone,
    /// An import brought other values and was told to replace.
    Replaced,
}

impl Why {
    /// The word for it in the file.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Corrected => "corrected",
            Self::Undone => "undone",
            Self::Replaced => "replaced",
        }
    }

    fn from_word(word: &str) -> Option<Self> {
        [Self::Corrected, Self::Undone, Self::Replaced].into_iter().find(|known| known.word() == word)
    }
}

/// Values that were on record.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Superseded {
    /// What kind of entry: setting, lot, spot, placement, doubt, limits, container, check, move, planned move, reading.
    pub entry: String,
    /// Its values, as a JSON object; times are microseconds since 1970, UTC.
    pub old: String,
    /// When it was superseded.
    pub time: Time,
    /// Why.
    pub why: Why,
}

impl Store {
    /// What was on record before, oldest first.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn superseded(&self) -> Result<Vec<Superseded>, StoreError> {
        let mut all = Vec::new();
        self.each("SELECT entry, old, time_us, why FROM superseded ORDER BY superseded_id", |row| {
            all.push(Superseded {
                entry: self.get(row, 0)?,
                old: self.get(row, 1)?,
                time: self.time(self.get(row, 2)?)?,
                why: self.coded(row, 3, Why::from_word)?,
            });
            Ok(())
        })?;
        Ok(all)
    }
}

/// Where an entry of some kind is kept.
struct Table {
    entry: &'static str,
    name: &'static str,
    /// The values as a JSON object.
    values: &'static str,
    /// Which row it is.
    key: &'static str,
}

const OF_CONTAINER: &str = "container_id = (SELECT container_id FROM container WHERE name = ?1) AND time_us = ?2";
const OF_PROBE_SINCE: &str = "probe_id = (SELECT probe_id FROM probe WHERE name = ?1) AND since_us = ?2";
const OF_PROBE_FROM: &str = "probe_id = (SELECT probe_id FROM probe WHERE name = ?1) AND from_us = ?2";
const MOVED: &str = "'container', ?1, 'time_us', time_us, 'spot', (SELECT name FROM spot s WHERE s.spot_id = t.spot_id)";

fn table(key: &Key) -> Table {
    let table = |entry, name, values, key| Table { entry, name, values, key };
    match key {
        Key::Bench(_) => table("setting", "setting", "'key', key, 'value', value", "key = ?1"),
        Key::Away(_) => table("time away", "away", "'from_us', from_us, 'until_us', until_us", "from_us = ?1"),
        Key::Lot(_) => table(
            "lot",
            "lot",
            "'lot', name, 'species', species, 'source', source, 'collected', collected, 'packet_days_low', packet_days_low,
             'packet_days_high', packet_days_high, 'packet_c', packet_c, 'packet_percent', packet_percent,
             'chill_days', chill_days, 'light', light, 'note', note",
            "name = ?1",
        ),
        Key::Spot(..) => table(
            "spot",
            "spot_setting",
            "'spot', ?1, 'since_us', since_us, 'kind', kind, 'set_c', set_c, 'set_sd_c', set_sd_c, 'day_c', day_c,
             'night_c', night_c, 'capacity', capacity, 'changed_us', changed_us, 'note', note, 'too_hot_c', too_hot_c",
            "spot_id = (SELECT spot_id FROM spot WHERE name = ?1) AND since_us IS ?2",
        ),
        Key::Placement(..) => table(
            "placement",
            "placement",
            "'probe', ?1, 'since_us', since_us, 'spot', (SELECT name FROM spot s WHERE s.spot_id = t.spot_id),
             'offset_c', offset_c, 'gain', gain, 'siting', siting",
            OF_PROBE_SINCE,
        ),
        Key::Doubt(..) => table("doubt", "doubt", "'probe', ?1, 'from_us', from_us, 'to_us', to_us, 'why', why", OF_PROBE_FROM),
        Key::Limits(_) => table(
            "limits",
            "probe_limits",
            "'probe', ?1, 'lowest_c', lowest_c, 'highest_c', highest_c, 'place_low_c', place_low_c, 'place_high_c', place_high_c,
             'change_suspect_c_per_minute', change_suspect_c_per_minute, 'change_fail_c_per_minute', change_fail_c_per_minute,
             'spike_suspect_c', spike_suspect_c, 'spike_fail_c', spike_fail_c, 'repeat_hours', repeat_hours",
            "probe_id = (SELECT probe_id FROM probe WHERE name = ?1)",
        ),
        Key::Container(_) => table(
            "container",
            "container",
            "'container', name, 'batch', batch, 'species', species, 'lot', lot, 'treatment', treatment, 'seeds', seeds,
             'seeds_low', seeds_low, 'seeds_high', seeds_high, 'event', event, 'sown_us', sown_us,
             'spot', (SELECT name FROM spot s WHERE s.spot_id = t.spot_id), 'depth_mm', depth_mm, 'from', source, 'box', lid,
             'owner', owner, 'ended_us', ended_us",
            "name = ?1",
        ),
        Key::Check(..) => table(
            "check",
            "container_check",
            "'container', ?1, 'time_us', time_us, 'sprouted', sprouted, 'removed', removed, 'lost', lost, 'potted_on', potted_on,
             'died', died, 'condition', condition, 'note', note",
            OF_CONTAINER,
        ),
        Key::Move(..) => table("move", "container_move", MOVED, OF_CONTAINER),
        Key::Plan(..) => table("planned move", "planned_move", MOVED, OF_CONTAINER),
    }
}

/// The key as values: ?1, and ?2 where there are two.
fn values(key: &Key) -> Vec<Box<dyn ToSql>> {
    match key {
        Key::Bench(setting) => vec![Box::new(*setting)],
        Key::Away(from) => vec![Box::new(from.timestamp_micros())],
        Key::Lot(name) | Key::Limits(name) | Key::Container(name) => vec![Box::new(name.as_str().to_owned())],
        Key::Spot(name, since) => vec![Box::new(name.as_str().to_owned()), Box::new(since.map(|since| since.timestamp_micros()))],
        Key::Placement(name, time)
        | Key::Doubt(name, time)
        | Key::Check(name, time)
        | Key::Move(name, time)
        | Key::Plan(name, time) => vec![Box::new(name.as_str().to_owned()), Box::new(time.timestamp_micros())],
    }
}

/// The word for the kind of entry that a key names.
pub(super) fn entry_word(key: &Key) -> &'static str {
    table(key).entry
}

/// Keeps the values of an entry beside the record; gives the number they are kept under.
pub(super) fn keep(connection: &Connection, key: &Key, why: Why, now: Time) -> rusqlite::Result<i64> {
    let Table { entry, name, values: old, key: which } = table(key);
    let mut given = values(key);
    let (time, word) = (given.len() + 1, given.len() + 2);
    given.push(Box::new(now.timestamp_micros()));
    given.push(Box::new(why.word()));
    connection
        .prepare_cached(&format!(
            "INSERT INTO superseded (entry, old, time_us, why)
             SELECT '{entry}', json_object({old}), ?{time}, ?{word} FROM {name} t WHERE {which}"
        ))?
        .execute(params_from_iter(given))
        .map(|_| connection.last_insert_rowid())
}

/// Keeps a reading beside the record that is about to be replaced.
pub(super) fn keep_reading(connection: &Connection, probe_id: i64, time_us: i64, now: Time) -> rusqlite::Result<()> {
    connection
        .prepare_cached(
            "INSERT INTO superseded (entry, old, time_us, why)
             SELECT 'reading', json_object('probe', p.name, 'time_us', r.time_us, 'raw_c_e4', raw_c_e4, 'proof', proof), ?3, ?4
             FROM reading r JOIN probe p USING (probe_id) WHERE probe_id = ?1 AND r.time_us = ?2",
        )?
        .execute(params![probe_id, time_us, now.timestamp_micros(), Why::Replaced.word()])
        .map(drop)
}

/// Takes the row of an entry away.
pub(super) fn delete(connection: &Connection, key: &Key) -> rusqlite::Result<()> {
    let Table { name, key: which, .. } = table(key);
    connection.prepare_cached(&format!("DELETE FROM {name} WHERE {which}"))?.execute(params_from_iter(values(key))).map(drop)
}
