//! When boxes will sprout, in words and a small bar each.

use std::fmt::Write as _;

use super::cautions::in_place;
use super::dates::{day, moment, span};
use super::fit::assumed_words;
use super::ledger::{ledger_words, too_narrow_words};
use super::numbers::{decimal, difference_in, odds, paragraph, sign, temperature};
use crate::bench::{Degrees, Name, Trial};
use crate::civil::{Time, Zone, local_date};
use crate::diagnosis::Caution;
use crate::forecast::{
    Assumed, BoxAnswer, BoxNote, ColdLack, ColdWantedBy, EventForecast, ForecastAnswer, Ledger, Supposed, WeekTogether,
};
use crate::stats::Spread;

/// A range wider than this prints no dates, days.
const TOO_WIDE_DAYS: i64 = 21;
/// Days that a bar may span, a character a day or less: the first that holds nearly all that is expected.
const BAR_SPANS: [usize; 3] = [14, 28, 60];
/// Characters of a bar at the most.
const BAR: usize = 30;
/// Share of the expected sprouts that a bar must hold.
const NEARLY_ALL: f64 = 0.97;
/// Below this chance that any more come, a box is about done.
const ABOUT_DONE: f64 = 0.5;
/// Below this chance it need not be watched any more: one in twenty.
const MAY_STOP: f64 = 0.05;
/// Nothing new for so many days is said.
const QUIET_DAYS: i64 = 7;
/// So few seeds left are worth saying whether any more come.
const FEW_LEFT: u32 = 3;
/// Less moist cold than this, in days, is none.
const NO_COLD_DAYS: f64 = 0.5;

/// The caution that goes with what a note advises; every kind of note is decided on here.
pub(super) fn caution_of_note(note: &BoxNote) -> Option<Caution> {
    match note {
        BoxNote::WantsChilling(_) => Some(Caution::Cold),
        BoxNote::NoTemperatures
        | BoxNote::NoReadings
        | BoxNote::InTheCold
        | BoxNote::SeedsNotCounted
        | BoxNote::SeedsCountedRoughly
        | BoxNote::AllAssumed { .. }
        | BoxNote::OutsideKnownWarmth { .. }
        | BoxNote::GuessedHours { .. } => None,
    }
}

/// A note as a sentence, with the caution that goes with it.
#[must_use]
pub fn note_words(note: &BoxNote, species: &Name, degrees: Degrees) -> String {
    let words = note_alone(note, species, degrees);
    caution_of_note(note).map_or_else(|| words.clone(), |caution| format!("{words} {}", in_place(caution)))
}

fn note_alone(note: &BoxNote, species: &Name, degrees: Degrees) -> String {
    match note {
        BoxNote::NoTemperatures => "no temperature is known where it stands; next: place a probe there (seedclock probe place), or give the spot a set temperature.".to_owned(),
        BoxNote::NoReadings => "the probe there has given no usable reading for some or all of its time; next: seedclock log reads the probes.".to_owned(),
        BoxNote::InTheCold => "in the cold, where it gains nothing: dates can be given once it is taken out.".to_owned(),
        BoxNote::WantsChilling(lack) => lack_words(lack, species),
        BoxNote::SeedsNotCounted => "its seeds were not counted, so how many are still to come cannot be said.".to_owned(),
        BoxNote::SeedsCountedRoughly => "its seeds were counted roughly; the middle is taken.".to_owned(),
        BoxNote::AllAssumed { prior } => format!(
            "no sowing of {species} has taught anything yet, so this rests on {}; your first sprouts will narrow it.",
            assumed_words(prior, degrees)
        ),
        BoxNote::OutsideKnownWarmth { spot_c } => {
            format!("its spot, about {}, is outside the warmth that {species} was ever sown in here: the range is wider for it, and still to be trusted less.", temperature(*spot_c, degrees))
        }
        BoxNote::GuessedHours { share } => format!("{:.0} in 100 of its warmth so far was guessed, for want of readings.", 100.0 * share),
    }
}

