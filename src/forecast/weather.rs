//! One future's weather, as the same numbers for every spot: spots share their weather, each takes it in its own measure.

use crate::stats::Dice;

/// Days after which the innovations and shapes of days come again: no date so far off is told to the day.
const DIFFERENT_DAYS: usize = 126;
/// Days of one shape drawn in a row: clear and dull days come in runs.
const RUN_DAYS: usize = 3;

/// One future.
#[derive(Debug, Clone, PartialEq)]
pub struct Weather {
    /// Which of the likely parameters of a season hold, 0 to 1.
    pub(super) which: f64,
    /// How large the anomalies are, standard normal.
    pub(super) scale: f64,
    /// Where between its bounds the season's curve runs, standard normal.
    pub(super) curve: [f64; 4],
    /// How it goes on beyond what was seen in earlier years, standard normal.
    pub(super) beyond: f64,
    /// Today's anomaly where today is not known, standard normal.
    pub(super) today: f64,
    /// The error of a level known from part of a day, standard normal.
    pub(super) part: f64,
    innovations: Vec<f64>,
    begins: Vec<f64>,
}

impl Weather {
    /// Draws one.
    pub fn draw(dice: &mut Dice) -> Self {
        Self {
            which: dice.uniform(),
            scale: dice.normal(),
            curve: std::array::from_fn(|_| dice.normal()),
            beyond: dice.normal(),
            today: dice.normal(),
            part: dice.normal(),
            innovations: (0..DIFFERENT_DAYS).map(|_| dice.normal()).collect(),
            begins: (0..DIFFERENT_DAYS / RUN_DAYS).map(|_| dice.uniform()).collect(),
        }
    }

    /// What is new in a day's anomaly, standard normal; the first day from now on is 0.
    pub(super) fn innovation(&self, day: usize) -> f64 {
        self.innovations[day % DIFFERENT_DAYS]
    }

    /// Which of so many days' shapes a day has: in the order in which they were seen, run by run.
    pub(super) fn shape(&self, day: usize, shapes: usize) -> usize {
        let day = day % DIFFERENT_DAYS;
        ((self.begins[day / RUN_DAYS] * shapes as f64) as usize + day % RUN_DAYS) % shapes.max(1)
    }
}
