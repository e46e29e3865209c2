//! When and how much to sow next.

use std::collections::BTreeSet;

use chrono::{Days, NaiveDate};
use thiserror::Error;

use super::fit::Assumption;
use super::forecast::{OUTSIDE_C, beyond, nothing_learnt, pace};
use super::own::unsure;
use super::present::{outlook, weather};
use super::{Known, Shelf};
use crate::bench::{Bench, Container, Event, Name, SpotKind, Trial};
use crate::civil::local_date;
use crate::experiment::plan::{
    Basis, Chill, ChillSource, LotPlan, Outcome, PlanAnswer, PlanNote, PlanWish, Sowing, SpotPlan, Survival, chill_days_in,
    plan_at_spot,
};
use crate::forecast::{Ahead, Assumed, Coming, DAYS_AHEAD, EarlierYears, Outlook, PottingOn, Supposed, Weather, earlier_days};
use crate::germination::{Fit, Needs, Question, published};
use crate::stats::{parallel_map, seed_of};
use crate::store::Interval;
use crate::thermal::Stretch;

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

/// Why nothing can be planned.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum PlanFault {
    /// Nothing is known of such a plant.
    #[error(
        "nothing is known of '{species}': no box and no lot on this bench, and no published days; there are {known}\n  next: seedclock lot NAME --species '{species}' with what the packet says"
    )]
    UnknownSpecies {
        /// The name asked for.
        species: Name,
        /// The names on the bench.
        known: String,
    },
    /// There is no such lot.
    #[error("there is no lot '{lot}' on this bench; it has {known}")]
    UnknownLot {
        /// The name asked for.
        lot: Name,
        /// The names on the bench.
        known: String,
    },
    /// A lot is of another plant than the one named.
    #[error("lot '{lot}' is {species}, not {asked}")]
    OtherSpecies {
        /// The lot.
        lot: Name,
        /// What it is.
        species: Name,
        /// What was asked for.
        asked: Name,
    },
    /// There is no such spot.
    #[error("there is no spot '{spot}' on this bench; it has {known}")]
    UnknownSpot {
        /// The name asked for.
        spot: Name,
        /// The names on the bench.
        known: String,
    },
    /// A spot for chilling.
    #[error("'{0}' is a fridge: seeds are chilled there, not sprouted; name the spot where they go afterwards")]
    Fridge(Name),
    /// A fit could not be made.
    #[error("what {0} needs could not be worked out from what is on record")]
    NoFit(Name),
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

/// Seeds of one lot as they are going to be sown.
#[derive(Debug, Clone)]
struct Kind<'a> {
    species: &'a Name,
    lot: Option<&'a Name>,
    event: Event,
    treatment: Option<Name>,
    /// The last sowing that they are like.
    like: Option<&'a Trial>,
}

impl Kind<'_> {
    /// What rates of progress depend on.
    fn key(&self) -> (&Name, Event, Option<&Name>) {
        (self.species, self.event, self.treatment.as_ref())
    }
}

/// What comes at a spot, in thermal time of one kind of seed.
struct SpotCourse {
    spot: Name,
    basis: Option<Basis>,
    mean_c: Option<f64>,
    courses: Vec<Vec<f64>>,
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

