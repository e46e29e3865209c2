//! All the numbers of a comparison.

use std::fmt::Write as _;

use super::{group_label, listed};
use crate::bench::{Degrees, Name};
use crate::civil::Zone;
use crate::experiment::{
    Clock, CompareAnswer, CurvePoint, PairAnswer, Ranked, Reckoned, ShareDiffers, SpeedDiffers, Standing, Unit, Verdict, WarmthFrom,
};
use crate::stats::overdispersion;
use crate::wording::moment;
use crate::wording::numbers::{decimal, difference_in, fixed, paragraph, sign, temperature};

/// Points of a curve that are printed at the most.
const POINTS: usize = 12;

/// The numbers of each group, each pair, and what they rest on.
pub(super) fn numbers(answer: &CompareAnswer, zone: Zone, degrees: Degrees, text: &mut String) {
    // Writing to a string cannot fail.
    for at in 0..answer.comparison.groups.len() {
        let _ = writeln!(text, "\n{}", group_label(answer, at));
        group(answer, at, degrees, text);
    }
    for pair in &answer.comparison.pairs {
        let _ = writeln!(text, "\n{} beside {}", group_label(answer, pair.a), group_label(answer, pair.b));
        two(pair, answer, degrees, text);
    }
    let counts: Vec<Vec<(u32, u32)>> = answer.comparison.groups.iter().map(|group| group.counts.clone()).collect();
    if let Some(alike) = overdispersion(&counts, 0.95) {
        let value = Reckoned { estimate: Some(alike.correlation), low: Some(alike.low), high: Some(alike.high) };
        let _ = writeln!(text, "\nall groups");
        line(text, "seeds of one box alike by", &interval(&value, 3, " beyond their group, going by these counts alone"));
    }
    let _ = writeln!(text, "\n{}", paragraph(&rests_on(answer, zone, degrees), "", "  "));
}

/// The trade's indices of each group, each with its formula: one name has often several.
pub(super) fn indices(answer: &CompareAnswer, text: &mut String) {
    // Writing to a string cannot fail.
    for (at, group) in answer.comparison.groups.iter().enumerate() {
        let _ = writeln!(text, "\n{}, indices in common use (not one of them tells how sure it is)", group_label(answer, at));
        for index in &group.indices {
            let value =
                index.value.map_or_else(|| "cannot be had".to_owned(), |value| format!("{} {}", fixed(value, 3), index.unit));
            let trap = if index.trap.is_empty() { String::new() } else { format!("; {}", index.trap) };
            line(text, index.name, &format!("{}   = {}{trap}", value.trim_end(), index.formula));
        }
    }
    let _ = writeln!(
        text,
        "\n{}",
        paragraph(
            "t: days of a look; n: new sprouts seen then; c: all sprouts seen by then; N: seeds sown; D: days of the last look. Germination energy \
             is counted to day 7.",
            "",
            "  "
        )
    );
}

fn line(text: &mut String, what: &str, words: &str) {
    let _ = writeln!(text, "{}", paragraph(words, &format!("  {what:<30}"), &" ".repeat(32)));
}

/// "0.55 (0.34 to 0.74)", or what is missing left open.
fn interval(value: &Reckoned, places: usize, unit: &str) -> String {
    let number = |value: f64| fixed(value, places);
    let Some(middle) = value.estimate else { return "not reached".to_owned() };
    let range = match (value.low, value.high) {
        (Some(low), Some(high)) => format!(" ({} to {})", number(low), number(high)),
        (Some(low), None) => format!(" (at least {})", number(low)),
        (None, Some(high)) => format!(" (at most {})", number(high)),
        (None, None) => String::new(),
    };
    format!("{}{range}{unit}", number(middle))
}

fn in_hundred(value: &Reckoned) -> Reckoned {
    let turned = |share: f64| 100.0 * share;
    Reckoned { estimate: value.estimate.map(turned), low: value.low.map(turned), high: value.high.map(turned) }
}

