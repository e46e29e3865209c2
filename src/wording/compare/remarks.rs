//! What is said beside the numbers of a comparison.

use std::collections::BTreeSet;

use super::said::groups_named;
use super::{factor_word, group_label, listed};
use crate::bench::{Degrees, Name};
use crate::diagnosis::{Caution, cautions_in_words};
use crate::experiment::{Clock, CompareAnswer, Factor, LeftOut, Remark, Side, Verdict, Without};
use crate::wording::cautions::lines_of;
use crate::wording::numbers::{counted, difference_in, sign, temperature};

/// The kind of a remark, for other programs.
#[must_use]
pub fn remark_kind(remark: &Remark) -> &'static str {
    match remark {
        Remark::UnlikeWarmth { .. } => "unlike-warmth",
        Remark::Along { factor: Factor::Treatment, .. } => "treatments-apart",
        Remark::Along { factor: Factor::Lot, .. } => "lots-apart",
        Remark::Along { factor: Factor::Spot, .. } => "spots-apart",
        Remark::Along { factor: Factor::Batch, .. } => "batches-apart",
        Remark::StillWatched(_) => "still-watched",
        Remark::GivenUpEarly(_) => "given-up-early",
        Remark::NoneSprouted(_) => "none-sprouted",
        Remark::NotCounted(_) => "seeds-not-counted",
        Remark::CountedRoughly(_) => "seeds-counted-roughly",
        Remark::LostSeeds(_) => "lost-seeds",
        Remark::NoTemperatures => "no-temperatures",
        Remark::RareLooks { .. } => "rare-looks",
        Remark::OddSprout(_) => "odd-sprout",
        Remark::OneBox(_) => "one-box",
        Remark::BoxesAssumed { .. } => "boxes-assumed",
        Remark::BaseAssumed(_) => "start-assumed",
        Remark::LeftOut(..) => "left-out",
        Remark::OtherBatches(_) => "other-batches",
        Remark::BoxesUnlike { .. } => "boxes-unlike",
        Remark::OtherSpecies(_) => "other-species",
    }
}

/// A remark as a sentence for growers.
#[must_use]
pub fn remark_words(remark: &Remark, answer: &CompareAnswer, degrees: Degrees) -> String {
    let name = |at: usize| group_label(answer, at);
    let names = |names: &[Name]| listed(names.iter().map(Name::as_str));
    let by = factor_word(answer.comparison.asked.factor);
    match remark {
        Remark::UnlikeWarmth { pair: (a, b), celsius: (one, other) } => format!(
            "they were not equally warm: {} stood at {}, {} at {} on the average, so in days {} Warmth gathered takes that out, if \
             all of them count it alike.",
            name(*a),
            temperature(*one, degrees),
            name(*b),
            temperature(*other, degrees),
            if answer.comparison.asked.factor == Factor::Spot {
                "that alone makes a difference.".to_owned()
            } else {
                format!("places are compared and not only the {by}.")
            },
        ),
        Remark::BoxesUnlike { group, p } => format!(
            "the boxes of {} differ in how many came up by more than luck ({}): look what sets them apart before crediting the {by}.",
            name(*group),
            shuffles_words(*p)
        ),
        Remark::Along { factor, pairs, all } => along_words(*factor, pairs, *all, answer),
        Remark::StillWatched(groups) => format!(
            "{} may still sprout, so nothing is concluded yet; next: seedclock close once you stop watching.",
            groups_named(answer, groups)
        ),
        Remark::GivenUpEarly(groups) => format!(
            "{} ended before slow seeds could have come up: how many would have is open; next: watch on to about twice the days that half of them took.",
            groups_named(answer, groups)
        ),
        Remark::NoneSprouted(groups) => {
            format!("nothing came up of {}, so of its speed nothing can be said.", groups_named(answer, groups))
        }
        Remark::NotCounted(boxes) => {
            format!("the seeds of {} were not counted: they tell how fast, not how many; next: seedclock correct, if you know.", names(boxes))
        }
        Remark::CountedRoughly(boxes) => format!("the seeds of {} were counted roughly; the middle is taken.", names(boxes)),
        Remark::LostSeeds(seeds) => {
            format!("{} lost while others still sprouted: left out of the counts.", counted(*seeds as usize, "seed was", "seeds were"))
        }
        Remark::NoTemperatures => {
            "they stood at different spots, and how warm those were is not known, so speed cannot be compared; next: place a probe at each \
             (seedclock probe place), or give the spots a temperature."
                .to_owned()
        }
        Remark::RareLooks { group, days } => format!(
            "{} was not looked at for {} while it sprouted, so its days are rough; that is reckoned with.",
            name(*group),
            counted(days.round() as usize, "day", "days")
        ),
        Remark::OddSprout(without) => odd_words(without, answer, degrees),
        Remark::OneBox(groups) => format!(
            "one box only of {}: that this is the {by} and not the box rests on how far boxes are taken to differ; next: two boxes or more of each.",
            groups_named(answer, groups)
        ),
        Remark::BoxesAssumed { share, speed } => {
            let share = share.map(|rho| format!("seeds of one box alike by {rho} in what comes up"));
            let speed = speed.map(|sd| format!("boxes apart by {:.0} in 100 in speed", 100.0 * sd));
            let what: Vec<String> = share.into_iter().chain(speed).collect();
            format!("how far boxes of one kind differ is assumed ({}): your own have not told yet.", what.join(", "))
        }
        Remark::BaseAssumed(base) => format!(
            "that {} starts at about {} is mostly assumed; the warmth is counted from there, and the interval allows for it.",
            answer.species,
            temperature(*base, degrees)
        ),
        Remark::LeftOut(LeftOut::InTheCold, boxes) => format!("left out, still in the cold: {}.", names(boxes)),
        Remark::LeftOut(LeftOut::NeverLooked, boxes) => format!("left out, never looked at: {}.", names(boxes)),
        Remark::OtherBatches(batches) => {
            format!("left out, since in them there is one {by} only: {} {}.", if batches.len() == 1 { "batch" } else { "batches" }, names(batches))
        }
        Remark::OtherSpecies(species) => format!("{} can be compared too; next: --species.", names(species)),
    }
}

