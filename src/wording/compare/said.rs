//! What is said of two groups, by fixed rules.
//!
//! | how many | when | said |
//! |---|---|---|
//! | cannot tell | a group unfinished, given up early, uncounted, or too small for all against none | why, and nothing else |
//! | shown | the 97.5 % interval, boxes allowed to differ, leaves 0 out (adjusted where there are several pairs) | "more of A came up: shown", with that interval |
//! | not shown | luck makes the gap at least every second time, or there is none | "no difference to be seen" |
//! | not shown | else | "A looks better, not shown", with how often luck makes the gap, and the interval as if boxes were alike |
//! | beside it | the 97.5 % interval lies within the wished difference | "a gap of 20 points or more is ruled out" |
//!
//! | how fast | when | said |
//! |---|---|---|
//! | cannot tell | unfinished, given up early, fewer than 3 sprouts, or apart without temperatures | why |
//! | shown | the 97.5 % interval of the ratio of times leaves 1 out | "A was faster: shown", by how much in 100 |
//! | not shown | the ratio within 5 in 100 of 1 | "no difference to be seen" |
//! | not shown | else | "A looks faster, not shown", with the interval |
//! | on which clock | warmth where it is known of both; days where they stood at the same spots | "by the warmth they had", "by the day" |
//!
//! Luck is said as shuffled labels: the two-sided chance of Fisher's exact test. The seeds that it would take are for the wished difference,
//! by the rule that the verdict goes by; never for the observed one. How many and how fast are never made one number.

use super::{factors_word, group_label, label, listed};
use crate::bench::Degrees;
use crate::experiment::{Clock, CompareAnswer, PairAnswer, Reckoned, Standing, Verdict, Why};
use crate::wording::numbers::{counted, decimal, in_degrees, sign};

/// From this chance on luck alone is said to do it every second time.
const EVEN: f64 = 0.5;
/// A ratio of times nearer to 1 than this is no difference to be seen.
const SAME_SPEED: f64 = 0.05;
/// Pairs that are named of many.
const NAMED: usize = 5;

/// How many and how fast of a pair, as two or more sentences.
#[must_use]
pub fn pair_words(answer: &CompareAnswer, pair: &PairAnswer, degrees: Degrees) -> String {
    both_words(answer, pair, degrees).join(" ")
}

/// How many, and how fast; at once where nothing can be said of either for one reason.
pub(super) fn both_words(answer: &CompareAnswer, pair: &PairAnswer, degrees: Degrees) -> Vec<String> {
    match (pair.fraction, pair.speed) {
        (Verdict::CannotTell(why), Verdict::CannotTell(other)) if why == other => {
            vec![format!("How many, and how fast: cannot be told; {}.", why_words(answer, pair, why))]
        }
        _ => vec![fraction_words(answer, pair), speed_words(answer, pair, degrees)],
    }
}

/// Why nothing can be concluded.
fn why_words(answer: &CompareAnswer, pair: &PairAnswer, why: Why) -> String {
    let groups = &answer.comparison.groups;
    let which = |wanted: &dyn Fn(usize) -> bool| {
        let names: Vec<&str> = [pair.a, pair.b].into_iter().filter(|at| wanted(*at)).map(|at| group_label(answer, at)).collect();
        names.join(" and ")
    };
    let standing = |standing: Standing| which(&|at| groups[at].standing == standing);
    match why {
        Why::StillWatched => {
            let open = which(&|at| matches!(groups[at].standing, Standing::StillWatched | Standing::NotLooked));
            format!("{open} may still sprout")
        }
        Why::GivenUpEarly => {
            format!("{} was given up before slow seeds could have come up", standing(Standing::GivenUpEarly))
        }
        Why::NotCounted => format!("the seeds of {} were not counted", which(&|at| groups[at].seeds.is_none())),
        Why::TooFewSeeds => "with so few seeds not even all against none would be shown".to_owned(),
        Why::TooFewSprouts => {
            format!("{} has fewer than 3 sprouts", which(&|at| groups[at].sprouted < crate::experiment::FEWEST_SPROUTS))
        }
        Why::NoTemperatures => "they stood apart, and how warm each was is not known".to_owned(),
    }
}

