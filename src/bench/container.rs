//! Containers, the looks at them, and where they stood.

use super::Name;
use crate::civil::Time;
use chrono::Duration;

/// A container that nobody looked at for this long has ended, unless it says otherwise.
const FORGOTTEN_AFTER_DAYS: i64 = 30;

/// The event watched for. Trials with different events are never pooled.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub enum Event {
    /// The root tip shows (2 mm or more is the common rule).
    #[default]
    Radicle,
    /// The seedling shows above the medium.
    Emergence,
}

impl Event {
    /// The word for it in files and options.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Radicle => "radicle",
            Self::Emergence => "emergence",
        }
    }

    /// What a word means.
    #[must_use]
    pub fn from_word(word: &str) -> Option<Self> {
        [Self::Radicle, Self::Emergence].into_iter().find(|known| known.word() == word)
    }
}

/// One lidded box, dish, pot or bag with seeds of one lot and treatment, wetted at one time.
#[derive(Debug, Clone, PartialEq)]
pub struct Container {
    /// Its lasting name.
    pub name: Name,
    /// The containers it is watched with.
    pub batch: Name,
    /// The plant.
    pub species: Name,
    /// Seeds collected or bought together; none: not said.
    pub lot: Option<Name>,
    /// What they went through before sowing; none: nothing, or not said.
    pub treatment: Option<Name>,
    /// How many seeds; none: not counted.
    pub seeds: Option<u32>,
    /// At least so many, where they were sown by the pinch.
    pub seeds_low: Option<u32>,
    /// At most so many.
    pub seeds_high: Option<u32>,
    /// The event watched for.
    pub event: Event,
    /// When the seeds were wetted, or put in here out of another container.
    pub sown: Time,
    /// Where it stood first.
    pub spot: Name,
    /// How deep the seeds lie, in millimetres; 0 on the surface.
    pub depth_mm: Option<f64>,
    /// The container that these seeds came out of: they were wetted with it and had its temperatures up to `sown`.
    pub from: Option<Name>,
    /// The lid's own name, which other containers may have had and may have again.
    pub lid: Option<Name>,
    /// Whose it is, where it is a friend's: it teaches, but is never present here.
    pub owner: Option<Name>,
    /// When it was given up or emptied.
    pub ended: Option<Time>,
}

impl Container {
    /// A container of which no more is known than one must say.
    #[must_use]
    pub fn new(name: Name, batch: Name, species: Name, spot: Name, sown: Time) -> Self {
        Self {
            name,
            batch,
            species,
            lot: None,
            treatment: None,
            seeds: None,
            seeds_low: None,
            seeds_high: None,
            event: Event::default(),
            sown,
            spot,
            depth_mm: None,
            from: None,
            lid: None,
            owner: None,
            ended: None,
        }
    }

    /// As many seeds as it can have held at most, where anything is known of it.
    #[must_use]
    pub fn most_seeds(&self) -> Option<u32> {
        self.seeds.or(self.seeds_high)
    }
}

/// One look at a container. "None new" is a look too.
#[derive(Debug, Clone, PartialEq)]
pub struct Check {
    /// The container looked at.
    pub container: Name,
    /// When.
    pub time: Time,
    /// New sprouts since the last look.
    pub sprouted: u32,
    /// Unsprouted seeds taken out mouldy or rotten.
    pub removed: u32,
    /// Unsprouted seeds lost or taken.
    pub lost: u32,
    /// Sprouts taken out to grow on.
    pub potted_on: u32,
    /// Sprouts that died.
    pub died: u32,
    /// How the container looked: fine, dry, wet, mould … in the grower's word.
    pub condition: Option<String>,
    /// The grower's note.
    pub note: Option<String>,
}

impl Check {
    /// A look at which nothing was new.
    #[must_use]
    pub fn none_new(container: Name, time: Time) -> Self {
        Self { container, time, sprouted: 0, removed: 0, lost: 0, potted_on: 0, died: 0, condition: None, note: None }
    }
}

/// A container carried to another spot.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Move {
    /// The container.
    pub container: Name,
    /// When.
    pub time: Time,
    /// Where to.
    pub spot: Name,
}

/// A stretch of a container's life at one spot.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Stay<'a> {
    /// Where.
    pub spot: &'a Name,
    /// From when.
    pub from: Time,
    /// Until when.
    pub until: Time,
}

/// Seeds taken out of a container, unsprouted, to go on in another one.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Given {
    /// When.
    pub time: Time,
    /// How many; none where they were not counted.
    pub seeds: Option<u32>,
    /// The container that they went into.
    pub to: Name,
}

/// A container with its checks and moves, all in order of time.
#[derive(Debug, Clone, PartialEq)]
pub struct Trial {
    /// The container.
    pub container: Container,
    /// Looks at it.
    pub checks: Vec<Check>,
    /// Where it was carried.
    pub moves: Vec<Move>,
    /// Where it is to be carried. These never count as having happened, even when their time has passed.
    pub planned: Vec<Move>,
    /// What was taken out of it to go on elsewhere, as those containers say: for the trial that is as if it were lost then.
    /// [`super::Bench::link`] keeps it.
    pub given: Vec<Given>,
    /// Whether it is being chilled, by where it stands. [`super::Bench::link`] keeps it.
    pub chilling: Chilling,
}

