//! Times known only to lie between two looks: how they are spread, without a model.

use nalgebra::{DMatrix, DVector};

use super::wilson;

/// Rounds of the search, at most; `Curve::unsettled` tells where it ended.
const ROUNDS: usize = 200;
/// Steps of self-consistency in each.
const STEPS: usize = 100;
/// Newton's steps in each, at most: one for every piece that loses its mass on the way, and some more.
const NEWTON_STEPS: usize = 60;
/// Share of the largest curvature that is added to all: where pieces lie in the same windows, nothing tells how they share their mass.
const RIDGE: f64 = 1e-12;
/// The likelihood is at its peak when no mass could rise by more than this, a window.
const SETTLED: f64 = 1e-9;
/// A mass below this is none.
const NO_MASS: f64 = 1e-12;

/// An event known to have come after `after` and by `until`; infinite: not seen by `after`, and not looked for since.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Window {
    /// Not yet by then.
    pub after: f64,
    /// By then; infinite where it was never seen.
    pub until: f64,
}

impl Window {
    /// Whether the event lies wholly within the piece (`from`, `to`] if it lies there at all.
    fn holds(&self, from: f64, to: f64) -> bool {
        self.after <= from && to <= self.until
    }
}

/// A piece (`after`, `until`] of time within which some events lie; where within it nothing tells.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Piece {
    /// Where it begins, exclusive.
    pub after: f64,
    /// Where it ends; infinite: after everything that was looked at.
    pub until: f64,
    /// Its share of all.
    pub mass: f64,
}

/// The likeliest spread of times.
#[derive(Debug, Clone, PartialEq)]
pub struct Curve {
    /// Pieces with mass, in order of time.
    pub pieces: Vec<Piece>,
    /// ln L at the peak; 0 without windows.
    pub log_likelihood: f64,
    windows: Vec<(Window, f64)>,
}

/// The pieces that can hold mass: each begins where a window begins and ends where one ends, with no other beginning or end between.
/// At the same instant an end comes before a beginning, since windows are open below and closed above.
fn innermost(windows: &[(Window, f64)]) -> Vec<(f64, f64)> {
    let mut edges: Vec<(f64, bool)> =
        windows.iter().flat_map(|(window, _)| [(window.after, true), (window.until, false)]).collect();
    edges.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
    edges.dedup();
    edges.windows(2).filter(|pair| pair[0].1 && !pair[1].1).map(|pair| (pair[0].0, pair[1].0)).collect()
}

/// The nonparametric maximum likelihood estimate for windows, each with how many events it stands for. Windows that are empty or not
/// numbers are left out.
///
/// Found by steps of self-consistency (each event shared out over the pieces of its window in proportion to their masses), which never
/// lose height but creep, in turn with Newton's among the pieces with mass, until no piece could gain: the gradient of ln L,
/// `Σ nᵢ/P(windowᵢ)` over the windows that hold a piece, is then the number of events where there is mass, and no more elsewhere. That
/// number is also the multiplier by which masses add up to 1, so that Newton's steps only have to keep them from falling below 0.
///
/// B. W. Turnbull 1976, "The empirical distribution function with arbitrarily grouped, censored and truncated data", Journal of the
/// Royal Statistical Society B 38:290–295, <https://doi.org/10.1111/j.2517-6161.1976.tb01597.x>.
#[must_use]
pub fn turnbull(windows: &[(Window, f64)]) -> Curve {
    let fit = |(window, count): &&(Window, f64)| window.after < window.until && *count > 0.0;
    let windows: Vec<(Window, f64)> = windows.iter().filter(fit).copied().collect();
    let all: f64 = windows.iter().map(|(_, count)| count).sum();
    let mut pieces: Vec<Piece> = innermost(&windows).into_iter().map(|(after, until)| Piece { after, until, mass: 1.0 }).collect();
    let members = members(&windows, &pieces);
    let even = 1.0 / pieces.len().max(1) as f64;
    pieces.iter_mut().for_each(|piece| piece.mass = even);
    for _ in 0..ROUNDS {
        for _ in 0..STEPS {
            let slopes = gradient(&windows, &pieces, &members);
            pieces.iter_mut().zip(&slopes).for_each(|(piece, slope)| piece.mass *= slope / all);
        }
        climb(&windows, &mut pieces, &members, all);
        pieces.iter_mut().filter(|piece| piece.mass <= NO_MASS).for_each(|piece| piece.mass = 0.0);
        let slopes = gradient(&windows, &pieces, &members);
        if missed(&pieces, &slopes, all) < SETTLED {
            break;
        }
        // What was given up too early starts anew.
        let given_up = |(piece, slope): &(&mut Piece, &f64)| piece.mass == 0.0 && **slope > all;
        pieces.iter_mut().zip(&slopes).filter(given_up).for_each(|(piece, _)| piece.mass = 0.01 * even);
        let sum: f64 = pieces.iter().map(|piece| piece.mass).sum();
        pieces.iter_mut().for_each(|piece| piece.mass /= sum);
    }
    pieces.retain(|piece| piece.mass > NO_MASS);
    let members = self::members(&windows, &pieces);
    let log_likelihood = windows
        .iter()
        .zip(&members)
        .map(|((_, count), held)| count * held.iter().map(|at| pieces[*at].mass).sum::<f64>().ln())
        .sum();
    Curve { pieces, log_likelihood, windows }
}

