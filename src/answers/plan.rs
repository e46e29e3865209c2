//! When and how much to sow next.

mod meant;
mod warmth;

pub use self::meant::PlanFault;

use chrono::{Days, NaiveDate};

use self::meant::{Kind, spots};
use self::warmth::SpotCourse;
use super::fit::Assumption;
use super::forecast::{OUTSIDE_C, beyond, nothing_learnt};
use super::present::weather;
use super::{Known, Shelf};
use crate::bench::{Bench, Container, Event, Name, SpotKind, Trial};
use crate::civil::{Time, local_date};
use crate::experiment::plan::{
    Chill, ChillSource, LotPlan, Outcome, PlanAnswer, PlanNote, PlanWish, Sowing, SpotPlan, Survival, chill_days_in, plan_at_spot,
};
use crate::forecast::{Assumed, PottingOn, Weather};
use crate::germination::{Fit, Needs, Question};
use crate::stats::{parallel_map, seed_of};

/// How far the temperatures are followed beyond the wished day, for the first day that could be met.
const BEYOND_DAYS: i64 = 200;
/// The weeks before the plants are to be up, in which their warmth counts.
const WINDOW_DAYS: usize = 45;

/// What is asked.
#[derive(Debug, Clone, PartialEq)]
pub struct PlanQuestion {
    /// The plant, where no lots are named.
    pub species: Option<Name>,
    /// The lots; none: all of the plant, or what is told apart from no others.
    pub lots: Vec<Name>,
    /// What they go through before sowing; none: what the last sowing went through.
    pub treatment: Option<Name>,
    /// What counts as sprouted; none: what the last sowing was watched for.
    pub event: Option<Event>,
    /// The spots; none: all where something is known.
    pub spots: Vec<Name>,
    /// What is wished.
    pub wish: PlanWish,
    /// Share of the sprouts that live, 0 to 1; none: by what is on record.
    pub survival: Option<f64>,
    /// Days of chilling; none: as lot, treatment or the last sowing say.
    pub chill_days: Option<u32>,
    /// What is assumed of temperatures to come.
    pub assumed: Vec<Assumed>,
}

/// Days from now that a plan for seeds to be up in `up_days` looks at.
#[must_use]
pub fn plan_horizon_days(up_days: i64) -> usize {
    (up_days.max(0) + BEYOND_DAYS) as usize
}

/// Plans the next sowing.
///
/// # Errors
/// [`PlanFault`], where a name means nothing.
pub fn plan(known: &Known, question: &PlanQuestion, shelf: &mut Shelf<'_>) -> Result<PlanAnswer, PlanFault> {
    let planner = Planner::new(known, question)?;
    let lots = planner.lots()?;
    let mut kinds: Vec<(Kind<'_>, Option<Fit>, Vec<SpotCourse>)> = Vec::new();
    let mut planned = Vec::with_capacity(lots.len());
    for (species, lot) in &lots {
        let kind = planner.kind(species, *lot);
        let at = match kinds.iter().position(|(other, ..)| other.key() == kind.key()) {
            Some(at) => at,
            None => {
                let fit = planner.fit(&kind, shelf);
                let courses = fit.as_ref().map_or_else(Vec::new, |fit| planner.courses(&kind, fit));
                kinds.push((kind.clone(), fit, courses));
                kinds.len() - 1
            }
        };
        let (_, fit, courses) = &kinds[at];
        let fit = fit.as_ref().ok_or_else(|| PlanFault::NoFit((*species).clone()))?;
        planned.push(planner.lot(&kind, fit, courses));
    }
    let mut answer = PlanAnswer {
        as_of: known.now,
        today: planner.today,
        wish: question.wish.clone(),
        up_by: planner.up_by(),
        lots: planned,
        together: None,
    };
    answer.together = answer.together();
    Ok(answer)
}

struct Planner<'a> {
    known: &'a Known,
    question: &'a PlanQuestion,
    today: NaiveDate,
    /// Days from now until enough are to be up; below 0 where that is past.
    until: i64,
    horizon: usize,
    spots: Vec<&'a Name>,
    weather: Vec<Weather>,
}

