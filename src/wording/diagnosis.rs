//! Which boxes are slow and why, in words.

use std::collections::BTreeSet;
use std::fmt::Write as _;

use super::Detail;
use super::cautions::{cautions_beside, in_full, lines_of, sources};
use super::chilling::{chilling_words, cold_advice_words};
use super::dates::{day, moment};
use super::numbers::{capital, decimal, in_days, odds, paragraph, temperature};
use super::places::{diagnosis_in_short, swaps_words};
use crate::bench::{Degrees, Name};
use crate::civil::Zone;
use crate::diagnosis::{
    Advice, Because, BoxDelay, BoxDiagnosis, Caution, Diagnosis, Finding, Kind, MoveDoubt, MoveGain, Near, ProbeFinding, Suspect,
};
use crate::stats::Spread;

/// Said "clearly" from this chance on.
const CLEARLY: f64 = 0.95;
/// Hours under the start or above the best temperature are worth a word from here on.
const HOURS_WORTH_SAYING: f64 = 12.0;
/// A share of guessed warmth from which it is said.
const GUESSED: f64 = 0.1;
/// A box that was carried so often is told so.
const CARRIED_OFTEN: usize = 5;

/// What is said of a box that has been carried to the fastest spot since.
const BEFORE: &str = "from where it stood before; where it stands now is the fastest";

/// What a finding rests on, as a sentence or two.
#[must_use]
pub fn evidence_words(finding: &Finding, one: &BoxDiagnosis, degrees: Degrees) -> String {
    let words = rests_on(finding, one, degrees);
    let by_warmth = matches!(
        finding.kind,
        Kind::OnCourse | Kind::ColdSpot | Kind::ColdNights | Kind::HotSpot | Kind::HotHours | Kind::SlowBeyondTemperature
    );
    match guessed_words(one).filter(|_| by_warmth) {
        Some(guessed) => format!("{words} {guessed}"),
        None => words,
    }
}

/// How much of a box's warmth was guessed, where that is worth a word.
pub(super) fn guessed_words(one: &BoxDiagnosis) -> Option<String> {
    let share = one.guessed.filter(|share| *share >= GUESSED)?;
    Some(format!("Of the warmth of {} {:.0} in 100 was guessed, for want of readings.", one.trial.container.name, 100.0 * share))
}

/// Why a box is slow that was carried about: the place where it lost most, how often it was carried, and among how many places.
fn carried_words(one: &BoxDiagnosis, delay: &BoxDelay) -> Option<String> {
    let sown = one.trial.container.sown;
    let moves = one.trial.moves.iter().filter(|carried| carried.time > sown).count();
    let (lost_at, _) = delay.lost_at.as_ref()?;
    match moves {
        0 => None,
        1..CARRIED_OFTEN if delay.best_spot.as_ref() == Some(&one.spot) => Some(BEFORE.to_owned()),
        1..CARRIED_OFTEN => Some(format!("mostly for its time at {lost_at}")),
        _ => Some(format!("mostly for its time at {lost_at}; it was carried {moves} times")),
    }
}

fn rests_on(finding: &Finding, one: &BoxDiagnosis, degrees: Degrees) -> String {
    let clearly = if finding.chance.is_some_and(|chance| chance >= CLEARLY) { "clearly " } else { "" };
    let species = &one.trial.container.species;
    if let Some(words) = one.chilled.as_ref().and_then(|chilled| chilling_words(finding.kind, chilled, degrees)) {
        return words;
    }
    match (finding.kind, &one.delay) {
        (Kind::OnCourse, Some(delay)) if delay.best_spot.as_ref() == Some(&one.spot) => {
            "as fast as anywhere on this bench.".to_owned()
        }
        (Kind::OnCourse, _) => "on course.".to_owned(),
        (Kind::ColdSpot | Kind::ColdNights | Kind::HotSpot | Kind::HotHours, Some(delay)) => {
            let stays = match finding.kind {
                Kind::ColdSpot => "because its spot is cold",
                Kind::ColdNights => "because its nights are cold",
                Kind::HotSpot => "because its spot is too hot, day and night",
                _ => "because it is too hot there for some hours",
            };
            let hot = matches!(finding.kind, Kind::HotSpot | Kind::HotHours);
            let numbers = if hot { hot_words(delay, species, degrees) } else { cold_words(delay, degrees) };
            format!("{clearly}late {}. {numbers}", carried_words(one, delay).unwrap_or_else(|| stays.to_owned()))
        }
        (Kind::SlowBeyondTemperature, Some(delay)) => format!(
            "slower than its warmth explains, by {}; {}.",
            delay
                .slower
                .p50
                .map_or_else(|| "an unknown factor".to_owned(), |factor| format!("about {:.0} in 100", 100.0 * (factor - 1.0))),
            odds(delay.slower_chance),
        ),
        (Kind::WarmthMayHarm, Some(delay)) => format!(
            "{} is warmer or steadier ({} on average) than anywhere {species} is known to have sprouted well.",
            fastest(delay),
            temperature(delay.best_mean_c, degrees)
        ),
        (Kind::BoxDryOrMouldy, _) => "dryness or mould was noted.".to_owned(),
        (Kind::TooEarlyToTell, _) => because_words(finding.because, one),
        // A kind that speaks of a delay or of chilling comes with one.
        (_, None | Some(_)) => String::new(),
    }
}

