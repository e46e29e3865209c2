//! The next sowing, in a grower's words.

use std::collections::BTreeSet;
use std::fmt::Write as _;

use chrono::{Datelike, NaiveDate};

use super::cautions::{in_place, of_seeds};
use super::dates::{day, moment};
use super::fit::assumed_words;
use super::numbers::{capital, paragraph, temperature};
use crate::bench::{Degrees, Name};
use crate::civil::Zone;
use crate::diagnosis::Caution;
use crate::experiment::plan::{
    Basis, ChillSource, DateSpread, FrostPlan, LotPlan, Outcome, PlanAnswer, PlanNote, SowPlan, SpotPlan, Step, StepKind,
    SurvivalSource, steps,
};

/// Advice to stand so much warmer than elsewhere adds warmth, °C.
const WARMER_C: f64 = 3.0;

/// The plan as text.
#[must_use]
pub fn plan_text(answer: &PlanAnswer, zone: Zone, degrees: Degrees) -> String {
    let say = Saying { answer, degrees };
    let mut text = String::new();
    // Writing to a string cannot fail.
    let _ = writeln!(text, "As of {} ({zone}).", moment(answer.as_of, zone));
    let _ = writeln!(text, "{}", paragraph(&say.wish(), "", "  "));
    if let Some(frost) = &answer.wish.frost {
        let _ = writeln!(text, "{}", paragraph(&say.frost(frost), "", "  "));
    }
    let mut said: BTreeSet<(&Name, String)> = BTreeSet::new();
    for lot in &answer.lots {
        let _ = write!(text, "\n{}\n", title(lot));
        for spot in &lot.spots {
            let _ = writeln!(text, "{}", paragraph(&say.spot(lot, spot), "  ", "      "));
        }
        // What holds of all lots of a plant is said once.
        for words in say.beside(lot).into_iter().filter(|words| said.insert((&lot.species, words.clone()))) {
            let _ = writeln!(text, "{}", paragraph(&words, "  ", "    "));
        }
    }
    if let Some(words) = say.together() {
        let _ = writeln!(text, "\n{}", paragraph(&words, "", "  "));
    }
    for words in say.cautions() {
        let _ = writeln!(text, "\n{}", paragraph(words, "", "  "));
    }
    text
}

/// "tomato, own saved".
fn title(lot: &LotPlan) -> String {
    let told = [Some(&lot.species), lot.lot.as_ref(), lot.treatment.as_ref()];
    told.into_iter().flatten().map(Name::as_str).collect::<Vec<_>>().join(", ")
}

/// A note as a sentence.
#[must_use]
pub fn plan_note_words(note: &PlanNote, species: &Name, degrees: Degrees) -> String {
    match note {
        PlanNote::AllAssumed { prior } => format!(
            "All assumed: no sowing of {species} has taught anything yet, so this rests on {}; your first sprouts will narrow it.",
            assumed_words(prior, degrees)
        ),
        PlanNote::NewLot => "This lot was never sown here: it is taken as any other of its kind, and so takes more seeds. A test of \
                             10 to 25 seeds would tell more."
            .to_owned(),
        PlanNote::TreatedAsBefore { treatment } => format!("Taken to be treated as the last time: {treatment}."),
        PlanNote::SproutsInTheCold => {
            "Some of these have sprouted in the cold: look into the bag now and then, and take sprouts out at once.".to_owned()
        }
        PlanNote::ChillUntried => {
            "What was sown of these here was not chilled, so how chilled ones do is not known: days and seeds are of unchilled ones."
                .to_owned()
        }
    }
}

