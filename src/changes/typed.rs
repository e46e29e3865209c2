//! Changes that a grower types or clicks, and how they are taken back.

use std::collections::BTreeSet;

use chrono::Duration;

use super::ChangeError;
use crate::bench::rules::{Admitted, Conflict, Entry, Fault, Key, Origin, amend};
use crate::bench::{Bench, Check, Container, Name};
use crate::civil::{Time, Zone, local_time};
use crate::store::{Change, Part, Store, StoreError, Typed, Why};
use crate::wording::{again_words, changed_words, entry_name, entry_words, moment};

/// What is wished of the bench, all of it or none.
#[derive(Debug, Clone, PartialEq)]
pub struct Wish {
    /// Entries to be taken off the record.
    pub taken_back: Vec<Key>,
    /// Entries that are to take the place of one of another key: the same look, at another time.
    pub rekeyed: Vec<(Key, Entry)>,
    /// Entries to be put on record.
    pub entries: Vec<Entry>,
    /// What becomes of other values on record for the same key.
    pub conflict: Conflict,
}

impl Wish {
    /// That entries be recorded; other values on record stay, and are a fault.
    #[must_use]
    pub fn to_record(entries: Vec<Entry>) -> Self {
        Self { taken_back: Vec::new(), rekeyed: Vec::new(), entries, conflict: Conflict::Refused }
    }

    /// That entries take the place of what is on record for their keys.
    #[must_use]
    pub fn to_correct(entries: Vec<Entry>) -> Self {
        Self { conflict: Conflict::Replaced, ..Self::to_record(entries) }
    }

    /// That an entry take the place of the one with the key `was`.
    #[must_use]
    pub fn to_replace(was: Key, entry: Entry) -> Self {
        if entry.key() == was {
            return Self::to_correct(vec![entry]);
        }
        Self { rekeyed: vec![(was, entry)], ..Self::to_correct(Vec::new()) }
    }

    /// That entries be taken off the record.
    #[must_use]
    pub fn to_take_back(keys: Vec<Key>) -> Self {
        Self { taken_back: keys, ..Self::to_correct(Vec::new()) }
    }

    /// Holds it against a bench.
    fn admitted(&self, bench: &Bench, now: Time) -> Result<Admitted, ChangeError> {
        // In the place of one entry it must not take that of another too.
        if let Some((_, entry)) = self.rekeyed.iter().find(|(_, entry)| bench.entry(&entry.key()).is_some()) {
            return Err(fault(format!("{} is on record already: two cannot be of one time", entry_name(entry, bench.zone))));
        }
        let gone: Vec<Key> = self.taken_back.iter().chain(self.rekeyed.iter().map(|(was, _)| was)).cloned().collect();
        let come = self.rekeyed.iter().map(|(_, entry)| entry).chain(&self.entries).cloned();
        let come = come.map(|entry| (Origin::Typed, entry)).collect();
        amend(bench, &gone, come, self.conflict, now).map_err(ChangeError::Faults)
    }

    fn write(&self, change: &mut Change<'_>, mut admitted: Admitted, why: Why, now: Time) -> Result<(), StoreError> {
        // What hangs on a container before the container.
        let (containers, others): (Vec<&Key>, Vec<&Key>) = self.taken_back.iter().partition(|key| matches!(key, Key::Container(_)));
        for key in others.into_iter().chain(containers) {
            change.remove(key, why, now)?;
        }
        let (rekeyed, new) = admitted.entries.drain(..).partition(|entry| self.rekeyed.iter().any(|(_, one)| one == entry));
        admitted.entries = new;
        // Spots before what stands at them.
        change.record(&admitted, why, now)?;
        for entry in rekeyed {
            if let Some((was, _)) = self.rekeyed.iter().find(|(_, one)| *one == entry) {
                change.replace_other(was, &entry, why, now)?;
            }
        }
        Ok(())
    }
}