fn fastest(delay: &BoxDelay) -> &str {
    delay.best_spot.as_ref().map_or("the fastest spot", Name::as_str)
}

fn cold_words(delay: &BoxDelay, degrees: Degrees) -> String {
    let mut words = format!(
        "{} later than at {}: {} here on average, {} there.",
        capital(&in_days(&delay.delay_days)),
        fastest(delay),
        temperature(delay.mean_c, degrees),
        temperature(delay.best_mean_c, degrees)
    );
    if delay.hours_below_base >= HOURS_WORTH_SAYING {
        let _ = write!(words, " For {:.0} hours it was too cold to gain anything.", delay.hours_below_base);
    }
    words
}

fn hot_words(delay: &BoxDelay, species: &Name, degrees: Degrees) -> String {
    format!(
        "{} later than at {}: {} here on average, {} there, and {:.0} hours above what {species} likes best.",
        capital(&in_days(&delay.delay_days)),
        fastest(delay),
        temperature(delay.mean_c, degrees),
        temperature(delay.best_mean_c, degrees),
        delay.hours_above_optimum
    )
}

/// "probe left at sill", "the probes left and right at sill".
fn hinge_words(one: &BoxDiagnosis) -> String {
    one.delay.as_ref().and_then(|delay| delay.hinge.as_ref()).map_or_else(
        || "a probe".to_owned(),
        |hinge| {
            let probes = if hinge.probes.len() == 1 { "probe" } else { "the probes" };
            format!("{probes} {} at {}", names(&hinge.probes), hinge.spot)
        },
    )
}

fn names(names: &[Name]) -> String {
    names.iter().map(Name::as_str).collect::<Vec<_>>().join(" and ")
}

fn because_words(because: Option<Because>, one: &BoxDiagnosis) -> String {
    let species = &one.trial.container.species;
    match because {
        Some(Because::NoTemperatures) => "no temperature is known for it.".to_owned(),
        Some(Because::InTheCold) => {
            "in the cold, where it gains nothing yet: its days count from the day it is taken out.".to_owned()
        }
        Some(Because::OneSpotOnly) => {
            "there is no other spot to compare with; a second place with a probe would tell what this one costs.".to_owned()
        }
        Some(Because::OthersUnmeasured) => {
            "no other spot was measured for most of its time, so there is none to compare with.".to_owned()
        }
        Some(Because::NothingLearnt) => format!("no sowing of {species} has taught anything yet."),
        Some(Because::LittleWarmth) => "it has gathered too little warmth to judge.".to_owned(),
        Some(Because::OptimumUnknown) => format!("it looks slowed by heat, but no sowing here tells where {species} is fastest."),
        Some(Because::HalfADegree) => format!(
            "it looks late, but that would be gone if {}, never calibrated, read half a degree wrong: no verdict on the spot yet.",
            hinge_words(one)
        ),
        Some(Because::DoubtedReadings) => format!(
            "it looks late, but that would be gone without readings of {} that are in doubt: no verdict on the spot yet.",
            hinge_words(one)
        ),
        Some(Because::WithinChance) | None => "any difference is within what probes and chance make.".to_owned(),
    }
}

