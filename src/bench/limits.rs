//! What is said of one probe in place of the limits by which readings are usually judged.

use super::Name;
use crate::units::{self, Bounds};

/// Two ends of a range, or where doubt begins and where failing; none: the usual one.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Ends {
    /// The lower end; of a change or a spike, beyond what it is suspect.
    pub low: Option<f64>,
    /// The upper end; of a change or a spike, beyond what it fails.
    pub high: Option<f64>,
}

impl Ends {
    /// Both ends as they hold, where `usual` are those that hold if nothing is said.
    #[must_use]
    pub fn or(self, usual: (f64, f64)) -> (f64, f64) {
        (self.low.unwrap_or(usual.0), self.high.unwrap_or(usual.1))
    }
}

/// The limits of one probe. All temperatures are as it shows them, in °C, whatever its calibration.
#[derive(Debug, Clone, PartialEq)]
pub struct ProbeLimits {
    /// The probe.
    pub probe: Name,
    /// What its sensor can measure, °C: a reading outside fails.
    pub sensor: Ends,
    /// What its place can be, °C: a reading outside is suspect.
    pub place: Ends,
    /// How fast it may change, °C a minute.
    pub change: Ends,
    /// How far a reading may stand out from both its neighbours, °C.
    pub spike: Ends,
    /// For how many hours it may show the very same value while others move.
    pub repeat_hours: Option<f64>,
}

/// What holds for a probe of which nothing is said.
///
/// Sensor: −55 to 125 °C is the span of a DS18B20 (its data sheet); −10 to 60 °C is what a place for seeds may be. Change: 3 and 10 °C a
/// minute. Spikes: 2 and 5 °C between neighbours at most 2 minutes away, 5 and 10 °C up to 16 minutes (so that a log of one reading a
/// quarter of an hour is still tested). Repeating: 6 hours, since an incubator holds a sixteenth of a degree for hours. These are choices
/// of this program, as the manual of the flags leaves them to the operator.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct UsualLimits {
    /// What a sensor can measure, °C.
    pub sensor: (f64, f64),
    /// What a place can be, °C.
    pub place: (f64, f64),
    /// Suspect and failed beyond, °C a minute.
    pub change: (f64, f64),
    /// Suspect and failed beyond, °C, beside near neighbours.
    pub spike: (f64, f64),
    /// The same beside neighbours farther away.
    pub far_spike: (f64, f64),
    /// Hours.
    pub repeat_hours: f64,
}

/// See [`UsualLimits`].
pub const USUAL_LIMITS: UsualLimits = UsualLimits {
    sensor: (-55.0, 125.0),
    place: (-10.0, 60.0),
    change: (3.0, 10.0),
    spike: (2.0, 5.0),
    far_spike: (5.0, 10.0),
    repeat_hours: 6.0,
};

/// How many values limits are made of.
const COUNT: usize = 9;

impl ProbeLimits {
    /// What each value is called in files, in the order of [`Self::values`].
    pub const COLUMNS: [&'static str; COUNT] = [
        "lowest_c",
        "highest_c",
        "place_low_c",
        "place_high_c",
        "change_suspect_c_per_minute",
        "change_fail_c_per_minute",
        "spike_suspect_c",
        "spike_fail_c",
        "repeat_hours",
    ];

    /// A probe that goes by the usual limits.
    #[must_use]
    pub fn usual(probe: Name) -> Self {
        Self::of(probe, [None; COUNT])
    }

    /// Limits with these values, in the order of [`Self::COLUMNS`].
    #[must_use]
    pub fn of(probe: Name, values: [Option<f64>; COUNT]) -> Self {
        let [lowest, highest, place_low, place_high, change_suspect, change_fail, spike_suspect, spike_fail, repeat_hours] = values;
        let ends = |low, high| Ends { low, high };
        Self {
            probe,
            sensor: ends(lowest, highest),
            place: ends(place_low, place_high),
            change: ends(change_suspect, change_fail),
            spike: ends(spike_suspect, spike_fail),
            repeat_hours,
        }
    }

    /// The values, in the order of [`Self::COLUMNS`].
    #[must_use]
    pub fn values(&self) -> [Option<f64>; COUNT] {
        let Self { probe: _, sensor, place, change, spike, repeat_hours } = self;
        [sensor.low, sensor.high, place.low, place.high, change.low, change.high, spike.low, spike.high, *repeat_hours]
    }

    /// The usual limits hold throughout.
    #[must_use]
    pub fn is_usual(&self) -> bool {
        self.values().iter().all(Option::is_none)
    }