/// Where a spot's temperatures to come are from, after its name and a colon; none where that is plain.
#[must_use]
pub fn basis_words(basis: Basis) -> Option<String> {
    let of = |years: usize| if years == 1 { "an earlier year".to_owned() } else { format!("{years} earlier years") };
    match basis {
        Basis::Given => Some("the temperature that is given for it.".to_owned()),
        Basis::Assumed => Some("the temperature that you assume.".to_owned()),
        Basis::Season { years: 0 } => {
            Some("this month's temperatures; without a record of another year the season ahead is a guess.".to_owned())
        }
        Basis::Season { .. } => None,
        Basis::EarlierYears { years } => Some(format!("temperatures as on the same dates of {}.", of(years))),
        Basis::RecentLevel => Some(
            "the level of these weeks, since these dates were not recorded in any year: what the season does is not in it, and the \
             day will move."
                .to_owned(),
        ),
    }
}

/// Why there is no day to sow at a spot, as a sentence; none where there is one.
#[must_use]
pub fn no_day_words(spot: &SpotPlan, lot: &LotPlan, answer: &PlanAnswer, degrees: Degrees) -> Option<String> {
    let species = &lot.species;
    let about = spot.mean_c.map_or_else(String::new, |mean| format!(" (about {})", temperature(mean, degrees)));
    Some(match &spot.outcome {
        Outcome::Sow(_) => return None,
        Outcome::TooLate { earliest: Some(earliest), seeds } => {
            let begun = lot
                .chill
                .map_or_else(|| "sown today".to_owned(), |chill| format!("put into the cold today for {} days", chill.days));
            format!(
                "too late for {}. {}, {seeds} seeds are enough by {} at the earliest.",
                dated(answer.wish.by, answer.today),
                capital(&begun),
                dated(*earliest, answer.today)
            )
        }
        Outcome::TooLate { earliest: None, .. } => {
            format!("too slow{about}: even sown today there would not be enough within half a year.")
        }
        Outcome::TooCold => format!("too cold{about}: hardly any hour is warmer than where {species} starts. No day to sow."),
        Outcome::TooHot => format!("too hot{about}: hardly any hour is cool enough for {species}. No day to sow."),
        Outcome::TooManySeeds => {
            "more than 100,000 seeds would be wanted: too few of them can be counted on. No day to sow.".to_owned()
        }
        Outcome::Unknown => {
            "no temperature is known there; next: a probe (seedclock probe place), or what it is set to (seedclock spot)."
                .to_owned()
        }
    })
}

/// A step in a few words, and in a sentence or two: for a calendar.
#[must_use]
pub fn plan_step_words(step: &Step<'_>, answer: &PlanAnswer) -> (String, String) {
    let (title, words) = step_alone(step, answer);
    let caution = caution_of_step(step.kind).map_or_else(String::new, |caution| format!(" {}", in_place(caution)));
    (title, words + &caution)
}

fn step_alone(step: &Step<'_>, answer: &PlanAnswer) -> (String, String) {
    let (name, spot, seeds) = (named(step.lot), step.spot, step.seeds);
    let plan = step.lot.chosen().and_then(SpotPlan::sowing);
    let range = |spread: Option<DateSpread>| {
        spread
            .and_then(|spread| range(&spread, answer.today))
            .map_or_else(String::new, |range| format!(" Likely {range}, 8 in 10 sure."))
    };
    match step.kind {
        StepKind::ChillIn => {
            let days = step.lot.chill.map_or(0, |chill| chill.days);
            (format!("Into the cold: {name}"), format!("{seeds} seeds, moist, for {days} days."))
        }
        StepKind::ChillOut => (format!("Out of the cold: {name}"), format!("Sow at {spot} today. Take sprouts out gently.")),
        StepKind::Sow => {
            let light = step.lot.light.as_ref().map_or_else(String::new, |light| format!(" Light: {light}."));
            (
                format!("Sow {seeds} seeds: {name}"),
                format!("At {spot}. This is the last day for {} plants.{light}", answer.wish.plants),
            )
        }
        StepKind::FirstLook => {
            (format!("First look: {name}"), format!("The first may be up, at {spot}.{}", range(plan.map(|plan| plan.first))))
        }
        StepKind::HalfExpected => (
            format!("Half expected up: {name}"),
            format!("Half of those that can sprout, at {spot}.{}", range(plan.map(|plan| plan.half))),
        ),
        StepKind::PotOn => (format!("Pot on: {name}"), "As you have potted on before, half of them are due.".to_owned()),
        StepKind::PlantOut => {
            let what = if answer.wish.frost.is_some() { "Plant out" } else { "Ready" };
            (format!("{what}: {name}"), format!("{} plants wished.", answer.wish.plants))
        }
    }
}

