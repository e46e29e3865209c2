//! How a spot's daily means run on: a smooth season, and anomalies from it that die away and come anew.

use nalgebra::{DMatrix, DVector};

use super::Weather;

/// Anomalies hold over from day to day by one of these shares, likely around 0.7: what daily temperatures show in temperate climates
/// (from memory, no source), whatever the record says being weighed in.
const PERSISTENCES: [f64; 10] = [0.05, 0.15, 0.25, 0.35, 0.45, 0.55, 0.65, 0.75, 0.85, 0.95];
/// What is assumed of the anomalies' standard deviation, °C, worth so many days of record.
const USUAL_SD_C: f64 = 0.8;
const WORTH_DAYS: f64 = 2.0;
/// Daily anomalies are no larger anywhere: out of doors 2 to 4 °C are usual (from memory, no source).
const LARGEST_SD_C: f64 = 5.0;
/// Drift of an unknown season, in anomaly standard deviations a day. A spot follows the year as it follows the weather: out of
/// doors the year's wave is 2 to 3 anomaly standard deviations high either way (5 to 12 °C against 2 to 4 °C, from memory, no
/// source), so its steep part, in which most seed is sown, goes by 2.3 × 2π/365 = 0.04 of them a day.
const DRIFT: f64 = 0.04;
/// The same beside earlier years' records, for what this year does otherwise: a quarter.
const DRIFT_BESIDE_YEARS: f64 = 0.01;
/// Slope (a day) and curvature (a day²) of a season that earlier years tell, in anomaly standard deviations: wide beside a year's
/// wave of 2.3 of them, whose curvature is 2.3/2 × (2π/365)² = 0.00034 at the most.
const SLOPE: f64 = 0.08;
const CURVATURE: f64 = 0.000_7;
/// How far an earlier year's level may lie from this one's, in anomaly standard deviations: as the weather goes, or (a thermostat
/// turned, a window draught-proofed) by anything; with how likely each is beforehand.
const YEARS_APART: [(f64, f64); 2] = [(0.5, 0.7), (6.0, 0.3)];
/// A quarter of a year, in days: a season that rises does so no longer.
const QUARTER_DAYS: f64 = 365.25 / 4.0;

/// A daily mean: days from today (the 24 hours that end now are day 0, the next ones day 1), °C.
pub(super) type DayMean = (i32, f64);

/// What is likely of a spot's daily means, given this year's recent days and earlier years' days around the same date.
///
/// # Formula
/// ```text
/// yₜ = level + drift · w(t) [+ slope · t + curvature · t²] [+ shift of an earlier year] + aₜ
/// aₜ = φ aₜ₋₁ + σ √(1 − φ²) εₜ,   w(t) = q sin(t / q), q = 365.25/2π: a trend is the steep part of a yearly wave
/// ```
/// For each φ (and width of the shifts) the rest is a regression with conjugate priors in units of σ, so that level, season, σ and φ
/// are drawn from what the record and these assumptions make likely together (normal inverse gamma: Gelman et al. 2013, Bayesian
/// Data Analysis, ch. 14; errors whitened as in Cochrane & Orcutt 1949, https://doi.org/10.1080/01621459.1949.10483290).
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Season {
    cells: Vec<Cell>,
    /// Degrees of freedom of σ².
    degrees: f64,
    /// The last known day.
    last: DayMean,
    /// The last day that earlier years told of.
    told_until: Option<f64>,
}

/// One φ (and width of the shifts), with what follows given it.
#[derive(Debug, Clone, PartialEq)]
struct Cell {
    /// How likely it is, together with those before it.
    reach: f64,
    persistence: f64,
    /// Level, drift, slope, curvature.
    mean: [f64; 4],
    /// Lower triangle of the root of their covariance in units of σ².
    root: [[f64; 4]; 4],
    /// Sum of squares that σ² goes by.
    squares: f64,
}

/// A season as drawn for one future.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct DrawnSeason {
    curve: [f64; 4],
    beyond: f64,
    told_until: Option<f64>,
    persistence: f64,
    shock: f64,
    /// Today's.
    pub(super) anomaly: f64,
}

/// A trend that flattens out as a yearly wave does.
fn wave(t: f64) -> f64 {
    let quarter = QUARTER_DAYS / std::f64::consts::FRAC_PI_2;
    quarter * (t.clamp(-QUARTER_DAYS, QUARTER_DAYS) / quarter).sin()
}

