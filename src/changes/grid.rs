//! Looks of several days and boxes typed in at one time, from a sheet of paper.

use std::collections::{BTreeMap, BTreeSet};

use super::ChangeError;
use super::typed::{Made, Wish, examine, made};
use crate::bench::rules::{Counted, Entry, Fault, Origin};
use crate::bench::{Bench, Check, Name};
use crate::civil::{Time, local_date};
use crate::store::{Store, Why};
use crate::wording::{look_words, moment};

/// What became of looks typed in from a sheet.
#[derive(Debug, Clone, PartialEq)]
pub enum Gridded {
    /// All are on record.
    Recorded(Box<Made>),
    /// They were recorded before; nothing twice.
    Repeated,
    /// None is on record: each fault, with the place of its look among those that were sent.
    Refused(Vec<(usize, Fault)>),
}

/// Records looks of several days and boxes, all or none. A box that has a look on record on the same day in the bench's zone is not
/// looked at twice: that is a fault. They may lie before looks on record, since a sheet is typed in late.
///
/// # Errors
/// [`ChangeError::Store`]; nothing is on record then.
pub fn record_grid(store: &mut Store, request: &str, looks: &[Check], now: Time) -> Result<Gridded, ChangeError> {
    let mut change = store.change()?;
    if !change.put_request(request, now)? {
        return Ok(Gridded::Repeated);
    }
    change.is_typed(now);
    let before = change.bench()?;
    let mut by_box: BTreeMap<&Name, Vec<usize>> = BTreeMap::new();
    let mut faults = Vec::new();
    let mut days = BTreeSet::new();
    for (at, look) in looks.iter().enumerate() {
        match not_again(&before, look, &mut days) {
            Some(fault) => faults.push((at, fault)),
            None => by_box.entry(&look.container).or_default().push(at),
        }
    }
    by_box.values_mut().for_each(|places| places.sort_by_key(|at| looks[*at].time));
    let wish = typed_in(by_box.values().flatten().map(|at| &looks[*at]));
    match examine(&before, std::slice::from_ref(&wish), now) {
        Ok(_) => {}
        Err(ChangeError::Faults(_)) => faults.extend(blamed(&before, &by_box, looks, now)),
        Err(error) => return Err(error),
    }
    if !faults.is_empty() {
        faults.sort_by_key(|(at, _)| *at);
        return Ok(Gridded::Refused(faults));
    }
    let made = made(&mut change, before, &[wish], Why::Corrected, now)?;
    change.commit()?;
    Ok(Gridded::Recorded(Box::new(made)))
}

fn typed_in<'a>(looks: impl Iterator<Item = &'a Check>) -> Wish {
    Wish::to_correct(looks.map(|look| Entry::Check(look.clone(), Counted::SinceLast)).collect())
}

/// Why a look is none to be recorded: its box is not here, or was looked at on that day.
fn not_again(bench: &Bench, look: &Check, days: &mut BTreeSet<(Name, chrono::NaiveDate)>) -> Option<Fault> {
    let name = &look.container;
    let Some(trial) = bench.trials.get(name) else {
        return Some(Fault::new(&Origin::Typed, format!("there is no box '{name}' on this bench")));
    };
    let day = local_date(look.time, bench.zone);
    if !days.insert((name.clone(), day)) {
        return Some(Fault::new(&Origin::Typed, format!("box '{name}' has two looks of this day here")));
    }
    let there = trial.checks.iter().find(|check| local_date(check.time, bench.zone) == day)?;
    let what = format!("a look of {} is on record already: {}", moment(there.time, bench.zone), look_words(there));
    Some(Fault { next: Some("leave this one blank".to_owned()), ..Fault::new(&Origin::Typed, what) })
}

