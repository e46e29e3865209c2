//! Do plans keep their word? Sowings as the program plans them, on benches whose truth is known: sown on the day told, so many seeds,
//! in a box that differs as boxes do; counted on the wished day.

use chrono::{DateTime, Days, Duration, Utc};
use seedclock::answers::PlanQuestion;
use seedclock::bench::Name;
use seedclock::experiment::plan::{PlanWish, SpotPlan};

use super::asked::Asked;
use crate::simulator::random::Stream;
use crate::simulator::world::seeds::{Differs, Needs};
use crate::simulator::world::{BOX_SD, Mix, TrueBox, World};

/// Plants wanted, days ahead, and how many of 100 sprouts live (told to the program, so that seeds and days are what is tried).
const PLANTS: u32 = 10;
const LIVE: f64 = 0.85;
/// Boxes sown of each plan: the truth about lot, spot and weather is one, the boxes differ.
const SOWINGS: u32 = 20;

/// How a plan came out.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Kept {
    pub(crate) bench: u64,
    pub(crate) days_ahead: u64,
    /// The lot had been sown before.
    pub(crate) lot_known: bool,
    /// The spot had been seen in an earlier season.
    pub(crate) spot_known: bool,
    /// Its day was too unsure to be told as one.
    pub(crate) wide: bool,
    /// Chance that the program stated.
    pub(crate) stated: f64,
    /// Share of the sowings that brought enough plants.
    pub(crate) reached: f64,
    pub(crate) seeds: u32,
}

/// All plans of a bench: each untreated lot that wants no chilling, at each spot, for each of these days ahead.
pub(crate) fn plans(seed: u64, mix: Mix, confidence: f64, ahead: &[u64]) -> Vec<Kept> {
    let world = World::of(seed, mix);
    let asked = Asked::about(&world.folder);
    let now = world.mornings[0];
    let name = |text: &str| Name::new(text).unwrap();
    let mut lots: Vec<(usize, String, Needs)> = Vec::new();
    // What is not on record yet nobody can name.
    let plain = |one: &&TrueBox| one.sown <= now && one.treatment.is_empty() && !world.species[one.species].wants_chilling;
    for one in world.boxes.iter().filter(plain) {
        if lots.iter().all(|(_, lot, _)| *lot != one.lot) {
            lots.push((one.species, one.lot.clone(), one.typical));
        }
    }
    let mut kept = Vec::new();
    for &days_ahead in ahead {
        for (species, lot, typical) in &lots {
            // A treatment is told only where it is one of those on record.
            let question = PlanQuestion {
                species: Some(name(&world.species[*species].name)),
                lots: vec![name(lot)],
                treatment: None,
                event: None,
                spots: Vec::new(),
                wish: PlanWish {
                    plants: PLANTS,
                    by: now.date_naive() + Days::new(days_ahead),
                    confidence,
                    grow_on_days: 0,
                    boxes: 1,
                    frost: None,
                },
                survival: Some(LIVE),
                chill_days: None,
                assumed: Vec::new(),
            };
            let answer = asked.plans(now, &question);
            let planned = &answer.lots[0];
            if planned.treatment.is_some() {
                continue;
            }
            for spot in &planned.spots {
                kept.extend(try_out(&world, now, days_ahead, lot, typical, spot));
            }
        }
    }
    kept
}

fn try_out(world: &World, now: DateTime<Utc>, days_ahead: u64, lot: &str, typical: &Needs, planned: &SpotPlan) -> Option<Kept> {
    let plan = planned.sowing()?;
    let which = world.spots.iter().position(|spot| spot.name == planned.spot.as_str())?;
    let track = &world.seasons[world.present()].tracks[which];
    let from = now + Duration::days((plan.sow - now.date_naive()).num_days());
    let until = now + Duration::days(days_ahead as i64);
    let mut random = Stream::new(world.seed, &format!("{days_ahead} {which} {lot}"));
    let reached = (0..SOWINGS).filter(|_| {
        let differs = Differs {
            ln_requirement: random.normal(BOX_SD.ln_requirement),
            logit_fraction: random.normal(BOX_SD.logit_fraction),
            base_c: 0.0,
        };
        let needs = typical.with(differs);
        let gathered = track.gained(from, until, |celsius| needs.rate(celsius));
        let up = |random: &mut Stream| needs.seed(random).is_some_and(|wants| wants <= gathered);
        let plants = (0..plan.seeds).filter(|_| up(&mut random) && random.chance(LIVE)).count();
        plants as u32 >= PLANTS
    });
    Some(Kept {
        bench: world.seed,
        days_ahead,
        lot_known: world.boxes.iter().any(|other| other.season < world.present() && other.lot == lot),
        spot_known: world.seen_before(which),
        wide: plan.is_wide(),
        stated: plan.chance,
        reached: f64::from(reached.count() as u32) / f64::from(SOWINGS),
        seeds: plan.seeds,
    })
}

/// Mean of `of` over plans, and its standard error with whole benches as units; none where there are fewer than two benches.
pub(crate) fn mean_over_benches(kept: &[Kept], of: impl Fn(&Kept) -> f64) -> Option<(f64, f64)> {
    let mean = kept.iter().map(&of).sum::<f64>() / kept.len().max(1) as f64;
    let mut benches: Vec<u64> = kept.iter().map(|one| one.bench).collect();
    benches.sort_unstable();
    benches.dedup();
    let apart = |bench: &u64| kept.iter().filter(|one| one.bench == *bench).map(|one| of(one) - mean).sum::<f64>();
    let squares: f64 = benches.iter().map(|bench| apart(bench).powi(2)).sum();
    let count = benches.len() as f64;
    (benches.len() > 1).then(|| (mean, (squares * count / (count - 1.0)).sqrt() / kept.len() as f64))
}
