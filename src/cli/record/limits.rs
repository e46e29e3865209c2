//! The limits by which one probe's readings are judged, where the usual ones do not fit it.

use std::path::Path;

use super::undo::limits_taken_back;
use super::{Outcome, existing, make, say, say_made};
use crate::bench::rules::Entry;
use crate::bench::{Bench, Degrees, Ends, Name, ProbeLimits};
use crate::changes::{TypedDegrees, Wish};
use crate::store::Store;
use crate::wording::{changed_words, entry_says, limits_text};

/// Say by which limits a probe's readings are judged, or see them
#[derive(Debug, clap::Args)]
pub(in crate::cli) struct Limits {
    /// The probe; without anything else said its limits are shown
    #[arg(value_parser = Name::new)]
    probe: Name,
    /// What its sensor can measure: readings outside fail and are not used
    #[arg(long, value_name = "LOW..HIGH|usual", allow_hyphen_values = true, value_parser = Typed::read)]
    sensor: Option<Typed>,
    /// What the place where it stands can be: readings outside are suspect, and used
    #[arg(long, value_name = "LOW..HIGH|usual", allow_hyphen_values = true, value_parser = Typed::read)]
    place: Option<Typed>,
    /// How many degrees it may change in a minute before a reading is suspect, and before it fails
    #[arg(long, value_name = "SUSPECT..FAIL|usual", allow_hyphen_values = true, value_parser = Typed::read)]
    change: Option<Typed>,
    /// How many degrees a reading may stand out from both its neighbours before it is suspect, and before it fails
    #[arg(long, value_name = "SUSPECT..FAIL|usual", allow_hyphen_values = true, value_parser = Typed::read)]
    spike: Option<Typed>,
    /// For how many hours it may show one value while other probes move before that is suspect
    #[arg(long, value_name = "HOURS|usual", value_parser = hours)]
    repeat: Option<Hours>,
    /// It goes by the usual limits again
    #[arg(long, conflicts_with_all = ["sensor", "place", "change", "spike", "repeat"])]
    none: bool,
    /// Take back what was said last of its limits
    #[arg(long, conflicts_with_all = ["sensor", "place", "change", "spike", "repeat", "none"])]
    undo: bool,
}

/// Two ends as they were typed.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Typed {
    Usual,
    Ends(Option<TypedDegrees>, Option<TypedDegrees>),
}

impl Typed {
    /// Reads `-20..80`, `..150`, `40F..160F`, `usual`.
    fn read(text: &str) -> Result<Self, String> {
        if text.trim() == "usual" {
            return Ok(Self::Usual);
        }
        let rule =
            || format!("'{text}' is no range: write both ends as in -20..80, one as in ..150 where the other is usual, or usual");
        let (low, high) = text.split_once("..").ok_or_else(rule)?;
        let end = |text: &str| if text.trim().is_empty() { Ok(None) } else { TypedDegrees::read(text).map(Some) };
        match (end(low)?, end(high)?) {
            (None, None) => Err(rule()),
            (low, high) => Ok(Self::Ends(low, high)),
        }
    }

    /// The ends in °C, to a millionth, which comes back from what is kept beside as it was. One whose degrees are not said is in the
    /// other's, else in the bench's.
    fn ends(self, usual: Degrees, celsius: fn(TypedDegrees, Degrees) -> f64) -> Ends {
        let Self::Ends(low, high) = self else { return Ends::default() };
        let said = [low, high].into_iter().flatten().find_map(TypedDegrees::said).unwrap_or(usual);
        let end = |end: Option<TypedDegrees>| end.map(|end| (celsius(end, said) * 1e6).round() / 1e6);
        Ends { low: end(low), high: end(high) }
    }
}

/// Hours as they were typed; none: the usual.
type Hours = Option<f64>;

fn hours(text: &str) -> Result<Hours, String> {
    let number = text.trim().trim_end_matches('h').trim_end();
    match number.parse::<f64>() {
        _ if number == "usual" => Ok(None),
        Ok(hours) if hours.is_finite() => Ok(Some(hours)),
        _ => Err(format!("'{text}' is no number of hours: write 12, or usual")),
    }
}