/// What a lot is called beside others: "tomato (own saved)".
fn named(lot: &LotPlan) -> String {
    lot.lot.as_ref().map_or_else(|| lot.species.to_string(), |of| format!("{} ({of})", lot.species))
}

/// "Thu 30 Apr", with the year where it is another.
fn dated(date: NaiveDate, today: NaiveDate) -> String {
    let year = if date.year() == today.year() { String::new() } else { format!(" {}", date.year()) };
    let now = if date == today { "today, " } else { "" };
    format!("{now}{} {}{year}", date.format("%a"), day(date))
}

/// "28 Apr–4 May", none where an end is open.
fn range(spread: &DateSpread, today: NaiveDate) -> Option<String> {
    let (from, until) = spread.p10.zip(spread.p90)?;
    let year = if until.year() == today.year() { String::new() } else { format!(" {}", until.year()) };
    Some(if from == until {
        format!("{}{year}", day(from))
    } else if (from.year(), from.month()) == (until.year(), until.month()) {
        format!("{}–{}{year}", from.day(), day(until))
    } else {
        format!("{}–{}{year}", day(from), day(until))
    })
}

/// "8 in 10", "85 in 100".
fn chance_words(chance: f64) -> String {
    let tens = chance * 10.0;
    if (tens - tens.round()).abs() < 1e-9 { format!("{tens:.0} in 10") } else { format!("{:.0} in 100", chance * 100.0) }
}

struct Saying<'a> {
    answer: &'a PlanAnswer,
    degrees: Degrees,
}