/// The pieces within each window.
fn members(windows: &[(Window, f64)], pieces: &[Piece]) -> Vec<Vec<usize>> {
    let held = |window: &Window| (0..pieces.len()).filter(|at| window.holds(pieces[*at].after, pieces[*at].until)).collect();
    windows.iter().map(|(window, _)| held(window)).collect()
}

/// ln L less what keeps the masses at 1; −∞ where a window holds none.
fn height(windows: &[(Window, f64)], masses: &[f64], members: &[Vec<usize>], all: f64) -> f64 {
    let share = |held: &[usize]| held.iter().map(|at| masses[*at]).sum::<f64>();
    let gained: f64 = windows.iter().zip(members).map(|((_, count), held)| count * share(held).max(0.0).ln()).sum();
    gained - all * masses.iter().sum::<f64>()
}

/// Newton's steps among the pieces with mass, each as far as none falls below 0; one that reaches it stays there.
fn climb(windows: &[(Window, f64)], pieces: &mut [Piece], members: &[Vec<usize>], all: f64) {
    for _ in 0..NEWTON_STEPS {
        let free: Vec<usize> = (0..pieces.len()).filter(|at| pieces[*at].mass > 0.0).collect();
        let place: Vec<Option<usize>> = (0..pieces.len()).map(|at| free.binary_search(&at).ok()).collect();
        let slopes = gradient(windows, pieces, members);
        let slope = DVector::from_iterator(free.len(), free.iter().map(|at| slopes[*at] - all));
        if slope.amax() < 0.1 * SETTLED * all {
            return;
        }
        let mut curvature = DMatrix::<f64>::zeros(free.len(), free.len());
        for ((_, count), held) in windows.iter().zip(members) {
            let share: f64 = held.iter().map(|at| pieces[*at].mass).sum();
            let held: Vec<usize> = held.iter().filter_map(|at| place[*at]).collect();
            for row in &held {
                held.iter().for_each(|column| curvature[(*row, *column)] += count / (share * share));
            }
        }
        let ridge = RIDGE * curvature.diagonal().amax();
        (0..free.len()).for_each(|at| curvature[(at, at)] += ridge);
        let Some(step) = curvature.cholesky().map(|of| of.solve(&slope)) else { return };
        let masses: Vec<f64> = pieces.iter().map(|piece| piece.mass).collect();
        let before = height(windows, &masses, members, all);
        let room = |(at, step): (&usize, &f64)| if *step < 0.0 { -masses[*at] / step } else { f64::INFINITY };
        let mut reach = free.iter().zip(step.iter()).map(room).fold(1.0, f64::min);
        let moved = std::iter::repeat_with(|| {
            let mut moved = masses.clone();
            for (at, step) in free.iter().zip(step.iter()) {
                let mass = masses[*at] + reach * step;
                moved[*at] = if mass > NO_MASS * masses[*at] { mass } else { 0.0 };
            }
            reach *= 0.5;
            moved
        });
        let Some(moved) = moved.take(30).find(|moved| height(windows, moved, members, all) > before) else { return };
        pieces.iter_mut().zip(moved).for_each(|(piece, mass)| piece.mass = mass);
    }
}

