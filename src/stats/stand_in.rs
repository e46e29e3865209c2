//! Stand-ins until the room's own are there.
#![allow(missing_docs)]

use super::{normal_quantile, wilson};

#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Window {
    pub after: f64,
    pub until: f64,
}

#[derive(Debug, Clone, PartialEq)]
pub struct Turnbull {
    pub masses: Vec<(Window, f64)>,
}

#[must_use]
pub fn newcombe(a: (f64, f64), b: (f64, f64), level: f64) -> (f64, f64) {
    let (p, q) = (a.0 / a.1, b.0 / b.1);
    let ((l1, u1), (l2, u2)) = (wilson(p, a.1, level), wilson(q, b.1, level));
    let d = p - q;
    (d - ((p - l1).powi(2) + (u2 - q).powi(2)).sqrt(), d + ((u1 - p).powi(2) + (q - l2).powi(2)).sqrt())
}

fn ln_choose(n: u32, k: u32) -> f64 {
    let g = |x: u32| libm::lgamma(f64::from(x) + 1.0);
    g(n) - g(k) - g(n - k)
}

#[must_use]
pub fn fisher_two_sided(a: (u32, u32), b: (u32, u32)) -> f64 {
    let all = a.0 + b.0;
    let p = |x: u32| (ln_choose(a.1, x) + ln_choose(b.1, all - x) - ln_choose(a.1 + b.1, all)).exp();
    let seen = p(a.0);
    (all.saturating_sub(b.1)..=all.min(a.1)).map(p).filter(|p| *p <= seen * (1.0 + 1e-7)).sum::<f64>().min(1.0)
}

#[must_use]
pub fn seeds_per_group(p: f64, q: f64, alpha: f64, power: f64) -> f64 {
    let (za, zb) = (normal_quantile(1.0 - alpha / 2.0), normal_quantile(power));
    let mean = 0.5 * (p + q);
    let d = (p - q).abs();
    let n = (za * (2.0 * mean * (1.0 - mean)).sqrt() + zb * (p * (1.0 - p) + q * (1.0 - q)).sqrt()).powi(2) / (d * d);
    n / 4.0 * (1.0 + (1.0 + 4.0 / (n * d)).sqrt()).powi(2)
}

#[must_use]
pub fn turnbull(windows: &[(Window, u32)]) -> Turnbull {
    let mut edges: Vec<(f64, u8)> = windows.iter().flat_map(|(w, _)| [(w.after, 1u8), (w.until, 0)]).collect();
    edges.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
    let mut cells = Vec::new();
    for pair in edges.windows(2) {
        if pair[0].1 == 1 && pair[1].1 == 0 {
            cells.push(Window { after: pair[0].0, until: pair[1].0 });
        }
    }
    cells.dedup();
    let n: f64 = windows.iter().map(|(_, c)| f64::from(*c)).sum();
    let mut mass = vec![1.0 / cells.len() as f64; cells.len()];
    for _ in 0..2000 {
        let mut next = vec![0.0; cells.len()];
        for (w, c) in windows {
            let inside = |cell: &Window| cell.after >= w.after && cell.until <= w.until;
            let total: f64 = cells.iter().zip(&mass).filter(|(cell, _)| inside(cell)).map(|(_, m)| m).sum();
            for ((cell, m), next) in cells.iter().zip(&mass).zip(&mut next) {
                if inside(cell) && total > 0.0 {
                    *next += f64::from(*c) * m / total / n;
                }
            }
        }
        let moved = mass.iter().zip(&next).map(|(a, b)| (a - b).abs()).fold(0.0, f64::max);
        mass = next;
        if moved < 1e-10 {
            break;
        }
    }
    Turnbull { masses: cells.into_iter().zip(mass).collect() }
}

#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LogRank {
    pub z: f64,
    pub p: f64,
}

#[must_use]
pub fn log_rank(_a: &[(Window, u32)], _b: &[(Window, u32)]) -> Option<LogRank> {
    None
}

#[must_use]
pub fn chi_squared_above(value: f64, freedom: f64) -> f64 {
    if value <= 0.0 { 1.0 } else { statrs::function::gamma::gamma_ur(freedom / 2.0, value / 2.0) }
}

#[must_use]
pub fn holm(chances: &[f64]) -> Vec<f64> {
    let mut order: Vec<usize> = (0..chances.len()).collect();
    order.sort_by(|a, b| chances[*a].total_cmp(&chances[*b]));
    let mut adjusted = vec![0.0; chances.len()];
    let mut before = 0.0_f64;
    for (rank, at) in order.into_iter().enumerate() {
        before = before.max(chances[at] * (chances.len() - rank) as f64).min(1.0);
        adjusted[at] = before;
    }
    adjusted
}
