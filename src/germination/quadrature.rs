//! A container's own effects integrated out.

use std::sync::OnceLock;

use nalgebra::{DMatrix, SymmetricEigen};

use super::Distribution;
use super::looks::{Looks, Shares};
use crate::stats::logistic;

/// Nodes in each direction. Against 101 nodes each way the error in ln L stays below 0.001 up to 1,000 seeds where containers differ by
/// up to 0.2 in ln requirement and 1.2 in logit fraction (a test holds this). Beyond, a container of a thousand seeds none of which
/// sprouts is either very slow or very poor, two separate hills that no rule around one of them sees: met at 0.3 and 1.5, four standard
/// deviations from what is assumed.
const NODES: usize = 9;
/// Newton steps at the most; met containers need 3 to 8.
const STEPS: usize = 40;

/// A container as it stands before its own effects: z at its places, the scale, the logit of its fraction, and how far containers
/// differ.
#[derive(Debug, Clone, Copy)]
pub(super) struct Standing<'a> {
    pub(super) looks: &'a Looks,
    pub(super) family: Distribution,
    pub(super) z: &'a [f64],
    pub(super) spread: f64,
    pub(super) logit: f64,
    /// Standard deviations between containers: ln requirement, logit fraction.
    pub(super) speed_sd: f64,
    pub(super) fraction_sd: f64,
}

/// Slopes of a container's ln L with what it stands on.
#[derive(Debug, Clone, Default)]
pub(super) struct Pull {
    /// With z at each place, everything else held.
    pub(super) z: Vec<f64>,
    /// With ln of the spread, by way of the z of [`Standing`] and of the container's own speed.
    pub(super) ln_spread: f64,
    pub(super) logit: f64,
    pub(super) ln_speed_sd: f64,
    pub(super) ln_fraction_sd: f64,
}

/// Room to work in, kept from container to container.
#[derive(Debug, Default)]
pub(super) struct Nodes {
    shares: Vec<Shares>,
    heights: Vec<f64>,
    /// Fraction effect and germinable fraction at each node.
    own: Vec<(f64, f64)>,
    centre: Shares,
    slopes: Vec<f64>,
    fractions: Vec<(f64, f64)>,
}

/// Where a container's own effects (in standard deviations) are most likely, with the lower triangle of the square root of their
/// covariance there.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Centre {
    pub(super) speed: f64,
    pub(super) fraction: f64,
    root: [f64; 3],
}

/// Abscissas and ln weights for the standard normal: eigenvalues of the Jacobi matrix of the Hermite polynomials (Golub & Welsch
/// 1969, Math. Comp. 23:221–230, https://doi.org/10.2307/2004418).
fn nodes(count: usize) -> Vec<(f64, f64)> {
    let jacobi =
        DMatrix::from_fn(count, count, |row, column| if row.abs_diff(column) == 1 { (row.max(column) as f64).sqrt() } else { 0.0 });
    let eigen = SymmetricEigen::new(jacobi);
    let mut nodes: Vec<(f64, f64)> = eigen
        .eigenvalues
        .iter()
        .enumerate()
        .map(|(at, x)| (*x, (eigen.eigenvectors[(0, at)] * eigen.eigenvectors[(0, at)]).ln()))
        .collect();
    nodes.sort_by(|a, b| a.0.total_cmp(&b.0));
    nodes
}

