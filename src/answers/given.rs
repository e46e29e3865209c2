//! Temperatures that were given instead of measured, as steps of a record.

use crate::bench::{GivenTemperature, Spot};
use crate::civil::{Zone, local_hour, time_from_micros};
use crate::stats::normal_quantile;
use crate::thermal::{Guess, Step};
use crate::units::MICROS_PER_HOUR;

/// By day is from 8 to 20 o'clock local time.
const DAY_HOURS: std::ops::Range<f64> = 8.0..20.0;
/// Day and night change at quarters of an hour of every zone.
const QUARTER_US: i64 = MICROS_PER_HOUR / 4;
/// A given temperature that stands in for a probe's missing readings is never taken as surer than this, °C.
const LEAST_BOUND_C: f64 = 0.5;

/// How a given temperature enters a record.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum As {
    /// As what is known: no probe ever stood there.
    Known,
    /// As a guess between bounds, where a probe gave nothing.
    Guessed,
}

/// The steps of what is given for a spot from `from_us` until `until_us`, none where nothing is.
pub(super) fn steps(spot: &Spot, zone: Zone, from_us: i64, until_us: i64, how: As) -> Vec<Step> {
    let mut steps: Vec<Step> = Vec::new();
    let mut at = from_us;
    while at < until_us {
        let Some(time) = time_from_micros(at) else { break };
        let setting = spot.setting_at(time);
        let changes = spot.settings.iter().filter_map(|other| other.since).map(|since| since.timestamp_micros());
        let settled = changes.filter(|since| *since > at).fold(until_us, i64::min);
        let (celsius, end) = match setting.given {
            None => {
                at = settled;
                continue;
            }
            Some(GivenTemperature::Set(set)) => (set.celsius, settled),
            Some(GivenTemperature::DayAndNight(pair)) => {
                let celsius = if DAY_HOURS.contains(&local_hour(time, zone)) { pair.day_c } else { pair.night_c };
                (celsius, settled.min((at.div_euclid(QUARTER_US) + 1) * QUARTER_US))
            }
        };
        let bound = (setting.given.map_or(0.0, GivenTemperature::sd_c) * normal_quantile(0.95)).max(LEAST_BOUND_C);
        let guess = (how == As::Guessed).then_some(Guess { below_c: bound, above_c: bound });
        match steps.last_mut() {
            Some(last) if last.until_us == at && last.celsius == celsius && last.guess == guess => last.until_us = end,
            _ => steps.push(Step { from_us: at, until_us: end, celsius, share: 1.0, guess }),
        }
        at = end;
    }
    steps
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::bench::{DayAndNight, Name, SetTemperature, Setting};
    use crate::civil::{Time, read_time};

    #[test]
    fn days_and_nights_follow_the_local_clock_and_a_later_saying() {
        let zone = Zone::Europe__Dublin;
        let at = |text: &str| read_time(text, zone).unwrap().time;
        let pair = GivenTemperature::DayAndNight(DayAndNight { day_c: 20.0, night_c: 14.0, sd_c: 1.0 });
        let set = GivenTemperature::Set(SetTemperature { celsius: 17.0, sd_c: 2.0 });
        let said = |since: Option<Time>, given| Setting { since, given: Some(given), ..Setting::NOTHING_SAID };
        let spot =
            Spot { name: Name::new("sill").unwrap(), settings: vec![said(None, pair), said(Some(at("2026-03-11 12:00")), set)] };
        let us = |text: &str| at(text).timestamp_micros();
        let steps = steps(&spot, zone, us("2026-03-10 06:00"), us("2026-03-12 00:00"), As::Known);
        let told: Vec<(f64, i64)> =
            steps.iter().map(|step| (step.celsius, (step.until_us - step.from_us) / MICROS_PER_HOUR)).collect();
        assert_eq!(told, [(14.0, 2), (20.0, 12), (14.0, 12), (20.0, 4), (17.0, 12)]);
    }
}
