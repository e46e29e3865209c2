//! Where boxes and probes stand: carried, to be carried, placed; and boxes closed and opened again.

use super::box_named;
use super::typed::{Made, Wish, make};
use super::{ChangeError, typed::fault};
use crate::bench::rules::{About, Entry, Fault, Origin};
use crate::bench::{Bench, Calibration, Container, Move, Name, Placement, Setting, Siting};
use crate::civil::{Time, Zone, local_time};
use crate::store::Store;

/// Boxes carried to another spot, or to be carried.
#[derive(Debug, Clone, PartialEq)]
pub struct Moving {
    /// The boxes.
    pub boxes: Vec<Name>,
    /// Where to.
    pub spot: Name,
    /// The spot is made where it does not exist yet.
    pub may_be_new: bool,
    /// When.
    pub at: Time,
    /// It is only planned, and lies ahead.
    pub planned: bool,
}

impl Moving {
    /// What puts it on record.
    ///
    /// # Errors
    /// A plan for a time that has passed.
    pub fn entries(&self, zone: Zone, now: Time) -> Result<Vec<Entry>, Vec<Fault>> {
        if self.planned && self.at <= now {
            let what = format!("{} has passed: a planned move lies in the future", local_time(self.at, zone));
            return Err(vec![Fault::new(&Origin::Typed, what).about(About::Time)]);
        }
        let carried = |container: &Name| {
            let moved = Move { container: container.clone(), time: self.at, spot: self.spot.clone() };
            if self.planned { Entry::Plan(moved) } else { Entry::Move(moved) }
        };
        let spot = self.may_be_new.then(|| Entry::Spot(self.spot.clone(), Setting::NOTHING_SAID));
        Ok(spot.into_iter().chain(self.boxes.iter().map(carried)).collect())
    }
}

/// A probe to be placed.
#[derive(Debug, Clone, PartialEq)]
pub struct Placing {
    /// The probe.
    pub probe: Name,
    /// Where it stands; a spot not known yet is made.
    pub spot: Name,
    /// From when on.
    pub since: Time,
    /// Where it is relative to the seeds.
    pub siting: Siting,
    /// Its calibration, where one is said; none: as before, since it is the same sensor wherever it stands.
    pub calibration: Option<Calibration>,
}

impl Placing {
    /// The placement as it goes on record.
    #[must_use]
    pub fn placement(&self, bench: &Bench) -> Placement {
        let before = || placed(bench, &self.probe, self.since).and_then(|before| before.calibration);
        Placement {
            probe: self.probe.clone(),
            spot: self.spot.clone(),
            since: self.since,
            calibration: self.calibration.or_else(before),
            siting: self.siting,
        }
    }
}

/// Where a probe stands at a time.
#[must_use]
pub fn placed<'a>(bench: &'a Bench, probe: &Name, time: Time) -> Option<&'a Placement> {
    bench.placements.iter().rev().find(|placement| placement.probe == *probe && placement.since <= time)
}

/// Places a probe.
///
/// # Errors
/// [`ChangeError`], also where that is only what a board calls a probe that has another name.
pub fn place(store: &mut Store, placing: &Placing, now: Time) -> Result<(Made, Placement), ChangeError> {
    if let Some(probe) = store.probe_of_line(&placing.probe)? {
        let what = format!("'{}' is what its board calls probe '{probe}'", placing.probe);
        let next = Some(format!("`seedclock probe place {} …`", probe.as_typed()));
        return Err(ChangeError::Faults(vec![Fault { next, ..Fault::new(&Origin::Typed, what).about(About::Name) }]));
    }
    let made = make(store, now, |bench| Ok(vec![Wish::to_record(vec![Entry::Placement(placing.placement(bench))])]))?;
    let placement = placing.placement(&made.before);
    Ok((made, placement))
}

/// Why a box cannot be closed or opened again.
#[derive(Debug, Clone, PartialEq)]
pub enum NotEnded {
    /// There is no such box.
    Unknown(Fault),
    /// It is closed already, since then.
    Closed(Name, Time),
    /// It is not closed. It may have ended all the same: since then.
    Open(Name, Option<Time>),
}

impl NotEnded {
    /// It in words; what to do about it is another matter.
    #[must_use]
    pub fn fault(&self, bench: &Bench) -> Fault {
        let said = |time: &Time| local_time(*time, bench.zone);
        let what = match self {
            Self::Unknown(fault) => return fault.clone(),
            Self::Closed(name, ended) => format!("box '{name}' is closed already, since {}", said(ended)),
            Self::Open(name, None) => format!("box '{name}' is not closed: there is nothing to reopen"),
            Self::Open(name, Some(ended)) if bench.trials.get(name).is_some_and(|trial| trial.left() == Some(0)) => {
                let since = said(ended);
                format!("box '{name}' is not closed: all its seeds have been accounted for since {since}, and so it has ended")
            }
            Self::Open(name, Some(ended)) => format!(
                "box '{name}' is not closed: nobody has looked at it since {}, over 30 days, and so it counts as ended",
                said(ended)
            ),
        };
        Fault::new(&Origin::Typed, what).about(About::End)
    }
}

/// What closes boxes.
///
/// # Errors
/// [`NotEnded`] of the first that cannot be.
pub fn closing(bench: &Bench, names: &[Name], at: Time) -> Result<Wish, NotEnded> {
    let closed = |name: &Name| {
        let container = &box_named(bench, name).map_err(NotEnded::Unknown)?.container;
        match container.ended.filter(|ended| *ended != at) {
            Some(ended) => Err(NotEnded::Closed(name.clone(), ended)),
            None => Ok(Entry::Container(Container { ended: Some(at), ..container.clone() })),
        }
    };
    names.iter().map(closed).collect::<Result<_, _>>().map(Wish::to_correct)
}

/// What opens closed boxes again.
///
/// # Errors
/// [`NotEnded`] of the first that cannot be.
pub fn reopening(bench: &Bench, names: &[Name], now: Time) -> Result<Wish, NotEnded> {
    let opened = |name: &Name| {
        let trial = box_named(bench, name).map_err(NotEnded::Unknown)?;
        if trial.container.ended.is_none() {
            return Err(NotEnded::Open(name.clone(), trial.ended_at(now)));
        }
        Ok(Entry::Container(Container { ended: None, ..trial.container.clone() }))
    };
    names.iter().map(opened).collect::<Result<_, _>>().map(Wish::to_correct)
}

/// An entry put right.
#[derive(Debug, Clone, PartialEq)]
pub struct Corrected {
    /// The bench before and since.
    pub made: Made,
    /// The entry as it was.
    pub was: Entry,
    /// The entry as it is.
    pub is: Entry,
}

/// Puts the second of a pair in the place of the first, which is kept beside.
///
/// # Errors
/// [`ChangeError`], also where nothing differs.
pub fn correct(
    store: &mut Store,
    now: Time,
    pair: impl FnOnce(&Bench) -> Result<(Entry, Entry), Vec<Fault>>,
) -> Result<Corrected, ChangeError> {
    let mut corrected = None;
    let made = make(store, now, |bench| {
        let (was, is) = pair(bench)?;
        if was == is {
            let what = format!("{} says so already", crate::wording::entry_name(&was, bench.zone));
            return Err(vec![Fault::new(&Origin::Typed, what)]);
        }
        corrected = Some((was.clone(), is.clone()));
        Ok(vec![Wish::to_replace(was.key(), is)])
    })?;
    let (was, is) = corrected.ok_or_else(|| fault("nothing was corrected"))?;
    Ok(Corrected { made, was, is })
}
