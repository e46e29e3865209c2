//! What may be said of a box, and what should be done: fixed rules on worked-out numbers.

use super::{BoxDelay, ColdAdvice, MoveGain};
use crate::bench::{Check, Name};
use crate::germination::{Fit, FitWarning, Informant, TrialSummary};

/// A finding is said from this chance on.
const SAID_FROM: f64 = 0.8;
/// Warmth lost by day, as a share of all lost, from which a cold spot is cold by day too.
const BY_DAY_TOO: f64 = 0.25;
/// Share of the hot hours at night from which a hot spot is hot by night too.
const BY_NIGHT_TOO: f64 = 0.25;
/// A spot this much warmer than any where the species sprouted well is untested, °C.
const WARMER_C: f64 = 1.0;
/// A swing less than this share of the smallest known to do, and this much smaller in °C, is untested.
const STEADIER_SHARE: f64 = 0.5;
const STEADIER_C: f64 = 4.0;
/// A trial that reached this share of the germinable fraction sprouted well.
const WELL: f64 = 0.7;
/// Below this share of the warmth needed nothing can be said yet, unless a delay is clear anyway.
const EARLY: f64 = 0.15;
/// Share of the seeds removed mouldy from which the box itself is asked about.
const MOULDY: f64 = 0.15;
/// A move is advised when it gains at least this many days.
const WORTH_DAYS: f64 = 1.0;

/// What kind of thing is said.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Kind {
    /// As fast as anywhere on this bench.
    OnCourse,
    /// Slow because the spot is cold, by day too.
    ColdSpot,
    /// Slow because its nights are cold.
    ColdNights,
    /// Slow because the spot is too hot.
    HotSpot,
    /// Slow because it is too hot for some hours.
    HotHours,
    /// Slower than its warmth explains.
    SlowBeyondTemperature,
    /// The faster spot is warmer, or steadier, than the species is known to like.
    WarmthMayHarm,
    /// Dryness or mould was noted.
    BoxDryOrMouldy,
    /// Out of the cold before its days of chilling were done, or never there.
    ChillingShort,
    /// In the cold, as it should be.
    ChillingOnCourse,
    /// In the cold, its days done.
    ChillingDone,
    /// Whether it was chilled long enough cannot be said.
    ChillingUnknown,
    /// It froze in the cold.
    ChillingFrozen,
    /// The cold place was too warm to count.
    ChillingWarm,
    /// Some have sprouted in the cold.
    SproutsInCold,
    /// Nothing can be told yet.
    TooEarlyToTell,
}

/// Why nothing can be told.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Because {
    /// There are no temperatures for it.
    NoTemperatures,
    /// It stands in the cold, where its species makes no progress.
    InTheCold,
    /// There is no other spot to compare with.
    OneSpotOnly,
    /// No past sowing of this species has taught anything.
    NothingLearnt,
    /// It has gathered too little warmth.
    LittleWarmth,
    /// The slowness looks like heat, but neither trials nor a published source tell this species' optimum.
    OptimumUnknown,
    /// The difference is within what probes and chance make.
    WithinChance,
}

/// What to do next.
#[derive(Debug, Clone, PartialEq)]
pub enum Advice {
    /// Carry it to a faster spot.
    MoveTo(MoveGain),
    /// Try one box there first: the spot is untested for this species.
    TryOne(MoveGain),
    /// A move now gains little: leave it.
    LeaveIt,
    /// Look for what else slows it: moisture, mould, dormancy, light, depth, age.
    LookInside,
    /// Take out what is mouldy, wet what is dry.
    Tend,
    /// Something about the cold that it stands in or wants.
    Cold(ColdAdvice),
    /// Sow at two temperatures, or log on.
    LearnMore,
}

/// The usual caution that belongs to an advice.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Caution {
    /// Adding warmth with mats or lamps.
    Heat,
    /// Handling mould.
    Mould,
    /// Chilling moist seed.
    Cold,
}

/// One thing said of a box.
#[derive(Debug, Clone, PartialEq)]
pub struct Finding {
    /// What.
    pub kind: Kind,
    /// How sure, 0 to 1; none where no chance applies.
    pub chance: Option<f64>,
    /// Why nothing can be told, where that is what is said.
    pub because: Option<Because>,
    /// What to do.
    pub advice: Option<Advice>,
    /// The caution that goes with it.
    pub caution: Option<Caution>,
}

impl Finding {
    /// "Nothing can be told yet", and why.
    #[must_use]
    pub fn too_early(because: Because) -> Self {
        Self { kind: Kind::TooEarlyToTell, chance: None, because: Some(because), advice: Some(Advice::LearnMore), caution: None }
    }
}

