//! What is said of spots, of lots, and of the bench as a whole.

use std::path::Path;

use super::{Outcome, existing, fault, free_text, make, optional_time, say, say_made, time};
use crate::bench::rules::{BenchSetting, Entry, Fault};
use crate::bench::{
    AlarmSetting, Bench, DayAndNight, Degrees, GivenTemperature, Lot as Seeds, Name, SetTemperature, Setting, SpotKind,
};
use crate::changes::{TypedDegrees, USUAL_SD_C, Wish};
use crate::civil::{Time, local_time};
use crate::wording::{changed_words, degrees_words, entry_says};

/// Say what kind of place a spot is, and its temperature where no probe stands
#[derive(Debug, clap::Args)]
pub(in crate::cli) struct Spot {
    /// The spot; one not known yet is made
    #[arg(value_parser = Name::new)]
    spot: Name,
    /// What kind of place: indoors, fridge or outdoors
    #[arg(long, value_parser = kind)]
    kind: Option<SpotKind>,
    /// The temperature it is set to, or is remembered to have, at all hours
    #[arg(long, value_name = "DEGREES", allow_negative_numbers = true, value_parser = TypedDegrees::read, conflicts_with_all = ["day", "night"])]
    set: Option<TypedDegrees>,
    /// Its temperature from 8 to 20 o'clock
    #[arg(long, value_name = "DEGREES", allow_negative_numbers = true, value_parser = TypedDegrees::read, requires = "night")]
    day: Option<TypedDegrees>,
    /// Its temperature from 20 to 8 o'clock
    #[arg(long, value_name = "DEGREES", allow_negative_numbers = true, value_parser = TypedDegrees::read, requires = "day")]
    night: Option<TypedDegrees>,
    /// How unsure these are, give or take [default: 1 °C]
    #[arg(long, value_name = "DEGREES", value_parser = TypedDegrees::read)]
    sd: Option<TypedDegrees>,
    /// How many boxes find room there
    #[arg(long, value_name = "N")]
    capacity: Option<u32>,
    /// Alarm from this temperature on [default: what the seeds standing there bear]
    #[arg(long, value_name = "DEGREES", value_parser = TypedDegrees::read)]
    too_hot: Option<TypedDegrees>,
    /// Something was changed there then, such as a mat laid: what was measured before says nothing of what is to come
    #[arg(long, value_name = "TIME")]
    changed: Option<String>,
    /// A note
    #[arg(long, value_name = "TEXT", value_parser = free_text)]
    note: Option<String>,
    /// All this holds from then on [default: it corrects what is said of the spot now]
    #[arg(long, value_name = "TIME")]
    since: Option<String>,
}

fn kind(text: &str) -> Result<SpotKind, String> {
    SpotKind::from_word(text).ok_or_else(|| "write indoors, fridge or outdoors".to_owned())
}

impl Spot {
    pub(in crate::cli) fn run(self, bench: &Path) -> anyhow::Result<Outcome> {
        let (mut store, zone, now) = existing(bench)?;
        let (since, changed) =
            (optional_time(self.since.as_deref(), zone, now)?, optional_time(self.changed.as_deref(), zone, now)?);
        let mut said = None;
        let made = make(&mut store, now, |bench| {
            let in_force = bench.spots.get(&self.spot).map(|spot| spot.setting_at(since.unwrap_or(now)).clone());
            let in_force = in_force.unwrap_or(Setting::NOTHING_SAID);
            let setting = self.setting(&in_force, since, changed, bench.units.unwrap_or_default())?;
            let (was, is) = (Entry::Spot(self.spot.clone(), in_force), Entry::Spot(self.spot.clone(), setting));
            said = Some((was, is.clone()));
            Ok(vec![Wish::to_correct(vec![is])])
        })?;
        if let Some((was, is)) = said {
            let new = !made.before.spots.contains_key(&self.spot);
            let what = if new { entry_says(&is, zone) } else { changed_words(&was, &is, zone) };
            let what = if what.is_empty() { entry_says(&is, zone) } else { what };
            say_made(&made, &format!("spot {}: {what}{}", self.spot, if new { "; it is a new spot" } else { "" }));
        }
        Ok(Outcome::Done)
    }

