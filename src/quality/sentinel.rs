//! Values that sensors and their drivers send instead of a temperature.

use super::{Flag, Thresholds};
use crate::bench::{Proof, Reading};

/// What a DS18B20 holds after power-up, before its first conversion (raw 0550h in its data sheet), in 1/10 000 °C.
pub const POWER_ON_C_E4: i64 = 850_000;
/// What a data line shorted to ground reads as; its all-zero answer satisfies the checksum. In 1/10 000 °C.
const SHORTED_C_E4: i64 = 0;
/// Codes that are never a temperature, in 1/10 000 °C: not connected (−127, and −196.6 where a sketch turned it into °F),
/// too little power (127.94 as the Linux kernel prints it, 127.9375 in full), open and shorted thermocouples (−254, −253,
/// −252), and the customary "nothing" of sketches (−999; common practice, no source).
const CODES_C_E4: [i64; 8] = [-1_270_000, -1_966_000, 1_279_400, 1_279_375, -2_540_000, -2_530_000, -2_520_000, -9_990_000];

/// Whether a raw value in 1/10 000 °C is a code that drivers and sketches print where they have no temperature.
#[must_use]
pub fn is_code(raw_c_e4: i64) -> bool {
    CODES_C_E4.contains(&raw_c_e4)
}

/// What a reading's own value and proof say of it, beside `last_good`, the last reading before it that did not fail.
pub(super) fn flag(reading: &Reading, last_good: Option<&Reading>, thresholds: &Thresholds) -> Flag {
    match (reading.proof, reading.raw_c_e4) {
        (Proof::NotANumber, _) | (Proof::Plain, None) => Flag::Missing,
        (Proof::PowerOn | Proof::Disconnected, _) => Flag::Fail,
        (Proof::Plain, Some(raw)) if is_code(raw) => Flag::Fail,
        (Proof::Plain, Some(POWER_ON_C_E4)) => {
            let powered_anew = last_good.is_none_or(|good| is_long_after(reading, good, thresholds));
            if powered_anew || jumped(reading, last_good, thresholds) { Flag::Fail } else { Flag::Suspect }
        }
        (Proof::Plain, Some(SHORTED_C_E4)) if jumped(reading, last_good, thresholds) => Flag::Fail,
        (Proof::Plain, Some(_)) => Flag::Pass,
    }
}

/// Whether a plain value is none of those that are judged by what came before, or a code.
pub(super) fn says_nothing(reading: &Reading) -> bool {
    reading.raw_c_e4.is_some_and(|raw| raw != POWER_ON_C_E4 && raw != SHORTED_C_E4 && !is_code(raw))
}

fn is_long_after(reading: &Reading, good: &Reading, thresholds: &Thresholds) -> bool {
    u64::try_from(thresholds.long_gap_us).is_ok_and(|gap| reading.time_us.abs_diff(good.time_us) > gap)
}

fn jumped(reading: &Reading, last_good: Option<&Reading>, thresholds: &Thresholds) -> bool {
    let apart_c = reading.raw_c().zip(last_good.and_then(Reading::raw_c)).map(|(raw, good)| (raw - good).abs());
    apart_c.is_some_and(|apart_c| apart_c > thresholds.sentinel_step_c)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn codes_fail_even_where_the_sensor_could_measure_them() {
        let wide = Thresholds::default();
        for raw in CODES_C_E4 {
            let reading = Reading { time_us: 0, raw_c_e4: Some(raw), proof: Proof::Plain };
            assert_eq!(flag(&reading, None, &wide), Flag::Fail, "{raw}");
        }
        let near = Reading { time_us: 0, raw_c_e4: Some(-1_269_999), proof: Proof::Plain };
        assert_eq!(flag(&near, None, &wide), Flag::Pass, "only the exact code is a code");
    }

    #[test]
    fn what_the_line_proved_outweighs_its_number() {
        let reading = |proof| Reading { time_us: 0, raw_c_e4: Some(200_000), proof };
        assert_eq!(flag(&reading(Proof::Disconnected), None, &Thresholds::default()), Flag::Fail);
        assert_eq!(flag(&reading(Proof::PowerOn), None, &Thresholds::default()), Flag::Fail);
        assert_eq!(flag(&reading(Proof::NotANumber), None, &Thresholds::default()), Flag::Missing);
    }
}