/// "1 shuffle in 9".
fn luck_words(chance: f64) -> String {
    if chance >= EVEN {
        "luck alone makes a gap this big every second shuffle or oftener".to_owned()
    } else if chance < 0.001 {
        "luck alone makes a gap this big in less than 1 shuffle in 1000".to_owned()
    } else {
        format!("luck alone makes a gap this big in about 1 shuffle in {:.0}", 1.0 / chance)
    }
}

/// "from 1 point worse to 54 better": an interval of a difference, seen from the group ahead.
fn gap_words(low: f64, high: f64) -> String {
    let points = |gap: f64| (100.0 * gap).round();
    let one = |gap: f64| {
        let size = points(gap).abs();
        format!("{size:.0} {}", if size == 1.0 { "point" } else { "points" })
    };
    if points(low) >= 0.0 {
        format!("{:.0} to {}", points(low), one(high))
    } else if points(high) <= 0.0 {
        format!("{:.0} to {} the other way", points(high).abs(), one(low))
    } else {
        format!("from {} worse to {:.0} better", one(low), points(high))
    }
}

/// How many.
fn fraction_words(answer: &CompareAnswer, pair: &PairAnswer) -> String {
    let (a, b) = (group_label(answer, pair.a), group_label(answer, pair.b));
    let difference = pair.fraction_difference;
    let counts = |at: usize| {
        let group = &answer.comparison.groups[at];
        format!("{} of {}", group.counted_sprouts, group.seeds.unwrap_or(0))
    };
    if let Verdict::CannotTell(why) = pair.fraction {
        return format!("How many: cannot be told; {}.", why_words(answer, pair, why));
    }
    let gap = difference.estimate.unwrap_or(0.0);
    let ahead = gap >= 0.0;
    let (first, second, front, back) = if ahead { (a, b, pair.a, pair.b) } else { (b, a, pair.b, pair.a) };
    let turned = |interval: Reckoned| {
        let (low, high) = (interval.low.unwrap_or(-1.0), interval.high.unwrap_or(1.0));
        if ahead { (low, high) } else { (-high, -low) }
    };
    let (plain, judged) = (turned(difference), turned(pair.fraction_judged));
    let luck = pair.fisher_p.unwrap_or(1.0);
    let ruled_out = judged.1.max(-judged.0) < answer.comparison.asked.difference;
    let wished = 100.0 * answer.comparison.asked.difference;
    let beside = if ruled_out { format!(" A gap of {wished:.0} points or more is ruled out.") } else { String::new() };
    match pair.fraction {
        Verdict::Shown => format!(
            "How many: more of {first} came up, shown. {} beside {}; the true gap is {}, boxes allowed to differ.{beside}",
            counts(front),
            counts(back),
            gap_words(judged.0, judged.1)
        ),
        _ if luck >= EVEN || gap == 0.0 => format!(
            "How many: no difference to be seen ({} beside {}); the true gap is anywhere {}, were boxes alike.{beside}",
            counts(front),
            counts(back),
            gap_words(plain.0, plain.1)
        ),
        _ => format!(
            "How many: {first} looks better than {second}, not shown. {} beside {}: {}; the true gap is anywhere {}, were boxes alike.{beside}",
            counts(front),
            counts(back),
            luck_words(luck),
            gap_words(plain.0, plain.1)
        ),
    }
}

/// How much less or more of a time, in hundredths: "31 in 100 less".
fn part_words(ratio: f64, less: &str, more: &str) -> String {
    let part = (100.0 * (ratio - 1.0)).round();
    if part <= 0.0 { format!("{:.0} in 100 {less}", -part) } else { format!("{part:.0} in 100 {more}") }
}

