//! Units and their bounds, each bound declared once with the name that messages use.

/// Microseconds in a day, the unit of thermal time's clock.
pub const MICROS_PER_DAY: f64 = 86_400e6;
/// Microseconds in a second.
pub const MICROS_PER_SECOND: i64 = 1_000_000;
/// Microseconds in an hour.
pub const MICROS_PER_HOUR: i64 = 3_600 * MICROS_PER_SECOND;

/// An inclusive range that a value must lie in, with the words for it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Bounds {
    /// What is bounded, as a grower would say it.
    pub what: &'static str,
    /// Lowest value allowed.
    pub low: f64,
    /// Highest value allowed.
    pub high: f64,
    /// Unit, printed after the numbers.
    pub unit: &'static str,
}

/// A temperature that a place for seeds can be set to.
pub const SET_TEMPERATURE: Bounds = Bounds { what: "a set temperature", low: -20.0, high: 60.0, unit: "°C" };
/// The uncertainty of a set or remembered temperature.
pub const SET_UNCERTAINTY: Bounds = Bounds { what: "the uncertainty of a set temperature", low: 0.0, high: 20.0, unit: "°C" };
/// An end of what a sensor can measure: from absolute zero to the most that readings are kept of.
pub const SENSOR_END: Bounds = Bounds { what: "what a sensor can measure", low: -273.15, high: 1000.0, unit: "°C" };
/// An end of what the place of a probe can be.
pub const PLACE_END: Bounds = Bounds { what: "what a place can be", ..SENSOR_END };
/// How fast a probe may change.
pub const CHANGE_LIMIT: Bounds = Bounds { what: "a change", low: 0.01, high: 1000.0, unit: "°C a minute" };
/// How far a reading may stand out from its neighbours.
pub const SPIKE_LIMIT: Bounds = Bounds { what: "a spike", low: 0.01, high: 1000.0, unit: "°C" };
/// How long a probe may show one value: from an hour, as movement is told by the hour, to a year.
pub const REPEAT_HOURS: Bounds = Bounds { what: "how long a value may repeat", low: 1.0, high: 8760.0, unit: "hours" };
/// A calibration offset. Clone probes were seen up to 5 °C off; more is a wrong figure.
pub const OFFSET: Bounds = Bounds { what: "a calibration offset", low: -10.0, high: 10.0, unit: "°C" };
/// A calibration gain.
pub const GAIN: Bounds = Bounds { what: "a calibration gain", low: 0.8, high: 1.2, unit: "" };
/// Seeds in one container.
pub const SEEDS: Bounds = Bounds { what: "the number of seeds in one box", low: 1.0, high: 100_000.0, unit: "" };
/// What growers may call too hot. Below it boxes sprout that nobody worries about; above it no seed does.
pub const TOO_HOT: Bounds = Bounds { what: "what is too hot for seeds", low: 15.0, high: 60.0, unit: "°C" };
/// What growers may call freezing.
pub const FREEZING: Bounds = Bounds { what: "what is freezing for seeds", low: -10.0, high: 5.0, unit: "°C" };
/// Containers that find room at one spot.
pub const CAPACITY: Bounds = Bounds { what: "the room for boxes at one spot", low: 1.0, high: 10_000.0, unit: "" };
/// How deep seeds lie. Large beans and nuts are sown some 10 cm deep.
pub const DEPTH: Bounds = Bounds { what: "the depth of sowing", low: 0.0, high: 300.0, unit: "mm" };
/// The days that a packet names.
pub const PACKET_DAYS: Bounds = Bounds { what: "the number of days on a packet", low: 0.5, high: 1_000.0, unit: "" };
/// A share on a packet.
pub const PERCENT: Bounds = Bounds { what: "a share", low: 0.0, high: 100.0, unit: "%" };
/// A day of a remembered sowing, counted from sowing.
pub const REMEMBERED_DAY: Bounds = Bounds { what: "a day counted from sowing", low: 1.0, high: 3_000.0, unit: "" };
/// Days of moist cold.
pub const CHILL_DAYS: Bounds = Bounds { what: "the number of days of chilling", low: 0.0, high: 1_000.0, unit: "" };

impl Bounds {
    /// Checks a value. Not-a-number is outside.
    ///
    /// # Errors
    /// The rule in words, with the offending value.
    pub fn check(&self, value: f64) -> Result<f64, String> {
        if value >= self.low && value <= self.high { Ok(value) } else { Err(self.broken_by(value)) }
    }

    /// The sentence for a value outside.
    #[must_use]
    pub fn broken_by(&self, value: f64) -> String {
        let unit = if self.unit.is_empty() { String::new() } else { format!(" {}", self.unit) };
        format!("{value}{unit} is out of range: {} lies from {} to {}{unit}", self.what, self.low, self.high)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn bounds_name_the_value_the_rule_and_the_unit() {
        assert_eq!(OFFSET.check(0.5), Ok(0.5));
        assert_eq!(OFFSET.check(12.0), Err("12 °C is out of range: a calibration offset lies from -10 to 10 °C".to_owned()));
        assert!(SET_TEMPERATURE.check(f64::NAN).is_err(), "not-a-number is outside every range");
    }
}
