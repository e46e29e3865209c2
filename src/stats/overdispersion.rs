//! How much more boxes of a kind differ than counting alone makes them.

/// Of the correlation of seeds of one box: the largest looked at. At 1 each box is all or nothing.
const HIGHEST: f64 = 0.9999;
/// Places where the correlation is tried before the best is narrowed down, in equal steps of its logarithm from the lowest on.
const PLACES: i32 = 60;
/// The lowest that is told from none.
const LOWEST: f64 = 1e-5;
/// Boxes with more seeds than this are left out: the likelihood is summed seed by seed.
const MOST_SEEDS: u32 = 1_000_000;
/// The correlation is narrowed down to this.
const NARROW: f64 = 1e-9;

/// Boxes of some groups, as drawn from beta distributions with a share for each group and one correlation for all.
#[derive(Debug, Clone, PartialEq)]
pub struct Overdispersion {
    /// The intraclass correlation ρ that makes the counts most likely, 0 to .9999; 0: counts differ no more than by luck.
    pub correlation: f64,
    /// Lower end of its profile likelihood interval.
    pub low: f64,
    /// Upper end; .9999 where nothing speaks against it.
    pub high: f64,
    /// Each group's share at that correlation; not a number for a group without seeds.
    pub shares: Vec<f64>,
    /// ln likelihood there, binomial coefficients included.
    pub log_likelihood: f64,
    /// The same without any correlation: seeds of a box as good as seeds apart.
    pub log_likelihood_alike: f64,
}

/// One group's boxes, by what their likelihood is made of: cost by the largest box, not by how many there are.
struct Boxes {
    /// Boxes with more than k sprouted, for k = 0, 1, …
    sprouted_above: Vec<f64>,
    /// Boxes with more than k not sprouted.
    left_above: Vec<f64>,
    /// Boxes with more than k seeds.
    seeds_above: Vec<f64>,
    /// Σ ln of the binomial coefficients.
    ways: f64,
}

fn above(counts: impl Iterator<Item = u32> + Clone) -> Vec<f64> {
    let mut above = vec![0.0; counts.clone().max().unwrap_or(0) as usize];
    for count in counts.filter(|count| *count > 0) {
        above[count as usize - 1] += 1.0;
    }
    for k in (1..above.len()).rev() {
        above[k - 1] += above[k];
    }
    above
}

/// Whether a box tells something that can be believed.
fn is_sound((sprouted, seeds): &(u32, u32)) -> bool {
    sprouted <= seeds && *seeds <= MOST_SEEDS
}

impl Boxes {
    fn new(boxes: &[(u32, u32)]) -> Self {
        let sound = || boxes.iter().copied().filter(is_sound);
        let ln_factorial = |n: u32| libm::lgamma(f64::from(n) + 1.0);
        Self {
            sprouted_above: above(sound().map(|(sprouted, _)| sprouted)),
            left_above: above(sound().map(|(sprouted, seeds)| seeds - sprouted)),
            seeds_above: above(sound().map(|(_, seeds)| seeds)),
            ways: sound().map(|(x, n)| ln_factorial(n) - ln_factorial(x) - ln_factorial(n - x)).sum(),
        }
    }

    /// Slope of ln likelihood along the share; it only falls, since each of its terms does.
    fn slope(&self, share: f64, theta: f64) -> f64 {
        let sum = |above: &[f64], from: f64| (0..).zip(above).map(|(k, boxes)| boxes / (from + f64::from(k) * theta)).sum::<f64>();
        sum(&self.sprouted_above, share) - sum(&self.left_above, 1.0 - share)
    }

    /// The likeliest share.
    fn share(&self, theta: f64) -> f64 {
        match (self.sprouted_above.is_empty(), self.left_above.is_empty()) {
            (true, true) => return f64::NAN,
            (true, false) => return 0.0,
            (false, true) => return 1.0,
            (false, false) => {}
        }
        let (mut low, mut high) = (0.0, 1.0);
        // A bit of the share at each halving.
        for _ in 0..60 {
            let middle = 0.5 * (low + high);
            if self.slope(middle, theta) > 0.0 { low = middle } else { high = middle }
        }
        0.5 * (low + high)
    }

    fn log_likelihood(&self, share: f64, theta: f64) -> f64 {
        if share.is_nan() {
            return 0.0;
        }
        let sum =
            |above: &[f64], from: f64| (0..).zip(above).map(|(k, boxes)| boxes * (from + f64::from(k) * theta).ln()).sum::<f64>();
        self.ways + sum(&self.sprouted_above, share) + sum(&self.left_above, 1.0 - share) - sum(&self.seeds_above, 1.0)
    }
}