    fn setting(
        &self,
        in_force: &Setting,
        since: Option<Time>,
        changed: Option<Time>,
        usual: Degrees,
    ) -> Result<Setting, Vec<Fault>> {
        let sd_c = self.sd.map(|sd| sd.difference(usual));
        let usual_sd_c = sd_c.or(in_force.given.map(GivenTemperature::sd_c)).unwrap_or(USUAL_SD_C);
        let given = match (self.set, self.day.zip(self.night)) {
            (Some(set), _) => Some(GivenTemperature::Set(SetTemperature { celsius: set.celsius(usual), sd_c: usual_sd_c })),
            (None, Some((day, night))) => Some(GivenTemperature::DayAndNight(DayAndNight {
                day_c: day.celsius(usual),
                night_c: night.celsius(usual),
                sd_c: usual_sd_c,
            })),
            (None, None) => match in_force.given {
                Some(GivenTemperature::Set(set)) => Some(GivenTemperature::Set(SetTemperature { sd_c: usual_sd_c, ..set })),
                Some(GivenTemperature::DayAndNight(pair)) => {
                    Some(GivenTemperature::DayAndNight(DayAndNight { sd_c: usual_sd_c, ..pair }))
                }
                None if sd_c.is_some() => {
                    return Err(fault(format!("of spot '{}' no temperature is set that --sd could be about", self.spot)));
                }
                None => None,
            },
        };
        Ok(Setting {
            since: since.or(in_force.since),
            kind: self.kind.unwrap_or(in_force.kind),
            given,
            capacity: self.capacity.or(in_force.capacity),
            too_hot_c: self.too_hot.map(|degrees| degrees.celsius(usual)).or(in_force.too_hot_c),
            // A change belongs to the saying in which it was told.
            changed: changed.or(in_force.changed.filter(|_| since.is_none_or(|since| in_force.since == Some(since)))),
            note: self.note.clone().or_else(|| in_force.note.clone()),
        })
    }
}

/// Say what is known of seeds that were collected or bought together
#[derive(Debug, clap::Args)]
pub(in crate::cli) struct Lot {
    /// The lot
    #[arg(value_parser = Name::new)]
    lot: Name,
    /// The plant; needed when the lot is new
    #[arg(long, value_parser = Name::new)]
    species: Option<Name>,
    /// Where they come from: a shop, a friend, a collecting place
    #[arg(long, value_name = "TEXT", value_parser = free_text)]
    source: Option<String>,
    /// When they were collected
    #[arg(long, value_name = "TEXT", value_parser = free_text)]
    collected: Option<String>,
    /// The packet: they come up after so many days, as in 10-14
    #[arg(long, value_name = "DAYS", value_parser = days)]
    packet_days: Option<(f64, f64)>,
    /// The packet: at this temperature
    #[arg(long, value_name = "DEGREES", allow_negative_numbers = true, value_parser = TypedDegrees::read)]
    packet_c: Option<TypedDegrees>,
    /// The packet: so many in a hundred come up
    #[arg(long, value_name = "PERCENT")]
    packet_percent: Option<f64>,
    /// Days of moist cold they are said to want
    #[arg(long, value_name = "N")]
    chill_days: Option<f64>,
    /// What is said about light: dark, needed …
    #[arg(long, value_name = "TEXT", value_parser = free_text)]
    light: Option<String>,
    /// A note
    #[arg(long, value_name = "TEXT", value_parser = free_text)]
    note: Option<String>,
}

fn days(text: &str) -> Result<(f64, f64), String> {
    let rule = || "write days as in 10-14, or 10".to_owned();
    let number = |text: &str| text.trim().parse::<f64>().map_err(|_| rule());
    match text.split_once(['-', '–']) {
        Some((low, high)) => Ok((number(low)?, number(high)?)),
        None => number(text).map(|days| (days, days)),
    }
}

impl Lot {
    pub(in crate::cli) fn run(self, bench: &Path) -> anyhow::Result<Outcome> {
        let (mut store, zone, now) = existing(bench)?;
        let mut said = None;
        let made = make(&mut store, now, |bench| {
            let was = bench.lots.get(&self.lot).cloned();
            let is = self.told(bench, was.clone())?;
            said = Some((was.map(Entry::Lot), Entry::Lot(is.clone())));
            Ok(vec![Wish::to_correct(vec![Entry::Lot(is)])])
        })?;
        if let Some((was, is)) = said {
            let changed = was.map(|was| changed_words(&was, &is, zone)).filter(|changed| !changed.is_empty());
            let what = changed.unwrap_or_else(|| entry_says(&is, zone));
            say_made(&made, &format!("lot {}: {what}", self.lot));
        }
        Ok(Outcome::Done)
    }

