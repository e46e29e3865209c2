//! The bench as its grower sees it: each spot a board with its boxes on it, every box filling with warmth.

use crate::answers::Picture;
use crate::bench::{Bench, Degrees, Name, SpotKind, Trial};
use crate::civil::Time;
use crate::diagnosis::{BoxDiagnosis, Kind};
use crate::forecast::BoxAnswer;
use crate::thermal::Rate;
use crate::wording::{degrees_words, stand_words};

/// A box is worth opening from this chance on that something is new since it was last looked at.
const WORTH_OPENING: f64 = 0.5;
/// Not again before, hours.
const NOT_BEFORE_HOURS: i64 = 12;
/// Shoots drawn at most.
const SHOOTS: u32 = 7;
/// How far a leaf reaches.
const LEAF: f64 = 6.0;
/// The inside of a box as it is drawn: from the left, from above, and how wide and high.
const INSIDE: [f64; 4] = [5.0, 14.0, 70.0, 40.0];

/// A board.
#[derive(Debug, Clone)]
pub(super) struct Board {
    pub(super) spot: Name,
    /// "17.2 °C", "about 4 °C".
    pub(super) now: String,
    /// How much warmth a day that is for the seeds that stand here.
    pub(super) gives: String,
    pub(super) boxes: Vec<Drawn>,
}

/// A box as it is drawn.
#[derive(Debug, Clone)]
pub(super) struct Drawn {
    pub(super) name: Name,
    pub(super) species: Name,
    pub(super) stand: String,
    /// What is only drawn, in words.
    pub(super) unseen: String,
    /// How full of warmth: where it begins and how high it is; none: not known.
    pub(super) fill: Option<(f64, f64)>,
    pub(super) in_cold: bool,
    /// Where shoots stand, from the left.
    pub(super) shoots: Vec<f64>,
    /// What is to be seen at a glance.
    pub(super) mark: Option<Mark>,
    pub(super) open: bool,
}

/// What is to be seen at a glance.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Mark {
    TooCold,
    TooHot,
    Inside,
    OutOfCold,
}

impl Mark {
    pub(super) fn word(self) -> &'static str {
        match self {
            Self::TooCold => "too cold",
            Self::TooHot => "too hot",
            Self::Inside => "look inside",
            Self::OutOfCold => "cold done",
        }
    }

    pub(super) fn class(self) -> &'static str {
        match self {
            Self::TooCold => "cold",
            Self::TooHot => "hot",
            Self::Inside => "inside",
            Self::OutOfCold => "done",
        }
    }

    fn of(kind: Kind) -> Option<Self> {
        match kind {
            Kind::ColdSpot | Kind::ColdNights => Some(Self::TooCold),
            Kind::HotSpot | Kind::HotHours => Some(Self::TooHot),
            Kind::SlowBeyondTemperature | Kind::BoxDryOrMouldy | Kind::ChillingFrozen | Kind::ChillingWarm => Some(Self::Inside),
            Kind::ChillingDone => Some(Self::OutOfCold),
            _ => None,
        }
    }
}

/// The boards of a bench, by the names of their spots; those on which something stands.
pub(super) fn boards(bench: &Bench, picture: Option<&Picture>, now: Time) -> Vec<Board> {
    let board = |spot: &Name| {
        let here: Vec<&Trial> = standing_at(bench, spot, now).collect();
        (!here.is_empty()).then(|| Board {
            spot: spot.clone(),
            now: temperature_words(bench, picture, spot),
            gives: picture.map(|picture| gives_words(picture, spot, &here)).unwrap_or_default(),
            boxes: here.into_iter().map(|trial| drawn(bench, picture, trial, spot, now)).collect(),
        })
    };
    bench.spots.keys().filter_map(board).collect()
}

/// The boxes that stand at a spot.
pub(super) fn standing_at<'a>(bench: &'a Bench, spot: &'a Name, now: Time) -> impl Iterator<Item = &'a Trial> {
    let here = move |trial: &&Trial| {
        let container = &trial.container;
        container.owner.is_none() && container.sown <= now && trial.ended_at(now).is_none() && trial.spot_at(now) == spot
    };
    bench.trials.values().filter(here)
}

fn temperature_words(bench: &Bench, picture: Option<&Picture>, spot: &Name) -> String {
    let degrees = bench.units.unwrap_or_default();
    picture
        .and_then(|picture| picture.temperatures.get(spot))
        .map(|(celsius, _)| degrees_words(*celsius, degrees))
        .unwrap_or_default()
}