/// The largest amount by which the conditions of a peak are missed.
fn missed(pieces: &[Piece], slopes: &[f64], all: f64) -> f64 {
    let missed = |(piece, slope): (&Piece, &f64)| match piece.mass > 0.0 {
        true => (slope / all - 1.0).abs(),
        false => (slope / all - 1.0).max(0.0),
    };
    pieces.iter().zip(slopes).map(missed).fold(0.0, f64::max)
}

fn gradient(windows: &[(Window, f64)], pieces: &[Piece], members: &[Vec<usize>]) -> Vec<f64> {
    let mut gradient = vec![0.0; pieces.len()];
    for ((_, count), held) in windows.iter().zip(members) {
        let share: f64 = held.iter().map(|at| pieces[*at].mass).sum();
        held.iter().for_each(|at| gradient[*at] += count / share);
    }
    gradient
}

impl Curve {
    /// The share that has come by a time: at least, and at most, since within a piece nothing tells.
    #[must_use]
    pub fn by(&self, time: f64) -> (f64, f64) {
        let sum = |of: &dyn Fn(&Piece) -> bool| self.pieces.iter().filter(|piece| of(piece)).map(|piece| piece.mass).sum::<f64>();
        (sum(&|piece| piece.until <= time), sum(&|piece| piece.until <= time || piece.after < time).min(1.0))
    }

    /// The 95 % band at a time, or another `level`: Wilson's interval with as many events as the windows decide about by then, those
    /// that do not lie on both sides of it; around the lowest and the highest share possible.
    ///
    /// Where all were looked at by then this is Wilson's interval of the count.
    #[must_use]
    pub fn band_at(&self, time: f64, level: f64) -> (f64, f64) {
        let decided = self.windows.iter().filter(|(window, _)| window.until <= time || window.after >= time);
        let trials: f64 = decided.map(|(_, count)| count).sum();
        let (low, high) = self.by(time);
        (wilson(low, trials, level).0, wilson(high, trials, level).1)
    }

    /// The piece within which a share is reached; none where it is not reached before the looking ended.
    #[must_use]
    pub fn reaches(&self, share: f64) -> Option<(f64, f64)> {
        let mut sum = 0.0;
        for piece in &self.pieces {
            sum += piece.mass;
            if sum >= share - SETTLED {
                return piece.until.is_finite().then_some((piece.after, piece.until));
            }
        }
        None
    }

    /// The largest amount by which the conditions of a peak are missed, a window: how far from the estimate the search ended.
    #[must_use]
    pub fn unsettled(&self) -> f64 {
        let all: f64 = self.windows.iter().map(|(_, count)| count).sum();
        let everywhere: Vec<Piece> = innermost(&self.windows)
            .into_iter()
            .map(|(after, until)| Piece { after, until, mass: self.mass_in(after, until) })
            .collect();
        let slopes = gradient(&self.windows, &everywhere, &members(&self.windows, &everywhere));
        missed(&everywhere, &slopes, all)
    }

    fn mass_in(&self, after: f64, until: f64) -> f64 {
        self.pieces.iter().filter(|piece| (piece.after, piece.until) == (after, until)).map(|piece| piece.mass).sum()
    }
}

#[cfg(test)]
pub(super) mod tests {
    use super::*;
    use crate::stats::Dice;
    use proptest::prelude::*;

