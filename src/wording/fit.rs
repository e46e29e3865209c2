//! What seeds need, in words.

use std::fmt::Write as _;

use super::numbers::{counted, decimal, difference_in, estimate, in_degrees, paragraph, sign, temperature};
use crate::bench::{Degrees, Event, Name};
use crate::germination::{EffectOf, Estimate, Fit, FitWarning, GerminableOf, Informant, Packet, Prior, RateShape};

/// Sowings this much apart tell base and requirement apart, °C.
const APART_C: f64 = 4.0;

/// Instead of a number that nothing but an assumption stands behind.
const NOT_TOLD: &str = "not told by your sowings";

/// A warning as a sentence for growers.
#[must_use]
pub fn warning_words(warning: &FitWarning, fit: &Fit, degrees: Degrees) -> String {
    let species = &fit.species;
    match warning {
        FitWarning::NothingLearnt if !fit.trials.is_empty() => format!(
            "no sowing of {species} has sprouted yet: that it takes longer than that is all they say, and the rest is {}. Your first sprouts will narrow it.",
            assumed_words(&fit.question.prior, degrees)
        ),
        FitWarning::NothingLearnt => format!(
            "no sowing of {species} has taught anything yet: all of this rests on {}. Your first sprouts will narrow it.",
            assumed_words(&fit.question.prior, degrees)
        ),
        FitWarning::OneTemperature { from_c, to_c } => format!(
            "all sowings of {species} were kept nearly alike ({}), so where it starts and how much warmth it needs cannot be told apart; \
             {}. Dates at these temperatures are good; next: sow a few at least {:.0}\u{a0}{} cooler or warmer.",
            range_words((*from_c, *to_c), "to", degrees),
            if fit.question.prior.is_none() { "neither is given" } else { "the start shown is what was assumed" },
            difference_in(APART_C, degrees),
            sign(degrees),
        ),
        FitWarning::BaseUnbounded => format!(
            "these counts alone set no lowest temperature at which {species} starts, so none is given; next: fit with --prior general."
        ),
        FitWarning::OptimumUnbounded => format!(
            "these counts alone do not tell where {species} is fastest and where it stops, so what they leave open is not given; next: fit with --prior general."
        ),
        FitWarning::NeverAboveOptimum => format!(
            "no box of {species} was ever much warmer than its best temperature: where it is fastest and where it stops {}.",
            if fit.question.prior.is_none() { "cannot be told" } else { "is only assumed" }
        ),
        FitWarning::ShapesAlike { above_c } => format!(
            "no box of {species} was much warmer than {} for long, so whether it slows down where it is warmer still cannot be told: \
             --rate tent says the same up to there.",
            temperature(*above_c, degrees)
        ),
        FitWarning::StoppedEarly { trials } => format!(
            "{} ended before slow seeds could have sprouted: how many can still sprout is unsure.",
            counted(*trials, "sowing", "sowings")
        ),
        FitWarning::RemovedMatters { low, high } => format!(
            "what the mouldy seeds would have done matters here: between {:.0} and {:.0} in 100 can sprout, by how they are counted (--removed).",
            100.0 * low,
            100.0 * high
        ),
        FitWarning::BoxesDisagree { speed_sd } => format!(
            "boxes of {species} differ far more than boxes do (by about {:.0} in 100 in speed), so one says little about the next; next: see whether \
             one was warmer or colder than is on record, or sown on another day.",
            100.0 * speed_sd.exp_m1()
        ),
        FitWarning::LotsTakenTogether { groups } => {
            format!("{} lots or treatments were sown; they are taken together here, as if they were alike.", groups)
        }
        FitWarning::GuessedHours { share } => {
            format!(
                "{:.0} in 100 of the hours had no reading and were guessed from other spots and days.",
                (100.0 * share).max(1.0)
            )
        }
        FitWarning::SproutedAtOnce { containers } => {
            format!("left out: {} had sprouts within hours of sowing. Was the time of sowing right?", listed(containers))
        }
        FitWarning::LeftOut { containers } => {
            format!(
                "left out, for want of temperatures where they stood: {}. next: place a probe there, or give the spot a set temperature.",
                listed(containers)
            )
        }
        FitWarning::Unconfirmed => {
            "the search for the best fit did not come to the same place twice: take it with care.".to_owned()
        }
        FitWarning::RoughDraws { effective } => {
            format!("the ranges rest on only {effective:.0} independent draws: take them as rough.")
        }
    }
}