/// How fast.
fn speed_words(answer: &CompareAnswer, pair: &PairAnswer, degrees: Degrees) -> String {
    if let Verdict::CannotTell(why) = pair.speed {
        return format!("How fast: cannot be told; {}.", why_words(answer, pair, why));
    }
    let (a, b) = (group_label(answer, pair.a), group_label(answer, pair.b));
    let Reckoned { estimate: Some(ratio), low: Some(low), high: Some(high) } = pair.ratio_judged else {
        return String::new();
    };
    let (first, second, ratio, low, high) =
        if ratio <= 1.0 { (a, b, ratio, low, high) } else { (b, a, 1.0 / ratio, 1.0 / high, 1.0 / low) };
    let (less, more, by) = match pair.speed_on {
        Clock::Warmth => ("less warmth", "more", "by the warmth they had"),
        Clock::Days => ("fewer days", "more", "by the day"),
    };
    let places = if pair.ratio_judged.estimate.is_some_and(|ratio| ratio <= 1.0) { (pair.a, pair.b) } else { (pair.b, pair.a) };
    let days = day_words(answer, pair, places, degrees);
    let range = if high <= 1.0 {
        format!("{:.0} to {}", (100.0 * (1.0 - high)).round(), part_words(low, "", "").trim_end())
    } else {
        format!("from {} to {}", part_words(low, "less", ""), part_words(high, "", "more"))
    };
    match pair.speed {
        Verdict::Shown => format!(
            "How fast: {first} came up sooner {by}, shown: half of its sprouts took {} than {second}'s ({range}, boxes allowed to differ).{days}",
            part_words(ratio, less, more)
        ),
        _ if 1.0 - ratio < SAME_SPEED => format!("How fast: no difference to be seen {by} ({first}: {range} than {second}).{days}"),
        _ => format!(
            "How fast: {first} looks faster {by}, not shown: half of its sprouts took {} than {second}'s ({range}).{days}",
            part_words(ratio, less, more)
        ),
    }
}

/// " In days: 8.1 beside 11.4.", and at which temperatures, where they stood unlike warm.
fn day_words(answer: &CompareAnswer, pair: &PairAnswer, (first, second): (usize, usize), degrees: Degrees) -> String {
    let half = |at: usize| answer.comparison.groups[at].germinable_half_days.estimate;
    let (Some(one), Some(other)) = (half(first), half(second)) else { return String::new() };
    let days = format!("{} beside {}", decimal(one), decimal(other));
    match pair.along.celsius {
        Some((a, b)) => {
            let (one, other) = if first == pair.a { (a, b) } else { (b, a) };
            let (one, other) = (decimal(in_degrees(one, degrees)), decimal(in_degrees(other, degrees)));
            format!(" In days: {days}, at {one} beside {other} {}.", sign(degrees))
        }
        None => format!(" In days: {days}."),
    }
}

/// What it would take, said once for the pair of which it takes most.
pub(super) fn needs_words(answer: &CompareAnswer) -> Option<String> {
    let open = answer.comparison.pairs.iter().filter(|pair| pair.fraction != Verdict::Shown);
    let pair =
        open.filter(|pair| pair.needed.is_some()).max_by_key(|pair| pair.needed.map_or(0, |needed| needed.plans[0].seeds))?;
    let needed = pair.needed?;
    let [four, nine] = needed.plans;
    let points = 100.0 * needed.difference;
    let could = match pair.smallest_shown {
        _ if answer.comparison.groups.len() > 2 => String::new(),
        Some(smallest) => format!(" As it was sown it could show a gap of {:.0} points.", 100.0 * smallest),
        None => " As it was sown it could show no gap four times in five.".to_owned(),
    };
    Some(format!(
        "To show a gap of {points:.0} points 4 times in 5: about {} seeds each, in {} ({} in {} for 9 times in 10); spread over more boxes fewer seeds do.{could}",
        four.seeds,
        counted(four.boxes as usize, "box", "boxes"),
        nine.seeds,
        nine.boxes
    ))
}