/// Everything to say of one box. `own_sowings`: past sowings of the species that taught something, besides this box.
#[must_use]
pub fn findings(
    delay: &BoxDelay,
    fit: &Fit,
    checks: &[Check],
    seeds: Option<u32>,
    spot: &Name,
    own_sowings: usize,
    spots: usize,
) -> Vec<Finding> {
    let mut findings = Vec::new();
    let nothing_learnt = fit.warnings.contains(&FitWarning::NothingLearnt);
    if delay.chance >= SAID_FROM {
        findings.extend(slow(delay, fit));
    } else if spots < 2 {
        findings.push(Finding::too_early(Because::OneSpotOnly));
    } else if nothing_learnt {
        findings.push(Finding::too_early(Because::NothingLearnt));
    } else if delay.gathered < EARLY && delay.best_spot.as_ref() != Some(spot) {
        findings.push(Finding::too_early(Because::LittleWarmth));
    } else if delay.chance <= 1.0 - SAID_FROM {
        let chance = Some(1.0 - delay.chance);
        findings.push(Finding { kind: Kind::OnCourse, chance, because: None, advice: None, caution: None });
    } else {
        findings.push(Finding::too_early(Because::WithinChance));
    }
    if own_sowings >= 2 && delay.slower_chance >= SAID_FROM && delay.lost.rest >= WORTH_DAYS {
        let advice = Some(Advice::LookInside);
        findings.push(Finding {
            kind: Kind::SlowBeyondTemperature,
            chance: Some(delay.slower_chance),
            because: None,
            advice,
            caution: Some(Caution::Mould),
        });
    }
    if dry_or_mouldy(checks, seeds) {
        let advice = Some(Advice::Tend);
        findings.push(Finding { kind: Kind::BoxDryOrMouldy, chance: None, because: None, advice, caution: Some(Caution::Mould) });
    }
    findings
}

/// A delay that is there: its kind, and what a move would do.
fn slow(delay: &BoxDelay, fit: &Fit) -> Vec<Finding> {
    let lost = &delay.lost;
    let hot = lost.above_optimum > 0.5 * (lost.above_optimum + lost.below_base + lost.nights + lost.days);
    let kind = match (hot, delay.hot_at_night >= BY_NIGHT_TOO, delay.lost_by_day >= BY_DAY_TOO) {
        (true, true, _) => Kind::HotSpot,
        (true, false, _) => Kind::HotHours,
        (false, _, true) => Kind::ColdSpot,
        (false, _, false) => Kind::ColdNights,
    };
    if hot && matches!(fit.estimates.optimum.informed_by, None | Some(Informant::Prior)) {
        return vec![Finding::too_early(Because::OptimumUnknown)];
    }
    let gain = delay.moves.iter().find(|gain| Some(&gain.spot) == delay.best_spot.as_ref());
    let untested = untested(delay, fit);
    let (advice, caution) = match gain {
        Some(gain) if gain.days.p50.is_none_or(|days| days >= WORTH_DAYS) => {
            // Only a move towards warmth adds any.
            let caution = (delay.best_mean_c > delay.mean_c).then_some(Caution::Heat);
            (if untested { Advice::TryOne(gain.clone()) } else { Advice::MoveTo(gain.clone()) }, caution)
        }
        _ => (Advice::LeaveIt, None),
    };
    let mut said = vec![Finding { kind, chance: Some(delay.chance), because: None, advice: Some(advice.clone()), caution }];
    if let Advice::TryOne(gain) = advice {
        said.push(Finding {
            kind: Kind::WarmthMayHarm,
            chance: None,
            because: None,
            advice: Some(Advice::TryOne(gain)),
            caution: Some(Caution::Heat),
        });
    }
    said
}

/// The fastest spot is warmer, or swings much less, than any where the species is known to have sprouted well.
fn untested(delay: &BoxDelay, fit: &Fit) -> bool {
    let usual = fit.estimates.germinable.estimate.unwrap_or(1.0);
    let well: Vec<&TrialSummary> =
        fit.trials.iter().filter(|trial| trial.fraction.is_some_and(|fraction| fraction >= WELL * usual)).collect();
    let warmest = well.iter().filter_map(|trial| trial.mean_c).fold(f64::NEG_INFINITY, f64::max);
    let steadiest = well.iter().map(|trial| trial.swing_c).fold(f64::INFINITY, f64::min);
    delay.best_mean_c > warmest + WARMER_C
        || (delay.best_swing_c < STEADIER_SHARE * steadiest && delay.best_swing_c < steadiest - STEADIER_C)
}

/// The grower noted dryness or mould at one of the last three looks, or many seeds have been taken out mouldy.
fn dry_or_mouldy(checks: &[Check], seeds: Option<u32>) -> bool {
    let noted = |check: &Check| {
        check.condition.as_deref().is_some_and(|word| {
            let word = word.to_lowercase();
            ["dry", "mould", "mold"].iter().any(|sign| word.contains(sign))
        })
    };
    let removed: u32 = checks.iter().map(|check| check.removed).sum();
    checks.iter().rev().take(3).any(noted) || seeds.is_some_and(|seeds| f64::from(removed) >= MOULDY * f64::from(seeds))
}
