//! What may be said of a box, and what should be done: fixed rules on worked-out numbers.

use super::hinge::{HangsOn, Hinge};
use super::moves::{Liked, MoveDoubt, MoveGain};
use super::suspects::Suspect;
use super::{BoxDelay, Caution, ColdAdvice};
use crate::bench::{Check, Name, Trial};
use crate::germination::{Fit, FitWarning, Informant};
use crate::stats::Spread;

/// A finding is said from this chance on.
pub(super) const SAID_FROM: f64 = 0.8;
/// Warmth lost by day, as a share of all lost, from which a cold spot is cold by day too.
const BY_DAY_TOO: f64 = 0.25;
/// Share of the hot hours at night from which a hot spot is hot by night too.
const BY_NIGHT_TOO: f64 = 0.25;
/// Below this share of the warmth needed nothing can be said yet, unless a delay is clear anyway.
const EARLY: f64 = 0.15;
/// Share of the seeds removed mouldy from which the box itself is asked about.
const MOULDY: f64 = 0.15;
/// A move is advised when it gains at least this many days.
const WORTH_DAYS: f64 = 1.0;
/// A move that costs more sprouts than this, at the median, is not advised.
const SPROUTS_SPARED: f64 = 1.0;
/// A spot that is known to do is taken before a faster one that is doubted if it gains this share of the days.
const NEARLY: f64 = 0.5;

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
    /// No other spot was measured for long enough to compare with.
    OthersUnmeasured,
    /// No past sowing of this species has taught anything.
    NothingLearnt,
    /// It has gathered too little warmth.
    LittleWarmth,
    /// The slowness looks like heat, but neither trials nor a published source tell this species' optimum.
    OptimumUnknown,
    /// The difference is within what probes and chance make.
    WithinChance,
    /// It would be gone if a probe that was never calibrated were half a degree off.
    HalfADegree,
    /// It would be gone without readings that are suspect.
    DoubtedReadings,
}

/// What to do next.
#[derive(Debug, Clone, PartialEq)]
pub enum Advice {
    /// Carry it to a faster spot.
    MoveTo(MoveGain),
    /// Try one box there first: the spot is untested for this species.
    TryOne(MoveGain),
    /// A faster spot is full: something would have to make room.
    MakeRoom(MoveGain),
    /// A move now gains little: leave it.
    LeaveIt,
    /// Look for what else slows it, likeliest first.
    LookInside(Vec<Suspect>),
    /// Take out what is mouldy, wet what is dry.
    Tend,
    /// Something about the cold that it stands in or wants.
    Cold(ColdAdvice),
    /// Hold these probes into ice slush.
    Calibrate(Vec<Name>),
    /// See to these probes.
    SeeTo(Vec<Name>),
    /// Sow at two temperatures, or log on.
    LearnMore,
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
        Self { because: Some(because), ..Self::advising(Kind::TooEarlyToTell, None, Some(Advice::LearnMore), None) }
    }

    /// A finding with the caution that goes with its advice, for a box that has stood at `here_c` on average, °C, where that is known.
    #[must_use]
    pub fn advising(kind: Kind, chance: Option<f64>, advice: Option<Advice>, here_c: Option<f64>) -> Self {
        let caution = advice.as_ref().and_then(|advice| advice.caution(here_c));
        Self { kind, chance, because: None, advice, caution }
    }

    /// Nothing can be done for a box that has ended.
    pub fn without_advice(&mut self) {
        (self.advice, self.caution) = (None, None);
    }
}

/// Everything to say of one box. `suspected`: what may be behind slowness that warmth does not explain; `own_sowings`: past sowings
/// of the species that taught something, besides this box; `alone`: why there is no other spot to compare with, where there is none.
#[must_use]
pub fn findings(
    delay: &BoxDelay,
    fit: &Fit,
    trial: &Trial,
    suspected: Vec<Suspect>,
    spot: &Name,
    own_sowings: usize,
    alone: Option<Because>,
) -> Vec<Finding> {
    let mut findings = Vec::new();
    let nothing_learnt = fit.warnings.contains(&FitWarning::NothingLearnt);
    if let Some(hinge) = delay.hinge.as_ref().filter(|_| delay.chance >= SAID_FROM) {
        findings.push(hanging(hinge));
    } else if delay.chance >= SAID_FROM {
        findings.extend(slow(delay, fit));
    } else if let Some(why) = alone {
        findings.push(Finding::too_early(why));
    } else if nothing_learnt {
        findings.push(Finding::too_early(Because::NothingLearnt));
    } else if delay.gathered < EARLY && delay.best_spot.as_ref() != Some(spot) {
        findings.push(Finding::too_early(Because::LittleWarmth));
    } else if delay.chance <= 1.0 - SAID_FROM {
        findings.push(Finding::advising(Kind::OnCourse, Some(1.0 - delay.chance), None, None));
    } else {
        findings.push(Finding::too_early(Because::WithinChance));
    }
    if own_sowings >= 2 && delay.slower_chance >= SAID_FROM && middle(&delay.slower_days) >= WORTH_DAYS {
        let advice = Some(Advice::LookInside(suspected));
        findings.push(Finding::advising(Kind::SlowBeyondTemperature, Some(delay.slower_chance), advice, Some(delay.mean_c)));
    }
    if dry_or_mouldy(&trial.checks, trial.container.seeds) {
        findings.push(Finding::advising(Kind::BoxDryOrMouldy, None, Some(Advice::Tend), Some(delay.mean_c)));
    }
    findings
}

