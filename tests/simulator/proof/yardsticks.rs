//! Forecasters to measure by: an oracle, one who knows everything but the weather to come, and plain calendar days.

use chrono::{DateTime, Duration, Utc};

use super::AHEAD;
use super::counts::{Levels, quantiles};
use crate::simulator::random::Stream;
use crate::simulator::world::seeds::Needs;
use crate::simulator::world::weather::Track;
use crate::simulator::world::{AHEAD_DAYS, TrueBox, World, days, mouldy_by};

/// Futures that the weather is drawn from.
const FUTURES: usize = 40;

/// A box as it stands when it is asked about.
pub(crate) struct Standing<'a> {
    pub(crate) world: &'a World,
    pub(crate) one: &'a TrueBox,
    pub(crate) now: DateTime<Utc>,
    /// Sprouts seen.
    pub(crate) seen: u32,
    /// Sound unsprouted seeds as far as anybody knows.
    pub(crate) left: u32,
    /// The last look, or when warmth began to count.
    pub(crate) last_look: DateTime<Utc>,
}

impl<'a> Standing<'a> {
    /// None for a box that was not there yet, still in the cold, or of which nothing is left.
    pub(crate) fn of(world: &'a World, one: &'a TrueBox, now: DateTime<Utc>) -> Option<Self> {
        let looks = one.looks_by(now);
        let (mut seen, mut gone) = (0, 0);
        for look in looks {
            seen += look.sprouted;
            gone += look.removed + look.lost;
        }
        let left = one.seeds - seen - gone;
        let last_look = looks.last().map_or(one.warm_from, |look| look.time);
        (one.season == world.present() && one.warm_from < now && left > 0).then_some(Self {
            world,
            one,
            now,
            seen,
            left,
            last_look,
        })
    }

    /// What a seed has gathered by the last look, and by each of [`AHEAD`] days from now if it goes on as `ahead`: °C·d by `rate`
    /// of the seeds' temperature plus `past_c` up to now, of that in `ahead` plus `ahead_c` from then on.
    pub(crate) fn gathered(
        &self,
        rate: &dyn Fn(f64) -> f64,
        past_c: f64,
        ahead: &Track,
        ahead_c: f64,
    ) -> (f64, [f64; AHEAD.len()]) {
        let past = |from, until| self.world.gathered(self.one, from, until, &|celsius| rate(celsius + past_c));
        let by_look = past(self.one.warm_from, self.last_look);
        let (mut sum, mut from) = (by_look + past(self.last_look, self.now), self.now);
        let by_day = AHEAD.map(|day| {
            let until = self.now + Duration::days(day as i64);
            sum += ahead.gained(from, until, |celsius| rate(celsius + ahead_c));
            from = until;
            sum
        });
        (by_look, by_day)
    }

    /// The chance of a seed that is left to sprout by each of [`AHEAD`] days from now, knowing how dead seeds turn mouldy.
    ///
    /// # Formula
    /// ```text
    /// p = π (F(Θ) − F(Θₖ)) / (π (1 − F(Θₖ)) + (1 − π)(1 − M))      k: the last look; M: share of dead seeds taken out by then
    /// ```
    fn chances(&self, needs: &Needs, ahead: &Track) -> [f64; AHEAD.len()] {
        let (by_look, by_day) = self.gathered(&|celsius| needs.rate(celsius), 0.0, ahead, 0.0);
        let (germinable, passed) = (needs.germinable(), needs.share(by_look));
        let mouldy = if self.last_look > self.one.warm_from { mouldy_by(self.one.age_days(self.last_look)) } else { 0.0 };
        let there = germinable * (1.0 - passed) + (1.0 - germinable) * (1.0 - mouldy);
        by_day.map(|thermal| germinable * (needs.share(thermal) - passed) / there)
    }

    /// What chances of each seed left, each set as likely, come to in counts.
    pub(crate) fn told(&self, chances: &[[f64; AHEAD.len()]]) -> [Levels; AHEAD.len()] {
        std::array::from_fn(|at| quantiles(self.seen, self.left, &chances.iter().map(|chances| chances[at]).collect::<Vec<_>>()))
    }

    /// Knows the box's true needs and the temperatures to come.
    pub(crate) fn oracle(&self) -> [Levels; AHEAD.len()] {
        self.told(&[self.oracle_chances()])
    }

    /// What the oracle takes each seed's chances to be.
    pub(crate) fn oracle_chances(&self) -> [f64; AHEAD.len()] {
        self.chances(&self.one.needs, &self.world.seasons[self.one.season].tracks[self.one.spot])
    }

    /// Knows the box's true needs, and how weather is made, but not what it will be.
    pub(crate) fn without_the_weather(&self, futures: &Futures) -> [Levels; AHEAD.len()] {
        let chances: Vec<_> = futures.0.iter().map(|spots| self.chances(&self.one.needs, &spots[self.one.spot])).collect();
        self.told(&chances)
    }

    /// Goes by the days that past sowings of the species took, whatever their warmth; none without any.
    pub(crate) fn calendar(&self) -> Option<[Levels; AHEAD.len()]> {
        let past: Vec<&TrueBox> = self.world.boxes.iter().filter(|other| self.is_past(other)).collect();
        let seeds: u32 = past.iter().map(|other| other.seeds).sum();
        let share = |age: f64| {
            let looks = past.iter().flat_map(|other| other.looks.iter().filter(move |look| other.age_days(look.time) <= age));
            f64::from(looks.map(|look| look.sprouted).sum::<u32>()) / f64::from(seeds)
        };
        let (passed, age) = (share(self.one.age_days(self.last_look)), self.one.age_days(self.now));
        let chance = |day: usize| {
            let more = share(age + day as f64) - passed;
            if more > 0.0 { more / (1.0 - passed) } else { 0.0 }
        };
        (seeds > 0).then(|| AHEAD.map(|day| quantiles(self.seen, self.left, &[chance(day)])))
    }

    fn is_past(&self, other: &TrueBox) -> bool {
        other.season < self.one.season && other.species == self.one.species
    }

    /// Days since warmth counts.
    pub(crate) fn age_days(&self) -> f64 {
        days(self.now - self.one.warm_from)
    }
}

/// Weather as it might come from a time on, at every spot but the fridge, which stands last.
pub(crate) struct Futures(Vec<Vec<Track>>);

impl Futures {
    pub(crate) fn new(world: &World, now: DateTime<Utc>) -> Self {
        let mut random = Stream::new(world.seed, &format!("futures {}", now.timestamp()));
        let weather = &world.seasons[world.present()].weather;
        let draw = |_| {
            let weather = weather.redrawn_from(now, &world.spots, &mut random);
            let warm = &world.spots[..world.spots.len() - 1];
            warm.iter().enumerate().map(|(at, spot)| weather.ahead(at, spot, now, AHEAD_DAYS)).collect()
        };
        Self((0..FUTURES).map(draw).collect())
    }
}
