//! Entries put into their tables.

use rusqlite::types::Value;
use rusqlite::{Connection, params, params_from_iter};

use super::readings::probe_id;
use crate::bench::rules::{BenchSetting, Entry};
use crate::bench::{Away, Check, Container, Doubt, GivenTemperature, Lot, Move, Name, Placement, ProbeLimits, Setting};
use crate::civil::Time;

/// Stores an entry whose key is free.
pub(super) fn entry(connection: &Connection, entry: &Entry) -> rusqlite::Result<()> {
    match entry {
        Entry::Bench(setting) => bench_setting(connection, *setting),
        Entry::Away(away) => write_away(connection, away),
        Entry::Lot(lot) => write_lot(connection, lot),
        Entry::Spot(spot, setting) => spot_setting(connection, spot, setting),
        Entry::Placement(placement) => write_placement(connection, placement),
        Entry::Doubt(doubt) => write_doubt(connection, doubt),
        Entry::Limits(limits) => write_limits(connection, limits),
        Entry::Container(container) => write_container(connection, NEW_CONTAINER, container),
        Entry::Check(check, _) => write_check(connection, check),
        Entry::Move(moved) => write_move(connection, "container_move", moved),
        Entry::Plan(moved) => write_move(connection, "planned_move", moved),
    }
}

/// Makes a spot.
pub(super) fn spot(connection: &Connection, name: &Name) -> rusqlite::Result<()> {
    connection.prepare_cached("INSERT INTO spot (name) VALUES (?1)")?.execute([name.as_str()]).map(drop)
}

/// Gives a container other values.
pub(super) fn container_anew(connection: &Connection, container: &Container) -> rusqlite::Result<()> {
    write_container(connection, OLD_CONTAINER, container)
}

/// Remembers what the columns under a header line mean.
pub(super) fn form(connection: &Connection, header: &str, columns: &str) -> rusqlite::Result<()> {
    connection
        .prepare_cached(
            "INSERT INTO table_form (header, columns) VALUES (?1, ?2)
             ON CONFLICT (header) DO UPDATE SET columns = excluded.columns",
        )?
        .execute([header, columns])
        .map(drop)
}

fn micros(time: Option<Time>) -> Option<i64> {
    time.map(|time| time.timestamp_micros())
}

fn text(name: &Option<Name>) -> Option<&str> {
    name.as_ref().map(Name::as_str)
}

fn bench_setting(connection: &Connection, setting: BenchSetting) -> rusqlite::Result<()> {
    connection
        .prepare_cached("INSERT INTO setting (key, value) VALUES (?1, ?2)")?
        .execute([setting.key(), &setting.value()])
        .map(drop)
}

fn write_away(connection: &Connection, away: &Away) -> rusqlite::Result<()> {
    connection
        .prepare_cached("INSERT INTO away (from_us, until_us) VALUES (?1, ?2)")?
        .execute([away.from.timestamp_micros(), away.until.timestamp_micros()])
        .map(drop)
}

fn write_lot(connection: &Connection, lot: &Lot) -> rusqlite::Result<()> {
    connection
        .prepare_cached(
            "INSERT INTO lot (name, species, source, collected, packet_days_low, packet_days_high, packet_c, packet_percent,
                              chill_days, light, note)
             VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11)",
        )?
        .execute(params![
            lot.name.as_str(),
            lot.species.as_str(),
            lot.source,
            lot.collected,
            lot.packet_days_low,
            lot.packet_days_high,
            lot.packet_c,
            lot.packet_percent,
            lot.chill_days,
            lot.light,
            lot.note,
        ])
        .map(drop)
}

fn spot_setting(connection: &Connection, spot: &Name, setting: &Setting) -> rusqlite::Result<()> {
    let pair = match setting.given {
        Some(GivenTemperature::DayAndNight(pair)) => Some(pair),
        _ => None,
    };
    connection
        .prepare_cached(
            "INSERT INTO spot_setting (spot_id, since_us, kind, set_c, set_sd_c, day_c, night_c, capacity, changed_us, note,
                                       too_hot_c)
             VALUES ((SELECT spot_id FROM spot WHERE name = ?1), ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11)",
        )?
        .execute(params![
            spot.as_str(),
            micros(setting.since),
            setting.kind.word(),
            setting.set().map(|set| set.celsius),
            setting.given.map(GivenTemperature::sd_c),
            pair.map(|pair| pair.day_c),
            pair.map(|pair| pair.night_c),
            setting.capacity,
            micros(setting.changed),
            setting.note,
            setting.too_hot_c,
        ])
        .map(drop)
}