/// What seeds lack of the cold that they are known to want, and what to do about it.
fn lack_words(lack: &ColdLack, species: &Name) -> String {
    let who = match lack.by {
        ColdWantedBy::Lot => format!("its lot is said to want {} of moist cold", whole_days(lack.wanted_days)),
        ColdWantedBy::Treatment => format!("its treatment says {} of moist cold", whole_days(lack.wanted_days)),
        ColdWantedBy::OwnSowings => format!(
            "in your own sowings of {species} longer cold made more sprout, and nine tenths of that took {}",
            whole_days(lack.wanted_days)
        ),
    };
    let had = if lack.had_days < NO_COLD_DAYS { "it had none".to_owned() } else { format!("it had {}", whole_days(lack.had_days)) };
    format!(
        "{who}, and {had}: most seeds may wait for it, and the dates are of those that come without. Where nothing shows, the cold can \
         still be given: `seedclock move BOX SPOT` to a fridge."
    )
}

/// The same before any date, in a few words; none where nothing is lacking.
fn lack_first(one: &BoxAnswer) -> Option<String> {
    one.forecast.notes.iter().find_map(|note| match note {
        BoxNote::WantsChilling(lack) if lack.had_days < NO_COLD_DAYS => {
            Some(format!("Wants {} of moist cold, and had none. ", whole_days(lack.wanted_days)))
        }
        BoxNote::WantsChilling(lack) => {
            Some(format!("Wants {} of moist cold, and had {:.0} of them. ", whole_days(lack.wanted_days), lack.had_days))
        }
        _ => None,
    })
}

fn whole_days(days: f64) -> String {
    if days.round() == 1.0 { "1 day".to_owned() } else { format!("{days:.0} days") }
}

/// The forecast as text.
#[must_use]
pub fn forecast_text(answer: &ForecastAnswer, ledger: &Ledger, zone: Zone, degrees: Degrees) -> String {
    let mut text = String::new();
    // Writing to a string cannot fail.
    if let Some(words) = too_narrow_words(ledger) {
        let _ = writeln!(text, "{}\n", paragraph(&words, "", "  "));
    }
    let _ = writeln!(text, "As of {} ({zone}). Each range is meant to hold 8 times in 10.", moment(answer.as_of, zone));
    assumptions(&answer.assumed, degrees, &mut text);
    let span = bar_days(answer);
    let mut batch = None;
    for one in &answer.boxes {
        if batch != Some(&one.trial.container.batch) {
            batch = Some(&one.trial.container.batch);
            let _ = write!(text, "\n{}\n", one.trial.container.batch);
        }
        one_box(one, answer.as_of, span, zone, &mut text);
    }
    pots(answer, &mut text);
    notes(answer, degrees, &mut text);
    if let Some(words) = ledger_words(ledger) {
        let _ = writeln!(text, "\n{}", paragraph(&words, "", "  "));
    }
    text
}

/// What the grower assumed of temperatures to come.
fn assumptions(assumed: &[Assumed], degrees: Degrees, text: &mut String) {
    if assumed.is_empty() {
        return;
    }
    let words = assumed.iter().map(|one| match &one.supposed {
        Supposed::Like(other) => format!("{} as at {other}", one.spot),
        Supposed::Steady(set) if set.sd_c > 0.0 => {
            let unsure = format!("{} {}", decimal(difference_in(set.sd_c, degrees)), sign(degrees));
            format!("{} {}, give or take {unsure}", one.spot, temperature(set.celsius, degrees))
        }
        Supposed::Steady(set) => format!("{} {}", one.spot, temperature(set.celsius, degrees)),
    });
    let words = words.collect::<Vec<_>>().join("; ");
    let _ = writeln!(text, "{}", paragraph(&format!("From now on you assume: {words}."), "", "  "));
}

/// The notes, each once, with the boxes it is about.
fn notes(answer: &ForecastAnswer, degrees: Degrees, text: &mut String) {
    let mut said: Vec<(String, Vec<&str>)> = Vec::new();
    for one in &answer.boxes {
        let container = &one.trial.container;
        for note in &one.forecast.notes {
            let words = note_words(note, &container.species, degrees);
            match said.iter_mut().find(|(same, _)| *same == words) {
                Some((_, boxes)) => boxes.push(container.name.as_str()),
                None => said.push((words, vec![container.name.as_str()])),
            }
        }
    }
    for (words, boxes) in said {
        let _ = writeln!(text, "\n{}", paragraph(&format!("{}: {words}", boxes.join(", ")), "", "  "));
    }
}

