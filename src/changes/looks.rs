//! Looks at boxes: one, several, and the rest of a spot.

use std::collections::BTreeSet;

use chrono::Duration;

use super::typed::{Made, Wish, examine, made};
use super::{ChangeError, typed::fault};
use crate::bench::rules::{Conflict, Counted, Entry, Fault, Key, Origin};
use crate::bench::{Bench, Check, Container, Name, Trial};
use crate::civil::Time;
use crate::store::{Change, Store, WaitingLook, Why};

/// Looks no further apart than this many hours are of one round along the bench.
const ROUND_HOURS: i64 = 2;

/// What puts looks on record, each with its box; a late sprout in a box that was closed opens it again.
#[must_use]
pub fn look_wishes(looks: Vec<(&Trial, Check)>, counted: Counted) -> Vec<Wish> {
    let is_late = |(trial, look): &&(&Trial, Check)| {
        let new = look.sprouted > if counted == Counted::InTotal { trial.sprouted() } else { 0 };
        new && trial.container.ended.is_some_and(|ended| ended < look.time)
    };
    let opened = |(trial, _): &(&Trial, Check)| Entry::Container(Container { ended: None, ..trial.container.clone() });
    let opened: Vec<Entry> = looks.iter().filter(is_late).map(opened).collect();
    let looks = looks.into_iter().map(|(_, look)| Entry::Check(look, counted)).collect();
    let opening = (!opened.is_empty()).then(|| Wish::to_correct(opened));
    opening.into_iter().chain([Wish::to_record(looks)]).collect()
}

/// The boxes present at a spot at a time: those that had no look in this round or later, and those that had.
#[must_use]
pub fn standing<'a>(bench: &'a Bench, spot: &Name, at: Time) -> (Vec<&'a Name>, Vec<&'a Name>) {
    let here = |trial: &&Trial| {
        let container = &trial.container;
        container.owner.is_none() && container.sown <= at && trial.ended_at(at).is_none() && trial.spot_at(at) == spot
    };
    let names = |trials: Vec<&'a Trial>| trials.into_iter().map(|trial| &trial.container.name).collect();
    let round = at - Duration::hours(ROUND_HOURS);
    let looked = |trial: &&Trial| trial.checks.last().is_some_and(|check| check.time >= round);
    let (seen, rest) = bench.trials.values().filter(here).partition(looked);
    (names(rest), names(seen))
}

/// Looks made in one walk along a spot, as a page sends them.
#[derive(Debug, Clone, PartialEq)]
pub struct Round {
    /// A number of its own: sent again, it is not recorded again.
    pub request: String,
    /// When.
    pub at: Time,
    /// The boxes with something to say, with what was new in each. Their times are not looked at.
    pub looks: Vec<Check>,
    /// A spot of which the rest was looked at, with nothing new.
    pub rest: Option<Name>,
}

/// What became of a round.
#[derive(Debug, Clone, PartialEq)]
pub struct Rounded {
    /// The bench before and since; none: this request was done before.
    pub made: Option<Made>,
    /// The looks on record, by box and time.
    pub looks: Vec<(Name, Time)>,
    /// Looks that cannot be as they were counted: they wait for the grower's word.
    pub waiting: Vec<WaitingLook>,
}

/// Records a round. What cannot be as it was counted (more sprouts than seeds) is kept aside with its reason and holds nothing up.
///
/// # Errors
/// [`ChangeError`]; nothing of it is on record then.
pub fn record_round(store: &mut Store, round: &Round, now: Time) -> Result<Rounded, ChangeError> {
    let mut change = store.change()?;
    if !change.put_request(&round.request, now)? {
        return Ok(Rounded { made: None, looks: Vec::new(), waiting: Vec::new() });
    }
    change.is_typed(now);
    let before = change.bench()?;
    let mut bench = before.clone();
    let (mut wishes, mut looks, mut waiting) = (Vec::new(), Vec::new(), Vec::new());
    let mut seen: BTreeSet<Name> = BTreeSet::new();
    for look in &round.looks {
        let name = &look.container;
        let Some(trial) = bench.trials.get(name) else {
            return Err(fault(format!("there is no box '{name}' on this bench")));
        };
        seen.insert(name.clone());
        let look = Check { time: free_time(trial, round.at), ..look.clone() };
        let wanted = late_wishes(trial, look.clone());
        match examine(&bench, &wanted, now) {
            Ok(after) => {
                looks.push((name.clone(), look.time));
                wishes.extend(wanted);
                bench = after;
            }
            Err(ChangeError::Faults(faults)) => {
                let why = said(&faults);
                let id = change.put_waiting_look(&look, &why)?;
                waiting.push(WaitingLook { id, look, why });
            }
            Err(error) => return Err(error),
        }
    }
    if let Some(spot) = &round.rest {
        if !bench.spots.contains_key(spot) {
            return Err(fault(format!("there is no spot '{spot}' on this bench")));
        }
        let (rest, _) = standing(&before, spot, round.at);
        let rest = rest.into_iter().filter(|name| !seen.contains(*name));
        let none_new: Vec<Check> = rest.map(|name| Check::none_new(name.clone(), round.at)).collect();
        looks.extend(none_new.iter().map(|look| (look.container.clone(), look.time)));
        wishes.push(Wish::to_record(none_new.into_iter().map(|look| Entry::Check(look, Counted::SinceLast)).collect()));
    }
    let made = made(&mut change, before, &wishes, Why::Corrected, now)?;
    change.commit()?;
    Ok(Rounded { made: Some(made), looks, waiting })
}

