//! What a grower wants to be told of at once, within which limits, and when not.

use std::collections::BTreeMap;

use chrono::{Duration, NaiveTime};

use super::Degrees;
use crate::units;

/// What a grower is told of without asking.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum AlarmKind {
    /// A spot where seeds stand is hotter than they bear.
    TooHot,
    /// The chilling spot freezes.
    Freezing,
    /// A probe beside boxes is not heard of any more.
    Silent,
    /// A box is past the days in which its next sprout was all but sure.
    Overdue,
    /// Nobody has looked for longer than usual.
    Look,
}

impl AlarmKind {
    /// All of them, the most urgent first.
    pub const ALL: [Self; 5] = [Self::TooHot, Self::Freezing, Self::Silent, Self::Overdue, Self::Look];

    /// The word for it in files and options.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::TooHot => "too-hot",
            Self::Freezing => "freezing",
            Self::Silent => "silent",
            Self::Overdue => "overdue",
            Self::Look => "look",
        }
    }

    /// What a word means.
    #[must_use]
    pub fn from_word(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|known| known.word() == word)
    }

    /// Whether seeds may be lost within hours.
    #[must_use]
    pub fn is_urgent(self) -> bool {
        matches!(self, Self::TooHot | Self::Freezing)
    }
}

/// Hours of the day in which only what is urgent is told, in the bench's zone; from the first up to the second, over midnight where
/// the first is the later.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Quiet {
    /// From when on.
    pub from: NaiveTime,
    /// Until when.
    pub until: NaiveTime,
}

impl Quiet {
    /// Whether a time of day lies in them.
    #[must_use]
    pub fn holds(&self, at: NaiveTime) -> bool {
        if self.from <= self.until { (self.from..self.until).contains(&at) } else { at >= self.from || at < self.until }
    }
}

/// One thing that a grower has said of alarms.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum AlarmSetting {
    /// What is too hot for seeds of which nothing is known, in °C.
    TooHot(f64),
    /// What is freezing at the chilling spot, in °C.
    Freezing(f64),
    /// So many minutes must it last.
    After(u32),
    /// Looks are made at least once in so many hours; none: as it comes.
    LookEvery(Option<u32>),
    /// Hours in which only what is urgent is told; none: there are no such hours.
    Quiet(Option<Quiet>),
    /// Whether what is urgent is told at all hours.
    UrgentWaits(bool),
    /// Kinds that are not wanted, one bit each in the order of [`AlarmKind::ALL`].
    Unwanted(u8),
}

/// Minutes that something must last.
const AFTER_MINUTES: std::ops::RangeInclusive<u32> = 1..=24 * 60;
/// Hours between looks: an hour to a year.
const LOOK_HOURS: std::ops::RangeInclusive<f64> = 1.0..=24.0 * 366.0;

impl AlarmSetting {
    /// The keys by which they go.
    pub const KEYS: [&'static str; 7] =
        ["too-hot", "freezing", "alarm-after", "look-every", "quiet-hours", "quiet-urgent", "no-alarm"];

    /// Its key.
    #[must_use]
    pub fn key(self) -> &'static str {
        match self {
            Self::TooHot(_) => "too-hot",
            Self::Freezing(_) => "freezing",
            Self::After(_) => "alarm-after",
            Self::LookEvery(_) => "look-every",
            Self::Quiet(_) => "quiet-hours",
            Self::UrgentWaits(_) => "quiet-urgent",
            Self::Unwanted(_) => "no-alarm",
        }
    }

    /// Its value as it is kept: temperatures in °C.
    #[must_use]
    pub fn value(self) -> String {
        match self {
            Self::TooHot(celsius) | Self::Freezing(celsius) => format!("{celsius}C"),
            Self::After(minutes) => format!("{minutes}m"),
            Self::LookEvery(None) | Self::Quiet(None) | Self::Unwanted(0) => "none".to_owned(),
            Self::LookEvery(Some(hours)) if hours % 24 == 0 => format!("{}d", hours / 24),
            Self::LookEvery(Some(hours)) => format!("{hours}h"),
            Self::Quiet(Some(Quiet { from, until })) => format!("{}-{}", from.format("%H:%M"), until.format("%H:%M")),
            Self::UrgentWaits(waits) => if waits { "waits" } else { "told" }.to_owned(),
            Self::Unwanted(bits) => {
                let words: Vec<&str> = kinds(bits).map(AlarmKind::word).collect();
                words.join(",")
            }
        }
    }