/// What to do, as a sentence; none where nothing needs doing.
#[must_use]
pub fn advice_words(advice: &Advice) -> String {
    match advice {
        Advice::MoveTo(gain) => format!("Moving it to {} today: {}.", gain.spot, gain_words(gain)),
        Advice::TryOne(gain) => {
            format!("Moving to {} would give {}, but that is untested for this plant; try one box.", gain.spot, gain_words(gain))
        }
        Advice::MakeRoom(gain) => format!(
            "At {} it would be {}, but there is no room: something else would have to make way.",
            gain.spot,
            gain_words(gain)
        ),
        Advice::LeaveIt => "A move now gains little: leave it.".to_owned(),
        Advice::LookInside(suspects) => format!(
            "Look inside, and note what you find as the check's condition: {}",
            suspects.iter().map(|suspect| suspect_words(*suspect)).collect::<Vec<_>>().join(" ")
        ),
        Advice::Tend => "Take out what is mouldy, keep it damp but not wet, give it air.".to_owned(),
        Advice::Cold(advice) => cold_advice_words(*advice),
        Advice::Calibrate(probes) => {
            let each: Vec<String> = probes.iter().map(|probe| format!("`seedclock probe calibrate {probe} --ice`")).collect();
            format!("Ice slush settles it: {}.", each.join(", "))
        }
        Advice::SeeTo(probes) => format!("See to {} first.", names(probes)),
        Advice::LearnMore => "Keep looking and logging.".to_owned(),
    }
}

fn suspect_words(suspect: Suspect) -> &'static str {
    match suspect {
        Suspect::Moisture => "Is it dry, or too wet?",
        Suspect::Mould => "Is it mouldy?",
        Suspect::HalfChilled => "Was it chilled as long as it wants?",
        Suspect::Dormancy => "Are the seeds dormant, wanting cold or scratching first?",
        Suspect::Light => "Has it the light, or the dark, that it wants?",
        Suspect::Depth => "Are they sown too deep?",
        Suspect::Age => "Is the seed old?",
    }
}

/// "3–5 days sooner, as many sprouts expected".
#[must_use]
pub fn gain_words(gain: &MoveGain) -> String {
    let sooner = match (gain.days.p10, gain.days.p90) {
        (Some(_), _) => format!("{} sooner", in_days(&gain.days)),
        (None, _) => "sooner".to_owned(),
    };
    format!("{sooner}, {}", sprouts_words(gain))
}

fn sprouts_words(gain: &MoveGain) -> String {
    match gain.sprouts.p50.map(f64::round) {
        Some(more) if more >= 1.0 => format!("about {more:.0} more sprouts within 60 days"),
        Some(fewer) if fewer <= -1.0 => format!("about {:.0} fewer sprouts within 60 days", -fewer),
        _ => "as many sprouts expected".to_owned(),
    }
}

/// What is said of a probe.
#[must_use]
pub fn probe_words(finding: &ProbeFinding) -> String {
    match finding {
        ProbeFinding::BadDays { days, worst } => format!(
            "on {days} {} many of its readings could not be used, worst on {}: {} of {} failed, {} doubtful. Look at its plug and cable, or say by `seedclock probe limits` that its place is like that; what could not be used was left out and the hours guessed.",
            if *days == 1 { "day" } else { "days" },
            day(worst.date),
            worst.failed,
            worst.readings,
            worst.suspect
        ),
        ProbeFinding::Stuck { from, until } => {
            let when = if from == until { format!("on {}", day(*from)) } else { format!("from {} to {}", day(*from), day(*until)) };
            format!(
                "{when} it showed the very same value for six hours and more, while another probe moved. Its readings are used, but see that it is alive: warm it in your hand."
            )
        }
        ProbeFinding::OddDays { other, days, last, above_c } => format!(
            "on {days} {} it read far otherwise beside {other} than it usually does, last on {}: {:.1} °C {}. Had one of them fallen out, or did the sun stand on it? `seedclock doubt NAME --from … --to …` keeps such days out.",
            if *days == 1 { "day" } else { "days" },
            day(*last),
            above_c.abs(),
            if *above_c < 0.0 { "lower" } else { "higher" }
        ),
        ProbeFinding::SunStruck { days, first, last, hour, above_c, every_day } => {
            let when = if first == last {
                format!("on {}", day(*first))
            } else {
                format!("on {days} days from {} to {}", day(*first), day(*last))
            };
            let quarters = (hour * 4.0).round() as i64;
            let clock = format!("{:02}:{:02}", quarters / 4 % 24, quarters % 4 * 15);
            if *every_day {
                format!(
                    "{when} it shot up by about {above_c:.0} °C around {clock} and fell faster than a damp box can: does the sun reach the probe itself, or is something switched on then? Its readings are used; if it is the sun, shade the probe or put it in a dummy box of the same damp paper."
                )
            } else {
                format!(
                    "{when} it shot up by about {above_c:.0} °C around {clock} and fell faster than a damp box can: does the sun reach the probe itself? Those readings are left out; shade it, or put it in a dummy box of the same damp paper. If it is truly as warm there for seeds: `seedclock probe limits NAME --spike {0}..{0}`.",
                    (above_c * 2.0).ceil()
                )
            }
        }
        ProbeFinding::FallenOut { air, since, times } => format!(
            "since {} it moves as the room does (by {air}), {times:.1} times as much as before: has it fallen out of its box? Put it back, and keep those days out by `seedclock doubt NAME --from … --to …`; if box and probe were carried elsewhere, say so by `seedclock probe place`.",
            day(*since)
        ),
        ProbeFinding::Beside { other, above_c, since, uncalibrated, near } => {
            let (place, test) = match near {
                Near::OneSpot => ("at the same spot", "If they stand close together, try both in ice slush"),
                Near::OneRoom => {
                    ("night after night, both said to read their room's air", "If that is one room, try both in ice slush")
                }
            };
            let both = match uncalibrated {
                0 => "both are calibrated",
                1 => "one of the two was never calibrated",
                _ => "neither was ever calibrated",
            };
            format!(
                "it reads {:.1} °C {} {other}, {place}, since {}; {both}. {test}: `seedclock probe calibrate NAME --ice`.",
                above_c.abs(),
                if *above_c < 0.0 { "below" } else { "above" },
                day(*since)
            )
        }
    }
}