impl Limits {
    pub(in crate::cli) fn run(self, bench: &Path) -> anyhow::Result<Outcome> {
        if self.undo {
            let (mut store, zone, now) = existing(bench)?;
            return limits_taken_back(&mut store, zone, now, &self.probe);
        }
        let says = [self.sensor, self.place, self.change, self.spike].iter().any(Option::is_some) || self.repeat.is_some();
        if !says && !self.none {
            return self.show(&Store::open_read_only(bench)?.bench()?);
        }
        let (mut store, zone, now) = existing(bench)?;
        let mut said = String::new();
        let made = make(&mut store, now, |bench| {
            let there = bench.limits.get(&self.probe).cloned();
            let limits = self.said(there.clone().unwrap_or_else(|| ProbeLimits::usual(self.probe.clone())), bench);
            // Nothing need be put on record for what holds anyway.
            let wished = !limits.is_usual() || there.is_some() || !bench.probes.contains(&self.probe);
            let entry = Entry::Limits(limits.clone());
            said = if limits.is_usual() { "the usual limits hold".to_owned() } else { entry_says(&entry, zone) };
            if let Some(there) = there.filter(|there| *there != limits) {
                said += &format!("; corrected: {}", changed_words(&Entry::Limits(there), &entry, zone));
            }
            Ok(vec![Wish::to_correct(if wished { vec![entry] } else { Vec::new() })])
        })?;
        say_made(&made, &format!("probe {}: {said}; so all its readings are judged, those on record too", self.probe));
        Ok(Outcome::Done)
    }

    /// What holds with what is typed: each limit not named stays.
    fn said(&self, there: ProbeLimits, bench: &Bench) -> ProbeLimits {
        if self.none {
            return ProbeLimits::usual(there.probe);
        }
        let usual = bench.units.unwrap_or_default();
        let ends = |typed: Option<Typed>, there, celsius| typed.map_or(there, |typed| typed.ends(usual, celsius));
        ProbeLimits {
            sensor: ends(self.sensor, there.sensor, TypedDegrees::celsius),
            place: ends(self.place, there.place, TypedDegrees::celsius),
            change: ends(self.change, there.change, TypedDegrees::difference),
            spike: ends(self.spike, there.spike, TypedDegrees::difference),
            repeat_hours: self.repeat.unwrap_or(there.repeat_hours),
            probe: there.probe,
        }
    }

    fn show(self, bench: &Bench) -> anyhow::Result<Outcome> {
        if !bench.probes.contains(&self.probe) {
            anyhow::bail!("there is no probe '{}' on this bench", self.probe);
        }
        let limits = bench.limits.get(&self.probe).cloned().unwrap_or_else(|| ProbeLimits::usual(self.probe));
        say(limits_text(&limits, bench.units.unwrap_or_default()).trim_end());
        Ok(Outcome::Done)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A Fahrenheit degree is 5/9 of a Celsius degree, and 212 °F is 100 °C, by definition of the scale.
    #[test]
    fn ranges_of_temperatures_and_of_differences_are_read_in_both_scales() {
        let place = |text: &str| Typed::read(text).unwrap().ends(Degrees::Celsius, TypedDegrees::celsius);
        let change = |text: &str| Typed::read(text).unwrap().ends(Degrees::Fahrenheit, TypedDegrees::difference);
        let ends = |low, high| Ends { low, high };
        assert_eq!(place("-20..80"), ends(Some(-20.0), Some(80.0)));
        assert_eq!(place("32..212F"), ends(Some(0.0), Some(100.0)), "said once for both");
        assert_eq!(place("−40F..100C"), ends(Some(-40.0), Some(100.0)));
        assert_eq!(place("..150"), ends(None, Some(150.0)));
        assert_eq!(place("usual"), Ends::default());
        assert_eq!(change("9..18"), ends(Some(5.0), Some(10.0)), "in the bench's degrees, without the 32");
        assert_eq!(change("5C.."), ends(Some(5.0), None));
        for wrong in ["..", "80", "", "-20-80"] {
            assert_eq!(
                Typed::read(wrong).unwrap_err(),
                format!("'{wrong}' is no range: write both ends as in -20..80, one as in ..150 where the other is usual, or usual")
            );
        }
        assert_eq!(Typed::read("1..x").unwrap_err(), "'x' is no temperature: write 21, 21C or 70F");
        assert_eq!((hours("12h"), hours("1.5"), hours("usual")), (Ok(Some(12.0)), Ok(Some(1.5)), Ok(None)));
        assert_eq!(hours("long").unwrap_err(), "'long' is no number of hours: write 12, or usual");
    }
}