impl Saying<'_> {
    fn wish(&self) -> String {
        let (answer, wish) = (self.answer, &self.answer.wish);
        let plants = if wish.plants == 1 { "1 plant".to_owned() } else { format!("{} plants", wish.plants) };
        let each = if answer.lots.len() > 1 { " of each" } else { "" };
        let past = if wish.by < answer.today { ", which is past" } else { "" };
        let grow = if wish.grow_on_days > 0 {
            format!("; they grow on for {} days, so sprouts are wanted by {}", wish.grow_on_days, dated(answer.up_by, answer.today))
        } else {
            "; a sprout counts as a plant once it is up (say --grow-on 6w where it has to grow on first)".to_owned()
        };
        format!("Wished: {plants}{each} by {}{past}, {} sure{grow}.", dated(wish.by, answer.today), chance_words(wish.confidence))
    }

    fn frost(&self, frost: &FrostPlan) -> String {
        let today = self.answer.today;
        let spread =
            if frost.last.spread_assumed { " How the dates scatter was not said: 12 days either way are taken." } else { "" };
        let half = format!(
            "The average last frost, {}, is a 50 % date: in half of all years there is a frost after it.{spread}",
            dated(frost.last.middle, today)
        );
        let for_risk = format!(
            "{} is the first day with a frost after it in no more than {} years",
            dated(frost.day, today),
            chance_words(frost.risk)
        );
        if frost.decides {
            return format!("{half} Planting out on that of your risk: {for_risk}.");
        }
        let risk = frost.last.risk_after(self.answer.wish.by);
        let told =
            if risk < 0.005 { "hardly any year".to_owned() } else { format!("about {:.0} years in 100", (risk * 100.0).max(1.0)) };
        format!("{half} After {} comes a frost in {told}; {for_risk}.", dated(self.answer.wish.by, today))
    }

    fn spot(&self, lot: &LotPlan, spot: &SpotPlan) -> String {
        let name = capital(spot.spot.as_str());
        if let Some(words) = no_day_words(spot, lot, self.answer, self.degrees) {
            return format!("{name}: {words}");
        }
        let Some(plan) = spot.sowing() else { return name };
        let outside = if spot.outside {
            let mean = spot.mean_c.map_or_else(String::new, |mean| format!(", about {},", temperature(mean, self.degrees)));
            format!(" Untested: {}{mean} is outside the warmth that {} was ever sown in here; try one box.", spot.spot, lot.species)
        } else {
            String::new()
        };
        if plan.is_wide() {
            return format!("{name}: {}{outside}", self.wide(lot, spot, plan));
        }
        let today = self.answer.today;
        let part =
            |what: &str, spread: &DateSpread| range(spread, today).map_or_else(String::new, |range| format!("{what} {range}"));
        let up = [part("first", &plan.first), part("half", &plan.half)].into_iter().filter(|part| !part.is_empty());
        let up = up.collect::<Vec<_>>().join(", ");
        let latest = range(&plan.latest, today).map_or_else(String::new, |range| format!(" (the last good day is {range})"));
        let up = if up.is_empty() { String::new() } else { format!(" Then up: {up}.") };
        format!("{name}: sow {} seeds by {}{latest}.{up}{outside}", plan.seeds, dated(plan.sow, today))
    }

    /// A day that is too unsure to be told as one: what would narrow it, and what to do nevertheless.
    fn wide(&self, lot: &LotPlan, spot: &SpotPlan, plan: &SowPlan) -> String {
        let species = &lot.species;
        let narrow = if lot.notes.iter().any(|note| matches!(note, PlanNote::AllAssumed { .. })) {
            format!("a sowing of {species} that has sprouted beside a probe would narrow it")
        } else if matches!(spot.basis, Some(Basis::RecentLevel | Basis::Season { years: 0 })) {
            format!("temperatures of {} at that time of the year would narrow it, or asking again nearer the day", spot.spot)
        } else if spot.outside {
            format!("a sowing of {species} at this warmth would narrow it")
        } else {
            "asking again nearer the day would narrow it, as would a warmer or steadier spot".to_owned()
        };
        format!(
            "too unsure for a day, over three weeks either way: {narrow}. If it must be settled now: {} seeds by {}.",
            plan.seeds,
            dated(plan.sow, self.answer.today)
        )
    }

    /// What is said once for a lot.
    fn beside(&self, lot: &LotPlan) -> Vec<String> {
        let mut said = Vec::new();
        let chosen = lot.chosen().and_then(|spot| Some((spot, spot.sowing()?)));
        if let Some(chill) = lot.chill {
            let source = match chill.source {
                ChillSource::Given => "as you say",
                ChillSource::Lot => "by what is noted of the lot",
                ChillSource::Treatment => "by the name of the treatment",
                ChillSource::Records => "as those sown last had",
            };
            let day = chosen.and_then(|(spot, plan)| Some((spot, plan.chill_in?)));
            let day = day.map_or_else(String::new, |(spot, day)| {
                format!(": for {} into the cold on {}", spot.spot, dated(day, self.answer.today))
            });
            said.push(format!(
                "Chilled for {} days first, {source}{day}. The days are the least; longer does no harm to most.",
                chill.days
            ));
        }
        if let Some((_, plan)) = chosen.filter(|(_, plan)| plan.fewest_seeds < plan.seeds) {
            said.push(format!("Sown a good deal earlier, {} seeds would do.", plan.fewest_seeds));
        }
        said.push(survival_words(lot));
        if let Some(light) = &lot.light {
            said.push(format!("Light: {light}."));
        }
        if let Some(note) = &lot.note {
            said.push(format!("Your note: {note}"));
        }
        said.extend(lot.notes.iter().map(|note| plan_note_words(note, &lot.species, self.degrees)));
        let mut bases: Vec<(String, Vec<&str>)> = Vec::new();
        for spot in &lot.spots {
            let Some(words) = spot.basis.and_then(basis_words) else { continue };
            match bases.iter_mut().find(|(other, _)| *other == words) {
                Some((_, spots)) => spots.push(spot.spot.as_str()),
                None => bases.push((words, vec![spot.spot.as_str()])),
            }
        }
        said.extend(bases.into_iter().map(|(words, spots)| format!("Goes by, for {}: {words}", spots.join(", "))));
        said
    }

    fn together(&self) -> Option<String> {
        let together = self.answer.together.as_ref()?;
        let today = self.answer.today;
        let lots = together.lots.iter().filter_map(|(at, into)| {
            let lot = self.answer.lots.get(*at)?;
            Some(format!("{} {} ({} days)", dated(*into, today), named(lot), lot.chill?.days))
        });
        let lots = lots.collect::<Vec<_>>().join("; ");
        Some(format!("All out of the cold together on {}: into the cold {lots}.", dated(together.out, today)))
    }

    fn cautions(&self) -> Vec<&'static str> {
        let lots = &self.answer.lots;
        let warmer = |lot: &LotPlan| {
            let chosen = lot.chosen().and_then(|spot| spot.mean_c);
            let coolest = lot.spots.iter().filter_map(|spot| spot.mean_c).fold(f64::INFINITY, f64::min);
            chosen.is_some_and(|mean| mean - coolest >= WARMER_C)
        };
        let mut said: BTreeSet<Caution> = lots.iter().any(warmer).then_some(Caution::Heat).into_iter().collect();
        said.extend(steps(self.answer, None).iter().filter_map(|step| caution_of_step(step.kind)));
        for lot in lots {
            let told = lot.note.as_deref().into_iter().chain(lot.treatment.as_ref().map(Name::as_str));
            said.extend(of_seeds(lot.species.as_str(), told));
            said.extend(lot.notes.iter().filter_map(caution_of_plan_note));
            said.extend(lot.chill.map(|_| Caution::Cold));
        }
        said.into_iter().map(in_place).collect()
    }
}