/// How much is said of the cautions beyond the line beside each advice.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Cautions {
    /// Nothing: they stand elsewhere.
    Apart,
    /// How to see them in full.
    Named,
    /// In full.
    InFull,
}

/// The diagnosis as text.
#[must_use]
pub fn diagnosis_text(diagnosis: &Diagnosis, zone: Zone, degrees: Degrees, detail: Detail, say: Cautions) -> String {
    let mut text = match detail {
        Detail::Short => diagnosis_in_short(diagnosis, zone, degrees),
        Detail::All => diagnosis_in_numbers(diagnosis, zone, degrees),
    };
    let cautions: BTreeSet<Caution> = diagnosis
        .boxes
        .iter()
        .flat_map(|one| one.findings.iter().flat_map(|of| cautions_beside(of, &one.trial.container)))
        .collect();
    match say {
        Cautions::Apart => {}
        Cautions::Named => {
            let mut more = Vec::new();
            let slow = diagnosis.boxes.iter().flat_map(|one| &one.findings).any(|finding| is_slow(finding.kind));
            if detail == Detail::Short && slow {
                more.push("each box with its numbers: seedclock diagnose --detail");
            }
            if !cautions.is_empty() {
                more.push("the cautions in full: seedclock diagnose --cautions");
            }
            if !more.is_empty() {
                let _ = write!(text, "\n{}\n", paragraph(&more.join("; "), "", "  "));
            }
        }
        Cautions::InFull => cautions.iter().for_each(|caution| {
            let words = format!("{} (From: {}.)", in_full(*caution), sources(*caution).join("; "));
            let _ = write!(text, "\n{}\n", paragraph(&words, "", ""));
        }),
    }
    text
}

fn is_slow(kind: Kind) -> bool {
    matches!(kind, Kind::ColdSpot | Kind::ColdNights | Kind::HotSpot | Kind::HotHours)
}

