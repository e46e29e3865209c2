//! Values that were superseded, read back as the entry that they were.

use serde_json::{Map, Value};

use super::{Store, StoreError};
use crate::bench::rules::{BenchSetting, Counted, Entry, Key};
use crate::bench::{
    AlarmSetting, Away, Calibration, Check, Container, DayAndNight, Degrees, Doubt, Event, GivenTemperature, Lot, Move, Name,
    Placement, ProbeLimits, SetTemperature, Setting, Siting, SpotKind,
};
use crate::civil::Time;

/// The entry that was kept as `old` and is now on record under `key`. The name is taken from the key, since a probe may have
/// another one by now; the time from what was kept, since that may be what was corrected.
pub(super) fn entry(store: &Store, key: &Key, old: &str) -> Result<Entry, StoreError> {
    let values = serde_json::from_str(old).map_err(|_| store.damaged(format!("'{old}' was kept and cannot be read back")))?;
    let old = Old { store, values };
    Ok(match key {
        Key::Bench(setting) => Entry::Bench(old.bench_setting(setting)?),
        Key::Away(_) => Entry::Away(Away { from: old.needed_time("from_us")?, until: old.needed_time("until_us")? }),
        Key::Lot(name) => Entry::Lot(old.lot(name)?),
        Key::Spot(spot, _) => Entry::Spot(spot.clone(), old.setting()?),
        Key::Placement(probe, _) => Entry::Placement(old.placement(probe)?),
        Key::Doubt(probe, _) => Entry::Doubt(Doubt {
            probe: probe.clone(),
            from: old.needed_time("from_us")?,
            to: old.time("to_us")?,
            why: old.text("why"),
        }),
        Key::Limits(probe) => Entry::Limits(ProbeLimits::of(probe.clone(), ProbeLimits::COLUMNS.map(|column| old.number(column)))),
        Key::Container(name) => Entry::Container(old.container(name)?),
        Key::Check(container, _) => Entry::Check(old.check(container)?, Counted::SinceLast),
        Key::Move(container, _) => Entry::Move(old.moved(container)?),
        Key::Plan(container, _) => Entry::Plan(old.moved(container)?),
    })
}

struct Old<'a> {
    store: &'a Store,
    values: Map<String, Value>,
}

impl Old<'_> {
    fn bench_setting(&self, setting: &str) -> Result<BenchSetting, StoreError> {
        let value = self.needed("value", self.text("value"))?;
        let read = match setting {
            "zone" => value.parse().ok().map(BenchSetting::Zone),
            "units" => Degrees::from_word(&value).map(BenchSetting::Units),
            key => AlarmSetting::read(key, &value, Degrees::Celsius).and_then(Result::ok).map(BenchSetting::Alarm),
        };
        read.ok_or_else(|| self.wrong("value"))
    }

    fn lot(&self, name: &Name) -> Result<Lot, StoreError> {
        Ok(Lot {
            source: self.text("source"),
            collected: self.text("collected"),
            packet_days_low: self.number("packet_days_low"),
            packet_days_high: self.number("packet_days_high"),
            packet_c: self.number("packet_c"),
            packet_percent: self.number("packet_percent"),
            chill_days: self.number("chill_days"),
            light: self.text("light"),
            note: self.text("note"),
            ..Lot::new(name.clone(), self.name("species")?)
        })
    }

    fn setting(&self) -> Result<Setting, StoreError> {
        let sd_c = self.number("set_sd_c").unwrap_or(0.0);
        let set = self.number("set_c").map(|celsius| GivenTemperature::Set(SetTemperature { celsius, sd_c }));
        let pair = self.number("day_c").zip(self.number("night_c"));
        let pair = pair.map(|(day_c, night_c)| GivenTemperature::DayAndNight(DayAndNight { day_c, night_c, sd_c }));
        Ok(Setting {
            since: self.time("since_us")?,
            kind: self.word("kind", SpotKind::from_word)?,
            given: set.or(pair),
            capacity: self.count("capacity")?,
            too_hot_c: self.number("too_hot_c"),
            changed: self.time("changed_us")?,
            note: self.text("note"),
        })
    }

    fn placement(&self, probe: &Name) -> Result<Placement, StoreError> {
        let calibration = self.number("offset_c").zip(self.number("gain"));
        Ok(Placement {
            probe: probe.clone(),
            spot: self.name("spot")?,
            since: self.needed_time("since_us")?,
            calibration: calibration.map(|(offset_c, gain)| Calibration { offset_c, gain }),
            siting: self.word("siting", Siting::from_word)?,
        })
    }

    fn container(&self, name: &Name) -> Result<Container, StoreError> {
        let sown = self.needed_time("sown_us")?;
        Ok(Container {
            lot: self.optional_name("lot")?,
            treatment: self.optional_name("treatment")?,
            seeds: self.count("seeds")?,
            seeds_low: self.count("seeds_low")?,
            seeds_high: self.count("seeds_high")?,
            event: self.word("event", Event::from_word)?,
            depth_mm: self.number("depth_mm"),
            from: self.optional_name("from")?,
            lid: self.optional_name("box")?,
            owner: self.optional_name("owner")?,
            ended: self.time("ended_us")?,
            ..Container::new(name.clone(), self.name("batch")?, self.name("species")?, self.name("spot")?, sown)
        })
    }

    fn check(&self, container: &Name) -> Result<Check, StoreError> {
        let count = |key| Ok::<_, StoreError>(self.count(key)?.unwrap_or(0));
        Ok(Check {
            container: container.clone(),
            time: self.needed_time("time_us")?,
            sprouted: count("sprouted")?,
            removed: count("removed")?,
            lost: count("lost")?,
            potted_on: count("potted_on")?,
            died: count("died")?,
            condition: self.text("condition"),
            note: self.text("note"),
        })
    }

    fn moved(&self, container: &Name) -> Result<Move, StoreError> {
        Ok(Move { container: container.clone(), time: self.needed_time("time_us")?, spot: self.name("spot")? })
    }

    fn text(&self, key: &str) -> Option<String> {
        self.values.get(key).and_then(Value::as_str).map(str::to_owned)
    }

    fn number(&self, key: &str) -> Option<f64> {
        self.values.get(key).and_then(Value::as_f64)
    }

    fn count(&self, key: &str) -> Result<Option<u32>, StoreError> {
        let count = self.values.get(key).and_then(Value::as_i64);
        count.map(|count| u32::try_from(count).map_err(|_| self.wrong(key))).transpose()
    }

    fn time(&self, key: &str) -> Result<Option<Time>, StoreError> {
        self.values.get(key).and_then(Value::as_i64).map(|micros| self.store.time(micros)).transpose()
    }

    fn needed_time(&self, key: &str) -> Result<Time, StoreError> {
        self.needed(key, self.time(key)?)
    }

    fn optional_name(&self, key: &str) -> Result<Option<Name>, StoreError> {
        self.text(key).map(|text| self.store.name(&text)).transpose()
    }

    fn name(&self, key: &str) -> Result<Name, StoreError> {
        self.needed(key, self.optional_name(key)?)
    }

    fn word<T>(&self, key: &str, meaning: impl Fn(&str) -> Option<T>) -> Result<T, StoreError> {
        self.text(key).and_then(|word| meaning(&word)).ok_or_else(|| self.wrong(key))
    }

    fn needed<T>(&self, key: &str, value: Option<T>) -> Result<T, StoreError> {
        value.ok_or_else(|| self.wrong(key))
    }

    fn wrong(&self, key: &str) -> StoreError {
        self.store.damaged(format!("what was kept as superseded has no proper '{key}'"))
    }
}
