//! What is said of a container's chilling, and what is to be done now: fixed rules on what was counted.

use chrono::Duration;

use super::{ChillDays, Chilled, PlanBy, Spell, ToldBy};
use crate::bench::{Name, SpotKind, Trial};
use crate::civil::Time;
use crate::diagnosis::{Advice, Finding, Kind};
use crate::forecast::{ColdLack, ColdWantedBy};

/// A plan missed by less than this, in days, was kept.
const SHORT_DAYS: f64 = 0.5;
/// Time too warm to count is worth a word from this share of the time in the cold on, or from so many hours of the last days.
const WARM_SHARE: f64 = 0.1;
const WARM_HOURS: f64 = 6.0;
/// Days in the cold of which nothing is known are worth a word from this share of the time on.
const UNKNOWN_SHARE: f64 = 0.1;
/// Seeds of which this share has sprouted were chilled enough.
const SPROUTED_ENOUGH: f64 = 0.5;
/// What happened in the cold is called to mind for so many days, and what is due so many days ahead.
const TOLD_DAYS: i64 = 7;

/// What to do about a container's chilling.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum ColdAdvice {
    /// Put it back into the cold for so many days more.
    PutBack {
        /// Days.
        days: f64,
    },
    /// Leave it in the warm: some have sprouted.
    LeaveInWarm,
    /// Take the sprouts out of the cold now.
    TakeSproutsOut,
    /// Take it out when the plan is done.
    TakeOutWhenDone,
    /// The plan is done: take it out, or leave it until there is room.
    GoOrHold,
    /// Put a probe in, or say what temperature is set.
    PutProbeIn,
    /// The place is too cold.
    SetWarmer,
    /// The place is too warm.
    SetColder,
    /// Dry seeds have to be wetted.
    Wet,
}

/// Something to do about a container in the cold.
#[derive(Debug, Clone, PartialEq)]
pub struct ChillTodo {
    /// The container.
    pub container: Name,
    /// Where it stands.
    pub spot: Name,
    /// What.
    pub what: ColdEvent,
}

/// What calls for something to be done about a container in the cold.
#[derive(Debug, Clone, PartialEq)]
pub enum ColdEvent {
    /// Its days are done, or will be within a week.
    Done {
        /// When.
        when: Time,
        /// How many days were wanted.
        days: f64,
    },
    /// Some have sprouted there.
    Sprouts {
        /// How many are there still.
        sprouts: u32,
    },
    /// It froze lately.
    Froze {
        /// The last time.
        last: Spell,
        /// Hours of the last week in all.
        hours: f64,
    },
    /// It was too warm to count lately.
    TooWarm {
        /// Hours of the last week.
        hours: f64,
    },
}

impl Chilled {
    /// It stands in the cold now.
    #[must_use]
    pub fn is_in_cold(&self) -> bool {
        self.since.is_some() && self.left.is_none()
    }

    /// Days still to go by the plan; none without a plan.
    #[must_use]
    pub fn to_go(&self) -> Option<f64> {
        let plan = self.plan?;
        Some((plan.days - self.by_label.unwrap_or(self.counted.days)).max(0.0))
    }

    /// The plan was missed, whatever probes and guesses may be off by.
    #[must_use]
    pub fn is_short(&self) -> bool {
        let may_be = self.by_label.unwrap_or(self.counted.at_most + self.counted.unknown);
        self.plan.is_some_and(|plan| may_be < plan.days - SHORT_DAYS)
    }

    /// What seeds that were brought into the warm, or never were in the cold, lack of what they are known to want; none where nothing is
    /// lacking for certain, or where enough of them have sprouted without it.
    #[must_use]
    pub fn lack(&self, trial: &Trial) -> Option<ColdLack> {
        let plan = self.plan.filter(|_| !self.is_in_cold() && self.is_short() && !sprouted_enough(trial))?;
        let by = match plan.by {
            PlanBy::Treatment => ColdWantedBy::Treatment,
            PlanBy::Lot => ColdWantedBy::Lot,
        };
        Some(ColdLack { wanted_days: plan.days, had_days: self.by_label.unwrap_or(self.counted.days), by })
    }

    /// Whether the plan was kept cannot be said.
    fn may_be_short(&self) -> bool {
        self.to_go().is_some_and(|days| days > SHORT_DAYS) && !self.is_short()
    }
}

/// What is said of a container's chilling as of `now`; nothing of one that has ended.
#[must_use]
pub fn chilling_findings(chilled: &Chilled, trial: &Trial, now: Time) -> Vec<Finding> {
    if trial.ended_at(now).is_some() {
        return Vec::new();
    }
    if chilled.is_in_cold() { in_the_cold(chilled, now) } else { out_of_the_cold(chilled, trial) }
}

