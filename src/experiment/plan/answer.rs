//! A plan: for each lot and spot a day to sow, seeds, and what follows.

use chrono::{Days, NaiveDate};

use super::{Chill, LastFrost, Sowing, Survival};
use crate::bench::{Event, Name};
use crate::civil::Time;
use crate::germination::Prior;
use crate::stats::{median_of, quantile_of};

/// Over so many days before the plants are to be up a spot must give some warmth, and so much of it, °C·d.
const PROGRESS_DAYS: usize = 30;
const PROGRESS: f64 = 1.0;
/// A range wider than this is too unsure for dates, days.
const TOO_WIDE_DAYS: i64 = 21;

/// What is wished.
#[derive(Debug, Clone, PartialEq)]
pub struct PlanWish {
    /// Living plants wanted of each lot.
    pub plants: u32,
    /// The day on which they are to be ready; where they have to grow on, the day on which that is over.
    pub by: NaiveDate,
    /// How sure, 0 to 1.
    pub confidence: f64,
    /// Days that a sprout grows on until it is ready.
    pub grow_on_days: u32,
    /// Boxes that the seeds of a lot are shared out over.
    pub boxes: u32,
    /// When the last frost falls.
    pub frost: Option<FrostPlan>,
}

/// What a last-frost date says of the plan.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FrostPlan {
    /// The dates over the years.
    pub last: LastFrost,
    /// The risk that is taken, 0 to 1.
    pub risk: f64,
    /// The first day with no more than that risk.
    pub day: NaiveDate,
    /// The wished day is that day; else it was named, and has a risk of its own.
    pub decides: bool,
}

/// What the temperatures to come at a spot are taken from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Basis {
    /// They are given.
    Given,
    /// The grower assumed them for this plan.
    Assumed,
    /// Recent days, and the season of so many earlier years.
    Season {
        /// Years.
        years: usize,
    },
    /// The same dates of so many earlier years.
    EarlierYears {
        /// Years.
        years: usize,
    },
    /// The level of recent days, for want of anything better about dates so far off.
    RecentLevel,
}

/// Days at the 10, 50 and 90 % points; none: past, or never.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct DateSpread {
    /// 10 % point.
    pub p10: Option<NaiveDate>,
    /// Median.
    pub p50: Option<NaiveDate>,
    /// 90 % point.
    pub p90: Option<NaiveDate>,
}

/// A sowing that can be in time.
#[derive(Debug, Clone, PartialEq)]
pub struct SowPlan {
    /// The last day to sow.
    pub sow: NaiveDate,
    /// Seeds to sow.
    pub seeds: u32,
    /// The fewest seeds that would do, sown as early as you like.
    pub fewest_seeds: u32,
    /// Chance of enough plants, sown so.
    pub chance: f64,
    /// The last day to sow for nine in ten of the seeds that can sprout to be up in time.
    pub latest: DateSpread,
    /// When the first is up.
    pub first: DateSpread,
    /// When half of those that can sprout are up.
    pub half: DateSpread,
    /// When enough are up.
    pub enough: DateSpread,
    /// The day on which the seeds go into the cold.
    pub chill_in: Option<NaiveDate>,
    /// The day on which half of them are to be potted on, going by one's own habit.
    pub pot_on: Option<NaiveDate>,
}

/// What can be said of a lot at a spot.
#[derive(Debug, Clone, PartialEq)]
pub enum Outcome {
    /// A day to sow.
    Sow(Box<SowPlan>),
    /// It is too late for the wished day; the first one that can be met, none within half a year of warmth.
    TooLate {
        /// The first day on which the plants can be ready.
        earliest: Option<NaiveDate>,
        /// Seeds that this would take.
        seeds: u32,
    },
    /// Hardly any time there is warm enough.
    TooCold,
    /// Hardly any time there is cool enough.
    TooHot,
    /// It would take more seeds than anyone sows.
    TooManySeeds,
    /// Nothing is known of the temperatures there.
    Unknown,
}