    /// Times to cosmetic deterioration after treatment of breast cancer, two treatments, in months: D. M. Finkelstein & R. A. Wolfe
    /// 1985, Biometrics 41:933–945, <https://doi.org/10.2307/2530965>. An empty second number: not seen.
    const RADIATION: &str = "45- 6,10 0,7 46- 46- 7,16 17- 7,14 37,44 0,8 4,11 15- 11,15 22- 46- 46- 25,37 46- 26,40 46- 27,34 36,44 46- \
         36,48 37- 40- 17,25 46- 11,18 38- 5,12 37- 0,5 18- 24- 36- 5,11 19,35 17,25 24- 32- 33- 19,26 37- 34- 36-";
    const WITH_CHEMOTHERAPY: &str = "8,12 0,22 24,31 17,27 17,23 24,30 16,24 13- 11,13 16,20 18,25 17,26 32- 23- 44,48 14,17 0,5 5,8 12,20 \
         11- 33,40 31- 13,39 19,32 34- 13- 16,24 35- 15,22 11,17 22,32 10,35 30,34 13- 10,17 8,21 4,9 11- 14,19 4,8 34- 30,36 18,24 16,60 \
         35,39 21- 11,20 48-";

    fn windows(text: &str) -> Vec<(Window, f64)> {
        let window = |word: &str| match word.split_once(',') {
            Some((after, until)) => Window { after: after.parse().unwrap(), until: until.parse().unwrap() },
            None => Window { after: word.trim_end_matches('-').parse().unwrap(), until: f64::INFINITY },
        };
        text.split_whitespace().map(|word| (window(word), 1.0)).collect()
    }

    /// Both groups of the published example.
    pub(in crate::stats) fn deterioration() -> [Vec<(Window, f64)>; 2] {
        [windows(RADIATION), windows(WITH_CHEMOTHERAPY)]
    }

    fn agrees(curve: &Curve, expected: &[(f64, f64, f64)], log_likelihood: f64) {
        assert_eq!(curve.pieces.len(), expected.len(), "{curve:?}");
        for (piece, (after, until, mass)) in curve.pieces.iter().zip(expected) {
            assert!(
                (piece.after, piece.until) == (*after, *until) && (piece.mass - mass).abs() < 6e-5,
                "{piece:?}, expected {mass}"
            );
        }
        assert!((curve.log_likelihood - log_likelihood).abs() < 6e-6, "{}", curve.log_likelihood);
        assert!(curve.unsettled() < 1e-6, "{}", curve.unsettled());
    }

    /// Masses as printed by M. P. Fay & P. A. Shaw 2010, "Exact and asymptotic weighted logrank tests for interval censored data: the
    /// interval R package", Journal of Statistical Software 36(2), <https://doi.org/10.18637/jss.v036.i02>; log-likelihoods recomputed.
    #[test]
    fn the_published_example_has_its_masses() {
        let [radiation, with_chemotherapy] = deterioration();
        let expected = [
            (4.0, 5.0, 0.0463),
            (6.0, 7.0, 0.0334),
            (7.0, 8.0, 0.0887),
            (11.0, 12.0, 0.0708),
            (24.0, 25.0, 0.0926),
            (33.0, 34.0, 0.0818),
            (38.0, 40.0, 0.1209),
            (46.0, 48.0, 0.4656),
        ];
        agrees(&turnbull(&radiation), &expected, -58.060_02);
        let expected = [
            (4.0, 5.0, 0.0433),
            (5.0, 8.0, 0.0433),
            (11.0, 12.0, 0.0692),
            (16.0, 17.0, 0.1454),
            (18.0, 19.0, 0.1411),
            (19.0, 20.0, 0.1157),
            (24.0, 25.0, 0.0999),
            (30.0, 31.0, 0.0709),
            (35.0, 36.0, 0.1608),
            (44.0, 48.0, 0.0552),
            (48.0, 60.0, 0.0552),
        ];
        agrees(&turnbull(&with_chemotherapy), &expected, -65.636_96);
    }