/// "gives 8.1 °C·d a day (tomato)": of the kinds of seed that stand there, two at most.
fn gives_words(picture: &Picture, spot: &Name, here: &[&Trial]) -> String {
    let Some((celsius, _)) = picture.temperatures.get(spot) else { return String::new() };
    let mut kinds: Vec<&Name> = Vec::new();
    let mut words = Vec::new();
    for trial in here {
        let container = &trial.container;
        let key = (container.species.clone(), container.event);
        let Some(needs) = picture.needs.get(&key).filter(|_| !kinds.contains(&&container.species) && kinds.len() < 2) else {
            continue;
        };
        if matches!(needs.rate, Rate::Days) || picture.known.counts_from(trial).is_none() {
            continue;
        }
        kinds.push(&container.species);
        words.push(format!(
            "{}: {}",
            container.species,
            per_day(needs.rate.per_day(*celsius), picture.known.bench.units.unwrap_or_default())
        ));
    }
    if words.is_empty() { String::new() } else { format!("warmth a day now – {}", words.join(", ")) }
}

fn per_day(thermal: f64, degrees: Degrees) -> String {
    match degrees {
        Degrees::Celsius => format!("{thermal:.1} °C·d"),
        Degrees::Fahrenheit => format!("{:.1} °F·d", thermal * 1.8),
    }
}

fn drawn(bench: &Bench, picture: Option<&Picture>, trial: &Trial, spot: &Name, now: Time) -> Drawn {
    let container = &trial.container;
    let found = picture.and_then(|picture| diagnosis_of(picture, &container.name));
    let in_cold = bench.spots.get(spot).is_some_and(|spot| spot.kind_at(now) == SpotKind::Fridge);
    let gathered = found.and_then(|found| found.delay.as_ref()).map(|delay| delay.gathered.clamp(0.0, 1.0));
    let [_, top, _, high] = INSIDE;
    let fill = gathered.map(|share| (top + high * (1.0 - share), high * share));
    let sprouted = trial.sprouted();
    let open =
        picture.and_then(|picture| forecast_of(picture, &container.name)).is_some_and(|one| is_worth_opening(one, trial, now));
    let mark = found.and_then(|found| found.findings.iter().find_map(|finding| Mark::of(finding.kind)));
    let stand = stand_words(trial);
    let unseen: Vec<String> = [
        gathered.map(|share| format!("{:.0} in 100 of the warmth to half of them gathered", 100.0 * share)),
        open.then(|| "worth opening".to_owned()),
    ]
    .into_iter()
    .flatten()
    .collect();
    Drawn {
        name: container.name.clone(),
        species: container.species.clone(),
        stand,
        unseen: unseen.join("; "),
        fill,
        in_cold,
        shoots: shoots(sprouted, container.most_seeds()),
        mark,
        open,
    }
}

/// As many shoots as there are sprouts, or their share of as many as there is room for.
fn shoots(sprouted: u32, seeds: Option<u32>) -> Vec<f64> {
    let drawn = match seeds {
        Some(seeds) if seeds > SHOOTS => (sprouted * SHOOTS).div_ceil(seeds.max(1)),
        _ => sprouted,
    }
    .min(SHOOTS);
    let [left, _, wide, _] = INSIDE;
    // Leaves reach to both sides.
    let (left, wide) = (left + LEAF, wide - 2.0 * LEAF);
    (0..drawn).map(|shoot| left + wide * (f64::from(shoot) + 0.5) / f64::from(SHOOTS)).collect()
}

/// What was found of a box.
pub(super) fn diagnosis_of<'a>(picture: &'a Picture, name: &Name) -> Option<&'a BoxDiagnosis> {
    picture.diagnosis.boxes.iter().find(|one| one.trial.container.name == *name)
}

/// What is expected of a box.
pub(super) fn forecast_of<'a>(picture: &'a Picture, name: &Name) -> Option<&'a BoxAnswer> {
    picture.forecast.boxes.iter().find(|one| one.trial.container.name == *name)
}

/// Whether something new is likelier than not since a box was last looked at: sprouts come one by one, as many as expected on average.
fn is_worth_opening(one: &BoxAnswer, trial: &Trial, now: Time) -> bool {
    let unseen = now - trial.last_look();
    let Some(by_tomorrow) = one.forecast.expected.first().filter(|_| unseen.num_hours() >= NOT_BEFORE_HOURS) else { return false };
    let days = unseen.num_minutes() as f64 / (24.0 * 60.0);
    let expected = by_tomorrow * days / (days + 1.0);
    1.0 - (-expected).exp() >= WORTH_OPENING
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn shoots_are_the_sprouts_or_their_share_and_never_none_where_one_is_up() {
        assert_eq!(shoots(0, Some(20)).len(), 0);
        assert_eq!(shoots(1, Some(200)).len(), 1);
        assert_eq!(shoots(10, Some(20)).len(), 4);
        assert_eq!(shoots(20, Some(20)).len(), 7);
        assert_eq!(shoots(2, Some(3)).len(), 2);
        assert_eq!(shoots(40, None).len(), 7);
        let [left, _, wide, _] = INSIDE;
        assert!(shoots(7, Some(7)).iter().all(|at| (left..left + wide).contains(at)));
    }
}