/// What was assumed, named.
pub(super) fn assumed_words(prior: &Prior, degrees: Degrees) -> String {
    match prior {
        Prior::None => "nothing".to_owned(),
        Prior::General => "what holds of seeds in general".to_owned(),
        Prior::Published(published) => format!("what is published: {}", published.source),
        Prior::Packet(packet, published) => {
            let start =
                published.map_or_else(String::new, |published| format!("; where it starts is published: {}", published.source));
            format!("what the packet says: {}, to the seedling showing{start}", packet_words(packet, degrees))
        }
    }
}

/// What was assumed and from where, in °C; none where nothing was.
#[must_use]
pub fn prior_source(prior: &Prior) -> Option<String> {
    let packet = |packet: &Packet| format!("seed packet: {}", packet_words(packet, Degrees::Celsius).replace('\u{a0}', " "));
    match prior {
        Prior::None => None,
        Prior::General => Some("seeds in general".to_owned()),
        Prior::Published(published) => Some(published.source.to_owned()),
        Prior::Packet(said, None) => Some(packet(said)),
        Prior::Packet(said, Some(published)) => Some(format!("{}; base: {}", packet(said), published.source)),
    }
}

/// "10–14 days at 21 °C, 85 in 100".
fn packet_words(packet: &Packet, degrees: Degrees) -> String {
    let Packet { days_low, days_high, at_c, fraction } = packet;
    let days = if days_low == days_high { format!("{days_low}") } else { format!("{days_low}–{days_high}") };
    let share = fraction.map_or_else(String::new, |fraction| format!(", {:.0} in 100", 100.0 * fraction));
    // As it is printed there: packets give whole degrees.
    format!("{days} days at {}{share}", temperature(*at_c, degrees).replace(".0\u{a0}", "\u{a0}"))
}

fn listed(names: &[Name]) -> String {
    names.iter().map(Name::as_str).collect::<Vec<_>>().join(", ")
}

/// All fits as text.
#[must_use]
pub fn fit_text(fits: &[Fit], degrees: Degrees) -> String {
    let mut text = String::new();
    for fit in fits {
        if !text.is_empty() {
            text.push('\n');
        }
        one_fit(fit, degrees, &mut text);
    }
    text
}

/// The seeds of one lot and treatment, named as far as either differs here.
fn sown_words(fit: &Fit, row: &GerminableOf) -> String {
    let lot = (!fit.layout.lots.is_empty()).then(|| effect_words(&EffectOf::Lot(row.lot.clone())));
    let treatment = (!fit.layout.treatments.is_empty()).then(|| effect_words(&EffectOf::Treatment(row.treatment.clone())));
    lot.into_iter().chain(treatment).collect::<Vec<_>>().join(", ")
}

fn effect_words(of: &EffectOf) -> String {
    match of {
        EffectOf::Lot(Some(lot)) => format!("lot {lot}"),
        EffectOf::Lot(None) => "no named lot".to_owned(),
        EffectOf::Treatment(Some(treatment)) => treatment.to_string(),
        EffectOf::Treatment(None) => "untreated".to_owned(),
    }
}

