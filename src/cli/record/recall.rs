//! A past sowing that nobody measured, from memory.

use std::path::Path;

use chrono::{Duration, NaiveDate};

use super::{Outcome, bench_zone, counted, event, fault, fault_with, make, refusal, say_made, time};
use crate::bench::rules::{Counted, Entry, Fault};
use crate::bench::{Bench, Check, Container, Event, GivenTemperature, Name, SetTemperature, Setting};
use crate::changes::{self, TypedDegrees, Wish};
use crate::civil::{Time, Zone, local_date};
use crate::clock::{Clock, SystemClock};
use crate::units::{Bounds, REMEMBERED_DAY};
use crate::wording::{seeds_words, stand_words};

/// How unsure a remembered temperature is where nothing is said, in °C: what a room's warmth in memory is worth.
const USUAL_SD_C: f64 = 2.0;
/// Remembered sowings are a batch by themselves, so that none is watched with the present boxes.
const BATCH: &str = "remembered";

/// Record a past sowing from memory, without a probe
#[derive(Debug, clap::Args)]
#[command(
    after_help = "Example, for \"about 17 ± 2 °C, first on day 12, 14 of 20 by day 30\":\n  seedclock recall \"2023 tray\" --species \
                  leek --sown 2023-03-10 --seeds 20 --about 17 --give-or-take 2 --first-on 12 --by-day 30 --sprouted 14"
)]
pub(in crate::cli) struct Recall {
    /// A name for the box
    #[arg(value_name = "BOX", value_parser = Name::new)]
    name: Name,
    /// The plant
    #[arg(long, value_parser = Name::new)]
    species: Name,
    /// When it was sown; a date is enough, and need not be exact
    #[arg(long, value_name = "DATE")]
    sown: Option<String>,
    /// How many seeds; leave it out if that is forgotten
    #[arg(long, value_name = "N")]
    seeds: Option<u32>,
    /// About how warm it was
    #[arg(long, value_name = "DEGREES", allow_negative_numbers = true, value_parser = TypedDegrees::read)]
    about: TypedDegrees,
    /// How unsure that is, give or take [default: 2 °C]
    #[arg(long, value_name = "DEGREES", value_parser = TypedDegrees::read)]
    give_or_take: Option<TypedDegrees>,
    /// The day of the first sprout, counted from sowing
    #[arg(long, value_name = "DAY")]
    first_on: Option<u32>,
    /// The day by which the sprouts were counted
    #[arg(long, value_name = "DAY")]
    by_day: u32,
    /// How many had sprouted by then
    #[arg(long, value_name = "N")]
    sprouted: u32,
    /// Which seeds: collected or bought together
    #[arg(long, value_parser = Name::new)]
    lot: Option<Name>,
    /// What they went through before sowing, such as "30 d cold moist"
    #[arg(long, value_parser = Name::new)]
    treatment: Option<Name>,
    /// What counted as sprouted: radicle (the root tip shows) or emergence (the seedling shows) [default: radicle]
    #[arg(long, value_parser = event)]
    event: Option<Event>,
}

impl Recall {
    pub(in crate::cli) fn run(self, bench: &Path) -> anyhow::Result<Outcome> {
        let now = SystemClock.now();
        let zone = bench_zone(bench)?;
        let sown = self.sown_at(zone, now)?;
        let wishes = |bench: &Bench| Ok::<_, Vec<Fault>>(vec![Wish::to_record(self.entries(bench, sown)?)]);
        let mut store = changes::open_or_begin(bench, zone, |empty| {
            let wishes = wishes(empty).map_err(changes::ChangeError::Faults)?;
            changes::examine(empty, &wishes, now)
        })
        .map_err(|error| refusal(error, "recorded"))?;
        let made = make(&mut store, now, wishes)?;
        if let Some(trial) = made.after.trials.get(&self.name) {
            let container = &trial.container;
            let said = format!(
                "{}: {} of {} sown about {}, from memory, at '{}'; {} by day {}; {} on record",
                container.name,
                seeds_words(container),
                container.species,
                local_date(container.sown, zone),
                container.spot,
                stand_words(trial),
                self.by_day,
                counted(trial.checks.len(), "look", "looks"),
            );
            say_made(&made, &said);
        }
        Ok(Outcome::Done)
    }

