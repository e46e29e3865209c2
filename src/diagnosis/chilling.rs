//! Moist chilling, counted from what was on record where the seeds stood since they were wetted.

mod count;
mod plan;
mod said;

use chrono::Duration;

pub use count::{CHILLS_FROM_C, CHILLS_TO_C, ChillDays, Spell, Stood, ToldBy};
use count::{FREEZES_BELOW_C, Piece, outside, pace, pieces, reached, spells, sum};
pub use plan::{ChillPlan, PlanBy, TreatmentCold, cold_alone, cold_in_words};
use said::too_warm;
pub use said::{ChillTodo, ColdAdvice, ColdEvent, chilling_findings, chilling_todo, sprouted_enough};

use crate::bench::{Check, Lot, Name, SpotKind, Trial};
use crate::civil::{Time, Zone, time_from_micros};
use crate::germination::{Estimate, Longer};
use crate::units::{MICROS_PER_DAY, MICROS_PER_HOUR};

/// Where less than this share of the time counts, no end is in sight.
const LEAST_PACE: f64 = 0.05;
/// A record that begins so long after the seeds went into the cold begins late.
const LATE_US: i64 = 12 * MICROS_PER_HOUR;

/// How a container's seeds were, or are being, chilled.
#[derive(Debug, Clone, PartialEq)]
pub struct Chilled {
    /// The zone that its dates are said in.
    pub zone: Zone,
    /// When the seeds were wetted. Cold before that, as of a packet in a drawer, is no chilling.
    pub wetted: Time,
    /// When they first came to a cold spot; none: never.
    pub since: Option<Time>,
    /// Where they stood in the cold last.
    pub spot: Option<Name>,
    /// What kind of place that is.
    pub kind: SpotKind,
    /// When they left the cold; none: they are there still, or never were.
    pub left: Option<Time>,
    /// By whose word the present cold spot's temperature is known.
    pub told: ToldBy,
    /// The days.
    pub counted: ChillDays,
    /// Days that the treatment's words say went before, where no stay in the cold is on record.
    pub by_label: Option<f64>,
    /// The treatment says dry: nothing counts.
    pub dry_treatment: bool,
    /// How long they are to be chilled.
    pub plan: Option<ChillPlan>,
    /// When the plan was done, or will be if the spot stays as it is; none: not in sight, or not in the cold any more.
    pub done: Option<Time>,
    /// Share of the time lately at the present cold spot that counted; none where that is not known.
    pub pace: Option<f64>,
    /// Where the record begins well after they came into the cold: when it does.
    pub record_begins: Option<Time>,
    /// Stays out of the cold, in between.
    pub out: Vec<Spell>,
    /// It stands too warm: for a tenth of its time in the fridge, or for six hours of the last week.
    pub too_warm: bool,
    /// Times too warm to count, at a fridge.
    pub warm: Vec<Spell>,
    /// Times at which they froze.
    pub frozen: Vec<Spell>,
    /// Hours below 0 °C that may be the probe's error.
    pub near_frost_hours: f64,
    /// What staying on until the longest time on record did to the share that sprouts, in past sowings; none where none tells.
    pub longer: Option<(Estimate, Longer)>,
    /// Looks in the cold that found it dry.
    pub dry: Vec<Time>,
    /// Sprouts found in the cold.
    pub sprouted_cold: u32,
    /// Of them, as many as may be in it still.
    pub sprouts_there: u32,
}