/// A lot at a spot.
#[derive(Debug, Clone, PartialEq)]
pub struct SpotPlan {
    /// The spot.
    pub spot: Name,
    /// Where its temperatures are from; none: nothing is known.
    pub basis: Option<Basis>,
    /// Mean temperature in the weeks before the plants are to be up, °C.
    pub mean_c: Option<f64>,
    /// It is colder or warmer than the species was ever sown in here.
    pub outside: bool,
    /// What can be said.
    pub outcome: Outcome,
}

/// Something to know beside a lot's plan.
#[derive(Debug, Clone, PartialEq)]
pub enum PlanNote {
    /// No sowing of this species has taught anything: all from what was assumed.
    AllAssumed {
        /// What was assumed.
        prior: Prior,
    },
    /// No sowing of this lot has taught: it is taken as one of its species' lots, whichever.
    NewLot,
    /// It is taken to be treated as it was the last time.
    TreatedAsBefore {
        /// How.
        treatment: Name,
    },
    /// This species has sprouted in the cold.
    SproutsInTheCold,
    /// It is to be chilled, but what its sowings taught is of seeds that were not.
    ChillUntried,
}

/// One lot's plan.
#[derive(Debug, Clone, PartialEq)]
pub struct LotPlan {
    /// The plant.
    pub species: Name,
    /// The lot; none: seeds that are told apart from no others.
    pub lot: Option<Name>,
    /// What they go through before sowing.
    pub treatment: Option<Name>,
    /// What counts as sprouted.
    pub event: Event,
    /// What is said of light.
    pub light: Option<String>,
    /// The grower's note.
    pub note: Option<String>,
    /// How many sprouts live.
    pub survival: Survival,
    /// Days in the cold before sowing.
    pub chill: Option<Chill>,
    /// Spot by spot: those that can be sown last first.
    pub spots: Vec<SpotPlan>,
    /// What to know.
    pub notes: Vec<PlanNote>,
}

/// Lots that are chilled and come out of the cold on one day.
#[derive(Debug, Clone, PartialEq)]
pub struct Together {
    /// The day that suits them all.
    pub out: NaiveDate,
    /// The places of the lots in the plan, with the day each goes in: the first one first.
    pub lots: Vec<(usize, NaiveDate)>,
}

/// The plan.
#[derive(Debug, Clone, PartialEq)]
pub struct PlanAnswer {
    /// As of when.
    pub as_of: Time,
    /// The local day of that.
    pub today: NaiveDate,
    /// What was wished.
    pub wish: PlanWish,
    /// The day on which enough are to be up.
    pub up_by: NaiveDate,
    /// Lot by lot.
    pub lots: Vec<LotPlan>,
    /// Lots that can come out of the cold together.
    pub together: Option<Together>,
}

impl DateSpread {
    /// Of days counted from `today`, of which some may be past (−∞) or never (∞); whole days, rounded down.
    #[must_use]
    pub fn of(days: &[f64], today: NaiveDate) -> Self {
        let mut sorted = days.to_vec();
        sorted.sort_by(f64::total_cmp);
        let point = |p| {
            let day = quantile_of(&sorted, p);
            (day.is_finite() && day >= 0.0).then(|| today.checked_add_days(Days::new(day as u64))).flatten()
        };
        Self { p10: point(0.1), p50: point(0.5), p90: point(0.9) }
    }

    /// Whether its ends are so far apart, or open, that no date should be told.
    #[must_use]
    pub fn is_wide(&self) -> bool {
        self.p10.zip(self.p90).is_none_or(|(from, until)| (until - from).num_days() > TOO_WIDE_DAYS)
    }
}

impl SowPlan {
    /// Whether its day is too unsure to be told as one. Where the early end is past, its own day stands for that.
    #[must_use]
    pub fn is_wide(&self) -> bool {
        DateSpread { p10: self.latest.p10.or(Some(self.sow)), ..self.latest }.is_wide()
    }
}

impl SpotPlan {
    /// The sowing, where there is one.
    #[must_use]
    pub fn sowing(&self) -> Option<&SowPlan> {
        match &self.outcome {
            Outcome::Sow(plan) => Some(plan),
            _ => None,
        }
    }
}