    /// What a key and a value mean; `usual` are the degrees of a bare number.
    ///
    /// # Errors
    /// The rule that the value breaks; none where there is no such key.
    pub fn read(key: &str, value: &str, usual: Degrees) -> Option<Result<Self, String>> {
        let value = value.trim();
        Some(match key {
            "too-hot" => temperature(value, usual).and_then(|celsius| units::TOO_HOT.check(celsius)).map(Self::TooHot),
            "freezing" => temperature(value, usual).and_then(|celsius| units::FREEZING.check(celsius)).map(Self::Freezing),
            "alarm-after" => minutes(value).map(Self::After),
            "look-every" => look_every(value).map(Self::LookEvery),
            "quiet-hours" => quiet(value).map(Self::Quiet),
            "quiet-urgent" => match value {
                "told" => Ok(Self::UrgentWaits(false)),
                "waits" => Ok(Self::UrgentWaits(true)),
                _ => Err(format!("'{value}' cannot be meant: write told or waits")),
            },
            "no-alarm" => unwanted(value).map(Self::Unwanted),
            _ => return None,
        })
    }
}

fn temperature(value: &str, usual: Degrees) -> Result<f64, String> {
    let (number, degrees) = match value.trim_end_matches('°').strip_suffix(['C', 'c']) {
        Some(number) => (number, Degrees::Celsius),
        None => value.strip_suffix(['F', 'f']).map_or((value, usual), |number| (number, Degrees::Fahrenheit)),
    };
    let number: f64 = number
        .trim_end_matches('°')
        .trim()
        .parse()
        .map_err(|_| format!("'{value}' is no temperature: write a number, or as in 33C or 91F"))?;
    // To a thousandth: beyond it a °F in °C is all digits.
    Ok((degrees.to_celsius(number) * 1000.0).round() / 1000.0)
}

fn number_and_unit(value: &str) -> Option<(f64, &str)> {
    let number = value.trim_end_matches(|letter: char| letter.is_ascii_alphabetic());
    Some((number.trim().parse().ok()?, value.get(number.len()..)?))
}

fn minutes(value: &str) -> Result<u32, String> {
    let rule = || format!("'{value}' cannot be meant: write minutes or hours, as in 30m or 2h, from 1m to 24h");
    let minutes = match number_and_unit(value).ok_or_else(rule)? {
        (number, "m") => number,
        (number, "h") => number * 60.0,
        _ => return Err(rule()),
    };
    let whole = minutes.round();
    AFTER_MINUTES.clone().find(|allowed| f64::from(*allowed) == whole).ok_or_else(rule)
}

fn look_every(value: &str) -> Result<Option<u32>, String> {
    if value == "none" {
        return Ok(None);
    }
    let rule = || format!("'{value}' cannot be meant: write hours or days, as in 36h or 3d, from 1h to 366d, or none");
    let hours = match number_and_unit(value).ok_or_else(rule)? {
        (number, "h") => number,
        (number, "d" | "") => number * 24.0,
        _ => return Err(rule()),
    };
    // Within these bounds a whole number of hours fits.
    if LOOK_HOURS.contains(&hours) { Ok(Some(hours.round() as u32)) } else { Err(rule()) }
}

fn quiet(value: &str) -> Result<Option<Quiet>, String> {
    if value == "none" {
        return Ok(None);
    }
    let rule = || format!("'{value}' cannot be meant: write from when to when, as in 22:00-07:00, or none");
    let (from, until) = value.split_once(['-', '–']).ok_or_else(rule)?;
    let at = |text: &str| NaiveTime::parse_from_str(text.trim(), "%H:%M").map_err(|_| rule());
    let quiet = Quiet { from: at(from)?, until: at(until)? };
    if quiet.from == quiet.until { Err(rule()) } else { Ok(Some(quiet)) }
}

fn unwanted(value: &str) -> Result<u8, String> {
    if value == "none" {
        return Ok(0);
    }
    let words = AlarmKind::ALL.map(AlarmKind::word).join(", ");
    value.split(',').try_fold(0, |bits, word| {
        let word = word.trim();
        let kind = AlarmKind::from_word(word);
        kind.map(|kind| bits | bit(kind)).ok_or_else(|| format!("'{word}' is no kind of alarm: they are {words}; or write none"))
    })
}