/// What a change made of the bench.
#[derive(Debug, Clone, PartialEq)]
pub struct Made {
    /// The bench before.
    pub before: Bench,
    /// The bench since.
    pub after: Bench,
    /// Spots that exist since, because something names them.
    pub named_spots: BTreeSet<Name>,
    /// Whether all that was wished was on record already.
    pub repeated: bool,
    /// The number of the command that did it, by which [`undo_command`] takes it back; none where nothing was noted.
    pub command: Option<i64>,
}

/// A command taken back.
#[derive(Debug, Clone, PartialEq)]
pub struct TakenBack {
    /// The command.
    pub typed: Typed,
    /// The bench with it, and without.
    pub made: Made,
}

impl TakenBack {
    /// What was taken back, and what is on record again in its place. `zone`: in which times are said, which may itself be what was
    /// taken back.
    #[must_use]
    pub fn words(&self, zone: Zone, now: Time) -> String {
        let Self { typed, made } = self;
        let part_words = |part: &Part| match part {
            Part::Entry { key, was: None } => made.before.entry(key).map(|entry| entry_words(&entry, zone)),
            Part::Entry { key, was: Some(was) } => {
                let entry = made.before.entry(key)?;
                Some(format!("the change of {}: again {}", entry_name(&entry, zone), again_words(&entry, was, zone)))
            }
            Part::NamedSpot(spot) => (!made.after.spots.contains_key(spot)).then(|| format!("the spot '{spot}'")),
            Part::NamedProbe { name, was } => Some(format!("the name '{name}' of probe {was}")),
        };
        let (spots, others): (Vec<&Part>, Vec<&Part>) = typed.parts.iter().partition(|part| matches!(part, Part::NamedSpot(_)));
        let parts: Vec<String> = others.into_iter().chain(spots).filter_map(part_words).collect();
        // Somebody who takes back what they have just typed need not be told when.
        let typed = if now - typed.time > Duration::hours(12) {
            format!(" (typed on {})", local_time(typed.time, zone))
        } else {
            String::new()
        };
        format!("taken back{typed}: {}", parts.join("; "))
    }
}

/// Makes what is wished, given the bench as it is, one wish after the other and all or none. Other values that they take the place
/// of are kept beside as corrected. It is one command that [`undo_last`] can take back.
///
/// # Errors
/// [`ChangeError`].
pub fn make(
    store: &mut Store,
    now: Time,
    wishes: impl FnOnce(&Bench) -> Result<Vec<Wish>, Vec<Fault>>,
) -> Result<Made, ChangeError> {
    let mut change = store.change()?;
    change.is_typed(now);
    let before = change.bench()?;
    let wishes = wishes(&before).map_err(ChangeError::Faults)?;
    let made = made(&mut change, before, &wishes, Why::Corrected, now)?;
    change.commit()?;
    Ok(made)
}

pub(super) fn made(change: &mut Change<'_>, before: Bench, wishes: &[Wish], why: Why, now: Time) -> Result<Made, ChangeError> {
    let mut made = Made { after: before.clone(), before, named_spots: BTreeSet::new(), repeated: true, command: None };
    for wish in wishes {
        let admitted = wish.admitted(&made.after, now)?;
        made.after = admitted.bench.clone();
        made.named_spots.extend(admitted.named_spots.iter().cloned());
        made.repeated &= admitted.entries.is_empty() && admitted.replaced.is_empty() && admitted.spots.is_empty();
        wish.write(change, admitted, why, now)?;
    }
    made.command = change.command();
    Ok(made)
}

/// Holds wishes against a bench, one after the other, without recording them; gives the bench as it would be.
///
/// # Errors
/// [`ChangeError::Faults`].
pub fn examine(bench: &Bench, wishes: &[Wish], now: Time) -> Result<Bench, ChangeError> {
    wishes.iter().try_fold(bench.clone(), |bench, wish| Ok(wish.admitted(&bench, now)?.bench))
}