/// What puts a look on record that may be told later than others that came after it, from a device that was out of reach.
fn late_wishes(trial: &Trial, look: Check) -> Vec<Wish> {
    let correct = |wish| Wish { conflict: Conflict::Replaced, ..wish };
    look_wishes(vec![(trial, look)], Counted::SinceLast).into_iter().map(correct).collect()
}

/// A time at which nothing is on record of a box yet: two who look in the same second both count. The second before is taken, since what
/// lies ahead is not seen yet; after the sowing, whichever comes.
fn free_time(trial: &Trial, at: Time) -> Time {
    let mut free = at;
    let mut step = Duration::seconds(-1);
    while trial.checks.iter().any(|check| check.time == free) {
        if free + step < trial.container.sown {
            (free, step) = (at, Duration::seconds(1));
        }
        free += step;
    }
    free
}

fn said(faults: &[Fault]) -> String {
    faults.iter().map(|fault| fault.what.clone()).collect::<Vec<_>>().join("; ")
}

/// What the grower says of a look that waits.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Answer {
    /// There were so many seeds in the box, and the count was right.
    Seeds(u32),
    /// So many had sprouted.
    Sprouted(u32),
    /// Leave it out.
    LeaveOut,
}

/// Settles a look that waits. Where it still cannot be, it goes on waiting.
///
/// # Errors
/// [`ChangeError`].
pub fn answer_waiting(store: &mut Store, id: i64, answer: &Answer, now: Time) -> Result<Made, ChangeError> {
    let mut change = store.change()?;
    change.is_typed(now);
    let before = change.bench()?;
    let Some(look) = change.take_waiting_look(id)? else {
        return Err(fault("this look waits no more: it was answered already"));
    };
    let Some(trial) = before.trials.get(&look.container) else {
        return Err(fault(format!("there is no box '{}' on this bench any more", look.container)));
    };
    let mut wishes = Vec::new();
    let mut look = Check { time: free_time(trial, look.time), ..look };
    match answer {
        Answer::Seeds(seeds) => {
            let container = Container { seeds: Some(*seeds), seeds_low: None, seeds_high: None, ..trial.container.clone() };
            wishes.push(Wish::to_correct(vec![Entry::Container(container)]));
        }
        Answer::Sprouted(sprouted) => look.sprouted = *sprouted,
        Answer::LeaveOut => {}
    }
    if *answer != Answer::LeaveOut {
        wishes.extend(late_wishes(trial, look));
    }
    finish(change, before, &wishes, now)
}

fn finish(mut change: Change<'_>, before: Bench, wishes: &[Wish], now: Time) -> Result<Made, ChangeError> {
    let made = made(&mut change, before, wishes, Why::Corrected, now)?;
    change.commit()?;
    Ok(made)
}