fn in_unit(value: &Reckoned, degrees: Degrees) -> Reckoned {
    let turned = |thermal: f64| difference_in(thermal, degrees);
    Reckoned { estimate: value.estimate.map(turned), low: value.low.map(turned), high: value.high.map(turned) }
}

fn group(answer: &CompareAnswer, at: usize, degrees: Degrees, text: &mut String) {
    let group = &answer.comparison.groups[at];
    let thermal = format!(" {}·d", sign(degrees));
    let seeds = group.seeds.map_or_else(|| "an uncounted number of seeds".to_owned(), |seeds| format!("{seeds} seeds"));
    line(text, "boxes", &format!("{} ({seeds})", listed(group.containers.iter().map(Name::as_str))));
    let standing = match group.standing {
        Standing::Finished => "finished",
        Standing::StillWatched => "still watched",
        Standing::GivenUpEarly => "given up early",
        Standing::NotLooked => "not looked at yet",
    };
    line(text, "watched", &format!("{} days, {standing}", decimal(group.last_days)));
    if let Some(mean_c) = group.mean_c {
        line(text, "temperature", &format!("{} on the average", temperature(mean_c, degrees)));
    }
    if group.fraction.estimate.is_some() {
        line(text, "came up", &interval(&in_hundred(&group.fraction), 0, " in 100, were boxes alike"));
    }
    if let Some(dispersion) = group.dispersion {
        let boxes: Vec<String> = group.counts.iter().map(|(up, seeds)| format!("{up}/{seeds}")).collect();
        let how =
            format!("{}; so far apart by luck alone: chance {}", listed(boxes.iter().map(String::as_str)), chance(dispersion.p));
        line(text, "box by box", &how);
    }
    line(text, "half of the sown", &interval(&group.half_days, 1, " days"));
    if !group.by_warmth.is_empty() {
        line(text, "", &interval(&in_unit(&group.half_warmth, degrees), 0, &thermal));
    }
    line(text, "half of those that come up", &interval(&group.germinable_half_days, 1, " days"));
    if group.germinable_half_warmth.estimate.is_some() {
        line(text, "", &interval(&in_unit(&group.germinable_half_warmth, degrees), 0, &thermal));
    }
    if !group.by_day.is_empty() {
        line(text, "up in 100 by day", &curve_words(&group.by_day));
    }
}

/// "7: 15 (5–36), 8: 40 (22–61)": at the days where the curve rises.
fn curve_words(points: &[CurvePoint]) -> String {
    let rises: Vec<&CurvePoint> = points.windows(2).filter(|two| two[1].share > two[0].share).map(|two| &two[1]).collect();
    let every = rises.len().div_ceil(POINTS).max(1);
    let kept = rises.iter().enumerate().filter(|(at, _)| (rises.len() - 1 - at).is_multiple_of(every));
    let words: Vec<String> = kept
        .map(|(_, point)| {
            format!("{:.0}: {:.0} ({:.0}–{:.0})", point.at, 100.0 * point.share, 100.0 * point.low, 100.0 * point.high)
        })
        .collect();
    words.join(", ")
}

fn chance(p: f64) -> String {
    if p < 0.0001 { "below 0.0001".to_owned() } else { fixed(p, 4) }
}

fn ranked(test: &Ranked) -> String {
    let exact = test.exact_p.map_or_else(String::new, |p| {
        format!(", {} by shuffling {}", chance(p), if test.unit == Unit::Boxes { "boxes" } else { "seeds" })
    });
    format!("z {}, chance {}{exact}", fixed(test.z, 2), chance(test.p))
}

fn verdict(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Shown => "shown",
        Verdict::NotShown => "not shown",
        Verdict::CannotTell(_) => "cannot tell",
    }
}