/// Whether a container is being chilled.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Chilling {
    /// It never was.
    #[default]
    Never,
    /// It was, until it was carried to a warmer spot.
    Until(Time),
    /// It stands at a cold spot.
    Still,
}

impl Trial {
    /// A container just sown.
    #[must_use]
    pub fn new(container: Container) -> Self {
        Self { container, checks: Vec::new(), moves: Vec::new(), planned: Vec::new(), given: Vec::new(), chilling: Chilling::Never }
    }

    /// Sprouts seen so far.
    #[must_use]
    pub fn sprouted(&self) -> u32 {
        self.checks.iter().map(|check| check.sprouted).sum()
    }

    /// Unsprouted seeds removed or lost so far.
    #[must_use]
    pub fn gone(&self) -> u32 {
        self.checks.iter().map(|check| check.removed + check.lost).sum()
    }

    /// Sound unsprouted seeds still in it; none where the seeds were not counted.
    #[must_use]
    pub fn left(&self) -> Option<u32> {
        let given = self.given.iter().filter_map(|given| given.seeds).sum::<u32>();
        self.container.seeds.map(|seeds| seeds.saturating_sub(self.sprouted() + self.gone() + given))
    }

    /// The last look, or the sowing where nobody has looked yet.
    #[must_use]
    pub fn last_look(&self) -> Time {
        self.checks.last().map_or(self.container.sown, |check| check.time)
    }

    /// The last time that anybody had a hand in it: a look, seeds taken out, or the sowing.
    #[must_use]
    pub fn last_touched(&self) -> Time {
        self.given.last().map_or(self.last_look(), |given| given.time.max(self.last_look()))
    }

    /// When it ended, if it had by `now`: as said, when all its seeds were accounted for, or at the last look (or the last time
    /// that seeds were taken out) where that is over 30 days ago, days in the cold not counted.
    #[must_use]
    pub fn ended_at(&self, now: Time) -> Option<Time> {
        if let Some(ended) = self.container.ended {
            return Some(ended);
        }
        // Nobody looks into a chilling bag for weeks, and it is not forgotten.
        let waited_from = match self.chilling {
            Chilling::Never => Some(self.last_touched()),
            Chilling::Until(left) => Some(self.last_touched().max(left)),
            Chilling::Still => None,
        };
        let forgotten = waited_from.is_some_and(|from| now - from > Duration::days(FORGOTTEN_AFTER_DAYS));
        (self.left() == Some(0) || forgotten).then(|| self.last_touched())
    }

    /// Where it stands at `time` (its first spot before sowing).
    #[must_use]
    pub fn spot_at(&self, time: Time) -> &Name {
        self.moves.iter().rev().find(|moved| moved.time <= time).map_or(&self.container.spot, |moved| &moved.spot)
    }

    /// The stays that make up `from` to `until`, in order, without empty ones.
    #[must_use]
    pub fn stays(&self, from: Time, until: Time) -> Vec<Stay<'_>> {
        let turns = self.moves.iter().map(|moved| moved.time).filter(|time| *time > from && *time < until);
        let mut edges: Vec<Time> = std::iter::once(from).chain(turns).chain([until]).collect();
        edges.dedup();
        edges
            .windows(2)
            .filter(|edge| edge[0] < edge[1])
            .map(|edge| Stay { spot: self.spot_at(edge[0]), from: edge[0], until: edge[1] })
            .collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(day: i64) -> Time {
        Time::UNIX_EPOCH + Duration::days(day)
    }

    fn name(text: &str) -> Name {
        Name::new(text).unwrap()
    }

    fn trial() -> Trial {
        let container = Container { seeds: Some(20), ..Container::new(name("A1"), name("b"), name("leek"), name("sill"), at(0)) };
        let look = |day, sprouted| Check { sprouted, ..Check::none_new(name("A1"), at(day)) };
        let moves = vec![Move { container: name("A1"), time: at(4), spot: name("mat") }];
        Trial { checks: vec![look(3, 0), look(6, 12)], moves, ..Trial::new(container) }
    }

    #[test]
    fn stays_follow_the_moves_and_leave_no_empty_stretch() {
        let trial = trial();
        let stays = trial.stays(at(0), at(6));
        assert_eq!(stays.iter().map(|s| s.spot.as_str()).collect::<Vec<_>>(), ["sill", "mat"]);
        assert_eq!((stays[0].until, stays[1].from), (at(4), at(4)));
        assert_eq!(trial.stays(at(4), at(6)).len(), 1, "a stretch that begins with the move has one stay");
        assert!(trial.stays(at(6), at(6)).is_empty());
    }

    #[test]
    fn a_container_ends_when_said_when_empty_or_when_forgotten() {
        let mut trial = trial();
        assert_eq!((trial.sprouted(), trial.left()), (12, Some(8)));
        assert_eq!(trial.ended_at(at(36)), None);
        assert_eq!(trial.ended_at(at(37)), Some(at(6)), "not looked at for over 30 days");
        trial.checks[1].lost = 7;
        assert_eq!(trial.ended_at(at(7)), None, "one is left");
        trial.given.push(Given { time: at(7), seeds: Some(1), to: name("A2") });
        assert_eq!(trial.ended_at(at(7)), Some(at(7)), "all seeds accounted for");
    }
}