/// Which looks are at fault: each box by itself, look by look, without those before that were at fault.
fn blamed(bench: &Bench, by_box: &BTreeMap<&Name, Vec<usize>>, looks: &[Check], now: Time) -> Vec<(usize, Fault)> {
    let mut found = Vec::new();
    for (name, places) in by_box {
        let mut story = bench.clone();
        story.trials.retain(|other, _| other == *name);
        for at in places {
            match examine(&story, &[typed_in(std::iter::once(&looks[*at]))], now) {
                Ok(after) => story = after,
                // What is advised on a look that is typed by itself does not hold for one of many.
                Err(ChangeError::Faults(faults)) => {
                    found.extend(faults.into_iter().map(|fault| (*at, Fault { next: None, ..fault })))
                }
                Err(ChangeError::Store(_)) => {}
            }
        }
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::bench::Container;
    use crate::changes::{make, take_looks_back, undo_last};
    use crate::civil::Zone;
    use crate::store::BenchKind;
    use chrono::Duration;

    fn name(text: &str) -> Name {
        Name::new(text).unwrap()
    }

    fn at(day: i64, hour: i64) -> Time {
        Time::UNIX_EPOCH + Duration::days(20_000 + day) + Duration::hours(hour)
    }

    fn bench() -> (tempfile::TempDir, Store) {
        let folder = tempfile::tempdir().unwrap();
        let mut store = Store::create(&folder.path().join("b.db"), Zone::Europe__Berlin, BenchKind::Own).unwrap();
        make(&mut store, at(0, 0), |_| {
            let container = |one: &str| {
                let container = Container::new(name(one), name("b"), name("leek"), name("sill"), at(0, 0));
                Entry::Container(Container { seeds: Some(20), ..container })
            };
            Ok(vec![Wish::to_record(["A1", "A2"].map(container).to_vec())])
        })
        .unwrap();
        (folder, store)
    }

    fn look(of: &str, day: i64, sprouted: u32) -> Check {
        Check { sprouted, ..Check::none_new(name(of), at(day, 7)) }
    }

    fn counts(store: &Store) -> Vec<Vec<u32>> {
        store.bench().unwrap().trials.values().map(|trial| trial.checks.iter().map(|check| check.sprouted).collect()).collect()
    }

    fn refused(store: &mut Store, looks: &[Check]) -> Vec<(usize, String)> {
        match record_grid(store, "refused", looks, at(9, 0)).unwrap() {
            Gridded::Refused(faults) => faults.into_iter().map(|(at, fault)| (at, fault.what)).collect(),
            other => panic!("{other:?}"),
        }
    }

    #[test]
    fn a_sheet_is_typed_in_at_one_stroke_once_also_before_looks_on_record_and_can_be_taken_back() {
        let (_folder, mut store) = bench();
        record_grid(&mut store, "r0", &[look("A1", 5, 4)], at(6, 0)).unwrap();
        // Not in the order of time either.
        let sheet = [look("A1", 3, 2), look("A2", 2, 0), look("A1", 2, 0), look("A2", 4, 1)];
        assert!(matches!(record_grid(&mut store, "r1", &sheet, at(9, 0)).unwrap(), Gridded::Recorded(_)));
        assert_eq!(counts(&store), [vec![0, 2, 4], vec![0, 1]]);
        assert_eq!(record_grid(&mut store, "r1", &sheet, at(9, 0)).unwrap(), Gridded::Repeated);
        assert_eq!(counts(&store), [vec![0, 2, 4], vec![0, 1]]);
        undo_last(&mut store, at(9, 1)).unwrap();
        assert_eq!(counts(&store), [vec![4], vec![]]);
        record_grid(&mut store, "r2", &sheet, at(9, 2)).unwrap();
        take_looks_back(&mut store, &sheet.map(|look| (look.container, look.time)), at(9, 3)).unwrap();
        assert_eq!(counts(&store), [vec![4], vec![]]);
    }

    #[test]
    fn all_or_none_is_recorded_and_each_fault_is_told_by_its_look() {
        let (_folder, mut store) = bench();
        record_grid(&mut store, "r0", &[look("A1", 5, 4)], at(6, 0)).unwrap();
        let sheet = [
            look("A1", 2, 1),
            look("A1", 3, 20),
            look("A1", 5, 2),
            look("A2", -1, 0),
            look("A2", 3, 15),
            look("A2", 4, 6),
            look("A2", 6, 1),
            look("A9", 2, 0),
            look("A1", 2, 0),
            look("A2", 12, 0),
        ];
        let faults = refused(&mut store, &sheet);
        let places: Vec<usize> = faults.iter().map(|(at, _)| *at).collect();
        assert_eq!(places, [1, 2, 3, 5, 7, 8, 9], "{faults:#?}");
        let begins = [
            "21 sprouts in box 'A1', which holds 20 seeds",
            "a look of ",
            "box 'A2' was sown on ",
            "21 sprouts in box 'A2', which holds 20 seeds",
            "there is no box 'A9' on this bench",
            "box 'A1' has two looks of this day here",
            "the check of box 'A2', ",
        ];
        for ((_, said), begin) in faults.iter().zip(begins) {
            assert!(said.starts_with(begin), "{said}");
        }
        assert_eq!(counts(&store), [vec![4], vec![]]);
        // A refused sheet may come again with its own number.
        assert!(matches!(record_grid(&mut store, "refused", &sheet[..1], at(9, 0)).unwrap(), Gridded::Recorded(_)));
    }

    #[test]
    fn one_day_is_a_day_of_the_bench_and_what_counts_too_many_later_is_told() {
        let (_folder, mut store) = bench();
        // 23:30 UTC is the next day in Berlin.
        let late = Check { sprouted: 19, ..Check::none_new(name("A1"), at(3, 23) + Duration::minutes(30)) };
        record_grid(&mut store, "r0", &[late], at(5, 0)).unwrap();
        let faults = refused(&mut store, &[look("A1", 4, 1)]);
        assert!(faults[0].1.contains("is on record already: 19 new"), "{faults:?}");
        let faults = refused(&mut store, &[look("A1", 3, 2)]);
        assert!(faults[0].1.contains("21 sprouts") && faults[0].1.contains("is in the way"), "{faults:?}");
        assert!(matches!(record_grid(&mut store, "r1", &[look("A1", 3, 1)], at(9, 0)).unwrap(), Gridded::Recorded(_)));
    }
}