impl Standing<'_> {
    fn shift(&self, speed: f64) -> f64 {
        self.speed_sd * speed / self.spread
    }

    fn fraction(&self, own: f64) -> f64 {
        logistic(self.logit + self.fraction_sd * own)
    }

    /// The most likely own effects, by Newton steps; none where what was seen could not have happened.
    pub(super) fn centre(&self, shares: &mut Shares) -> Option<Centre> {
        let (mut speed, mut fraction) = (0.0, 0.0);
        let (by_speed, by_fraction) = (-self.speed_sd / self.spread, self.fraction_sd);
        let mut bend_at = |speed: f64, fraction: f64| {
            self.looks.share(self.family, self.z, self.shift(speed), shares);
            self.looks.bend(self.family, shares, self.fraction(fraction))
        };
        let mut bend = bend_at(speed, fraction);
        let height = |value: f64, speed: f64, fraction: f64| value - 0.5 * (speed * speed + fraction * fraction);
        if !bend.value.is_finite() {
            return None;
        }
        for step in 0..=STEPS {
            let slope = [by_speed * bend.shift - speed, by_fraction * bend.logit - fraction];
            // Minus the second derivatives. Where a direction is not curved downwards the prior's own curvature stands in.
            let (mut h11, mut h22) =
                (1.0 - by_speed * by_speed * bend.shift_twice, 1.0 - by_fraction * by_fraction * bend.logit_twice);
            let mut h12 = -by_speed * by_fraction * bend.both;
            if h11 <= 0.1 || h22 <= 0.1 || h11 * h22 - h12 * h12 <= 0.01 * h11 * h22 {
                (h11, h22, h12) = (h11.max(1.0), h22.max(1.0), 0.0);
            }
            let determinant = h11 * h22 - h12 * h12;
            let move_by = [(h22 * slope[0] - h12 * slope[1]) / determinant, (h11 * slope[1] - h12 * slope[0]) / determinant];
            if step == STEPS || move_by[0].abs() + move_by[1].abs() < 1e-8 {
                let (c11, c12, c22) = (h22 / determinant, -h12 / determinant, h11 / determinant);
                let first = c11.sqrt();
                return Some(Centre { speed, fraction, root: [first, c12 / first, (c22 - c12 * c12 / c11).sqrt()] });
            }
            let now = height(bend.value, speed, fraction);
            let mut share = 1.0;
            loop {
                let (next_speed, next_fraction) = (speed + share * move_by[0], fraction + share * move_by[1]);
                let next = bend_at(next_speed, next_fraction);
                if height(next.value, next_speed, next_fraction) >= now - 1e-12 * now.abs() || share < 1e-6 {
                    (speed, fraction, bend) = (next_speed, next_fraction, next);
                    break;
                }
                share *= 0.5;
            }
        }
        None
    }

    /// ln of the likelihood with the own effects integrated out, by Gauss–Hermite nodes centred and scaled at the most likely ones
    /// (adaptive quadrature: Pinheiro & Bates 1995, J. Comput. Graph. Stat. 4:12–35, https://doi.org/10.2307/1390625), and its
    /// slopes where `pull` is given.
    ///
    /// # Formula
    /// ```text
    /// L = ∫∫ L(z − σs e/s, logit π + σπ w) φ(e) φ(w) de dw
    /// ∂ ln L = Σ over nodes of (share of L at the node) · ∂ ln L(node)
    /// ```
    pub(super) fn integrated(&self, room: &mut Nodes, pull: Option<&mut Pull>) -> f64 {
        static STORED: OnceLock<Vec<(f64, f64)>> = OnceLock::new();
        self.integrated_over(STORED.get_or_init(|| nodes(NODES)), room, pull)
    }

    fn integrated_over(&self, nodes: &[(f64, f64)], room: &mut Nodes, pull: Option<&mut Pull>) -> f64 {
        let Some(centre) = self.centre(&mut room.centre) else { return f64::NEG_INFINITY };
        let [first, across, second] = centre.root;
        let Nodes { shares, heights, own, .. } = room;
        shares.resize_with(nodes.len(), Shares::default);
        heights.clear();
        own.clear();
        for ((x, ln_weight), shares) in nodes.iter().zip(shares) {
            let speed = centre.speed + first * x;
            self.looks.share(self.family, self.z, self.shift(speed), shares);
            for (y, more) in nodes {
                let fraction = centre.fraction + across * x + second * y;
                let germinable = self.fraction(fraction);
                let value = self.looks.at_fraction(shares, germinable) - 0.5 * (speed * speed + fraction * fraction)
                    + 0.5 * (x * x + y * y)
                    + ln_weight
                    + more;
                heights.push(if value.is_nan() { f64::NEG_INFINITY } else { value });
                own.push((fraction, germinable));
            }
        }
        let most = heights.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        if most == f64::NEG_INFINITY {
            return most;
        }
        heights.iter_mut().for_each(|height| *height = (*height - most).exp());
        let sum: f64 = heights.iter().sum();
        if let Some(pull) = pull {
            heights.iter_mut().for_each(|height| *height /= sum);
            self.pulled(&centre, nodes, room, pull);
        }
        most + sum.ln() + (first * second).ln()
    }

    /// Slopes, once `heights` in the room are the nodes' shares of L.
    fn pulled(&self, centre: &Centre, nodes: &[(f64, f64)], room: &mut Nodes, pull: &mut Pull) {
        let Nodes { shares, heights: weights, own, slopes, fractions, .. } = room;
        let count = nodes.len();
        let mut all = std::mem::take(&mut pull.z);
        all.clear();
        all.resize(self.z.len(), 0.0);
        *pull = Pull { z: all, ..Pull::default() };
        slopes.clear();
        slopes.resize(self.z.len(), 0.0);
        for (row, (x, _)) in nodes.iter().enumerate() {
            let speed = centre.speed + centre.root[0] * x;
            let (weights, own) = (&weights[row * count..(row + 1) * count], &own[row * count..(row + 1) * count]);
            let weight: f64 = weights.iter().sum();
            if weight < 1e-12 {
                continue;
            }
            slopes.fill(0.0);
            self.looks.add_sprouted_slopes(&shares[row], weight, slopes);
            fractions.clear();
            fractions.extend(weights.iter().zip(own).map(|(weight, (_, pi))| (*weight, *pi)));
            self.looks.add_unsprouted_slopes(&shares[row], fractions, slopes);
            for (at, slope) in slopes.iter().enumerate().filter(|(_, slope)| **slope != 0.0) {
                pull.z[at] += slope;
                // z = (ln Θ − ln Θ½ − σs e)/s falls by itself with ln s.
                pull.ln_spread -= slope * Looks::z(&shares[row], at);
                pull.ln_speed_sd -= slope * self.speed_sd * speed / self.spread;
            }
            for (weight, (fraction, germinable)) in weights.iter().zip(own) {
                let slope = weight * self.looks.logit_slope(&shares[row], *germinable);
                pull.logit += slope;
                pull.ln_fraction_sd += slope * self.fraction_sd * fraction;
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::bench::{Event, Name};
    use crate::germination::{Evidence, Passage, RemovedRule, Segment};
    use crate::thermal::{Profile, Stretch};

    /// A container of `seeds` looked at daily at 10 °C·d a day whose seeds came as `F` says, `germinable` of them.
    fn looks(seeds: u32, germinable: f64, removed: u32) -> Looks {
        let spot = Name::new("sill").unwrap();
        let mut seen = 0;
        let segments = (1..=25)
            .map(|day| {
                let z = ((10.0 * f64::from(day)).ln() - 100f64.ln()) / 0.14;
                let due = (f64::from(seeds - removed) * germinable * Distribution::LogLogistic.share(z)).round() as u32;
                let sprouted = due - seen;
                seen = due;
                let stretch = Stretch { known: Profile::new([(20.0, 1.0)]), ..Stretch::default() };
                Segment {
                    passages: vec![Passage::given(spot.clone(), stretch)],
                    sprouted,
                    removed: if day == 12 { removed } else { 0 },
                    lost: 0,
                }
            })
            .collect();
        let evidence = Evidence {
            container: spot.clone(),
            lot: None,
            treatment: None,
            event: Event::Radicle,
            seeds: Some(seeds),
            before: Vec::new(),
            segments,
            left: Some(seeds - removed - seen),
        };
        Looks::new(&evidence, RemovedRule::Censored)
    }

    fn z() -> Vec<f64> {
        (0..=25).map(|day| ((10.0 * f64::from(day)).ln() - 105f64.ln()) / 0.14).collect()
    }

    /// The promised error, over small and large containers, fractions near 0 and 1, containers that differ little and much.
    #[test]
    fn nine_nodes_err_by_less_than_a_thousandth_against_a_hundred_and_one() {
        // Evenly spaced over 8 standard deviations each way, where the trapezium rule of so smooth a function is exact to many digits.
        let step = 16.0 / 100.0;
        let many: Vec<(f64, f64)> =
            (0..101).map(|at| -8.0 + step * f64::from(at)).map(|x| (x, step.ln() + crate::stats::ln_normal_density(x))).collect();
        for seeds in [1, 5, 20, 50, 200, 1000] {
            for germinable in [0.0, 0.3, 0.8, 1.0] {
                for (speed_sd, fraction_sd) in [(0.01, 0.05), (0.06, 0.3), (0.12, 0.6), (0.2, 1.2)] {
                    let (looks, z) = (looks(seeds, germinable, seeds / 10), z());
                    let standing = Standing {
                        looks: &looks,
                        family: Distribution::LogLogistic,
                        z: &z,
                        spread: 0.14,
                        logit: 0.8,
                        speed_sd,
                        fraction_sd,
                    };
                    let (few, exact) = (
                        standing.integrated(&mut Nodes::default(), None),
                        standing.integrated_over(&many, &mut Nodes::default(), None),
                    );
                    assert!(
                        (few - exact).abs() < 0.001,
                        "{seeds} seeds, {germinable}, {speed_sd}, {fraction_sd}: {few} against {exact}"
                    );
                }
            }
        }
    }

    /// The first weights and abscissas of nine-node Gauss–Hermite quadrature: numpy.polynomial.hermite_e.hermegauss(9), weights over √(2π).
    #[test]
    fn nodes_agree_with_numpys() {
        let nodes = nodes(9);
        for (at, x, weight) in [
            (4, 0.0, 0.406_349_206_349_206_4),
            (5, 1.023_255_663_789_132_7, 0.244_097_502_894_939_2),
            (8, 4.512_745_863_399_783, 2.234_584_400_774_658e-5),
        ] {
            let (found, ln_weight) = nodes[at];
            assert!((found - x).abs() < 1e-12 && (ln_weight.exp() - weight).abs() < 1e-12, "{at}: {found}, {}", ln_weight.exp());
        }
    }

    #[test]
    fn slopes_equal_central_differences() {
        let (looks, z) = (looks(20, 0.7, 2), z());
        let value = |change: [f64; 5]| {
            let z: Vec<f64> = z.iter().map(|z| (z * 0.14 + change[0]) / (0.14 * change[1].exp())).collect();
            Standing {
                looks: &looks,
                family: Distribution::LogNormal,
                z: &z,
                spread: 0.14 * change[1].exp(),
                logit: 0.8 + change[2],
                speed_sd: 0.1 * change[3].exp(),
                fraction_sd: 0.5 * change[4].exp(),
            }
            .integrated(&mut Nodes::default(), None)
        };
        let standing = Standing {
            looks: &looks,
            family: Distribution::LogNormal,
            z: &z,
            spread: 0.14,
            logit: 0.8,
            speed_sd: 0.1,
            fraction_sd: 0.5,
        };
        let mut pull = Pull::default();
        standing.integrated(&mut Nodes::default(), Some(&mut pull));
        let found = [pull.z.iter().sum::<f64>() / 0.14, pull.ln_spread, pull.logit, pull.ln_speed_sd, pull.ln_fraction_sd];
        for (at, found) in found.into_iter().enumerate() {
            let moved = |by: f64| {
                let mut change = [0.0; 5];
                change[at] = by;
                value(change)
            };
            let difference = (moved(1e-4) - moved(-1e-4)) / 2e-4;
            assert!((found - difference).abs() < 2e-3 * difference.abs().max(1.0), "{at}: {found} against {difference}");
        }
    }
}