    fn sown_at(&self, zone: Zone, now: Time) -> anyhow::Result<Time> {
        let Some(text) = self.sown.as_deref() else {
            let what = format!("when was '{}' sown? Its looks need a date", self.name);
            let asked = fault_with(what, "say it roughly, as in --sown 2023-03-10");
            return Err(refusal(changes::ChangeError::Faults(asked), "recorded"));
        };
        // A time of day that exists in every zone.
        let dated = NaiveDate::parse_from_str(text.trim(), "%Y-%m-%d").is_ok();
        if dated { time(Some(&format!("{} 08:00", text.trim())), zone, now) } else { time(Some(text), zone, now) }
    }

    /// The box, the spot where it stood, known from its sowing to its last look only, and the looks that are remembered.
    fn entries(&self, bench: &Bench, sown: Time) -> Result<Vec<Entry>, Vec<Fault>> {
        self.is_sound()?;
        let spot = Name::new(&format!("where {} stood", self.name)).map_err(|rule| {
            fault_with(format!("the spot is named after box '{}': {rule}", self.name), "give the box a shorter name")
        })?;
        let batch = Name::new(BATCH).map_err(|rule| fault(rule.to_string()))?;
        let usual = bench.units.unwrap_or_default();
        // Degrees said once hold for both.
        let said = self.about.said().or(self.give_or_take.and_then(TypedDegrees::said)).unwrap_or(usual);
        let sd_c = self.give_or_take.map_or(USUAL_SD_C, |unsure| unsure.difference(said));
        let given = GivenTemperature::Set(SetTemperature { celsius: self.about.celsius(said), sd_c });
        let ended = sown + Duration::days(i64::from(self.by_day));
        let settings = [
            Setting { since: Some(sown), given: Some(given), note: Some("remembered".to_owned()), ..Setting::NOTHING_SAID },
            // From then on no box could have stood there: nothing is to be compared with it.
            Setting { since: Some(ended), ..Setting::NOTHING_SAID },
        ];
        let container = Container {
            lot: self.lot.clone(),
            treatment: self.treatment.clone(),
            seeds: self.seeds,
            event: self.event.unwrap_or_default(),
            ended: Some(ended),
            ..Container::new(self.name.clone(), batch, self.species.clone(), spot.clone(), sown)
        };
        let spots = settings.into_iter().map(|setting| Entry::Spot(spot.clone(), setting));
        let looks = self.looks().into_iter().map(|(day, total)| {
            let at = sown + Duration::days(i64::from(day));
            Entry::Check(Check { sprouted: total, ..Check::none_new(self.name.clone(), at) }, Counted::InTotal)
        });
        Ok(spots.chain([Entry::Container(container)]).chain(looks).collect())
    }

    /// Days with all that had sprouted by then: none the day before the first, that one, and how many in the end.
    fn looks(&self) -> Vec<(u32, u32)> {
        let mut looks = Vec::new();
        if let Some(first) = self.first_on {
            looks.extend((first > 1).then_some((first - 1, 0)));
            looks.extend((first < self.by_day).then_some((first, 1)));
        }
        looks.push((self.by_day, self.sprouted));
        looks
    }

    fn is_sound(&self) -> Result<(), Vec<Fault>> {
        let day = |bounds: Bounds, day: u32| bounds.check(f64::from(day)).map_err(fault);
        day(REMEMBERED_DAY, self.by_day)?;
        let Some(first) = self.first_on else { return Ok(()) };
        day(REMEMBERED_DAY, first)?;
        if self.sprouted == 0 {
            let what = format!("a first sprout on day {first}, and none had sprouted by day {}", self.by_day);
            return Err(fault_with(what, "leave --first-on out, or say with --sprouted how many there were"));
        }
        if first > self.by_day {
            let rule = "the day of the first cannot come after the day of the last count";
            return Err(fault(format!("a first sprout on day {first}, and {} by day {}: {rule}", self.sprouted, self.by_day)));
        }
        Ok(())
    }
}