/// How a trial's seeds were chilled as of `now`, from their stays since they were wetted (`stood`, in order of time). None where they never
/// stood in a fridge and nothing is said of how long they should.
#[must_use]
pub fn chilled(
    trial: &Trial,
    sources: &[&Trial],
    lot: Option<&Lot>,
    stood: &[Stood<'_>],
    now: Time,
    zone: Zone,
) -> Option<Chilled> {
    let plan = plan::plan(trial, lot);
    let words = trial.container.treatment.as_ref().map(|words| cold_in_words(words.as_str()));
    let any_cold = stood.iter().any(Stood::is_cold);
    let fridge = stood.iter().any(|stay| stay.kind == SpotKind::Fridge);
    // What a label says went before is no plan for a box that was never in the cold here.
    let by_label = match words {
        Some(TreatmentCold::Days(days)) if !any_cold => Some(days),
        _ => None,
    };
    let of_lot = lot.and_then(|lot| lot.chill_days).map(|days| ChillPlan { days, by: PlanBy::Lot });
    let plan = if by_label.is_some() { of_lot } else { plan };
    // Put down this very moment it has no story yet.
    if stood.is_empty() || !fridge && plan.is_none() {
        return None;
    }
    let first = stood.iter().position(Stood::is_cold);
    let last = stood.iter().rposition(Stood::is_cold);
    let dry_treatment = words == Some(TreatmentCold::Dry);
    let dry = if dry_treatment { Vec::new() } else { dry_times(trial, sources, stood) };
    let pieces: Vec<(usize, Piece)> = stood
        .iter()
        .enumerate()
        .filter(|(_, stay)| stay.is_cold())
        .flat_map(|(at, stay)| pieces(stay, &dry, dry_treatment).into_iter().map(move |piece| (at, piece)))
        .collect();
    let there = last.filter(|last| stood.get(last + 1).is_none() && trial.ended_at(now).is_none()).map(|last| &stood[last]);
    let pace = there.and_then(|stay| pace(&pieces, stay, now));
    let counted = sum(&pieces, stood);
    let wanted_us = plan.map(|plan| plan.days * MICROS_PER_DAY);
    let reached = wanted_us.and_then(|wanted| reached(&pieces, wanted, first.map(|first| stood[first].from)));
    let to_come = || {
        let (left_us, pace) = (wanted_us? - counted.days * MICROS_PER_DAY, pace.filter(|pace| *pace >= LEAST_PACE)?);
        now.checked_add_signed(Duration::microseconds((left_us.max(0.0) / pace) as i64))
    };
    let done = reached.or_else(|| there.and_then(|_| to_come()));
    let spells = |said: &dyn Fn(&Stood<'_>, &Piece) -> bool, colder: bool| spells(&pieces, stood, said, colder);
    let frozen = spells(&|stay, piece| piece.celsius < FREEZES_BELOW_C - stay.may_be_off_c(), true);
    let warm = spells(&|stay, piece| stay.kind == SpotKind::Fridge && piece.celsius > CHILLS_TO_C + stay.may_be_off_c(), false);
    let near_frost = |(at, piece): &&(usize, Piece)| {
        !piece.is_guess && piece.celsius < FREEZES_BELOW_C && piece.celsius >= FREEZES_BELOW_C - stood[*at].may_be_off_c()
    };
    let near_frost_us: f64 = pieces.iter().filter(near_frost).map(|(_, piece)| piece.length_us()).sum();
    let begins_us = pieces.iter().map(|(_, piece)| piece.from_us).min();
    let late = |begins_us: i64| first.is_some_and(|first| begins_us - stood[first].from.timestamp_micros() > LATE_US);
    let in_fridge =
        |check: &&Check| stood.iter().rev().find(|stay| stay.from <= check.time).is_some_and(|stay| stay.kind == SpotKind::Fridge);
    let sprouted_cold = trial.checks.iter().filter(in_fridge).map(|check| check.sprouted).sum();
    let gone: u32 = trial.checks.iter().map(|check| check.potted_on + check.died).sum();
    let is_there = there.is_some_and(|stay| stay.kind == SpotKind::Fridge);
    Some(Chilled {
        zone,
        wetted: stood.first().map_or(trial.container.sown, |stay| stay.from),
        since: first.map(|first| stood[first].from),
        spot: last.map(|last| stood[last].spot.clone()),
        kind: last.map_or(SpotKind::Indoors, |last| stood[last].kind),
        left: last.filter(|_| there.is_none()).map(|last| stood[last].until),
        told: last.map_or(ToldBy::Nobody, |last| stood[last].told),
        counted,
        by_label,
        dry_treatment,
        plan,
        done,
        pace,
        record_begins: begins_us.filter(|begins| late(*begins)).and_then(time_from_micros),
        out: outside(stood, first, last),
        too_warm: there.is_some() && too_warm(&warm, &counted, now),
        warm,
        frozen,
        near_frost_hours: near_frost_us / MICROS_PER_HOUR as f64,
        longer: None,
        dry: dry.iter().map(|(_, look)| *look).collect(),
        sprouted_cold,
        sprouts_there: if is_there { trial.sprouted().saturating_sub(gone) } else { 0 },
    })
}

/// Times that may have been dry: from the look before one in the cold that found it dry, or from coming there, up to that look.
fn dry_times(trial: &Trial, sources: &[&Trial], stood: &[Stood<'_>]) -> Vec<(Time, Time)> {
    let mut times = Vec::new();
    for one in sources.iter().copied().chain([trial]) {
        let mut before = one.container.sown;
        for check in &one.checks {
            let stay = stood.iter().rev().find(|stay| stay.from <= check.time);
            if let Some(stay) = stay.filter(|stay| stay.is_cold() && is_dry(check)) {
                times.push((before.max(stay.from), check.time));
            }
            before = check.time;
        }
    }
    times.sort_unstable();
    times.dedup();
    times
}

/// The look's condition says dry, and not "not dry".
fn is_dry(check: &Check) -> bool {
    let words = check.condition.as_deref().unwrap_or("").to_lowercase();
    let words: Vec<&str> = words.split(|c: char| !c.is_alphabetic()).filter(|word| !word.is_empty()).collect();
    let dry = |word: &str| word.starts_with("dry") || word.starts_with("dried");
    words.iter().enumerate().any(|(at, word)| dry(word) && (at == 0 || words[at - 1] != "not"))
}

#[cfg(test)]
mod tests;