/// Takes looks back, whenever they were recorded.
///
/// # Errors
/// [`ChangeError`].
pub fn take_looks_back(store: &mut Store, looks: &[(Name, Time)], now: Time) -> Result<Made, ChangeError> {
    super::take_back(store, now, |bench| {
        let there = |(name, time): &&(Name, Time)| {
            bench.trials.get(name).is_some_and(|trial| trial.checks.iter().any(|check| check.time == *time))
        };
        let keys: Vec<Key> = looks.iter().filter(there).map(|(name, time)| Key::Check(name.clone(), *time)).collect();
        if keys.is_empty() {
            return Err(vec![Fault::new(&Origin::Typed, "these looks are not on record any more: nothing was taken back")]);
        }
        Ok(keys)
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::civil::Zone;
    use crate::store::BenchKind;

    fn name(text: &str) -> Name {
        Name::new(text).unwrap()
    }

    fn at(hours: i64) -> Time {
        Time::UNIX_EPOCH + Duration::hours(24 * 20_000 + hours)
    }

    fn bench_of(boxes: &[&str]) -> (tempfile::TempDir, Store) {
        let folder = tempfile::tempdir().unwrap();
        let mut store = Store::create(&folder.path().join("b.db"), Zone::UTC, BenchKind::Own).unwrap();
        super::super::make(&mut store, at(0), |_| {
            let container = |one: &&str| {
                let container = Container::new(name(one), name("b"), name("leek"), name("sill"), at(0));
                Entry::Container(Container { seeds: Some(20), ..container })
            };
            Ok(vec![Wish::to_record(boxes.iter().map(container).collect())])
        })
        .unwrap();
        (folder, store)
    }

    fn look(of: &str, sprouted: u32) -> Check {
        Check { sprouted, ..Check::none_new(name(of), at(0)) }
    }

    fn round(request: &str, looks: Vec<Check>, rest: Option<&str>) -> Round {
        Round { request: request.to_owned(), at: at(30), looks, rest: rest.map(name) }
    }

    fn sprouted(store: &Store) -> Vec<(u32, usize)> {
        store.bench().unwrap().trials.values().map(|trial| (trial.sprouted(), trial.checks.len())).collect()
    }

    #[test]
    fn a_round_records_what_was_found_and_the_rest_as_seen_and_is_recorded_once() {
        let (_folder, mut store) = bench_of(&["A1", "A2", "A3"]);
        let walked = round("r1", vec![look("A2", 3)], Some("sill"));
        let done = record_round(&mut store, &walked, at(31)).unwrap();
        assert_eq!((done.looks.len(), done.waiting.len()), (3, 0));
        assert_eq!(sprouted(&store), [(0, 1), (3, 1), (0, 1)]);
        let again = record_round(&mut store, &walked, at(32)).unwrap();
        assert_eq!(again.made, None);
        assert_eq!(sprouted(&store), [(0, 1), (3, 1), (0, 1)]);
        take_looks_back(&mut store, &done.looks, at(32)).unwrap();
        assert_eq!(sprouted(&store), [(0, 0), (0, 0), (0, 0)]);
    }

    #[test]
    fn two_who_look_in_the_same_second_both_count() {
        let (_folder, mut store) = bench_of(&["A1"]);
        record_round(&mut store, &round("r1", vec![look("A1", 2)], None), at(31)).unwrap();
        record_round(&mut store, &round("r2", vec![look("A1", 1)], None), at(31)).unwrap();
        assert_eq!(sprouted(&store), [(3, 2)]);
        // A device that was out of reach tells an earlier look later.
        let earlier = Round { at: at(20), ..round("r3", vec![look("A1", 4)], None) };
        assert_eq!(record_round(&mut store, &earlier, at(31)).unwrap().waiting, []);
        assert_eq!(sprouted(&store), [(7, 3)]);
    }

    #[test]
    fn a_count_that_cannot_be_waits_for_a_word_and_holds_nothing_up() {
        for (answer, expected) in [
            (Answer::Seeds(21), vec![(21, 1), (1, 1)]),
            (Answer::Sprouted(12), vec![(12, 1), (1, 1)]),
            (Answer::LeaveOut, vec![(0, 0), (1, 1)]),
        ] {
            let (_folder, mut store) = bench_of(&["A1", "A2"]);
            let done = record_round(&mut store, &round("r1", vec![look("A1", 21), look("A2", 1)], None), at(31)).unwrap();
            assert_eq!(sprouted(&store), [(0, 0), (1, 1)]);
            assert_eq!(store.waiting_looks().unwrap(), done.waiting);
            assert!(done.waiting[0].why.contains("20"), "{}", done.waiting[0].why);
            let still = answer_waiting(&mut store, done.waiting[0].id, &Answer::Sprouted(40), at(32));
            assert!(matches!(still, Err(ChangeError::Faults(_))));
            assert_eq!(store.waiting_looks().unwrap().len(), 1, "it goes on waiting");
            answer_waiting(&mut store, done.waiting[0].id, &answer, at(33)).unwrap();
            assert_eq!(sprouted(&store), expected, "{answer:?}");
            assert_eq!(store.waiting_looks().unwrap(), []);
        }
    }
}