fn bit(kind: AlarmKind) -> u8 {
    AlarmKind::ALL.iter().position(|known| *known == kind).map_or(0, |at| 1 << at)
}

fn kinds(bits: u8) -> impl Iterator<Item = AlarmKind> {
    AlarmKind::ALL.into_iter().filter(move |kind| bits & bit(*kind) != 0)
}

/// Where nothing was said: about what only tropical seeds bear (common practice, no source).
const TOO_HOT_C: f64 = 35.0;
/// Water freezes.
const FREEZING_C: f64 = 0.0;
/// A door left open, or a hand on the probe, is over by then.
const AFTER_MINUTES_USUAL: u32 = 30;
const LOOK_EVERY_HOURS: u32 = 72;
const QUIET_HOURS: [u32; 2] = [22, 7];

/// All that was said of alarms, and what is usual for the rest.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct AlarmRules {
    said: BTreeMap<&'static str, AlarmSetting>,
}

impl AlarmRules {
    /// What was said, by key.
    pub fn said(&self) -> impl Iterator<Item = AlarmSetting> {
        self.said.values().copied()
    }

    /// What was said under a key.
    #[must_use]
    pub fn of(&self, key: &str) -> Option<AlarmSetting> {
        self.said.get(key).copied()
    }

    /// What holds under each key, said or usual.
    #[must_use]
    pub fn all(&self) -> Vec<AlarmSetting> {
        let usual = [
            AlarmSetting::TooHot(self.too_hot_c()),
            AlarmSetting::Freezing(self.freezing_c()),
            AlarmSetting::After(self.after_minutes()),
            AlarmSetting::LookEvery(self.look_every_hours()),
            AlarmSetting::Quiet(self.quiet()),
            AlarmSetting::UrgentWaits(self.urgent_waits()),
            AlarmSetting::Unwanted(self.unwanted()),
        ];
        usual.into()
    }

    /// Takes a saying, in the place of an earlier one.
    pub fn say(&mut self, setting: AlarmSetting) {
        self.said.insert(setting.key(), setting);
    }

    /// Takes a saying back; whether there was one.
    pub fn unsay(&mut self, key: &str) -> bool {
        self.said.remove(key).is_some()
    }

    /// What is too hot for seeds of which nothing is known, in °C.
    #[must_use]
    pub fn too_hot_c(&self) -> f64 {
        match self.said.get("too-hot") {
            Some(AlarmSetting::TooHot(celsius)) => *celsius,
            _ => TOO_HOT_C,
        }
    }

    /// What is freezing, in °C.
    #[must_use]
    pub fn freezing_c(&self) -> f64 {
        match self.said.get("freezing") {
            Some(AlarmSetting::Freezing(celsius)) => *celsius,
            _ => FREEZING_C,
        }
    }

    fn after_minutes(&self) -> u32 {
        match self.said.get("alarm-after") {
            Some(AlarmSetting::After(minutes)) => *minutes,
            _ => AFTER_MINUTES_USUAL,
        }
    }

    /// How long it must be too hot, or freezing, before that is told.
    #[must_use]
    pub fn after(&self) -> Duration {
        Duration::minutes(i64::from(self.after_minutes()))
    }

    fn look_every_hours(&self) -> Option<u32> {
        match self.said.get("look-every") {
            Some(AlarmSetting::LookEvery(hours)) => *hours,
            _ => Some(LOOK_EVERY_HOURS),
        }
    }

    /// The longest time between two looks; none: as it comes.
    #[must_use]
    pub fn look_every(&self) -> Option<Duration> {
        self.look_every_hours().map(|hours| Duration::hours(i64::from(hours)))
    }

    /// The quiet hours.
    #[must_use]
    pub fn quiet(&self) -> Option<Quiet> {
        match self.said.get("quiet-hours") {
            Some(AlarmSetting::Quiet(quiet)) => *quiet,
            _ => {
                let [from, until] = QUIET_HOURS.map(|hour| NaiveTime::from_hms_opt(hour, 0, 0).unwrap_or_default());
                Some(Quiet { from, until })
            }
        }
    }

    fn urgent_waits(&self) -> bool {
        self.said.get("quiet-urgent") == Some(&AlarmSetting::UrgentWaits(true))
    }

    fn unwanted(&self) -> u8 {
        match self.said.get("no-alarm") {
            Some(AlarmSetting::Unwanted(bits)) => *bits,
            _ => 0,
        }
    }