/// The caution that goes with a step; every kind of step is decided on here.
pub(super) fn caution_of_step(kind: StepKind) -> Option<Caution> {
    match kind {
        StepKind::ChillIn => Some(Caution::Cold),
        StepKind::Sow | StepKind::PotOn => Some(Caution::Mix),
        StepKind::ChillOut | StepKind::FirstLook | StepKind::HalfExpected | StepKind::PlantOut => None,
    }
}

/// The caution that goes with what a note advises; every kind of note is decided on here. What a treatment's words call for is read from
/// the lot's own.
pub(super) fn caution_of_plan_note(note: &PlanNote) -> Option<Caution> {
    match note {
        PlanNote::ChillUntried => Some(Caution::Cold),
        PlanNote::AllAssumed { .. } | PlanNote::NewLot | PlanNote::TreatedAsBefore { .. } | PlanNote::SproutsInTheCold => None,
    }
}

/// How many of the sprouts live, and who says so.
fn survival_words(lot: &LotPlan) -> String {
    let survival = &lot.survival;
    // Never all, unless it is said so.
    let [low, middle, high] = survival.interval().map(|share| if share < 1.0 { (share * 100.0).round().min(99.0) } else { 100.0 });
    let known = survival.potted_on + survival.died;
    match survival.source {
        SurvivalSource::Given => format!("Of the sprouts {middle} in 100 live to be plants, as you say."),
        SurvivalSource::Species => format!(
            "Of the sprouts {middle} in 100 live to be plants ({low} to {high}): {} of {known} on record.",
            survival.potted_on
        ),
        SurvivalSource::Bench => format!(
            "Of the sprouts {middle} in 100 live to be plants ({low} to {high}): {} of {known} of all kinds on record.",
            survival.potted_on
        ),
        SurvivalSource::Assumed => format!(
            "Of the sprouts {middle} in 100 are taken to live ({low} to {high}): none was recorded as potted on or died. If you know \
             better: --survival 85%."
        ),
    }
}