fn along_words(factor: Factor, pairs: &[(usize, usize)], all: bool, answer: &CompareAnswer) -> String {
    let by = factor_word(answer.comparison.asked.factor);
    let other = factor_word(factor);
    let beyond = if factor == Factor::Spot { ", beyond what temperature explains" } else { "" };
    let who = match pairs {
        [(a, b)] if factor == Factor::Spot => {
            let spots = |at: usize| listed(answer.comparison.groups[at].spots.iter().map(Name::as_str));
            format!("{} stood at {}, {} at {}", group_label(answer, *a), spots(*a), group_label(answer, *b), spots(*b))
        }
        [(a, b)] => format!("{} and {} have no {other} in common", group_label(answer, *a), group_label(answer, *b)),
        _ if all => format!("no two of them have a {other} in common"),
        several => format!("{} of the {} pairs have no {other} in common", several.len(), answer.comparison.pairs.len()),
    };
    format!("{who}: {by} and {other} cannot be told apart{beyond}; next: each {by} in each {other}.")
}

fn odd_words(without: &Without, answer: &CompareAnswer, degrees: Degrees) -> String {
    let odd = &without.odd;
    let group = &answer.comparison.groups[without.group];
    let (end, word) = match odd.side {
        Side::Early => (group.sprouts.first(), "early"),
        Side::Late => (group.sprouts.last(), "late"),
    };
    let day = end.map_or_else(String::new, |(_, day, _)| format!(", day {:.0}", day.round()));
    let at = match group.odd_on {
        Clock::Days => String::new(),
        Clock::Warmth => format!(", at {:.0} {}·d", difference_in(odd.until, degrees), sign(degrees)),
    };
    let changed: Vec<String> = without
        .verdicts
        .iter()
        .filter_map(|(pair, fraction, speed)| {
            let pair = &answer.comparison.pairs[*pair];
            let beside = group_label(answer, if pair.a == without.group { pair.b } else { pair.a });
            let of = |what: &str, with: Verdict, less: Verdict| {
                (with != less).then(|| format!("{what} beside {beside} would be {} without it", verdict_words(less)))
            };
            let words: Vec<String> =
                [of("how many", pair.fraction, *fraction), of("how fast", pair.speed, *speed)].into_iter().flatten().collect();
            (!words.is_empty()).then(|| words.join(", "))
        })
        .collect();
    let conclusion = if changed.is_empty() {
        "Without it all is concluded alike".to_owned()
    } else {
        listed(changed.iter().map(String::as_str))
    };
    format!(
        "a sprout of {} came {word}{day}{at}: by the others' curve {} among so many. {conclusion}; it is counted.",
        group_label(answer, without.group),
        chance_words(odd.chance),
    )
}

fn chance_words(chance: f64) -> String {
    if chance < 0.001 { "less than 1 time in 1000".to_owned() } else { format!("about 1 time in {:.0}", 1.0 / chance) }
}

fn verdict_words(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Shown => "shown",
        Verdict::NotShown => "not shown",
        Verdict::CannotTell(_) => "open",
    }
}

/// The usual cautions beside what a reader may do next: sow a treatment again, or carry boxes to where they were faster.
pub(super) fn caution_words(answer: &CompareAnswer) -> Option<String> {
    let comparison = &answer.comparison;
    let cautions: BTreeSet<Caution> = match comparison.asked.factor {
        Factor::Treatment => {
            let levels = comparison.groups.iter().filter_map(|group| group.level.as_ref());
            levels.flat_map(|level| cautions_in_words(level.as_str())).collect()
        }
        Factor::Spot => {
            comparison.pairs.iter().any(|pair| pair.along.celsius.is_some()).then_some(Caution::Heat).into_iter().collect()
        }
        // Which seeds and which year say nothing to do.
        Factor::Lot | Factor::Batch => BTreeSet::new(),
    };
    lines_of(&cautions)
}

/// "luck alone parts boxes so far about 1 time in 40".
fn shuffles_words(p: f64) -> String {
    if p < 0.001 {
        "luck alone hardly ever parts boxes so far".to_owned()
    } else {
        format!("luck alone parts boxes so far about 1 time in {:.0}", 1.0 / p)
    }
}
