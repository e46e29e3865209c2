//! Statistics of experiments against general-purpose libraries: `tests/reference/experiments.py` says which, and made the values.

use std::sync::LazyLock;

use seedclock::stats::{
    Unit, Window, dispersion, fisher_power, fisher_two_sided, holm, log_rank, newcombe, overdispersion, permuted, turnbull, wilson,
};
use serde_json::Value;

use super::reference::{Reference, expected};

static KEPT: LazyLock<Value> = LazyLock::new(|| expected("experiments.json"));

fn cases(of: &str) -> &'static [Value] {
    let cases = KEPT[of].as_array().unwrap_or_else(|| panic!("no {of}"));
    assert!(!cases.is_empty(), "{of}");
    cases
}

fn list(of: &Value) -> &[Value] {
    of.as_array().unwrap_or_else(|| panic!("no list: {of}"))
}

fn real(of: &Value) -> f64 {
    of.as_f64().unwrap_or_else(|| panic!("no number: {of}"))
}

fn whole(of: &Value) -> u64 {
    of.as_u64().unwrap_or_else(|| panic!("no whole number: {of}"))
}

fn pair(of: &Value) -> (u64, u64) {
    (whole(&of[0]), whole(&of[1]))
}

/// (sprouted, seeds) of each box.
fn boxes(of: &Value) -> Vec<(u32, u32)> {
    list(of).iter().map(pair).map(|(sprouted, seeds)| (u32::try_from(sprouted).unwrap(), u32::try_from(seeds).unwrap())).collect()
}

fn holds(case: &Value, what: &str, found: f64) {
    Reference::of(&case[what]).holds(&format!("{what} of {case}"), found);
}

#[test]
fn intervals_of_shares_are_those_of_statsmodels() {
    for case in cases("wilson") {
        let (count, trials) = (real(&case["count"]), real(&case["trials"]));
        let (low, high) = wilson(count / trials, trials, real(&case["level"]));
        holds(case, "low", low);
        holds(case, "high", high);
    }
}

#[test]
fn intervals_of_differences_are_those_of_statsmodels() {
    for case in cases("newcombe") {
        let group = |at: usize| (real(&case["counts"][at]), real(&case["trials"][at]));
        let (low, high) = newcombe(group(0), group(1), real(&case["level"]));
        holds(case, "low", low);
        holds(case, "high", high);
    }
}

#[test]
fn fishers_test_and_its_power_are_those_of_scipy() {
    for case in cases("fisher") {
        holds(case, "p", fisher_two_sided(pair(&case["a"]), pair(&case["b"])));
    }
    for case in cases("fisher_power") {
        let (n_a, n_b) = pair(&case["seeds"]);
        holds(case, "power", fisher_power(real(&case["shares"][0]), real(&case["shares"][1]), n_a, n_b, 0.05));
    }
}

/// Seeds found on a day had come since the day before; those that left on a day are not known to have come by then.
#[test]
fn the_log_rank_test_of_groups_looked_at_together_is_that_of_lifelines() {
    for case in cases("log_rank") {
        let groups = whole(&case["groups"]) as usize;
        let seed = |row: &Value| {
            let (day, seen, group) = (real(&row[0]), whole(&row[1]) == 1, whole(&row[2]) as usize);
            let window = if seen { Window { after: day - 1.0, until: day } } else { Window { after: day, until: f64::INFINITY } };
            (window, 1.0, group)
        };
        let seeds: Vec<_> = list(&case["rows"]).iter().map(seed).collect();
        let found = log_rank(&seeds, groups);
        holds(case, "p", found.p.unwrap());
        if groups == 2 {
            holds(case, "chi_square", found.z.unwrap().powi(2));
        }
    }
}

fn window(of: &Value) -> Window {
    Window { after: real(&of[0]), until: of[1].as_f64().unwrap_or(f64::INFINITY) }
}