    /// The seeds that are planned: plant and lot.
    fn lots(&self) -> Result<Vec<(&'a Name, Option<&'a Name>)>, PlanFault> {
        let bench = &self.known.bench;
        if self.question.lots.is_empty() {
            let Some(species) = &self.question.species else { return Ok(Vec::new()) };
            let known = species_of(bench).contains(species) || published(species, Event::Emergence).is_some();
            if !known {
                let known = listed(species_of(bench));
                return Err(PlanFault::UnknownSpecies { species: species.clone(), known });
            }
            // A friend's lots are learnt from, not sown.
            let friends = bench.friends();
            let own = |lot: &Name| !friends.iter().any(|friend| lot.is_of(friend));
            let lots = lots_of(bench).into_iter().filter(|(lot, of)| *of == species && own(lot));
            let lots: BTreeSet<&Name> = lots.map(|(lot, _)| lot).collect();
            if lots.is_empty() {
                return Ok(vec![(species, None)]);
            }
            return Ok(lots.into_iter().map(|lot| (species, Some(lot))).collect());
        }
        let of = |lot: &'a Name| {
            let found = lots_of(bench).into_iter().filter(|(name, _)| *name == lot);
            let mut found: Vec<&Name> = found.map(|(_, species)| species).collect();
            // A lot's name may be used for several plants: "saved 2025".
            if let Some(asked) = &self.question.species {
                match found.iter().find(|species| **species == asked) {
                    Some(asked) => found = vec![asked],
                    None if !found.is_empty() => {
                        return Err(PlanFault::OtherSpecies { lot: lot.clone(), species: found[0].clone(), asked: asked.clone() });
                    }
                    None => {}
                }
            }
            found.dedup();
            if found.is_empty() {
                let known = listed(lots_of(bench).into_iter().map(|(lot, _)| lot).collect());
                return Err(PlanFault::UnknownLot { lot: lot.clone(), known });
            }
            Ok(found.into_iter().map(|species| (species, Some(lot))).collect::<Vec<_>>())
        };
        let mut all = Vec::new();
        for lot in &self.question.lots {
            for one in of(lot)? {
                if !all.contains(&one) {
                    all.push(one);
                }
            }
        }
        Ok(all)
    }

    fn kind(&self, species: &'a Name, lot: Option<&'a Name>) -> Kind<'a> {
        let trials = || self.known.bench.trials.values().filter(|trial| trial.container.species == *species);
        let sown_last = |of: &dyn Fn(&Trial) -> bool| trials().filter(|trial| of(trial)).max_by_key(|trial| trial.container.sown);
        let of_lot = |trial: &Trial| trial.container.lot.as_ref() == lot;
        let treated = |trial: &Trial| self.question.treatment.is_none() || trial.container.treatment == self.question.treatment;
        let like = sown_last(&|trial| of_lot(trial) && treated(trial)).or_else(|| sown_last(&treated));
        let event =
            self.question.event.or(like.map(|like| like.container.event)).or(sown_last(&|_| true).map(|like| like.container.event));
        Kind {
            species,
            lot,
            // Published days and those of a packet are to the seedling showing.
            event: event.unwrap_or(Event::Emergence),
            treatment: self.question.treatment.clone().or_else(|| like.and_then(|like| like.container.treatment.clone())),
            like,
        }
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

    /// What comes at each spot for one kind of seed.
    fn courses(&self, kind: &Kind<'_>, fit: &Fit) -> Vec<SpotCourse> {
        parallel_map(&self.spots, |spot| self.course(spot, kind, fit))
    }

    fn course(&self, spot: &Name, kind: &Kind<'_>, fit: &Fit) -> SpotCourse {
        let window = (self.window().0, self.window().1.min(self.horizon));
        let Some((basis, path, offsets)) = self.path(spot, fit) else {
            return SpotCourse { spot: spot.clone(), basis: None, mean_c: None, courses: Vec::new() };
        };
        let mean_c = match &path {
            Path::Outlook(outlook) => outlook.mean_on(usize::midpoint(window.0, window.1)),
            Path::Years(years) => years.mean_c(window.0, window.1),
        };
        let needs = self.boxes(kind, fit, Some(mean_c)).into_iter().next().unwrap_or_default();
        let draws = needs.len().min(self.weather.len()).min(offsets.len());
        let pace = pace(Some(fit), mean_c, draws);
        let courses = match &path {
            Path::Outlook(outlook) => {
                let coming = [Coming { until_us: None, outlook, offsets, pace }];
                let rates = needs.iter().take(draws).map(|needs| needs.rate).collect();
                let mut ahead = Ahead::new(&coming, &self.weather, rates, self.known.now.timestamp_micros(), self.horizon);
                (0..draws).map(|draw| ahead.by_day(draw, f64::INFINITY).to_vec()).collect()
            }
            Path::Years(years) => {
                let of =
                    |draw: usize| years.by_day(&needs[draw].rate, offsets[draw], pace[draw], &self.weather[draw], self.horizon);
                (0..draws).map(of).collect()
            }
        };
        SpotCourse { spot: spot.clone(), basis: Some(basis), mean_c: Some(mean_c), courses }
    }

    /// The days, from now, in which the seeds' warmth counts.
    fn window(&self) -> (usize, usize) {
        let until = (self.until.max(0) as usize).max(WINDOW_DAYS / 3);
        (until.saturating_sub(WINDOW_DAYS), until)
    }

    /// Where the temperatures of a spot are taken from, and what is to be added to them, draw by draw.
    fn path(&self, spot: &Name, fit: &Fit) -> Option<(Basis, Path, Vec<f64>)> {
        let known = self.known;
        match self.question.assumed.iter().find(|assumed| assumed.spot == *spot).map(|assumed| &assumed.supposed) {
            Some(Supposed::Steady(set)) => {
                let offsets = unsure(spot, set.sd_c, self.weather.len());
                return Some((Basis::Assumed, Path::Outlook(Outlook::steady(set.celsius)), offsets));
            }
            Some(Supposed::Like(other)) => {
                let (_, path, offsets) = self.path_as_known(other, fit)?;
                return Some((Basis::Assumed, path, offsets));
            }
            None => {}
        }
        let given = known.warmth.get(spot).is_some_and(|warmth| warmth.set)
            && known.bench.spots.get(spot).is_some_and(|there| there.setting_at(known.now).given.is_some());
        let (basis, path, offsets) = self.path_as_known(spot, fit)?;
        Some((if given { Basis::Given } else { basis }, path, offsets))
    }

    fn path_as_known(&self, spot: &Name, fit: &Fit) -> Option<(Basis, Path, Vec<f64>)> {
        let known = self.known;
        let warmth = known.warmth.get(spot);
        let ahead = warmth.and_then(|warmth| outlook(known, spot, warmth));
        let near = self.until <= DAYS_AHEAD as i64 || warmth.is_some_and(|warmth| warmth.set);
        if let Some(outlook) = ahead.clone().filter(|_| near) {
            let basis = Basis::Season { years: outlook.years() };
            return Some((basis, Path::Outlook(outlook), known.offsets_now(fit, spot)));
        }
        if let Some((years, offsets)) = self.earlier(spot, fit) {
            return Some((Basis::EarlierYears { years: years.years() }, Path::Years(years), offsets));
        }
        ahead.map(|outlook| (Basis::RecentLevel, Path::Outlook(outlook), known.offsets_now(fit, spot)))
    }

    /// The days to come as they were in earlier years; none where the spot was changed since, or too little is known of them.
    fn earlier(&self, spot: &Name, fit: &Fit) -> Option<(EarlierYears, Vec<f64>)> {
        let known = self.known;
        if known.bench.spots.get(spot)?.changed_by(known.now).is_some() {
            return None;
        }
        let now_us = known.now.timestamp_micros();
        let days = earlier_days(now_us, self.horizon);
        let interval = |from_us: i64, until_us: i64| Interval { spot: spot.clone(), from_us, until_us };
        let stood = |from_us: i64, until_us: i64| {
            known.bench.stands_at(spot).any(|(placement, left)| {
                placement.since.timestamp_micros() < until_us && left.is_none_or(|left| left.timestamp_micros() > from_us)
            })
        };
        let day = |(_, from_us, until_us): &(i32, i64, i64)| -> Option<Stretch> {
            let asked = *from_us >= known.read_from_us() && *until_us <= now_us && stood(*from_us, *until_us);
            known.mean_c(spot, *from_us, *until_us).filter(|_| asked)?;
            Some(known.stretch_at(&interval(*from_us, *until_us)).into_owned())
        };
        let (from, until) = self.window();
        let years = days.iter().map(|days| days.iter().filter(|(at, ..)| *at > 0).map(day).collect());
        let years = EarlierYears::new(years.collect(), (from, until))?;
        // By the probe that stood there then.
        let then = days.iter().flatten().filter(|(at, ..)| *at >= from as i32 && *at <= until as i32);
        let (from_us, until_us) =
            then.map(|(_, from_us, until_us)| (*from_us, *until_us)).find(|(from_us, until_us)| stood(*from_us, *until_us))?;
        let (level, sd_c) = known.level_of(&interval(from_us, until_us));
        Some((years, fit.offsets_of(&level, sd_c)))
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

enum Path {
    Outlook(Outlook),
    Years(EarlierYears),
}

/// Whole days that a box's seeds spent at cold spots before they left them.
fn cold_days(bench: &Bench, trial: &Trial, end: crate::civil::Time) -> u32 {
    let history = bench.history(trial, end);
    let cold =
        history.iter().filter(|stay| bench.spots.get(stay.spot).is_some_and(|spot| spot.kind_at(stay.from) == SpotKind::Fridge));
    let hours: i64 = cold.map(|stay| (stay.until - stay.from).num_hours()).sum();
    u32::try_from((hours + 12) / 24).unwrap_or(0)
}

/// The spots named, else all where boxes may sprout: not fridges, and not friends' places.
fn spots<'a>(known: &'a Known, named: &[Name]) -> Result<Vec<&'a Name>, PlanFault> {
    let bench = &known.bench;
    let fridge = |spot: &Name| bench.spots.get(spot).is_some_and(|spot| spot.kind_at(known.now) == SpotKind::Fridge);
    let friends = bench.friends();
    if named.is_empty() {
        let elsewhere = |name: &Name| friends.iter().any(|friend| name.is_of(friend));
        return Ok(bench.spots.keys().filter(|spot| !fridge(spot) && !elsewhere(spot)).collect());
    }
    let mut spots = Vec::new();
    for name in named {
        match bench.spots.keys().find(|spot| *spot == name) {
            None => return Err(PlanFault::UnknownSpot { spot: name.clone(), known: listed(bench.spots.keys().collect()) }),
            Some(spot) if fridge(spot) => return Err(PlanFault::Fridge(spot.clone())),
            Some(spot) if !spots.contains(&spot) => spots.push(spot),
            Some(_) => {}
        }
    }
    Ok(spots)
}

fn species_of(bench: &Bench) -> BTreeSet<&Name> {
    bench.trials.values().map(|trial| &trial.container.species).chain(bench.lots.values().map(|lot| &lot.species)).collect()
}

/// Every lot with its plant.
fn lots_of(bench: &Bench) -> BTreeSet<(&Name, &Name)> {
    let told = bench.lots.values().map(|lot| (&lot.name, &lot.species));
    let sown = bench.trials.values().filter_map(|trial| Some((trial.container.lot.as_ref()?, &trial.container.species)));
    told.chain(sown).collect()
}

fn listed(names: BTreeSet<&Name>) -> String {
    if names.is_empty() {
        return "none".to_owned();
    }
    names.into_iter().map(|name| format!("'{name}'")).collect::<Vec<_>>().join(", ")
}