    fn shared_looks() -> Vec<(Window, f64)> {
        let seen = [(5.0, 6.0, 1.0), (6.0, 7.0, 3.0), (7.0, 9.0, 8.0), (9.0, 10.0, 4.0)];
        let mut windows: Vec<(Window, f64)> = seen.map(|(after, until, count)| (Window { after, until }, count)).into();
        windows.push((Window { after: 21.0, until: f64::INFINITY }, 4.0));
        windows
    }

    #[test]
    fn where_all_were_looked_at_together_the_curve_is_what_was_counted() {
        let curve = turnbull(&shared_looks());
        assert_eq!(curve.by(5.0), (0.0, 0.0));
        let (low, high) = curve.by(8.0);
        assert!((low - 0.2).abs() < 1e-12 && (high - 0.6).abs() < 1e-12, "{low} {high}");
        let (low, high) = curve.by(9.0);
        assert!((low - 0.6).abs() < 1e-12 && (high - 0.6).abs() < 1e-12);
        let band = curve.band_at(9.0, 0.95);
        let counted = wilson(0.6, 20.0, 0.95);
        assert!((band.0 - counted.0).abs() < 1e-12 && (band.1 - counted.1).abs() < 1e-12);
        assert_eq!(curve.reaches(0.5), Some((7.0, 9.0)));
        assert_eq!(curve.reaches(0.8), Some((9.0, 10.0)));
        assert_eq!(curve.reaches(0.9), None);
        let nothing = turnbull(&[]);
        assert!(nothing.pieces.is_empty() && nothing.reaches(0.5).is_none() && nothing.band_at(3.0, 0.95) == (0.0, 1.0));
    }

    /// 30 seeds with log-logistic times (median 8 d, of which a fifth never sprout), looked at on days drawn for each box of ten: the
    /// band at day 8 is to hold the truth in at least 93 % of 1,000 made-up trials.
    #[test]
    fn the_band_holds_the_truth_as_often_as_it_says() {
        let mut dice = Dice::new(20_261_128);
        let truth = 0.8 * 0.5;
        let mut held = 0;
        for _ in 0..1000 {
            let mut windows = Vec::new();
            for _ in 0..3 {
                let mut looks = vec![0.0];
                while looks.last().is_some_and(|last| *last < 25.0) {
                    looks.push(looks.last().copied().unwrap_or(0.0) + [1.0, 1.0, 2.0, 3.0][dice.below(4)]);
                }
                for _ in 0..10 {
                    let odds = dice.uniform();
                    let time = if dice.uniform() < 0.8 { 8.0 * (odds / (1.0 - odds)).powf(0.25) } else { f64::INFINITY };
                    let next = looks.partition_point(|look| *look < time);
                    let after = looks[next.max(1) - 1];
                    windows.push((Window { after, until: looks.get(next).copied().unwrap_or(f64::INFINITY) }, 1.0));
                }
            }
            let (low, high) = turnbull(&windows).band_at(8.0, 0.95);
            held += usize::from((low..=high).contains(&truth));
        }
        assert!((930..=1000).contains(&held), "{held} of 1000");
    }

    proptest! {
        #![proptest_config(ProptestConfig { rng_seed: proptest::test_runner::RngSeed::Fixed(64), ..ProptestConfig::with_cases(64) })]
        #[test]
        fn masses_add_up_and_the_peak_is_one(edges in prop::collection::vec((0u8..30, 1u8..12, any::<bool>()), 1..40)) {
            let window = |(after, span, seen): &(u8, u8, bool)| {
                let after = f64::from(*after);
                (Window { after, until: if *seen { after + f64::from(*span) } else { f64::INFINITY } }, 1.0)
            };
            let windows: Vec<(Window, f64)> = edges.iter().map(window).collect();
            let curve = turnbull(&windows);
            prop_assert!((curve.pieces.iter().map(|piece| piece.mass).sum::<f64>() - 1.0).abs() < 1e-9);
            prop_assert!(curve.unsettled() < 1e-7, "{}", curve.unsettled());
            let mut reversed = windows.clone();
            reversed.reverse();
            prop_assert!((turnbull(&reversed).log_likelihood - curve.log_likelihood).abs() < 1e-6);
        }
    }
}