    /// What is known of the lot with what is told here.
    fn told(&self, bench: &Bench, was: Option<Seeds>) -> Result<Seeds, Vec<Fault>> {
        let species = self.species.clone().or_else(|| was.as_ref().map(|was| was.species.clone()));
        let new = || fault(format!("lot '{}' is new: say which plant it is, with --species", self.lot));
        let species = species.ok_or_else(new)?;
        let was = was.unwrap_or_else(|| Seeds::new(self.lot.clone(), species.clone()));
        let packet_c = self.packet_c.map(|degrees| degrees.celsius(bench.units.unwrap_or_default()));
        Ok(Seeds {
            species,
            source: self.source.clone().or(was.source),
            collected: self.collected.clone().or(was.collected),
            packet_days_low: self.packet_days.map(|(low, _)| low).or(was.packet_days_low),
            packet_days_high: self.packet_days.map(|(_, high)| high).or(was.packet_days_high),
            packet_c: packet_c.or(was.packet_c),
            packet_percent: self.packet_percent.or(was.packet_percent),
            chill_days: self.chill_days.or(was.chill_days),
            light: self.light.clone().or(was.light),
            note: self.note.clone().or(was.note),
            ..was
        })
    }
}

/// Change a setting of the bench, or see them all
#[derive(Debug, clap::Args)]
pub(in crate::cli) struct Set {
    /// zone: where local times are meant, such as Europe/Dublin; units: celsius or fahrenheit; too-hot, freezing: from which
    /// temperature on there is an alarm where nothing else is known; alarm-after: how long it must last; look-every: the longest time
    /// between looks; quiet-hours: when only what is urgent is told; quiet-urgent: told, or waits too; no-alarm: kinds not wanted
    #[arg(requires = "value")]
    key: Option<String>,
    /// The value
    value: Option<String>,
}

impl Set {
    pub(in crate::cli) fn run(self, bench: &Path) -> anyhow::Result<Outcome> {
        let (mut store, zone, now) = existing(bench)?;
        let Some((key, value)) = self.key.zip(self.value) else {
            let bench = store.bench()?;
            let said =
                |setting: AlarmSetting| format!("\n{} {}", setting.key(), setting_words(setting, bench.units.unwrap_or_default()));
            let alarms: String = bench.alarms.all().into_iter().map(said).collect();
            say(&format!("zone {}\nunits {}{alarms}", bench.zone, bench.units.unwrap_or_default().word()));
            return Ok(Outcome::Done);
        };
        let usual = store.bench()?.units.unwrap_or_default();
        let setting = setting(&key, &value, usual)?;
        let made = make(&mut store, now, |_| Ok(vec![Wish::to_correct(vec![Entry::Bench(setting)])]))?;
        let (is, before) = match setting {
            BenchSetting::Zone(_) => (setting.value(), zone.name().to_owned()),
            BenchSetting::Units(_) => (setting.value(), made.before.units.unwrap_or_default().word().to_owned()),
            BenchSetting::Alarm(is) => {
                let before = made.before.alarms.all().into_iter().find(|before| before.key() == is.key());
                (setting_words(is, usual), before.map(|before| setting_words(before, usual)).unwrap_or_default())
            }
        };
        say_made(&made, &format!("{key} {is} (before: {before})"));
        if let BenchSetting::Zone(zone) = setting {
            say(&format!(
                "it is {} there now; times on record stay the instants that they were",
                local_time(time(None, zone, now)?, zone)
            ));
        }
        Ok(Outcome::Done)
    }
}

/// The value as it is said: temperatures in the bench's own degrees.
fn setting_words(setting: AlarmSetting, degrees: Degrees) -> String {
    match setting {
        AlarmSetting::TooHot(celsius) | AlarmSetting::Freezing(celsius) => degrees_words(celsius, degrees),
        other => other.value(),
    }
}

fn setting(key: &str, value: &str, usual: Degrees) -> anyhow::Result<BenchSetting> {
    match key {
        "zone" => value.parse().map(BenchSetting::Zone).map_err(|_| {
            anyhow::anyhow!(
                "'{value}' is no zone that is known\n  nothing was recorded; next: write it as in Europe/Dublin or America/Chicago"
            )
        }),
        "units" => {
            let degrees = match value {
                "C" | "°C" => Some(Degrees::Celsius),
                "F" | "°F" => Some(Degrees::Fahrenheit),
                word => Degrees::from_word(word),
            };
            degrees.map(BenchSetting::Units).ok_or_else(|| {
                anyhow::anyhow!("'{value}' are no units that are known\n  nothing was recorded; next: write celsius or fahrenheit")
            })
        }
        _ => match AlarmSetting::read(key, value, usual) {
            Some(read) => read.map(BenchSetting::Alarm).map_err(|rule| anyhow::anyhow!("{rule}\n  nothing was recorded")),
            None => {
                let keys: Vec<&str> = BenchSetting::keys().collect();
                anyhow::bail!("there is no setting '{key}'\n  nothing was recorded; next: the settings are {}", keys.join(", "))
            }
        },
    }
}