impl Season {
    /// From this year's days (ascending, at least one, none later than today) and earlier years' days around the same date.
    pub(super) fn fit(recent: &[DayMean], years: &[Vec<DayMean>]) -> Option<Self> {
        let last = *recent.last()?;
        let told = !years.is_empty();
        let columns = if told { 4 } else { 2 };
        let middle = recent.iter().map(|day| day.1).sum::<f64>() / recent.len() as f64;
        let row = |t: i32, year: Option<usize>| {
            let t = f64::from(t);
            let mut row = vec![0.0; columns + years.len()];
            row[0] = 1.0;
            if told {
                (row[2], row[3]) = (t, t * t);
            }
            match year {
                None => row[1] = wave(t),
                Some(year) => row[columns + year] = 1.0,
            }
            row
        };
        let series: Vec<Vec<(i32, Vec<f64>, f64)>> = std::iter::once((None, recent))
            .chain(years.iter().enumerate().map(|(year, days)| (Some(year), &days[..])))
            .map(|(year, days)| days.iter().map(|(t, celsius)| (*t, row(*t, year), celsius - middle)).collect())
            .collect();
        let count: usize = series.iter().map(Vec::len).sum();
        let degrees = WORTH_DAYS + count as f64 - 1.0;
        let widths: &[(f64, f64)] = if told { &YEARS_APART } else { &[(1.0, 1.0)] };
        let mut cells = Vec::new();
        let mut heights = Vec::new();
        for persistence in PERSISTENCES {
            for (apart, likely) in widths {
                let mut precision = vec![1e-9, (if told { DRIFT_BESIDE_YEARS } else { DRIFT }).powi(-2)];
                if told {
                    precision.extend([SLOPE.powi(-2), CURVATURE.powi(-2)]);
                }
                precision.extend(years.iter().map(|_| apart.powi(-2)));
                let (cell, height) = Cell::given(&series, persistence, &precision, columns, degrees)?;
                let beforehand = 4.0 * persistence.ln() + 1.5 * (1.0 - persistence).ln() + likely.ln();
                heights.push(height + beforehand);
                cells.push(cell);
            }
        }
        let most = heights.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let weights: Vec<f64> = heights.iter().map(|height| (height - most).exp()).collect();
        let all: f64 = weights.iter().sum();
        let mut reach = 0.0;
        for (cell, weight) in cells.iter_mut().zip(&weights) {
            reach += weight / all;
            cell.reach = reach;
            cell.mean[0] += middle;
        }
        let told_until = years.iter().flatten().map(|day| f64::from(day.0)).reduce(f64::max);
        Some(Self { cells, degrees, last, told_until })
    }

    /// The season of one future.
    pub(super) fn drawn(&self, weather: &Weather) -> DrawnSeason {
        let at = self.cells.partition_point(|cell| cell.reach < weather.which).min(self.cells.len() - 1);
        let cell = &self.cells[at];
        let sd = (cell.squares / chi_square(self.degrees, weather.scale)).sqrt().min(LARGEST_SD_C);
        let curve: [f64; 4] = std::array::from_fn(|at| {
            cell.mean[at] + sd * cell.root[at].iter().zip(&weather.curve).map(|(root, normal)| root * normal).sum::<f64>()
        });
        let mut season = DrawnSeason {
            curve,
            beyond: DRIFT * sd * weather.beyond,
            told_until: self.told_until,
            persistence: cell.persistence,
            shock: sd * (1.0 - cell.persistence.powi(2)).sqrt(),
            anomaly: 0.0,
        };
        let held = cell.persistence.powi(-self.last.0);
        let seen = self.last.1 - season.mean(f64::from(self.last.0));
        season.anomaly = held * seen + sd * (1.0 - held * held).max(0.0).sqrt() * weather.today;
        season
    }

    /// What the season's curve is expected to be on a day.
    pub(super) fn expected(&self, t: f64) -> f64 {
        let mut before = 0.0;
        let mut sum = 0.0;
        for cell in &self.cells {
            sum += (cell.reach - before) * curve_at(&cell.mean, self.told_until, 0.0, t);
            before = cell.reach;
        }
        sum
    }
}

