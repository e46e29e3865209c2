//! The tables for DEVELOPERS.md, in Markdown.

use std::fmt::Write;

use super::tally::{Case, Ratio, Who, coverage, loss_ratio, loss_ratio_to, mean_loss, ratio};
use super::{AHEAD, Base};

fn cell(ratio: Option<Ratio>, digits: usize) -> String {
    ratio.map_or("–".to_owned(), |Ratio { ratio, error }| format!("{ratio:.digits$} ± {error:.digits$}"))
}

fn at(cases: &[Case], ahead: usize) -> impl Iterator<Item = &Case> + Clone {
    cases.iter().filter(move |case| case.ahead == ahead)
}

/// Losses against the oracle's.
pub(crate) fn losses(cases: &[Case]) -> String {
    let mut table = "| days ahead | forecasts | not told | the oracle's loss, % of the seeds | program | true needs, true weather generator | calendar days | program ÷ one who knows all but how the box differs |\n\
                     |---|---|---|---|---|---|---|---|\n"
        .to_owned();
    for ahead in AHEAD {
        let here = || at(cases, ahead);
        let untold = here().filter(|case| case.said_by(Who::Program).is_none()).count();
        let oracle =
            mean_loss(here(), Who::Oracle).map(|Ratio { ratio, error }| Ratio { ratio: 100.0 * ratio, error: 100.0 * error });
        let ratios = [Who::Program, Who::WithoutTheWeather, Who::Calendar].map(|who| cell(loss_ratio(here(), who), 2));
        let but_box = cell(loss_ratio_to(here(), Who::Program, Who::AllButTheBox), 2);
        writeln!(table, "| {ahead} | {} | {untold} | {} | {} | {but_box} |", here().count(), cell(oracle, 2), ratios.join(" | "))
            .unwrap();
    }
    table
}

/// Which of the program's parts costs most: its loss ÷ the oracle's when it is told one part of the truth at a time.
pub(crate) fn parts(cases: &[Case]) -> String {
    let told = [
        ("the program as it is", Who::Program),
        ("its parts put together by plain sums", Who::ProgramsParts),
        ("told the true needs of species, lot and treatment, and how its probe is off", Who::TrueParameters),
        ("the same, and the temperatures to come: all but how the box differs", Who::AllButTheBox),
        ("told how the box differs from its lot", Who::TrueBoxEffects),
        ("told the temperatures to come", Who::TrueTemperatures),
        ("told all but the temperatures to come", Who::TrueNeeds),
        ("the same with the true weather generator", Who::WithoutTheWeather),
    ];
    let mut table =
        format!("| | {} |\n|---|{}\n", AHEAD.map(|ahead| format!("{ahead} days")).join(" | "), "---|".repeat(AHEAD.len()));
    for (words, who) in told {
        let cells = AHEAD.map(|ahead| cell(loss_ratio(at(cases, ahead), who), 2));
        writeln!(table, "| {words} | {} |", cells.join(" | ")).unwrap();
    }
    table
}

/// How often ranges held, the oracle's own in brackets.
pub(crate) fn ranges(cases: &[Case]) -> String {
    type Wanted = fn(&Case) -> bool;
    let by_days: [(&str, Wanted); 4] =
        [("3 days ahead", |c| c.ahead == 3), ("7", |c| c.ahead == 7), ("14", |c| c.ahead == 14), ("21", |c| c.ahead == 21)];
    let others: [(&str, Wanted); 14] = [
        ("up to 12 seeds", |c| c.seeds <= 12),
        ("13 to 25", |c| (13..=25).contains(&c.seeds)),
        ("over 25", |c| c.seeds > 25),
        ("sown up to 7 days ago", |c| c.age_days < 8.0),
        ("8 to 14", |c| (8.0..15.0).contains(&c.age_days)),
        ("over 14", |c| c.age_days >= 15.0),
        ("spot seen in an earlier season", |c| c.seen_before),
        ("spot never seen before", |c| !c.seen_before),
        ("the same probe as before there", |c| c.seen_before && !c.another_probe),
        ("lot sown before", |c| c.lot_known),
        ("lot never sown before", |c| !c.lot_known),
        ("one past season", |c| c.past_seasons == 1),
        ("two", |c| c.past_seasons == 2),
        ("three", |c| c.past_seasons == 3),
    ];
    let mut table = "| | forecasts | 50 % ranges | 80 % | 90 % | loss ÷ the oracle's |\n|---|---|---|---|---|---|\n".to_owned();
    for (words, wanted) in by_days.into_iter().chain(others) {
        let here = || cases.iter().filter(move |case| wanted(case) && case.said_by(Who::Program).is_some());
        let (program, oracle) = (coverage(here(), Who::Program), coverage(here(), Who::Oracle));
        let held = [0, 1, 2].map(|range| {
            let own = oracle[range].map_or("–".to_owned(), |own| format!("{:.0}", own.ratio));
            format!("{} ({own})", cell(program[range], 0))
        });
        writeln!(table, "| {words} | {} | {} | {} |", here().count(), held.join(" | "), cell(loss_ratio(here(), Who::Program), 2))
            .unwrap();
    }
    table
}

/// On which side of what came the middle of the program's forecasts lay, in percent.
pub(crate) fn sides(cases: &[Case]) -> String {
    let mut table = "| days ahead | middle too high | too low |\n|---|---|---|\n".to_owned();
    for ahead in AHEAD {
        let side = |which: fn(u32, u32) -> bool| {
            let one = move |case: &Case| {
                Some((case.bench, 100.0 * f64::from(u8::from(which(case.said_by(Who::Program)?[3], case.truth))), 1.0))
            };
            cell(ratio(at(cases, ahead).filter_map(one)), 0)
        };
        writeln!(table, "| {ahead} | {} | {} |", side(|middle, truth| middle > truth), side(|middle, truth| middle < truth))
            .unwrap();
    }
    table
}

/// How often the 90 % interval of the base held the true one.
pub(crate) fn bases(bases: &[Base]) -> String {
    let mut table = "| past seasons | species | held, % | width, °C |\n|---|---|---|---|\n".to_owned();
    for (words, seasons) in [("one", 1..=1), ("two", 2..=2), ("three", 3..=3), ("any", 1..=3)] {
        let here = || bases.iter().filter(|base| seasons.contains(&base.past_seasons));
        let held = |base: &Base| (base.stated_c.0..=base.stated_c.1).contains(&base.true_c);
        let share = ratio(here().map(|base| (base.bench, 100.0 * f64::from(u8::from(held(base))), 1.0)));
        let width = ratio(here().map(|base| (base.bench, base.stated_c.1 - base.stated_c.0, 1.0)));
        writeln!(table, "| {words} | {} | {} | {} |", here().count(), cell(share, 0), cell(width, 1)).unwrap();
    }
    table
}