impl<'a> Planner<'a> {
    fn new(known: &'a Known, question: &'a PlanQuestion) -> Result<Self, PlanFault> {
        let today = local_date(known.now, known.bench.zone);
        let until = (question.wish.by - today).num_days() - i64::from(question.wish.grow_on_days);
        Ok(Self {
            known,
            question,
            today,
            until,
            horizon: plan_horizon_days(until),
            spots: spots(known, &question.spots)?,
            weather: weather(),
        })
    }

    fn up_by(&self) -> NaiveDate {
        let wish = &self.question.wish;
        wish.by.checked_sub_days(Days::new(u64::from(wish.grow_on_days))).unwrap_or(wish.by)
    }

    fn fit(&self, kind: &Kind<'_>, shelf: &mut Shelf<'_>) -> Option<Fit> {
        let bench = &self.known.bench;
        let own =
            bench.trials.values().filter(|trial| (&trial.container.species, trial.container.event) == (kind.species, kind.event));
        let own: Vec<&Trial> = own.filter(|trial| !trial.checks.is_empty()).collect();
        let question = Question { prior: Assumption::BestKnown.of(bench, kind.species, kind.event), ..Question::default() };
        Some(shelf.fit(self.known, kind.species, kind.event, &own, question)?.0)
    }

    /// The boxes that a lot's seeds would be shared out over, as any new ones.
    fn boxes(&self, kind: &Kind<'_>, fit: &Fit, mean_c: Option<f64>) -> Vec<Vec<Needs>> {
        let taken = |name: &Name| self.known.bench.trials.contains_key(name);
        let names = (1..).filter_map(|at| Name::new(&format!("planned {at}")).ok()).filter(|name| !taken(name));
        let of = |name: Name| {
            let container = Container {
                lot: kind.lot.cloned(),
                treatment: kind.treatment.clone(),
                event: kind.event,
                ..Container::new(name.clone(), name, kind.species.clone(), kind.species.clone(), self.known.now)
            };
            fit.needs_of(&container, mean_c).into_iter().map(|needs| needs.own).collect()
        };
        names.take(self.question.wish.boxes.max(1) as usize).map(of).collect()
    }

    fn lot(&self, kind: &Kind<'_>, fit: &Fit, courses: &[SpotCourse]) -> LotPlan {
        let (known, question) = (self.known, self.question);
        let trials = || known.bench.trials.values();
        let own = || trials().filter(|trial| trial.container.species == *kind.species);
        let survival = question.survival.map_or_else(|| Survival::learnt(own(), trials()), Survival::given);
        let (chill, untried) = self.chill(kind);
        let potting = PottingOn::learnt(own(), trials());
        let lives = survival.draws(self.weather.len(), seed_of("survival"));
        let mut spots = parallel_map(courses, |course| {
            let mut plan = self.spot(kind, fit, course, &lives, chill);
            if let (Outcome::Sow(sowing), Some(potting)) = (&mut plan.outcome, &potting) {
                let days = Days::new(potting.usual_days().round() as u64);
                let pot_on = sowing.half.p50.and_then(|half| half.checked_add_days(days));
                sowing.pot_on = pot_on.filter(|pot_on| *pot_on < question.wish.by);
            }
            plan
        });
        // Where it can be sown last comes first, then where it would soonest be ready.
        let order = |spot: &SpotPlan| match &spot.outcome {
            Outcome::Sow(plan) => (0, -(plan.sow - self.today).num_days(), i64::from(plan.seeds)),
            Outcome::TooLate { earliest: Some(earliest), seeds } => (1, (*earliest - self.today).num_days(), i64::from(*seeds)),
            Outcome::TooLate { earliest: None, .. } => (2, 0, 0),
            Outcome::TooHot | Outcome::TooCold | Outcome::TooManySeeds => (3, 0, 0),
            Outcome::Unknown => (4, 0, 0),
        };
        spots.sort_by(|one, other| (order(one), &one.spot).cmp(&(order(other), &other.spot)));
        let lot = kind.lot.and_then(|lot| known.bench.lots.get(lot)).filter(|lot| lot.species == *kind.species);
        let mut notes = Vec::new();
        if nothing_learnt(fit) {
            notes.push(PlanNote::AllAssumed { prior: fit.question.prior });
        } else if fit.trials.iter().all(|trial| trial.lot.as_ref() != kind.lot) {
            notes.push(PlanNote::NewLot);
        }
        if let Some(treatment) = kind.treatment.clone().filter(|_| question.treatment.is_none()) {
            notes.push(PlanNote::TreatedAsBefore { treatment });
        }
        if known.has_sprouted_in_cold(kind.species, kind.event) {
            notes.push(PlanNote::SproutsInTheCold);
        }
        if untried {
            notes.push(PlanNote::ChillUntried);
        }
        LotPlan {
            species: kind.species.clone(),
            lot: kind.lot.cloned(),
            treatment: kind.treatment.clone(),
            event: kind.event,
            light: lot.and_then(|lot| lot.light.clone()),
            note: lot.and_then(|lot| lot.note.clone()),
            survival,
            chill,
            spots,
            notes,
        }
    }