/// No verdict where it hangs on a probe, but what would settle it.
fn hanging(hinge: &Hinge) -> Finding {
    let (because, advice) = match hinge.on {
        HangsOn::HalfADegree => (Because::HalfADegree, Advice::Calibrate(hinge.probes.clone())),
        HangsOn::DoubtedReadings => (Because::DoubtedReadings, Advice::SeeTo(hinge.probes.clone())),
    };
    Finding { advice: Some(advice), ..Finding::too_early(because) }
}

/// A delay that is there: its kind, and what a move would do.
fn slow(delay: &BoxDelay, fit: &Fit) -> Vec<Finding> {
    let lost = &delay.lost;
    let by_heat = middle(&lost.above_optimum);
    let hot = by_heat > 0.5 * (by_heat + middle(&lost.below_base) + middle(&lost.nights) + middle(&lost.days));
    let kind = match (hot, delay.hot_at_night >= BY_NIGHT_TOO, delay.lost_by_day >= BY_DAY_TOO) {
        (true, true, _) => Kind::HotSpot,
        (true, false, _) => Kind::HotHours,
        (false, _, true) => Kind::ColdSpot,
        (false, _, false) => Kind::ColdNights,
    };
    let liked = liked(fit);
    if hot && !optimum_known(fit) {
        return vec![Finding::too_early(Because::OptimumUnknown)];
    }
    let advice = move_advised(&delay.moves, &liked);
    let mut said = vec![Finding::advising(kind, Some(delay.chance), Some(advice.clone()), Some(delay.mean_c))];
    if let Advice::TryOne(_) = advice {
        said.push(Finding::advising(Kind::WarmthMayHarm, None, Some(advice), Some(delay.mean_c)));
    }
    said
}

fn middle(days: &Spread) -> f64 {
    days.p50.unwrap_or(0.0)
}

/// Trials or a published source, not the general prior alone, say where the species is fastest.
fn optimum_known(fit: &Fit) -> bool {
    !matches!(fit.estimates.optimum.informed_by, None | Some(Informant::Prior))
}

/// What the species of a fit is known to sprout well in.
#[must_use]
pub fn liked(fit: &Fit) -> Liked {
    Liked::of(fit, optimum_known(fit))
}

/// The move that gains most days among those nothing speaks against; else the fastest one, with what speaks against it.
fn move_advised(moves: &[MoveGain], liked: &Liked) -> Advice {
    // "Never" at the present spot and a date there is the greatest gain.
    let sooner = |gain: &MoveGain| gain.days.p50.unwrap_or(f64::INFINITY);
    let worth = |gain: &&MoveGain| sooner(gain) >= WORTH_DAYS && gain.sprouts.p50.is_none_or(|more| more > -SPROUTS_SPARED);
    let grave = |gain: &MoveGain| liked.doubts(gain).into_iter().find(|doubt| *doubt != MoveDoubt::OutsideKnown);
    let fastest = moves.iter().filter(worth).max_by(|a, b| sooner(a).total_cmp(&sooner(b)));
    let sure = moves.iter().filter(worth).filter(|gain| grave(gain).is_none()).max_by(|a, b| sooner(a).total_cmp(&sooner(b)));
    match (fastest, sure) {
        (Some(fastest), Some(sure)) if sooner(sure) >= NEARLY * sooner(fastest) || sooner(sure).is_infinite() => {
            Advice::MoveTo(sure.clone())
        }
        (Some(fastest), _) => match grave(fastest) {
            Some(MoveDoubt::Full) => Advice::MakeRoom(fastest.clone()),
            Some(MoveDoubt::TooHot | MoveDoubt::Untested) => Advice::TryOne(fastest.clone()),
            Some(MoveDoubt::OutsideKnown) | None => Advice::MoveTo(fastest.clone()),
        },
        (None, _) => Advice::LeaveIt,
    }
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