/// Slow boxes first and in full, the rest in a line each.
fn diagnosis_in_numbers(diagnosis: &Diagnosis, zone: Zone, degrees: Degrees) -> String {
    let mut text = String::new();
    // Writing to a string cannot fail.
    let _ = writeln!(text, "As of {} ({zone}).", moment(diagnosis.as_of, zone));
    let mut quiet: Vec<(String, Vec<String>)> = Vec::new();
    for one in &diagnosis.boxes {
        let container = &one.trial.container;
        for finding in &one.findings {
            if matches!(finding.kind, Kind::OnCourse | Kind::TooEarlyToTell | Kind::WarmthMayHarm) {
                let words = evidence_words(finding, one, degrees);
                let label = format!("{} ({}, {})", container.name, container.species, one.spot);
                match quiet.iter_mut().find(|(said, _)| *said == words) {
                    Some((_, boxes)) => boxes.push(label),
                    None => quiet.push((words, vec![label])),
                }
                continue;
            }
            let mut words =
                format!("{}, {}, {}: {}", container.name, container.species, one.spot, evidence_words(finding, one, degrees));
            if let Some(advice) = &finding.advice {
                let _ = write!(words, " {}", advice_words(advice));
            }
            if let Some(lines) = lines_of(&cautions_beside(finding, container)) {
                let _ = write!(words, " {lines}");
            }
            let _ = write!(text, "\n{}\n", paragraph(&words, "", "  "));
            numbers(finding, one, &mut text);
        }
    }
    for (words, boxes) in &quiet {
        let _ = write!(text, "\n{}\n", paragraph(&format!("{}: {words}", boxes.join(", ")), "", "  "));
    }
    if let Some(swaps) = &diagnosis.swaps {
        let _ = write!(text, "\n{}\n", paragraph(&swaps_words(swaps), "", "  "));
    }
    for (probe, spot, findings) in &diagnosis.probes {
        for finding in findings {
            let _ = write!(text, "\n{}\n", paragraph(&format!("Probe {probe}, {spot}: {}", probe_words(finding)), "", "  "));
        }
    }
    text
}

/// Where the days went, and what moves would bring, for a box that is said to be slow.
fn numbers(finding: &Finding, one: &BoxDiagnosis, text: &mut String) {
    let Some(delay) = one.delay.as_ref().filter(|_| is_slow(finding.kind)) else { return };
    let lost = &delay.lost;
    let parts = [
        (lost.below_base, "too cold to start"),
        (lost.above_optimum, "too hot"),
        (lost.nights, "cooler nights"),
        (lost.days, "cooler days"),
        (lost.rest, "the box itself"),
    ];
    let said = |(days, why): &(Spread, &str)| {
        let middle = days.p50.filter(|days| *days >= 0.5)?;
        Some(match (days.p10, days.p90) {
            (Some(low), Some(high)) => format!("{} {why} ({} to {})", decimal(middle), decimal(low), decimal(high)),
            _ => format!("{} {why}", decimal(middle)),
        })
    };
    let words: Vec<String> = parts.iter().filter_map(said).collect();
    if !words.is_empty() {
        let _ = writeln!(text, "{}", paragraph(&format!("days lost: {}", words.join(", ")), "  ", "    "));
    }
    let moves: Vec<String> = delay.moves.iter().map(|gain| move_words(gain, one)).collect();
    if !moves.is_empty() && !one.ended {
        let _ = writeln!(text, "{}", paragraph(&format!("if moved today: {}", moves.join("; ")), "  ", "    "));
    }
}

/// One move with its days, sprouts, and what speaks against it.
fn move_words(gain: &MoveGain, one: &BoxDiagnosis) -> String {
    let doubts = one.liked.as_ref().map(|liked| liked.doubts(gain)).unwrap_or_default();
    let against: Vec<String> = doubts.into_iter().map(|doubt| doubt_of_move_words(doubt, gain)).collect();
    let against = if against.is_empty() { String::new() } else { format!(" ({})", against.join(", ")) };
    let (sooner, later) = (gain.days.p90.unwrap_or(f64::INFINITY), gain.days.p10.unwrap_or(f64::INFINITY));
    let when = if sooner < 0.0 {
        let behind = Spread { p10: gain.days.p90.map(|d| -d), p50: gain.days.p50.map(|d| -d), p90: gain.days.p10.map(|d| -d) };
        format!("{} later", in_days(&behind))
    } else if later < 0.0 || gain.days.p90.is_some_and(|days| days.round() == 0.0) {
        "about as soon".to_owned()
    } else {
        format!("{} sooner", in_days(&gain.days))
    };
    format!("{} {when}, {}{against}", gain.spot, sprouts_words(gain))
}

/// What speaks against a move, in a few words.
#[must_use]
pub fn doubt_of_move_words(doubt: MoveDoubt, gain: &MoveGain) -> String {
    match doubt {
        MoveDoubt::Full => "no room there".to_owned(),
        MoveDoubt::TooHot => format!("too hot there for {:.0} hours a day", gain.lately.hot_hours_a_day),
        MoveDoubt::Untested => "untested for this plant".to_owned(),
        MoveDoubt::OutsideKnown => "outside the warmth that sowings tell of".to_owned(),
    }
}
