//! The last frost of spring as a chance, not a date.

use chrono::{Days, NaiveDate};

use crate::stats::{normal_cdf, normal_quantile};

/// Last-frost dates of one place scatter by about this from year to year, in days: 10 to 14 are usual (from memory, no source).
const USUAL_SPREAD_DAYS: f64 = 12.0;
/// A date with its chance is never taken as surer than this, in days.
const LEAST_SPREAD_DAYS: f64 = 0.5;

/// When the last frost falls, over the years: normal about its middle date, with a spread of its own to either side.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LastFrost {
    /// In half of all years the last frost is past by then.
    pub middle: NaiveDate,
    /// Standard deviation of earlier ones, days.
    early_days: f64,
    /// Standard deviation of later ones, days.
    late_days: f64,
    /// Nobody said how the dates scatter.
    pub spread_assumed: bool,
}

impl LastFrost {
    /// From an average date and the standard deviation of the dates, in days; none: what is usual.
    #[must_use]
    pub fn average(middle: NaiveDate, spread_days: Option<f64>) -> Self {
        let spread = spread_days.unwrap_or(USUAL_SPREAD_DAYS).max(LEAST_SPREAD_DAYS);
        Self { middle, early_days: spread, late_days: spread, spread_assumed: spread_days.is_none() }
    }

    /// From the dates by which the last frost is past in 1, 5 and 9 years of 10; none where they do not follow each other.
    #[must_use]
    pub fn by_chance([one, five, nine]: [NaiveDate; 3]) -> Option<Self> {
        let spread =
            |from: NaiveDate, until: NaiveDate| ((until - from).num_days() as f64 / normal_quantile(0.9)).max(LEAST_SPREAD_DAYS);
        let ordered = one <= five && five <= nine && one < nine;
        ordered.then(|| Self { middle: five, early_days: spread(one, five), late_days: spread(five, nine), spread_assumed: false })
    }

    /// Chance of a frost after a day.
    ///
    /// # Formula
    /// ```text
    /// P(frost after d) = Φ((m − d) / s),   m the middle date, s the spread to the side on which d lies, in days
    /// ```
    #[must_use]
    pub fn risk_after(&self, day: NaiveDate) -> f64 {
        let later = (day - self.middle).num_days() as f64;
        normal_cdf(-later / if later < 0.0 { self.early_days } else { self.late_days })
    }

    /// The first day after which a frost comes with no more than this chance, between 0 and 1.
    #[must_use]
    pub fn day_for(&self, risk: f64) -> NaiveDate {
        let z = normal_quantile(1.0 - risk.clamp(0.001, 0.999));
        let days = z * if z < 0.0 { self.early_days } else { self.late_days };
        // A hair less than a whole number of days is that number.
        let days = (days - 1e-9).ceil();
        let there = if days < 0.0 {
            self.middle.checked_sub_days(Days::new(-days as u64))
        } else {
            self.middle.checked_add_days(Days::new(days as u64))
        };
        there.unwrap_or(self.middle)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn date(text: &str) -> NaiveDate {
        text.parse().unwrap()
    }

    /// Normal quantiles of any table: 1.2816 for 90 %, 1.6449 for 95 %.
    #[test]
    fn an_average_date_is_a_50_percent_date_and_the_others_follow_the_normal_table() {
        let frost = LastFrost::average(date("2026-05-10"), Some(10.0));
        assert_eq!(frost.day_for(0.5), date("2026-05-10"));
        assert_eq!(frost.day_for(0.1), date("2026-05-23"), "12.8 days on");
        assert_eq!(frost.day_for(0.05), date("2026-05-27"), "16.4 days on");
        assert_eq!(frost.day_for(0.9), date("2026-04-28"), "12.8 days back, the first day with no more than that");
        assert!((frost.risk_after(date("2026-05-20")) - 0.158_655).abs() < 1e-6, "one standard deviation");
        assert!(LastFrost::average(date("2026-05-10"), None).spread_assumed);
    }

    #[test]
    fn dates_with_their_chances_come_back_and_out_of_order_they_are_none() {
        let [one, five, nine] = ["2024-02-20", "2024-03-05", "2024-04-01"].map(date);
        let frost = LastFrost::by_chance([one, five, nine]).unwrap();
        assert_eq!([0.9, 0.5, 0.1].map(|risk| frost.day_for(risk)), [one, five, nine], "over a leap day");
        assert_eq!(LastFrost::by_chance([five, one, nine]), None);
        assert_eq!(LastFrost::by_chance([five, five, five]), None);
    }

    proptest! {
        #[test]
        fn a_day_has_no_more_than_its_risk_and_the_day_before_has_more(spread in 0.0..40.0f64, risk in 0.01..0.99f64) {
            let frost = LastFrost::average(date("2026-05-10"), Some(spread));
            let day = frost.day_for(risk);
            prop_assert!(frost.risk_after(day) <= risk + 1e-6);
            prop_assert!(frost.risk_after(day.pred_opt().unwrap()) > risk - 1e-6);
        }
    }
}