/// Masses may be shared out in several ways; the chance of each seed's window is the same in all.
#[test]
fn turnbulls_curve_is_the_likeliest_over_all_pieces() {
    for case in cases("turnbull") {
        let windows: Vec<Window> = list(&case["windows"]).iter().map(window).collect();
        let curve = turnbull(&windows.iter().map(|window| (*window, 1.0)).collect::<Vec<_>>());
        holds(case, "log_likelihood", curve.log_likelihood);
        for (window, chance) in windows.iter().zip(list(&case["chances"])) {
            let inside = curve.pieces.iter().filter(|piece| window.after <= piece.after && piece.until <= window.until);
            Reference::of(chance).holds(&format!("{window:?} of {case}"), inside.map(|piece| piece.mass).sum());
        }
    }
}

/// Seeds looked at each at its own times, every other one of the first group.
#[test]
fn scores_of_seeds_looked_at_apart_are_suns() {
    for case in cases("sun") {
        let seeds: Vec<_> = list(&case["windows"]).iter().enumerate().map(|(at, of)| (window(of), 1.0, at % 2)).collect();
        let found = log_rank(&seeds, 2);
        holds(case, "sum", found.sums[0]);
        holds(case, "dealt_variance", found.dealt_variance);
    }
}

#[test]
fn the_correlation_of_seeds_of_a_box_is_the_likeliest_of_scipys_beta_binomial() {
    for case in cases("overdispersion") {
        let groups: Vec<Vec<(u32, u32)>> = list(&case["groups"]).iter().map(boxes).collect();
        let found = overdispersion(&groups, real(&case["level"])).unwrap();
        holds(case, "correlation", found.correlation);
        holds(case, "low", found.low);
        holds(case, "high", found.high);
        holds(case, "log_likelihood", found.log_likelihood);
        holds(case, "log_likelihood_alike", found.log_likelihood_alike);
    }
}

/// Boxes whose logits differ by σ hold seeds that correlate by about σ² p (1 − p): both estimated from one set of plates (Crowder 1978,
/// Applied Statistics 27:34–37; σ as by maximum likelihood in Breslow & Clayton 1993, Journal of the American Statistical Association
/// 88:9–25, from memory), they agree within a fifth.
#[test]
fn the_two_ways_to_say_how_boxes_differ_agree() {
    let kept = &KEPT["logit_normal"];
    let groups: Vec<Vec<(u32, u32)>> = list(&kept["groups"]).iter().map(boxes).collect();
    let found = overdispersion(&groups, 0.95).unwrap();
    let variance = Reference::of(&kept["sd"]).value.powi(2);
    let seeds: Vec<f64> = groups.iter().map(|group| group.iter().map(|(_, seeds)| f64::from(*seeds)).sum()).collect();
    let spread: f64 = found.shares.iter().zip(&seeds).map(|(share, seeds)| share * (1.0 - share) * seeds).sum();
    let from_logits = variance * spread / seeds.iter().sum::<f64>();
    assert!((from_logits / found.correlation - 1.0).abs() < 0.2, "{from_logits} against {}", found.correlation);
}

#[test]
fn whether_boxes_differ_is_counted_out_as_by_the_multivariate_hypergeometric() {
    for case in cases("dispersion") {
        let found = dispersion(&boxes(&case["boxes"]), 1).unwrap();
        assert!(found.exact, "{case}");
        holds(case, "chi_square", found.chi_square);
        holds(case, "p", found.p);
    }
}

#[test]
fn shuffled_labels_are_counted_out_one_by_one() {
    for case in cases("permuted") {
        let unit = |of: &Value| Unit { score: real(&of[0]), first: whole(&of[1]) == 1, block: whole(&of[2]) as usize };
        let found = permuted(&list(&case["units"]).iter().map(unit).collect::<Vec<_>>(), 1).unwrap();
        assert!(found.exact && found.smallest <= found.p, "{case}: {found:?}");
        holds(case, "p", found.p);
    }
}

#[test]
fn holms_p_values_are_those_of_statsmodels() {
    for case in cases("holm") {
        let p: Vec<f64> = list(&case["p"]).iter().map(real).collect();
        for (found, adjusted) in holm(&p).into_iter().zip(list(&case["adjusted"])) {
            Reference::of(adjusted).holds(&format!("{case}"), found);
        }
    }
}