fn one_fit(fit: &Fit, degrees: Degrees, text: &mut String) {
    let event = match fit.event {
        Event::Radicle => "root tip showing",
        Event::Emergence => "seedling showing",
    };
    // Writing to a string cannot fail.
    let _ = writeln!(text, "{} ({event}): {}", fit.species, came_up(fit));
    let e = &fit.estimates;
    if fit.question.shape != RateShape::Days {
        let _ = writeln!(
            text,
            "  starts at          {}{}",
            with_unit(&turned(&e.base, |celsius| in_degrees(celsius, degrees)), &format!(" {}", sign(degrees)), 1),
            speaker(&e.base)
        );
    }
    if fit.question.shape == RateShape::Tent {
        let _ = writeln!(text, "  fastest at         {}", above_all_seen(fit, &e.optimum, degrees));
        let _ = writeln!(text, "  stops at           {}", above_all_seen(fit, &e.ceiling, degrees));
    }
    let thermal = fit.question.shape != RateShape::Days;
    let (needs, unit) =
        if thermal { ("need", format!(" {}·d above the start", sign(degrees))) } else { ("take", " days".to_owned()) };
    let half = if thermal { turned(&e.half, |thermal| difference_in(thermal, degrees)) } else { e.half };
    let places = usize::from(e.half.estimate.is_some_and(|half| half < 20.0));
    let _ = writeln!(text, "  half of them {needs}  {}{}", with_unit(&half, &unit, places), speaker(&e.half));
    let germinable = turned(&e.germinable, |share| 100.0 * share);
    let _ = writeln!(text, "  can sprout         {}{}", with_unit(&germinable, " in 100", 0), speaker(&germinable));
    for row in fit.germinable.iter().filter(|_| fit.germinable.len() > 1) {
        let share = turned(&row.germinable, |share| 100.0 * share);
        let _ = writeln!(text, "    {}: {}", sown_words(fit, row), with_unit(&share, " in 100", 0));
    }
    for effect in &fit.effects {
        let more = turned(&effect.ln_requirement, |ln| 100.0 * ln.exp_m1());
        let _ = writeln!(text, "    {} asks for {} more warmth", effect_words(&effect.of), with_unit(&more, " in 100", 0));
    }
    if let Some(sd) = fit.estimates.speed_sd.estimate {
        let sd = 100.0 * sd.exp_m1();
        let _ = writeln!(text, "  boxes differ       by about {sd:.0} in 100 in speed{}", speaker(&fit.estimates.speed_sd));
    }
    if let Some((low, high)) = fit.valid_c.filter(|_| fit.question.shape != RateShape::Days) {
        let at = if decimal(low) == decimal(high) { "at     " } else { "between" };
        let _ = writeln!(text, "  learnt {at}     {}", range_words((low, high), "and", degrees));
    }
    if !fit.question.prior.is_none() && fit.sprouted > 0 {
        let _ = writeln!(
            text,
            "{}",
            paragraph(&format!("assumed beforehand: {}", assumed_words(&fit.question.prior, degrees)), "  ", "    ")
        );
    }
    let said = |value: &Estimate| above_all_seen(fit, value, degrees).starts_with(NOT_TOLD);
    for warning in &fit.warnings {
        if *warning == FitWarning::NeverAboveOptimum && said(&e.optimum) && said(&e.ceiling) {
            continue;
        }
        let _ = writeln!(text, "{}", paragraph(&warning_words(warning, fit, degrees), "  note: ", "    "));
    }
}

/// "19 of 24 seeds sprouted in 1 box", as far as seeds were counted.
fn came_up(fit: &Fit) -> String {
    let boxes = counted(fit.trials.len(), "box", "boxes");
    let uncounted = fit.trials.iter().filter(|trial| trial.fraction.is_none()).count();
    if fit.trials.is_empty() {
        "no box that could teach".to_owned()
    } else if uncounted == 0 {
        format!("{} of {} seeds sprouted in {boxes}", fit.sprouted, fit.seeds)
    } else {
        format!("{} sprouted in {boxes}, of seeds that were not counted in {uncounted} of them", fit.sprouted)
    }
}

/// "16.0 to 19.4 °C", or "16.0 °C" where both ends are printed alike.
fn range_words((low, high): (f64, f64), between: &str, degrees: Degrees) -> String {
    let (low, high) = (decimal(in_degrees(low, degrees)), temperature(high, degrees));
    if high.starts_with(&format!("{low}\u{a0}")) { high } else { format!("{low} {between} {high}") }
}

/// Optimum or ceiling; where no box was ever that warm, what is assumed is not printed as if it were known.
fn above_all_seen(fit: &Fit, value: &Estimate, degrees: Degrees) -> String {
    let unit = sign(degrees);
    let of_degrees = turned(value, |celsius| in_degrees(celsius, degrees));
    let never = fit.warnings.contains(&FitWarning::NeverAboveOptimum) && value.informed_by == Some(Informant::Prior);
    match of_degrees.estimate.filter(|_| never || fit.sprouted == 0) {
        Some(assumed) => format!("{NOT_TOLD} (assumed about {assumed:.0} {unit})"),
        None => with_unit(&of_degrees, &format!(" {unit}"), 1) + speaker(value),
    }
}

/// An estimate in another unit.
fn turned(value: &Estimate, unit: impl Fn(f64) -> f64) -> Estimate {
    Estimate { estimate: value.estimate.map(&unit), low: value.low.map(&unit), high: value.high.map(&unit), ..*value }
}

fn with_unit(value: &Estimate, unit: &str, places: usize) -> String {
    let words = estimate(value, places);
    if value.estimate.is_some() { format!("{words}{unit}") } else { words }
}

fn speaker(value: &Estimate) -> &'static str {
    match value.informed_by {
        Some(Informant::Trials) => " — your sowings say so",
        Some(Informant::Both) => " — your sowings and what we assumed",
        Some(Informant::Prior) => " — mostly what we assumed",
        None => "",
    }
}