impl LotPlan {
    /// The spot to sow at: the first in order that can be in time and is no warmer or colder than what the species was sown in here,
    /// else the first that can.
    #[must_use]
    pub fn chosen(&self) -> Option<&SpotPlan> {
        let mut possible = self.spots.iter().filter(|spot| spot.sowing().is_some());
        possible.clone().find(|spot| !spot.outside).or_else(|| possible.next())
    }

    /// What it is called: the lot's name, else the species'.
    #[must_use]
    pub fn name(&self) -> &Name {
        self.lot.as_ref().unwrap_or(&self.species)
    }
}

impl PlanAnswer {
    /// Whether any lot has a day to sow.
    #[must_use]
    pub fn has_dates(&self) -> bool {
        self.lots.iter().any(|lot| lot.chosen().is_some())
    }

    /// Lots that can all come out of the cold on one day: that on which the first of them has to be sown. A lot may lie longer in the
    /// cold than it wants, not shorter. None for fewer than two of them, or where the cold of one would have begun before today.
    #[must_use]
    pub fn together(&self) -> Option<Together> {
        let chilled = self.lots.iter().enumerate();
        let chilled: Vec<(usize, u32, NaiveDate)> =
            chilled.filter_map(|(at, lot)| Some((at, lot.chill?.days, lot.chosen()?.sowing()?.sow))).collect();
        let out = chilled.iter().map(|(_, _, sow)| *sow).min().filter(|_| chilled.len() > 1)?;
        let lots: Option<Vec<(usize, NaiveDate)>> =
            chilled.iter().map(|(at, days, _)| Some((*at, out.checked_sub_days(Days::new(u64::from(*days)))?))).collect();
        let mut lots = lots?;
        lots.sort_by_key(|(at, into)| (*into, *at));
        lots.iter().all(|(_, into)| *into >= self.today).then_some(Together { out, lots })
    }
}

/// What can be said of seeds at a spot whose draws are `sowing`, that can be sown from day `earliest` on (0 is today) and are to be up
/// by day `until`, below 0 where that is past. `mean_c` is the spot's and `optimum_c` the species', °C.
#[must_use]
pub fn plan_at_spot(
    sowing: &Sowing<'_>,
    wish: &PlanWish,
    today: NaiveDate,
    [earliest, until]: [i64; 2],
    [mean_c, optimum_c]: [Option<f64>; 2],
    seed: u64,
) -> Outcome {
    let Some(fewest) = sowing.seeds(wish.plants, wish.confidence, None) else { return Outcome::TooManySeeds };
    let most = Sowing::with_spare(fewest);
    let date = |day: usize| today.checked_add_days(Days::new(day as u64)).unwrap_or(today);
    let (start, up) = (earliest.max(0) as usize, until.max(0) as usize);
    let last = if until >= earliest { sowing.latest(wish.plants, most, wish.confidence, start, up) } else { None };
    let Some(from) = last else {
        let progress = sowing.gained_before(up.max(start + PROGRESS_DAYS).min(sowing.horizon()), PROGRESS_DAYS);
        if median_of(&progress) < PROGRESS {
            let hot = mean_c.zip(optimum_c).is_some_and(|(mean, optimum)| mean > optimum);
            return if hot { Outcome::TooHot } else { Outcome::TooCold };
        }
        let ready = sowing.ready(wish.plants, most, wish.confidence, start);
        let earliest = ready.map(|up| date(up + wish.grow_on_days as usize));
        return Outcome::TooLate { earliest, seeds: most };
    };
    let between = Some((from, up));
    let seeds = sowing.seeds(wish.plants, wish.confidence, between).unwrap_or(most).min(most);
    let [first, half, enough] = sowing.events(wish.plants, seeds, from, seed).map(|days| DateSpread::of(&days, today));
    Outcome::Sow(Box::new(SowPlan {
        sow: date(from),
        seeds,
        fewest_seeds: fewest,
        chance: sowing.chance(wish.plants, seeds, between),
        latest: DateSpread::of(&sowing.latest_days(up), today),
        first,
        half,
        enough,
        chill_in: None,
        pot_on: None,
    }))
}