/// Takes the last command typed back that is still on record: what it recorded goes, and what was there before comes again. All
/// of it is kept beside as undone.
///
/// # Errors
/// [`ChangeError`], also where nothing typed is on record.
pub fn undo_last(store: &mut Store, now: Time) -> Result<TakenBack, ChangeError> {
    let change = store.change()?;
    let Some(typed) = change.last_typed()? else {
        return Err(fault("nothing that was typed is on record: there is nothing to take back"));
    };
    undo(change, typed, now)
}

/// The same with the last command that put `key` on record; none where what is there was not typed, or nothing is.
///
/// # Errors
/// [`ChangeError`].
pub fn undo_of(store: &mut Store, key: &Key, now: Time) -> Result<Option<TakenBack>, ChangeError> {
    let change = store.change()?;
    let typed = if change.bench()?.entry(key).is_some() { change.typed_as(key)? } else { None };
    typed.map(|typed| undo(change, typed, now)).transpose()
}

/// The last command typed that is still on record: its number, and what it did, in words.
///
/// # Errors
/// [`ChangeError`].
pub fn last_command(store: &Store) -> Result<Option<(i64, String)>, ChangeError> {
    let Some(typed) = store.last_typed()? else { return Ok(None) };
    let bench = store.bench()?;
    let zone = bench.zone;
    let part_words = |part: &Part| match part {
        Part::Entry { key, was: None } => bench.entry(key).map(|entry| entry_words(&entry, zone)),
        Part::Entry { key, was: Some(was) } => {
            let entry = bench.entry(key)?;
            Some(format!("the change of {}: {}", entry_name(&entry, zone), changed_words(was, &entry, zone)))
        }
        Part::NamedSpot(spot) => Some(format!("the new spot '{spot}'")),
        Part::NamedProbe { name, was } => Some(format!("the name '{name}' of probe {was}")),
    };
    let parts: Vec<String> = typed.parts.iter().filter_map(part_words).collect();
    Ok(Some((typed.number(), format!("{}: {}", moment(typed.time, zone), parts.join("; ")))))
}

/// Whose command may be taken back.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Undoable {
    /// Any.
    Any,
    /// One that did nothing but to put looks right.
    OfLooks,
}

/// Takes the command of a number back, as [`undo_last`] does the last, where nothing that it recorded was changed since.
///
/// # Errors
/// [`ChangeError`], also where it is not on record any more, or is none that may be taken back.
pub fn undo_command(store: &mut Store, number: i64, which: Undoable, now: Time) -> Result<TakenBack, ChangeError> {
    let change = store.change()?;
    let Some(typed) = change.typed(number)? else {
        return Err(fault("this is not on record any more: nothing was taken back"));
    };
    let of_looks = |part: &Part| matches!(part, Part::Entry { key: Key::Check(..), .. });
    if which == Undoable::OfLooks && !typed.parts.iter().all(of_looks) {
        return Err(fault("this device may look and count, and take back no more than that"));
    }
    for part in &typed.parts {
        let Part::Entry { key, .. } = part else { continue };
        if change.typed_as(key)?.is_some_and(|last| last.number() != number) {
            let bench = change.bench()?;
            let what = bench.entry(key).map(|entry| entry_name(&entry, bench.zone)).unwrap_or_default();
            return Err(fault(format!("{what} was changed again since: correct it instead; nothing was taken back")));
        }
    }
    undo(change, typed, now)
}