    /// All that is wrong with the values: each out of its bounds, and ends in the wrong order, also beside a usual end.
    #[must_use]
    pub fn broken_rules(&self) -> Vec<String> {
        let bounds = [
            units::SENSOR_END,
            units::SENSOR_END,
            units::PLACE_END,
            units::PLACE_END,
            units::CHANGE_LIMIT,
            units::CHANGE_LIMIT,
            units::SPIKE_LIMIT,
            units::SPIKE_LIMIT,
            units::REPEAT_HOURS,
        ];
        let said = self.values().into_iter().zip(bounds);
        let broken: Vec<String> = said.filter_map(|(value, bounds): (_, Bounds)| bounds.check(value?).err()).collect();
        if !broken.is_empty() {
            return broken;
        }
        let Self { sensor, place, change, spike, .. } = self;
        let mut broken = Vec::new();
        let (lowest, highest) = sensor.or(USUAL_LIMITS.sensor);
        if lowest >= highest {
            broken.push(format!(
                "{}: its lower end lies below its upper one",
                span(units::SENSOR_END.what, *sensor, (lowest, highest))
            ));
        }
        let (low, high) = place.or(USUAL_LIMITS.place);
        if low >= high {
            broken.push(format!("{}: its lower end lies below its upper one", span(units::PLACE_END.what, *place, (low, high))));
        }
        // A usual end is not held against a sensor of small span: it is merely out of reach.
        let beyond = [place.low, place.high].into_iter().flatten().find(|end| *end < lowest || *end > highest);
        if let Some(end) = beyond.filter(|_| broken.is_empty()) {
            let sensor = span(units::SENSOR_END.what, *sensor, (lowest, highest));
            broken.push(format!("{} reaches to {end} °C, but {sensor}, and readings outside fail", units::PLACE_END.what));
        }
        let steps = [
            (units::CHANGE_LIMIT, *change, vec![USUAL_LIMITS.change]),
            (units::SPIKE_LIMIT, *spike, vec![USUAL_LIMITS.spike, USUAL_LIMITS.far_spike]),
        ];
        for (bounds, said, usual) in steps {
            let wrong = usual.into_iter().map(|usual| said.or(usual)).find(|(suspect, fail)| suspect > fail);
            broken.extend(wrong.map(|(suspect, fail)| {
                let (suspect, fail) = (of_whom(suspect, said.low), of_whom(fail, said.high));
                let Bounds { what, unit, .. } = bounds;
                format!("{what} is suspect beyond {suspect} and fails beyond {fail} {unit}: it is suspect before it fails")
            }));
        }
        broken
    }
}

/// "what a sensor can measure lies from -55 (the usual) to 150 °C".
fn span(what: &str, said: Ends, (low, high): (f64, f64)) -> String {
    format!("{what} lies from {} to {} °C", of_whom(low, said.low), of_whom(high, said.high))
}

fn of_whom(value: f64, said: Option<f64>) -> String {
    if said.is_some() { value.to_string() } else { format!("{value} (the usual)") }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn limits(change: impl FnOnce(&mut ProbeLimits)) -> Vec<String> {
        let mut limits = ProbeLimits::usual(Name::new("p1").unwrap());
        change(&mut limits);
        limits.broken_rules()
    }

    fn ends(low: impl Into<Option<f64>>, high: impl Into<Option<f64>>) -> Ends {
        Ends { low: low.into(), high: high.into() }
    }

    #[test]
    fn limits_that_are_broken_say_value_and_rule() {
        assert_eq!(limits(|_| ()), [] as [String; 0]);
        assert_eq!(limits(|l| (l.sensor, l.place) = (ends(-200.0, 400.0), ends(5.0, 75.0))), [] as [String; 0]);
        assert_eq!(limits(|l| l.sensor = ends(0.0, 50.0)), [] as [String; 0], "a usual place may reach beyond a small span");
        let cases: [(&str, Vec<String>); 7] = [
            (
                "1200 °C is out of range: what a sensor can measure lies from -273.15 to 1000 °C",
                limits(|l| l.sensor = ends(None, 1200.0)),
            ),
            (
                "what a sensor can measure lies from -55 (the usual) to -60 °C: its lower end lies below its upper one",
                limits(|l| l.sensor = ends(None, -60.0)),
            ),
            (
                "what a place can be lies from 70 to 60 (the usual) °C: its lower end lies below its upper one",
                limits(|l| l.place = ends(70.0, None)),
            ),
            (
                "what a place can be reaches to 150 °C, but what a sensor can measure lies from -55 (the usual) to 125 (the usual) °C, \
                 and readings outside fail",
                limits(|l| l.place = ends(None, 150.0)),
            ),
            (
                "a change is suspect beyond 20 and fails beyond 10 (the usual) °C a minute: it is suspect before it fails",
                limits(|l| l.change = ends(20.0, None)),
            ),
            (
                "a spike is suspect beyond 5 (the usual) and fails beyond 3 °C: it is suspect before it fails",
                limits(|l| l.spike = ends(None, 3.0)),
            ),
            (
                "0 hours is out of range: how long a value may repeat lies from 1 to 8760 hours",
                limits(|l| l.repeat_hours = Some(0.0)),
            ),
        ];
        for (said, broken) in cases {
            assert_eq!(broken, [said]);
        }
        assert_eq!(limits(|l| l.change = ends(f64::NAN, f64::INFINITY)).len(), 2, "no number and no bound are out of every range");
    }

    #[test]
    fn values_come_back_in_the_order_of_their_columns() {
        let values = std::array::from_fn(|at| (at % 2 == 0).then_some(at as f64));
        assert_eq!(ProbeLimits::of(Name::new("p1").unwrap(), values).values(), values);
        assert!(ProbeLimits::usual(Name::new("p1").unwrap()).is_usual());
    }
}