/// ln likelihood at a correlation, each group at its likeliest share.
fn profile(groups: &[Boxes], correlation: f64) -> f64 {
    let theta = correlation / (1.0 - correlation);
    groups.iter().map(|group| group.log_likelihood(group.share(theta), theta)).sum()
}

/// Where `f` is highest between two places on either side of the best of a row.
fn narrowed(f: impl Fn(f64) -> f64, mut low: f64, mut high: f64) -> f64 {
    let golden = 0.5 * (5f64.sqrt() - 1.0);
    let place = |low: f64, high: f64| (high - golden * (high - low), low + golden * (high - low));
    let (mut left, mut right) = place(low, high);
    let (mut at_left, mut at_right) = (f(left), f(right));
    while high - low > NARROW {
        if at_left >= at_right {
            (high, right, at_right) = (right, left, at_left);
            left = place(low, high).0;
            at_left = f(left);
        } else {
            (low, left, at_left) = (left, right, at_right);
            right = place(low, high).1;
            at_right = f(right);
        }
    }
    0.5 * (low + high)
}

/// The share of each group and the one correlation of seeds of a box that make the counts likeliest, with that correlation's interval at a
/// two-sided `level`. A group lists its boxes as (sprouted, seeds); a box with more sprouted than seeds, or with over a million, is
/// left out. None where no group has two boxes with two seeds or more: then nothing tells how far boxes differ.
///
/// # Formula
/// ```text
/// L = Π C(n, x) Π_{k<x} (p + kθ) Π_{k<n−x} (1 − p + kθ) / Π_{k<n} (1 + kθ),   ρ = θ/(1 + θ),   variance of x: n p (1 − p) (1 + (n − 1) ρ)
/// interval: all ρ with 2 (ln L(ρ̂) − ln L(ρ)) ≤ z², p at its best for each ρ
/// ```
/// The beta-binomial in the form of D. A. Griffiths 1973, "Maximum likelihood estimation for the beta-binomial distribution and an
/// application to the household distribution of the total number of cases of a disease", Biometrics 29:637–648,
/// <https://doi.org/10.2307/2529131>, which holds at ρ = 0 too; of groups, M. J. Crowder 1978, "Beta-binomial anova for proportions",
/// Applied Statistics 27:34–37, <https://doi.org/10.2307/2346223>. With few boxes maximum likelihood says too little rather than too
/// much of ρ: it takes the groups' shares as if they were known.
#[must_use]
pub fn overdispersion(groups: &[Vec<(u32, u32)>], level: f64) -> Option<Overdispersion> {
    let tells = |boxes: &Vec<(u32, u32)>| boxes.iter().filter(|one| one.1 > 1 && is_sound(one)).count() > 1;
    if !groups.iter().any(tells) {
        return None;
    }
    let boxes: Vec<Boxes> = groups.iter().map(|group| Boxes::new(group)).collect();
    let at = |correlation: f64| profile(&boxes, correlation);
    let step = (HIGHEST / LOWEST).ln() / f64::from(PLACES - 1);
    let rising = (0..PLACES - 1).map(|place| LOWEST * (f64::from(place) * step).exp());
    let places: Vec<f64> = std::iter::once(0.0).chain(rising).chain([HIGHEST]).collect();
    let heights: Vec<f64> = places.iter().map(|place| at(*place)).collect();
    let best = (0..places.len()).max_by(|a, b| heights[*a].total_cmp(&heights[*b]).then(b.cmp(a)))?;
    let around = (places[best.saturating_sub(1)], places[(best + 1).min(places.len() - 1)]);
    let inside = narrowed(at, around.0, around.1);
    let correlation = if at(inside) > heights[best] { inside } else { places[best] };
    let log_likelihood = at(correlation);
    let reach = 0.5 * super::normal_quantile(0.5 * (1.0 + level.clamp(0.0, 1.0))).powi(2);
    let spoken_against = |place: f64| log_likelihood - at(place) > reach;
    // From the peak outwards to the first place that is spoken against, then halving.
    let end = |outer: Option<f64>, edge: f64| {
        let Some(mut out) = outer else { return edge };
        let mut within = correlation;
        while (out - within).abs() > NARROW {
            let middle = 0.5 * (out + within);
            if spoken_against(middle) { out = middle } else { within = middle }
        }
        within
    };
    let below = places.iter().rev().copied().find(|place| *place < correlation && spoken_against(*place));
    let above = places.iter().copied().find(|place| *place > correlation && spoken_against(*place));
    let theta = correlation / (1.0 - correlation);
    Some(Overdispersion {
        correlation,
        low: end(below, 0.0),
        high: end(above, HIGHEST),
        shares: boxes.iter().map(|group| group.share(theta)).collect(),
        log_likelihood,
        log_likelihood_alike: heights[0],
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stats::logit;
    use proptest::prelude::*;

    /// Germination of Orobanche on 21 plates, two species and two root extracts: M. J. Crowder 1978, Applied Statistics 27:34–37, table 3.
    fn orobanche() -> Vec<Vec<(u32, u32)>> {
        vec![
            vec![(10, 39), (23, 62), (23, 81), (26, 51), (17, 39)],
            vec![(5, 6), (53, 74), (55, 72), (32, 51), (46, 79), (10, 13)],
            vec![(8, 16), (10, 30), (8, 28), (23, 45), (0, 4)],
            vec![(3, 12), (22, 41), (15, 30), (32, 51), (3, 7)],
        ]
    }

    /// Coefficients and ρ worked out with scipy (betabinom, minimise) from Crowder's counts; the binomial's height is as published with
    /// the data in general statistics texts (AIC 117.87, from memory).
    #[test]
    fn broomrape_on_plates() {
        let found = overdispersion(&orobanche(), 0.95).unwrap();
        assert!((found.correlation - 0.01236).abs() < 5.1e-6, "{found:?}");
        assert!((found.log_likelihood + 53.7668).abs() < 5.1e-5, "{found:?}");
        assert!((found.log_likelihood_alike + 54.9370).abs() < 5.1e-5, "{found:?}");
        let logits: Vec<f64> = found.shares.iter().map(|share| logit(*share)).collect();
        let (seed, extract) = (logits[2] - logits[0], logits[1] - logits[0]);
        let coefficients = [logits[0], seed, extract, logits[3] - logits[2] - extract];
        for (coefficient, expected) in coefficients.into_iter().zip([-0.5420, 0.0974, 1.3201, -0.7979]) {
            assert!((coefficient - expected).abs() < 5.1e-5, "{coefficients:?}");
        }
        assert!(found.low == 0.0 && found.high > 0.03 && found.high < 0.06, "{found:?}");
    }

    /// Each species and extract by itself, as in Crowder 1978, table 4 (from memory, recomputed with scipy).
    #[test]
    fn broomrape_cell_by_cell() {
        for (cell, (share, correlation)) in
            orobanche().into_iter().zip([(0.3687, 0.0173), (0.6847, 0.0098), (0.3890, 0.0163), (0.5295, 0.0019)])
        {
            let found = overdispersion(&[cell], 0.95).unwrap();
            assert!((found.shares[0] - share).abs() < 6e-5 && (found.correlation - correlation).abs() < 6e-5, "{found:?}");
        }
    }

    #[test]
    fn boxes_that_are_alike_have_no_correlation_and_boxes_all_or_nothing_have_the_highest() {
        let alike = overdispersion(&[vec![(10, 20), (10, 20), (11, 20)]], 0.95).unwrap();
        assert_eq!((alike.correlation, alike.low), (0.0, 0.0));
        assert_eq!(alike.log_likelihood, alike.log_likelihood_alike);
        let apart = overdispersion(&[vec![(0, 20), (20, 20), (20, 20), (0, 20)]], 0.95).unwrap();
        assert!(apart.correlation == HIGHEST && apart.high == HIGHEST && apart.low > 0.3, "{apart:?}");
    }

    #[test]
    fn nothing_is_told_where_no_group_has_two_boxes() {
        assert_eq!(overdispersion(&[], 0.95), None);
        assert_eq!(overdispersion(&[vec![(3, u32::MAX), (4, u32::MAX)]], 0.95), None);
        assert_eq!(overdispersion(&[vec![(3, 20)], vec![], vec![(5, 1), (0, 1), (1, 1)]], 0.95), None);
        let found = overdispersion(&[vec![(3, 20), (4, 20)], vec![]], 0.95).unwrap();
        assert!(found.shares[1].is_nan() && found.log_likelihood.is_finite());
    }

    proptest! {
        #[test]
        fn the_interval_holds_the_estimate_and_no_place_is_likelier(
            boxes in prop::collection::vec((0u32..30, 0u32..30), 2..9), tried in 0.0f64..0.99,
        ) {
            if let Some(found) = overdispersion(&[boxes.clone()], 0.9) {
                prop_assert!(found.low <= found.correlation && found.correlation <= found.high);
                prop_assert!(profile(&[Boxes::new(&boxes)], tried) <= found.log_likelihood + 1e-7);
            }
        }
    }
}
