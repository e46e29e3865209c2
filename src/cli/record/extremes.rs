//! What a minimum–maximum thermometer showed, for those without a logger.

use std::path::Path;

use super::{Outcome, existing, fault, fault_with, make, optional_time, say_made, time};
use crate::bench::rules::{Entry, Fault};
use crate::bench::{Bench, DayAndNight, Degrees, GivenTemperature, Name, Setting};
use crate::changes::{TypedDegrees, Wish};
use crate::civil::{Time, local_time};
use crate::wording::{degrees_words, difference_words};

/// What the note of a reading begins with, by which the next one finds it.
const READ: &str = "minimum–maximum thermometer";

/// Record what a minimum–maximum thermometer shows, before it is set back
#[derive(Debug, clap::Args)]
pub(in crate::cli) struct Minmax {
    /// The spot where it stands; one not known yet is made
    #[arg(value_parser = Name::new)]
    spot: Name,
    /// The lowest since it was last set back
    #[arg(value_name = "LOW", allow_negative_numbers = true, value_parser = TypedDegrees::read)]
    low: TypedDegrees,
    /// The highest since it was last set back
    #[arg(value_name = "HIGH", allow_negative_numbers = true, value_parser = TypedDegrees::read)]
    high: TypedDegrees,
    /// When it was read and set back [default: now]
    #[arg(long, value_name = "TIME")]
    at: Option<String>,
    /// When it was set back before [default: as last recorded here, else when the first of the boxes there came]
    #[arg(long, value_name = "TIME")]
    since: Option<String>,
}

impl Minmax {
    pub(in crate::cli) fn run(self, bench: &Path) -> anyhow::Result<Outcome> {
        let (mut store, zone, now) = existing(bench)?;
        let (at, since) = (time(self.at.as_deref(), zone, now)?, optional_time(self.since.as_deref(), zone, now)?);
        let mut said = None;
        let made = make(&mut store, now, |bench| {
            let (since, pair, entries) = self.entries(bench, since, at)?;
            said = Some((since, pair));
            Ok(vec![Wish::to_correct(entries)])
        })?;
        if let Some((since, pair)) = said {
            let usual = made.before.units.unwrap_or_default();
            let (low, high) = self.read_c(usual);
            let degrees = |celsius: f64| degrees_words(celsius, usual);
            say_made(
                &made,
                &format!(
                    "spot {}: between {} and {} from {} to {}; taken as {} by day and {} by night, give or take {}, and so on until it is read again",
                    self.spot,
                    degrees(low),
                    degrees(high),
                    local_time(since, zone),
                    local_time(at, zone),
                    degrees(pair.day_c),
                    degrees(pair.night_c),
                    difference_words(pair.sd_c, usual),
                ),
            );
        }
        Ok(Outcome::Done)
    }

    /// The lowest and the highest, °C. Degrees said once hold for both.
    fn read_c(&self, usual: Degrees) -> (f64, f64) {
        let said = self.low.said().or(self.high.said()).unwrap_or(usual);
        (self.low.celsius(said), self.high.celsius(said))
    }

    /// What is to be on record: the pair for the time since the thermometer was last set back, and for the time after, until the next.
    fn entries(&self, bench: &Bench, since: Option<Time>, at: Time) -> Result<(Time, DayAndNight, Vec<Entry>), Vec<Fault>> {
        let usual = bench.units.unwrap_or_default();
        let (low_c, high_c) = self.read_c(usual);
        if low_c > high_c {
            return Err(fault_with("the lowest is above the highest", "write the lowest first"));
        }
        let spot = bench.spots.get(&self.spot);
        let settings = spot.map(|spot| spot.settings.as_slice()).unwrap_or_default();
        let is_reading = |setting: &&Setting| setting.note.as_deref().is_some_and(|note| note.starts_with(READ));
        let last_read = settings.iter().rev().filter(is_reading).filter_map(|setting| setting.since).find(|read| *read <= at);
        let since = since.or(last_read).or_else(|| first_came(bench, &self.spot, at)).ok_or_else(|| {
            let what = format!("nothing tells since when the thermometer at '{}' was not set back", self.spot);
            fault_with(what, "say it with --since")
        })?;
        if since >= at {
            return Err(fault(format!("it was set back on {}, and cannot be read before", local_time(since, bench.zone))));
        }
        let between = settings.iter().filter_map(|setting| setting.since).find(|other| *other > since && *other <= at);
        if let Some(other) = between {
            let (spot, on) = (&self.spot, local_time(other, bench.zone));
            return Err(fault_with(
                format!("something else is said of spot '{spot}' from {on} on"),
                "say with --since from when these hold",
            ));
        }
        let pair = DayAndNight::of_extremes(low_c, high_c, at - since);
        let in_force = spot.map_or(&Setting::NOTHING_SAID, |spot| spot.setting_at(since));
        let setting = |since: Time, note: String| {
            let given = Some(GivenTemperature::DayAndNight(pair));
            let changed = in_force.changed.filter(|_| in_force.since == Some(since));
            Entry::Spot(self.spot.clone(), Setting { since: Some(since), given, changed, note: Some(note), ..in_force.clone() })
        };
        let shown = format!("{} to {}", degrees_words(low_c, usual), degrees_words(high_c, usual));
        let entries = vec![
            setting(since, format!("{READ}: {shown}, read {}", local_time(at, bench.zone))),
            setting(at, format!("{READ}: as before, {shown}")),
        ];
        Ok((since, pair, entries))
    }
}

/// When the first of the boxes that stand at a spot came there.
fn first_came(bench: &Bench, spot: &Name, at: Time) -> Option<Time> {
    let present = bench.trials.values().filter(|trial| trial.ended_at(at).is_none());
    let came = present.flat_map(|trial| bench.stays(trial, trial.container.sown, at));
    came.filter(|stay| stay.spot == spot).map(|stay| stay.from).min()
}