fn undo(mut change: Change<'_>, typed: Typed, now: Time) -> Result<TakenBack, ChangeError> {
    let before = change.bench()?;
    let mut wish = Wish::to_correct(Vec::new());
    for part in typed.parts.iter().rev() {
        match part {
            Part::Entry { key, was: None } => wish.taken_back.push(key.clone()),
            Part::Entry { key, was: Some(was) } if was.key() == *key => wish.entries.push(Entry::clone(was)),
            Part::Entry { key, was: Some(was) } => wish.rekeyed.push((key.clone(), Entry::clone(was))),
            Part::NamedSpot(_) => {}
            Part::NamedProbe { name, was } => change.name_probe(name, was)?,
        }
    }
    let mut made = made(&mut change, before, &[wish], Why::Undone, now)?;
    for part in &typed.parts {
        if let Part::NamedSpot(spot) = part
            && made.after.spots.contains_key(spot)
            && !is_named(&made.after, spot)
        {
            change.remove_spot(spot)?;
            made.after.spots.remove(spot);
        }
    }
    change.forget(&typed)?;
    made.after = change.bench()?;
    change.commit()?;
    Ok(TakenBack { typed, made })
}

/// Whether anything is said of a spot or stands, stood or is to stand there.
fn is_named(bench: &Bench, spot: &Name) -> bool {
    bench.spots.get(spot).is_some_and(|spot| !spot.settings.is_empty())
        || bench.placements.iter().any(|placement| placement.spot == *spot)
        || bench
            .trials
            .values()
            .any(|trial| trial.container.spot == *spot || trial.moves.iter().chain(&trial.planned).any(|moved| moved.spot == *spot))
}

/// Takes the entries back that `keys` picks, whenever they were recorded, all or none; they are kept beside as undone. A box that
/// was opened again by a look taken back is closed as before.
///
/// # Errors
/// [`ChangeError`].
pub fn take_back(
    store: &mut Store,
    now: Time,
    keys: impl FnOnce(&Bench) -> Result<Vec<Key>, Vec<Fault>>,
) -> Result<Made, ChangeError> {
    let mut change = store.change()?;
    let before = change.bench()?;
    let mut wish = Wish::to_take_back(keys(&before).map_err(ChangeError::Faults)?);
    for key in &wish.taken_back {
        if let Key::Check(name, _) = key
            && let Some(trial) = before.trials.get(name)
            && let Some(ended) = closed_before(&change, key, name)?
        {
            // Unless it was looked at again since.
            let again = |check: &Check| check.time > ended && !wish.taken_back.contains(&Key::Check(name.clone(), check.time));
            if trial.container.ended.is_none() && !trial.checks.iter().any(again) {
                wish.entries.push(Entry::Container(Container { ended: Some(ended), ..trial.container.clone() }));
            }
        }
    }
    let made = made(&mut change, before, &[wish], Why::Undone, now)?;
    change.commit()?;
    Ok(made)
}

/// Since when a box was closed before the command that recorded a look at it, where that opened it again.
fn closed_before(change: &Change<'_>, look: &Key, name: &Name) -> Result<Option<Time>, StoreError> {
    let parts = change.typed_as(look)?.map(|typed| typed.parts).unwrap_or_default();
    Ok(parts.iter().find_map(|part| match part {
        Part::Entry { was: Some(was), .. } => match &**was {
            Entry::Container(was) if was.name == *name => was.ended,
            _ => None,
        },
        _ => None,
    }))
}

/// Gives a probe another name. Its readings stay its own, and so do the lines of its board, which carry the old name.
///
/// # Errors
/// [`ChangeError`].
pub fn name_probe(store: &mut Store, was: &Name, name: &Name, now: Time) -> Result<(), ChangeError> {
    let mut change = store.change()?;
    change.is_typed(now);
    let bench = change.bench()?;
    if !bench.probes.contains(was) {
        return Err(fault(format!("there is no probe '{was}' on this bench")));
    }
    if bench.probes.contains(name) {
        return Err(fault(format!("there is a probe '{name}' already: each has its own name")));
    }
    if let Some(other) = change.probe_of_line(name)?.filter(|other| other != was) {
        return Err(fault(format!("'{name}' is what the board of probe '{other}' calls it: another probe cannot have that name")));
    }
    change.name_probe(was, name)?;
    Ok(change.commit()?)
}

pub(super) fn fault(what: impl Into<String>) -> ChangeError {
    ChangeError::Faults(vec![Fault::new(&Origin::Typed, what)])
}