impl Cell {
    /// What follows given φ, and ln of how likely the record is under it (up to a constant).
    fn given(
        series: &[Vec<(i32, Vec<f64>, f64)>],
        persistence: f64,
        precision: &[f64],
        columns: usize,
        degrees: f64,
    ) -> Option<(Self, f64)> {
        let size = precision.len();
        let mut normal = DMatrix::from_diagonal(&DVector::from_column_slice(precision));
        let mut right = DVector::zeros(size);
        let mut squares = WORTH_DAYS * USUAL_SD_C * USUAL_SD_C;
        let mut height = 0.5 * precision.iter().map(|precision| precision.ln()).sum::<f64>();
        let mut whitened = DVector::zeros(size);
        for days in series {
            let mut before: Option<&(i32, Vec<f64>, f64)> = None;
            for day in days {
                let held = before.map_or(0.0, |before| persistence.powi(day.0 - before.0));
                let scale = (1.0 - held * held).sqrt().recip();
                let of = |now: f64, before: Option<f64>| scale * (now - held * before.unwrap_or(0.0));
                for at in 0..size {
                    whitened[at] = of(day.1[at], before.map(|before| before.1[at]));
                }
                let celsius = of(day.2, before.map(|before| before.2));
                normal.ger(1.0, &whitened, &whitened, 1.0);
                right.axpy(celsius, &whitened, 1.0);
                squares += celsius * celsius;
                height += scale.ln();
                before = Some(day);
            }
        }
        let factor = normal.cholesky()?;
        let mean = factor.solve(&right);
        // What is left of the squares is never below what is assumed: rounding aside, the regression can only explain the record's.
        let squares = (squares - right.dot(&mean)).max(1e-6);
        height -= factor.l_dirty().diagonal().iter().map(|value| value.ln()).sum::<f64>() + 0.5 * degrees * squares.ln();
        let covariance = factor.inverse().view((0, 0), (columns, columns)).into_owned();
        let lower = covariance.cholesky()?.l();
        let entry = |row: usize, column: usize| if row < columns && column < columns { lower[(row, column)] } else { 0.0 };
        let cell = Self {
            reach: 0.0,
            persistence,
            mean: std::array::from_fn(|at| if at < columns { mean[at] } else { 0.0 }),
            root: std::array::from_fn(|row| std::array::from_fn(|column| entry(row, column))),
            squares,
        };
        Some((cell, height))
    }
}

impl DrawnSeason {
    /// A temperature that does not move.
    pub(super) fn still(celsius: f64) -> Self {
        Self { curve: [celsius, 0.0, 0.0, 0.0], beyond: 0.0, told_until: None, persistence: 0.0, shock: 0.0, anomaly: 0.0 }
    }

    /// The curve on a day, °C.
    pub(super) fn mean(&self, t: f64) -> f64 {
        curve_at(&self.curve, self.told_until, self.beyond, t)
    }

    /// The next day's anomaly after one.
    pub(super) fn next(&self, anomaly: f64, innovation: f64) -> f64 {
        self.persistence * anomaly + self.shock * innovation
    }
}

/// Beyond what earlier years told, their curve stands still and an unknown drift sets in.
fn curve_at([level, drift, slope, curvature]: &[f64; 4], told_until: Option<f64>, beyond: f64, t: f64) -> f64 {
    let (told, after) = told_until.map_or((0.0, 0.0), |until| (t.min(until), (t - until).max(0.0)));
    level + drift * wave(t) + slope * told + curvature * told * told + if after > 0.0 { beyond * wave(after) } else { 0.0 }
}