/// One box's forecast as a sentence or two: "C2, tomato, shelf: 5 of 25 up. 12 of 25 by 29–30 Nov."
#[must_use]
pub fn box_words(one: &BoxAnswer, now: Time, zone: Zone) -> String {
    let container = &one.trial.container;
    let seeds = match (container.seeds, container.seeds_low, container.seeds_high) {
        (Some(seeds), _, _) => seeds.to_string(),
        (None, Some(low), Some(high)) => format!("{low} to {high}"),
        (None, _, _) => "an uncounted number".to_owned(),
    };
    let up = one.trial.sprouted();
    let lack = lack_first(one).unwrap_or_default();
    format!("{}, {}, {}: {up} of {seeds} up. {lack}{}", container.name, container.species, one.spot, said(one, now, zone))
}

fn one_box(one: &BoxAnswer, now: Time, bar_days: usize, zone: Zone, text: &mut String) {
    let _ = writeln!(text, "{}", paragraph(&box_words(one, now, zone), "  ", "      "));
    if let Some(bar) = bar(one, bar_days) {
        let last = one.forecast.by_date.get(bar_days - 1).map_or(now, |(time, _)| *time);
        let _ = writeln!(text, "      {:>6} {bar} {}", day(local_date(now, zone)), day(local_date(last, zone)));
    }
}

/// What is expected of a box, in a sentence or two.
fn said(one: &BoxAnswer, now: Time, zone: Zone) -> String {
    let forecast = &one.forecast;
    if one.ended {
        return "Ended.".to_owned();
    }
    let (Some(expected), Some(chance)) = (forecast.more_expected, forecast.more_chance) else {
        return "No dates can be given.".to_owned();
    };
    let days = forecast.by_date.len();
    let quiet = quiet_days(&one.trial);
    let nothing_new = if quiet >= QUIET_DAYS { format!("Nothing new for {quiet} days. ") } else { String::new() };
    if one.trial.sprouted() > 0 && chance < ABOUT_DONE {
        let stop = if chance < MAY_STOP { " You may stop watching it." } else { "" };
        return format!("{nothing_new}About done: {} that any more come within {days} days.{stop}", odds(chance));
    }
    let mut words = Vec::new();
    if one.trial.sprouted() == 0 {
        if forecast.first.p50.is_some_and(|time| time <= now) {
            words.push("The first may be up since your last look: look now.".to_owned());
        } else {
            match dated(&forecast.first, zone) {
                Dated::Range(range) => words.push(format!("First sprout likely {range}.")),
                Dated::Wide | Dated::Never => words.push(open_ended(one)),
            }
        }
    }
    let half = forecast.half_count.unwrap_or(0);
    if half > one.trial.sprouted() {
        let of = one.trial.container.seeds.map_or_else(String::new, |seeds| format!(" of {seeds}"));
        match dated(&forecast.half, zone) {
            Dated::Range(_) if forecast.half.p90.is_some_and(|time| time <= now) => {
                words.push(format!("{half}{of} are probably up by now: look."));
            }
            Dated::Range(range) => words.push(format!("{half}{of} by {range}.")),
            Dated::Wide | Dated::Never => {}
        }
    } else if let Dated::Range(range) = dated(&forecast.last, zone) {
        let all = if expected < 1.5 { "" } else { "nearly all of them " };
        words.push(format!("About {:.0} more to come, {all}by {range}.", expected.max(1.0)));
    } else {
        words.push(format!("About {:.0} more to come within {days} days.", expected.max(1.0)));
    }
    if one.trial.sprouted() > 0 && (quiet >= QUIET_DAYS || one.trial.left().is_some_and(|left| left <= FEW_LEFT)) {
        words.push(format!("{nothing_new}Any more within {days} days: {}.", odds(chance)));
    }
    words.join(" ")
}