fn two(pair: &PairAnswer, answer: &CompareAnswer, degrees: Degrees, text: &mut String) {
    let least = pair.log_rank.or(pair.log_rank_warmth).and_then(|test| test.least_by_boxes);
    let several = if answer.comparison.pairs.len() > 1 { ", adjusted for all pairs" } else { "" };
    if pair.fraction_difference.estimate.is_some() {
        line(text, "points more", &interval(&in_hundred(&pair.fraction_difference), 0, ", 95 in 100, were boxes alike"));
        line(text, "", &interval(&in_hundred(&pair.fraction_judged), 0, ", 97.5 in 100, boxes allowed to differ"));
    }
    if let Some(p) = pair.fisher_p {
        line(text, "luck alone, seeds shuffled", &chance(p));
    }
    for (what, test) in [("log-rank by the day", pair.log_rank), ("log-rank by warmth", pair.log_rank_warmth)] {
        if let Some(test) = test {
            line(text, what, &ranked(&test));
        }
    }
    match least {
        Some(least) if least > 0.05 => {
            line(
                text,
                "",
                &format!("boxes shuffled where they stand side by side could not come below {}: too few of them", fixed(least, 2)),
            );
        }
        None if pair.log_rank.is_some() => line(text, "", "boxes cannot be shuffled: nowhere do both stand side by side"),
        _ => {}
    }
    let on = if pair.speed_on == Clock::Warmth { "by warmth" } else { "by the day" };
    line(text, "times, a part of the other's", &format!("{} by the day", interval(&pair.ratio_days, 2, "")));
    if pair.ratio_warmth.estimate.is_some() {
        line(text, "", &format!("{} by warmth", interval(&pair.ratio_warmth, 2, "")));
    }
    let p = |p: Option<f64>| p.map_or_else(String::new, |p| format!(", chance {}{several}", chance(p)));
    line(text, "how many", &format!("{}{}", verdict(pair.fraction), p(pair.fraction_p)));
    line(text, "how fast", &format!("{}, {on}{}", verdict(pair.speed), p(pair.speed_p)));
    if let Some(needed) = pair.needed {
        let plan = |at: usize| {
            let plan = needed.plans[at];
            format!("{} seeds in {} boxes each for {:.0} in 10", plan.seeds, plan.boxes, 10.0 * plan.power)
        };
        let alike = needed.plans[0].seeds_if_alike;
        line(
            text,
            &format!("to show {:.0} points", 100.0 * needed.difference),
            &format!("{}, {} ({alike} for 8 in 10 were boxes alike)", plan(0), plan(1)),
        );
    }
    if let Some(smallest) = pair.smallest_shown {
        line(text, "could show", &format!("{:.0} points, 8 times in 10", 100.0 * smallest));
    }
    if let Some((one, other)) = pair.along.celsius {
        line(text, "unlike warm", &format!("{} and {}", temperature(one, degrees), temperature(other, degrees)));
    }
}

/// What the numbers rest on.
fn rests_on(answer: &CompareAnswer, zone: Zone, degrees: Degrees) -> String {
    let asked = &answer.comparison.asked;
    let share = match asked.boxes_differ.share {
        ShareDiffers::Assumed(rho) => format!("seeds of one box are assumed to be alike by {rho} in what comes up"),
        ShareDiffers::Own(sd) => format!("your own boxes differ by {} in the logit of what comes up", fixed(sd, 2)),
    };
    let speed = match asked.boxes_differ.speed {
        SpeedDiffers::Assumed(sd) => format!("boxes are assumed to differ by {:.0} in 100 in speed", 100.0 * sd),
        SpeedDiffers::Own(sd) => format!("your own boxes differ by {:.0} in 100 in speed", 100.0 * sd),
    };
    let warmth = match answer.warmth {
        WarmthFrom::Nowhere => "no warmth is known of some of them, so days are compared".to_owned(),
        WarmthFrom::Sowings(base) => format!(
            "warmth is counted from {}, learnt from your sowings and taken to be the same for all groups",
            temperature(base, degrees)
        ),
        WarmthFrom::Assumed(base) => {
            format!("warmth is counted from {}, mostly assumed and taken to be the same for all groups", temperature(base, degrees))
        }
    };
    format!(
        "How this was worked out, as of {}: {share}; {speed}; {warmth}. Days count from wetting, or from leaving the cold. Seeds found rotten \
         count as seeds that could not have come up. Each of the two verdicts is wrong in at most 1 of 40 comparisons where nothing differs.",
        moment(answer.as_of, zone)
    )
}