fn write_placement(connection: &Connection, placement: &Placement) -> rusqlite::Result<()> {
    let probe = probe_id(connection, &placement.probe)?;
    connection
        .prepare_cached(
            "INSERT INTO placement (probe_id, since_us, spot_id, offset_c, gain, siting)
             VALUES (?1, ?2, (SELECT spot_id FROM spot WHERE name = ?3), ?4, ?5, ?6)",
        )?
        .execute(params![
            probe,
            placement.since.timestamp_micros(),
            placement.spot.as_str(),
            placement.calibration.map(|calibration| calibration.offset_c),
            placement.calibration.map(|calibration| calibration.gain),
            placement.siting.word(),
        ])
        .map(drop)
}

fn write_doubt(connection: &Connection, doubt: &Doubt) -> rusqlite::Result<()> {
    let probe = probe_id(connection, &doubt.probe)?;
    connection
        .prepare_cached("INSERT INTO doubt (probe_id, from_us, to_us, why) VALUES (?1, ?2, ?3, ?4)")?
        .execute(params![probe, doubt.from.timestamp_micros(), micros(doubt.to), doubt.why])
        .map(drop)
}

fn write_limits(connection: &Connection, limits: &ProbeLimits) -> rusqlite::Result<()> {
    let probe = probe_id(connection, &limits.probe)?;
    let columns = ProbeLimits::COLUMNS.join(", ");
    let marks = ", ?".repeat(ProbeLimits::COLUMNS.len());
    let values = std::iter::once(Value::Integer(probe)).chain(limits.values().map(|value| value.map_or(Value::Null, Value::Real)));
    connection
        .prepare_cached(&format!("INSERT INTO probe_limits (probe_id, {columns}) VALUES (?{marks})"))?
        .execute(params_from_iter(values))
        .map(drop)
}

const NEW_CONTAINER: &str =
    "INSERT INTO container (name, batch, species, lot, treatment, seeds, event, sown_us, spot_id, ended_us, seeds_low, seeds_high,
                            depth_mm, source, lid, owner)
     VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, (SELECT spot_id FROM spot WHERE name = ?9), ?10, ?11, ?12, ?13, ?14, ?15, ?16)";
const OLD_CONTAINER: &str =
    "UPDATE container SET batch = ?2, species = ?3, lot = ?4, treatment = ?5, seeds = ?6, event = ?7, sown_us = ?8,
            spot_id = (SELECT spot_id FROM spot WHERE name = ?9), ended_us = ?10, seeds_low = ?11, seeds_high = ?12,
            depth_mm = ?13, source = ?14, lid = ?15, owner = ?16
     WHERE name = ?1";

fn write_container(connection: &Connection, sql: &str, container: &Container) -> rusqlite::Result<()> {
    connection
        .prepare_cached(sql)?
        .execute(params![
            container.name.as_str(),
            container.batch.as_str(),
            container.species.as_str(),
            text(&container.lot),
            text(&container.treatment),
            container.seeds,
            container.event.word(),
            container.sown.timestamp_micros(),
            container.spot.as_str(),
            micros(container.ended),
            container.seeds_low,
            container.seeds_high,
            container.depth_mm,
            text(&container.from),
            text(&container.lid),
            text(&container.owner),
        ])
        .map(drop)
}

fn write_check(connection: &Connection, check: &Check) -> rusqlite::Result<()> {
    connection
        .prepare_cached(
            "INSERT INTO container_check (container_id, time_us, sprouted, removed, lost, potted_on, died, condition, note)
             VALUES ((SELECT container_id FROM container WHERE name = ?1), ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9)",
        )?
        .execute(params![
            check.container.as_str(),
            check.time.timestamp_micros(),
            check.sprouted,
            check.removed,
            check.lost,
            check.potted_on,
            check.died,
            check.condition,
            check.note,
        ])
        .map(drop)
}

fn write_move(connection: &Connection, table: &str, moved: &Move) -> rusqlite::Result<()> {
    connection
        .prepare_cached(&format!(
            "INSERT INTO {table} (container_id, time_us, spot_id)
             VALUES ((SELECT container_id FROM container WHERE name = ?1), ?2, (SELECT spot_id FROM spot WHERE name = ?3))"
        ))?
        .execute(params![moved.container.as_str(), moved.time.timestamp_micros(), moved.spot.as_str()])
        .map(drop)
}