    /// Whether alarms of a kind are wanted.
    #[must_use]
    pub fn wants(&self, kind: AlarmKind) -> bool {
        self.unwanted() & bit(kind) == 0
    }

    /// Whether a kind is told at a time of day.
    #[must_use]
    pub fn may_tell(&self, kind: AlarmKind, at: NaiveTime) -> bool {
        (kind.is_urgent() && !self.urgent_waits()) || self.quiet().is_none_or(|quiet| !quiet.holds(at))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(key: &str, value: &str) -> Result<AlarmSetting, String> {
        AlarmSetting::read(key, value, Degrees::Celsius).unwrap()
    }

    #[test]
    fn what_is_kept_reads_back_as_it_was_said() {
        for (key, value, kept) in [
            ("too-hot", "33", "33C"),
            ("too-hot", "91.4F", "33C"),
            ("too-hot", "33 °C", "33C"),
            ("freezing", "0.5", "0.5C"),
            ("alarm-after", "2h", "120m"),
            ("look-every", "3", "3d"),
            ("look-every", "36h", "36h"),
            ("look-every", "none", "none"),
            ("quiet-hours", "21:30-6:00", "21:30-06:00"),
            ("quiet-hours", "none", "none"),
            ("quiet-urgent", "waits", "waits"),
            ("no-alarm", "look, overdue", "overdue,look"),
            ("no-alarm", "none", "none"),
        ] {
            let setting = read(key, value).unwrap();
            assert_eq!((setting.key(), setting.value().as_str()), (key, kept), "{value}");
            assert_eq!(AlarmSetting::read(key, kept, Degrees::Fahrenheit), Some(Ok(setting)), "whatever the bench's units");
        }
        assert_eq!(AlarmSetting::read("colour", "red", Degrees::Celsius), None);
    }

    #[test]
    fn what_cannot_be_meant_is_named_with_its_rule() {
        let wrong = |key, value| read(key, value).unwrap_err();
        assert_eq!(wrong("too-hot", "warm"), "'warm' is no temperature: write a number, or as in 33C or 91F");
        assert_eq!(wrong("too-hot", "90"), "90 °C is out of range: what is too hot for seeds lies from 15 to 60 °C");
        assert_eq!(wrong("freezing", "9"), "9 °C is out of range: what is freezing for seeds lies from -10 to 5 °C");
        assert_eq!(wrong("alarm-after", "0m"), "'0m' cannot be meant: write minutes or hours, as in 30m or 2h, from 1m to 24h");
        assert_eq!(wrong("look-every", "x"), "'x' cannot be meant: write hours or days, as in 36h or 3d, from 1h to 366d, or none");
        assert_eq!(wrong("quiet-hours", "22"), "'22' cannot be meant: write from when to when, as in 22:00-07:00, or none");
        assert!(read("quiet-hours", "07:00-07:00").is_err() && read("alarm-after", "nanm").is_err());
        assert_eq!(wrong("quiet-urgent", "yes"), "'yes' cannot be meant: write told or waits");
        assert_eq!(
            wrong("no-alarm", "noise"),
            "'noise' is no kind of alarm: they are too-hot, freezing, silent, overdue, look; or write none"
        );
    }

    #[test]
    fn quiet_hours_go_over_midnight_and_what_is_urgent_goes_through_unless_told_otherwise() {
        let mut rules = AlarmRules::default();
        let at = |hour| NaiveTime::from_hms_opt(hour, 0, 0).unwrap();
        assert!(rules.may_tell(AlarmKind::TooHot, at(3)) && !rules.may_tell(AlarmKind::Silent, at(3)));
        assert!(!rules.may_tell(AlarmKind::Look, at(22)) && rules.may_tell(AlarmKind::Look, at(7)));
        rules.say(AlarmSetting::UrgentWaits(true));
        assert!(!rules.may_tell(AlarmKind::Freezing, at(3)) && rules.may_tell(AlarmKind::Freezing, at(12)));
        rules.say(read("quiet-hours", "12:00-14:00").unwrap());
        assert!(rules.may_tell(AlarmKind::Freezing, at(3)) && !rules.may_tell(AlarmKind::Freezing, at(12)));
        rules.say(read("no-alarm", "look").unwrap());
        assert!(!rules.wants(AlarmKind::Look) && rules.wants(AlarmKind::TooHot));
        assert!(rules.unsay("no-alarm") && !rules.unsay("no-alarm") && rules.wants(AlarmKind::Look));
    }
}