fn said(kind: Kind, advice: Option<ColdAdvice>) -> Finding {
    Finding::advising(kind, None, advice.map(Advice::Cold), None)
}

fn in_the_cold(chilled: &Chilled, now: Time) -> Vec<Finding> {
    let mut findings = Vec::new();
    if chilled.sprouts_there > 0 {
        findings.push(said(Kind::SproutsInCold, Some(ColdAdvice::TakeSproutsOut)));
    }
    if !chilled.frozen.is_empty() {
        findings.push(said(Kind::ChillingFrozen, Some(ColdAdvice::SetWarmer)));
    }
    if chilled.dry_treatment {
        findings.push(said(Kind::ChillingShort, Some(ColdAdvice::Wet)));
        return findings;
    }
    let counted = &chilled.counted;
    let untold = chilled.told == ToldBy::Nobody || counted.unknown > UNKNOWN_SHARE * counted.elapsed;
    if chilled.too_warm {
        findings.push(said(Kind::ChillingWarm, Some(ColdAdvice::SetColder)));
    }
    let done = chilled.done.is_some_and(|done| done <= now);
    if done {
        findings.push(said(Kind::ChillingDone, Some(ColdAdvice::GoOrHold)));
    } else if untold {
        findings.push(said(Kind::ChillingUnknown, Some(ColdAdvice::PutProbeIn)));
    } else {
        let advice = chilled.done.map(|_| ColdAdvice::TakeOutWhenDone);
        findings.push(said(Kind::ChillingOnCourse, advice));
    }
    findings
}

/// So many have sprouted that cold is not what they want.
#[must_use]
pub fn sprouted_enough(trial: &Trial) -> bool {
    trial.container.seeds.is_some_and(|seeds| f64::from(trial.sprouted()) >= SPROUTED_ENOUGH * f64::from(seeds))
}

fn out_of_the_cold(chilled: &Chilled, trial: &Trial) -> Vec<Finding> {
    if sprouted_enough(trial) {
        return Vec::new();
    }
    let mut findings = Vec::new();
    if chilled.is_short() {
        let advice = match (trial.sprouted(), chilled.to_go()) {
            (0, Some(days)) => ColdAdvice::PutBack { days },
            _ => ColdAdvice::LeaveInWarm,
        };
        findings.push(said(Kind::ChillingShort, Some(advice)));
    } else if chilled.may_be_short() {
        findings.push(said(Kind::ChillingUnknown, None));
    }
    if !chilled.frozen.is_empty() {
        findings.push(said(Kind::ChillingFrozen, None));
    }
    findings
}

/// Whether a fridge is too warm for what stands there.
pub(super) fn too_warm(warm: &[Spell], counted: &ChillDays, now: Time) -> bool {
    let hours: f64 = warm.iter().map(|spell| spell.hours).sum();
    hours >= WARM_HOURS && hours / 24.0 > WARM_SHARE * counted.elapsed || lately(warm, now).1 >= WARM_HOURS
}

/// The last spell of the last week, and the hours of all of that week.
fn lately(spells: &[Spell], now: Time) -> (Option<&Spell>, f64) {
    let since = now - Duration::days(TOLD_DAYS);
    let of_week = |spell: &&Spell| spell.until > since;
    (spells.iter().rev().find(of_week), spells.iter().filter(of_week).map(|spell| spell.hours).sum())
}

/// What is to be done about a container that stands in a fridge, as of `now`.
#[must_use]
pub fn chilling_todo(chilled: &Chilled, trial: &Trial, now: Time) -> Vec<ChillTodo> {
    let Some(spot) = chilled.spot.as_ref().filter(|_| chilled.is_in_cold()) else { return Vec::new() };
    let mut events = Vec::new();
    if chilled.sprouts_there > 0 {
        events.push(ColdEvent::Sprouts { sprouts: chilled.sprouts_there });
    }
    if let (Some(last), hours) = lately(&chilled.frozen, now) {
        events.push(ColdEvent::Froze { last: last.clone(), hours });
    }
    if let (Some(_), hours) = lately(&chilled.warm, now)
        && hours >= WARM_HOURS
    {
        events.push(ColdEvent::TooWarm { hours });
    }
    // Out of doors nobody carries a pot away because its days are done.
    let due = chilled.done.filter(|done| chilled.kind == SpotKind::Fridge && *done - now <= Duration::days(TOLD_DAYS));
    if let (Some(when), Some(plan)) = (due, chilled.plan) {
        events.push(ColdEvent::Done { when, days: plan.days });
    }
    let todo = |what| ChillTodo { container: trial.container.name.clone(), spot: spot.clone(), what };
    events.into_iter().map(todo).collect()
}