/// χ² from a standard normal (Wilson & Hilferty 1931, PNAS 17:684–688, https://doi.org/10.1073/pnas.17.12.684): within 1 % of the
/// quantile from 3 degrees of freedom up. Below −2 it is held there: with two degrees it would fall short further down.
fn chi_square(degrees: f64, normal: f64) -> f64 {
    let part = 2.0 / (9.0 * degrees);
    degrees * (1.0 - part + normal.max(-2.0) * part.sqrt()).powi(3)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stats::{Dice, mean_of, standard_deviation_of};

    const FUTURES: usize = 4000;

    fn weathers(seed: u64, count: usize) -> Vec<Weather> {
        let mut dice = Dice::new(seed);
        (0..count).map(|_| Weather::draw(&mut dice)).collect()
    }

    /// The daily mean that one future brings on day `day`.
    fn day_mean(season: &DrawnSeason, weather: &Weather, day: usize) -> f64 {
        let anomaly = (0..day).fold(season.anomaly, |anomaly, day| season.next(anomaly, weather.innovation(day)));
        season.mean(day as f64) + anomaly
    }

    /// Days `from..=until` of a curve with first-order autoregressive anomalies.
    fn made_up(from: i32, until: i32, curve: impl Fn(f64) -> f64, persistence: f64, sd: f64, dice: &mut Dice) -> Vec<DayMean> {
        let mut anomaly = sd * dice.normal();
        (from..=until)
            .map(|t| {
                anomaly = persistence * anomaly + sd * (1.0 - persistence * persistence).sqrt() * dice.normal();
                (t, curve(f64::from(t)) + anomaly)
            })
            .collect()
    }

    /// Of a first-order autoregression that stands at a now: mean φᵏ a, variance σ² (1 − φ²ᵏ) after k days (Box & Jenkins 1970,
    /// Time Series Analysis, the forecasts of an AR(1); common knowledge of the field).
    #[test]
    fn drawn_daily_means_have_the_closed_form_mean_and_spread() {
        let (persistence, sd, today): (f64, f64, f64) = (0.8, 1.5, 3.0);
        let season = DrawnSeason {
            curve: [15.0, 0.05, 0.0, 0.0],
            beyond: 0.0,
            told_until: None,
            persistence,
            shock: sd * (1.0 - persistence * persistence).sqrt(),
            anomaly: today,
        };
        for day in [1, 7, 21] {
            let means: Vec<f64> = weathers(3, FUTURES).iter().map(|weather| day_mean(&season, weather, day)).collect();
            let held = persistence.powi(day as i32);
            let (mean, spread) = (season.mean(day as f64) + held * today, sd * (1.0 - held * held).sqrt());
            let error = spread / (FUTURES as f64).sqrt();
            assert!((mean_of(&means) - mean).abs() < 4.0 * error, "day {day}: {} against {mean}", mean_of(&means));
            let found = standard_deviation_of(&means);
            assert!((found - spread).abs() < 4.0 * error, "day {day}: {found} against {spread}");
        }
        assert!((season.mean(21.0) - 16.05).abs() < 0.05, "a trend runs on as it did for three weeks");
        assert!(season.mean(365.0) - season.mean(91.0) < 0.01, "and no longer than a quarter of a year");
    }

    /// A curve known from last year, 1 °C warmer throughout than this one's: found again, with a spread that holds the truth as often
    /// as it says.
    #[test]
    fn a_quadratic_season_with_its_anomalies_is_found_again() {
        let curve = |t: f64| 14.0 + 0.09 * t - 0.0004 * t * t;
        let mut dice = Dice::new(11);
        let weathers = weathers(5, 400);
        let (mut apart, mut held_over, mut sds) = (Vec::new(), Vec::new(), Vec::new());
        for _ in 0..150 {
            let last_year = made_up(-27, 80, |t| curve(t) + 1.0, 0.7, 1.3, &mut dice);
            let recent = made_up(-27, 30, curve, 0.7, 1.3, &mut dice);
            let season = Season::fit(&recent[..28], &[last_year]).unwrap();
            let drawn: Vec<DrawnSeason> = weathers.iter().map(|weather| season.drawn(weather)).collect();
            let means: Vec<f64> = drawn.iter().zip(&weathers).map(|(season, weather)| day_mean(season, weather, 21)).collect();
            let truth = recent.iter().find(|day| day.0 == 21).unwrap().1;
            apart.push((truth - mean_of(&means)) / standard_deviation_of(&means));
            held_over.push(mean_of(&drawn.iter().map(|season| season.persistence).collect::<Vec<_>>()));
            sds.push(mean_of(&drawn.iter().map(|s| s.shock / (1.0 - s.persistence.powi(2)).sqrt()).collect::<Vec<_>>()));
        }
        // Standard errors: 1/√150 of a mean, 1/√300 of a standard deviation.
        assert!(mean_of(&apart).abs() < 0.25, "no lean: {}", mean_of(&apart));
        assert!((standard_deviation_of(&apart) - 1.0).abs() < 0.2, "as wide as it says: {}", standard_deviation_of(&apart));
        assert!((mean_of(&held_over) - 0.7).abs() < 0.06, "{}", mean_of(&held_over));
        assert!((mean_of(&sds) - 1.3).abs() < 0.1, "{}", mean_of(&sds));
    }

    /// Without an earlier year: springs, autumns and standstills alike, and ranges that hold as often as they say.
    #[test]
    fn without_an_earlier_year_an_unknown_drift_keeps_the_range_honest() {
        let mut dice = Dice::new(12);
        let weathers = weathers(6, 400);
        for day in [7, 21] {
            let apart: Vec<f64> = (0..200)
                .map(|_| {
                    let drift = 0.04 * 1.5 * dice.normal();
                    let days = made_up(-27, 21, |t| 16.0 + drift * t, 0.7, 1.5, &mut dice);
                    let season = Season::fit(&days[..28], &[]).unwrap();
                    let means: Vec<f64> = weathers.iter().map(|weather| day_mean(&season.drawn(weather), weather, day)).collect();
                    (days[27 + day].1 - mean_of(&means)) / standard_deviation_of(&means)
                })
                .collect();
            assert!(mean_of(&apart).abs() < 0.25, "day {day}: {}", mean_of(&apart));
            assert!((standard_deviation_of(&apart) - 1.0).abs() < 0.2, "day {day}: {}", standard_deviation_of(&apart));
        }
    }

    #[test]
    fn a_heated_spot_has_small_anomalies_and_one_day_alone_large_ones() {
        let mut dice = Dice::new(13);
        let weathers = weathers(7, 1000);
        let spread = |days: &[DayMean]| {
            let season = Season::fit(days, &[]).unwrap();
            standard_deviation_of(&weathers.iter().map(|weather| day_mean(&season.drawn(weather), weather, 5)).collect::<Vec<_>>())
        };
        let mat = spread(&made_up(-27, 0, |_| 25.0, 0.5, 0.15, &mut dice));
        let sill = spread(&made_up(-27, 0, |_| 12.0, 0.7, 2.0, &mut dice));
        let new = spread(&[(0, 18.0)]);
        assert!(mat < 0.45 && (1.2..3.5).contains(&sill) && (0.7..2.5).contains(&new), "{mat}, {sill}, {new}");
    }

    #[test]
    fn a_household_run_otherwise_this_year_keeps_its_own_level_and_last_years_shape() {
        let mut dice = Dice::new(14);
        let last_year = made_up(-27, 60, |t| 26.5 + 0.02 * t, 0.5, 0.3, &mut dice);
        let recent = made_up(-27, 0, |t| 24.0 + 0.02 * t, 0.5, 0.3, &mut dice);
        let season = Season::fit(&recent, &[last_year]).unwrap();
        assert!((season.expected(0.0) - 24.0).abs() < 0.4, "{}", season.expected(0.0));
        assert!((season.expected(40.0) - 24.8).abs() < 0.5, "{}", season.expected(40.0));
    }

    #[test]
    fn days_without_a_mean_leave_todays_anomaly_half_forgotten() {
        let days =
            |until: i32| (-27..=until).map(|t| (t, if t == until { 22.0 } else { 18.0 + f64::from(t % 2) })).collect::<Vec<_>>();
        let weathers = weathers(8, 2000);
        let today = |days: &[DayMean]| {
            let season = Season::fit(days, &[]).unwrap();
            mean_of(&weathers.iter().map(|weather| season.drawn(weather)).map(|s| s.mean(0.0) + s.anomaly).collect::<Vec<_>>())
        };
        assert!((today(&days(0)) - 22.0).abs() < 1e-9, "what was measured today is so");
        assert!((17.5..21.0).contains(&today(&days(-3))), "{}", today(&days(-3)));
    }

    /// Worked out from the power series of the incomplete gamma function (Abramowitz & Stegun 1964, 6.5.29) by bisection.
    #[test]
    fn chi_squares_agree_with_the_incomplete_gamma_function() {
        for (degrees, normal, expected) in
            [(3.0, -1.0, 0.833_891), (3.0, 0.0, 2.365_974), (3.0, 2.0, 9.555_314), (30.0, -1.0, 22.341_24), (30.0, 2.0, 47.397_093)]
        {
            let found = chi_square(degrees, normal);
            assert!((found / expected - 1.0).abs() < 0.01, "{degrees}, {normal}: {found} against {expected}");
        }
    }
}