    fn spot(&self, kind: &Kind<'_>, fit: &Fit, course: &SpotCourse, lives: &[f64], chill: Option<Chill>) -> SpotPlan {
        let mut plan = SpotPlan {
            spot: course.spot.clone(),
            basis: course.basis,
            mean_c: course.mean_c,
            outside: false,
            outcome: Outcome::Unknown,
        };
        if course.courses.is_empty() {
            return plan;
        }
        let boxes = self.boxes(kind, fit, course.mean_c);
        let family = fit.question.distribution;
        let sowing = Sowing { family, boxes: &boxes, courses: &course.courses, survival: lives };
        let chilled = chill.map_or(0, |chill| i64::from(chill.days));
        let seed = seed_of(&format!("{} at {}", kind.lot.unwrap_or(kind.species), course.spot));
        let warmth = [course.mean_c, fit.estimates.optimum.estimate];
        plan.outcome = plan_at_spot(&sowing, &self.question.wish, self.today, [chilled, self.until], warmth, seed);
        if let Outcome::Sow(sowing) = &mut plan.outcome {
            sowing.chill_in = chill.and_then(|chill| sowing.sow.checked_sub_days(Days::new(u64::from(chill.days))));
        }
        let valid = fit.valid_c.filter(|_| !nothing_learnt(fit));
        plan.outside = valid.zip(course.mean_c).is_some_and(|(valid, mean)| beyond(valid, mean) > OUTSIDE_C);
        plan
    }

    /// The chilling of a lot, and whether what was learnt is of seeds that had none.
    fn chill(&self, kind: &Kind<'_>) -> (Option<Chill>, bool) {
        let bench = &self.known.bench;
        let by_lot = || kind.lot.and_then(|lot| bench.lots.get(lot)?.chill_days).map(|days| days.ceil() as u32);
        let by_name = || kind.treatment.as_ref().and_then(|treatment| chill_days_in(treatment.as_str()));
        let before = kind.like.map_or(0, |like| cold_days(bench, like, self.known.end_of(like)));
        let chill = self
            .question
            .chill_days
            .map(|days| (days, ChillSource::Given))
            .or_else(|| Some((by_lot()?, ChillSource::Lot)))
            .or_else(|| Some((by_name()?, ChillSource::Treatment)))
            .unwrap_or((before, ChillSource::Records));
        let (days, source) = chill;
        let untried = days > 0 && before == 0 && by_name().is_none() && kind.like.is_some_and(|like| !like.checks.is_empty());
        ((days > 0).then_some(Chill { days, source }), untried)
    }
}

/// Whole days that a box's seeds spent at cold spots before they left them.
fn cold_days(bench: &Bench, trial: &Trial, end: Time) -> u32 {
    let history = bench.history(trial, end);
    let cold =
        history.iter().filter(|stay| bench.spots.get(stay.spot).is_some_and(|spot| spot.kind_at(stay.from) == SpotKind::Fridge));
    let hours: i64 = cold.map(|stay| (stay.until - stay.from).num_hours()).sum();
    u32::try_from((hours + 12) / 24).unwrap_or(0)
}