/// What is said of more than two groups: together, then the pairs of which something is shown.
pub(super) fn overall_words(answer: &CompareAnswer) -> Vec<String> {
    let comparison = &answer.comparison;
    let Some(overall) = comparison.overall else { return Vec::new() };
    let groups = factors_word(comparison.asked.factor);
    let whole = |what: &str, verdict: Verdict| match verdict {
        Verdict::Shown => format!("{what}: that the {groups} differ is shown."),
        Verdict::NotShown => format!("{what}: that the {groups} differ is not shown."),
        Verdict::CannotTell(Why::StillWatched | Why::GivenUpEarly) => {
            format!("{what}: cannot be told; fewer than two groups have come to their end.")
        }
        Verdict::CannotTell(Why::NotCounted) => format!("{what}: cannot be told; too few groups have counted seeds."),
        Verdict::CannotTell(_) => format!("{what}: cannot be told; too few groups have 3 sprouts."),
    };
    let name = |at: usize| label(comparison.asked.factor, comparison.groups[at].level.as_ref());
    let pairs = |verdict: &dyn Fn(&PairAnswer) -> Verdict, ahead: &dyn Fn(&PairAnswer) -> bool, word: &str| {
        let shown: Vec<&PairAnswer> = comparison.pairs.iter().filter(|pair| verdict(pair) == Verdict::Shown).collect();
        let words: Vec<String> = shown
            .iter()
            .map(|pair| {
                let (first, second) = if ahead(pair) { (pair.a, pair.b) } else { (pair.b, pair.a) };
                format!("{} {word} {}", name(first), name(second))
            })
            .collect();
        if words.is_empty() {
            return " No two of them are shown to differ.".to_owned();
        }
        let rest = if words.len() > NAMED { format!("; {} pairs in all", words.len()) } else { String::new() };
        format!(" Shown two by two: {}{rest}.", words[..words.len().min(NAMED)].join("; "))
    };
    let more = |pair: &PairAnswer| pair.fraction_difference.estimate.unwrap_or(0.0) > 0.0;
    let sooner = |pair: &PairAnswer| pair.ratio_judged.estimate.unwrap_or(1.0) < 1.0;
    let by_warmth = comparison.pairs.iter().all(|pair| pair.speed_on == Clock::Warmth);
    let by = if by_warmth { "by the warmth they had" } else { "by warmth or by the day, as far as either is known" };
    vec![
        whole("How many", overall.fraction) + &pairs(&|pair| pair.fraction, &more, "more than"),
        whole(&format!("How fast, {by}"), overall.speed) + &pairs(&|pair| pair.speed, &sooner, "sooner than"),
    ]
}

/// The names of groups, as a list.
pub(super) fn groups_named(answer: &CompareAnswer, groups: &[usize]) -> String {
    listed(groups.iter().map(|at| group_label(answer, *at)))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn luck_gaps_and_parts_read_as_said() {
        assert_eq!(
            [1.0, 0.5, 0.1128, 0.0404, 0.0002].map(luck_words),
            [
                "luck alone makes a gap this big every second shuffle or oftener",
                "luck alone makes a gap this big every second shuffle or oftener",
                "luck alone makes a gap this big in about 1 shuffle in 9",
                "luck alone makes a gap this big in about 1 shuffle in 25",
                "luck alone makes a gap this big in less than 1 shuffle in 1000",
            ]
        );
        assert_eq!(gap_words(-0.01, 0.54), "from 1 point worse to 54 better");
        assert_eq!(gap_words(0.08, 0.66), "8 to 66 points");
        assert_eq!(gap_words(-0.66, -0.08), "8 to 66 points the other way");
        assert_eq!(
            [part_words(0.69, "fewer days", "more"), part_words(1.08, "less", "more")],
            ["31 in 100 fewer days", "8 in 100 more"]
        );
    }
}