/// Whole days between the last look at which something new was up (or sowing) and the last look.
fn quiet_days(trial: &Trial) -> i64 {
    let last_new = trial.checks.iter().rev().find(|check| check.sprouted > 0).map_or(trial.container.sown, |check| check.time);
    (trial.last_look() - last_new).num_days()
}

enum Dated {
    Range(String),
    Wide,
    Never,
}

fn dated(event: &EventForecast, zone: Zone) -> Dated {
    match (event.p10, event.p90) {
        (Some(from), Some(until)) if (until - from).num_days() <= TOO_WIDE_DAYS => Dated::Range(span(from, until, zone)),
        (Some(_), _) => Dated::Wide,
        (None, _) => Dated::Never,
    }
}

/// What to say instead of dates that would be over three weeks apart.
fn open_ended(one: &BoxAnswer) -> String {
    let species = &one.trial.container.species;
    let within = one.forecast.by_date.len();
    let chance = one
        .forecast
        .first
        .chance
        .map_or(String::new(), |chance| format!(" ({} that one shows within {within} days)", odds(chance)));
    if one.forecast.notes.iter().any(|note| matches!(note, BoxNote::AllAssumed { .. })) {
        format!("Too unsure for dates{chance}: a sowing of {species} that has sprouted beside a probe would narrow it.")
    } else {
        format!("Too unsure for dates{chance}: looks at this box, or a sowing of {species} at this warmth, would narrow it.")
    }
}

/// Mean new sprouts of a box up to the end of each day.
fn expected(one: &BoxAnswer, day: usize) -> f64 {
    day.checked_sub(1).and_then(|at| one.forecast.expected.get(at)).copied().unwrap_or(0.0)
}

/// The days that all bars span, so that they can be compared.
fn bar_days(answer: &ForecastAnswer) -> usize {
    let upto = |day: usize| answer.boxes.iter().map(|one| expected(one, day.min(answer.days))).sum::<f64>();
    let all = upto(answer.days);
    BAR_SPANS.into_iter().find(|days| upto(*days) >= NEARLY_ALL * all).unwrap_or(answer.days).min(answer.days)
}

/// New sprouts over the bar's days, darker where more are expected.
fn bar(one: &BoxAnswer, days: usize) -> Option<String> {
    if one.ended || one.forecast.expected.is_empty() || days == 0 || one.forecast.more_chance? < 0.02 {
        return None;
    }
    let cells = BAR.min(days);
    let new: Vec<f64> =
        (0..cells).map(|cell| expected(one, (cell + 1) * days / cells) - expected(one, cell * days / cells)).collect();
    let most = new.iter().copied().fold(0.0, f64::max);
    let shade = |value: f64| match value / most {
        share if share > 0.75 => '█',
        share if share > 0.45 => '▓',
        share if share > 0.2 => '▒',
        share if share > 0.05 => '░',
        _ => '·',
    };
    Some(new.into_iter().map(shade).collect())
}

/// New sprouts in the next weeks, and pots wanted.
fn pots(answer: &ForecastAnswer, text: &mut String) {
    let mut say = |what: &str, of: &dyn Fn(&WeekTogether) -> Option<Spread>| {
        let told = answer.together.iter().filter_map(|week| Some((week.monday, of(week)?)));
        let weeks: Vec<String> = told
            .filter(|(_, spread)| spread.p50.is_some_and(|middle| middle >= 0.5))
            .take(4)
            .filter_map(|(monday, spread)| {
                let (low, high) = (spread.p10?, spread.p90?);
                let count = if low == high { format!("{low:.0}") } else { format!("{low:.0}–{high:.0}") };
                Some(format!("week of {}: {count}", day(monday)))
            })
            .collect();
        if !weeks.is_empty() {
            let _ = writeln!(text, "\n{}", paragraph(&format!("{what}, {}.", weeks.join("; ")), "", "  "));
        }
    };
    say("New sprouts over all boxes", &|week| Some(week.sprouts));
    say("Pots wanted, going by how you pot on", &|week| week.potted_on);
}
