//! What the writer knows of the sources, and has to put on record of them.

use std::collections::BTreeSet;

use super::Notice;
use super::origins::{Noteworthy, Origins};
use crate::bench::Name;
use crate::civil::{Time, time_from_micros};
use crate::diagnosis::SourceStatus;
use crate::probes::SourceState;
use crate::store::{KnownSource, Store, StoreError};

/// The sources of one logger, each by its place.
pub(super) struct Sources {
    names: Vec<String>,
    known: Vec<KnownSource>,
    origins: Origins,
    /// Of which there is something to put on record.
    changed: BTreeSet<usize>,
    /// Whether it is on record which are read now.
    are_on_record: bool,
    /// Of what is told once for each source: unreadable lines, a wrong clock, messages that a broker had kept.
    told: BTreeSet<(usize, Once)>,
}

/// Something that is told once for each source.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Once {
    Unread,
    ClockDiffers,
    Retained,
}

impl Sources {
    pub(super) fn new(store: &Store, names: Vec<String>) -> Result<Self, StoreError> {
        let before = store.known_sources()?;
        let of = |name: &String| {
            let known = before.iter().find(|known| known.name == *name).cloned();
            // How it stood with an earlier logger is not how it stands.
            KnownSource { name: name.clone(), state: None, ..known.unwrap_or_default() }
        };
        let known = names.iter().map(of).collect();
        let origins = Origins::new(names.len(), &store.probe_names()?);
        Ok(Self { names, known, origins, changed: BTreeSet::new(), are_on_record: false, told: BTreeSet::new() })
    }

    pub(super) fn name(&self, source: usize) -> String {
        self.names.get(source).cloned().unwrap_or_default()
    }

    /// Whether this is the first time that it is to be told of a source.
    pub(super) fn is_first(&mut self, source: usize, once: Once) -> bool {
        self.told.insert((source, once))
    }

    /// It stands otherwise with a source.
    pub(super) fn stands(&mut self, source: usize, time_us: i64, state: SourceState) -> Notice {
        let name = self.name(source);
        if let Some(known) = self.known.get_mut(source) {
            let is_open = matches!(state, SourceState::Listening | SourceState::SeekingSpeed);
            self.origins.is_open(source, is_open, known);
            known.state = Some(SourceStatus {
                source: name.clone(),
                state: state.word().to_owned(),
                words: state.to_string(),
                next: state.next(),
                since: time_from_micros(time_us).unwrap_or(Time::UNIX_EPOCH),
            });
            self.changed.insert(source);
        }
        Notice::State { source: name, state }
    }

    /// Under which name a reading of `probe` is kept, and what is to be told about that.
    pub(super) fn keep_as(&mut self, source: usize, probe: Name, time_us: i64) -> (Name, Option<Notice>) {
        let Some(known) = self.known.get_mut(source) else { return (probe, None) };
        let (kept_as, noteworthy, changed) = self.origins.of(source, known, probe.clone(), time_us);
        if changed {
            self.changed.insert(source);
        }
        let notice = noteworthy.map(|noteworthy| match noteworthy {
            Noteworthy::NewAtSource { others } => Notice::NewAtSource { source: self.name(source), probe: kept_as.clone(), others },
            Noteworthy::TwoOfOneName { other } => {
                Notice::TwoOfOneName { probe, sources: [self.name(other), self.name(source)], kept_as: kept_as.clone() }
            }
        });
        (kept_as, notice)
    }

    pub(super) fn speed_found(&mut self, source: usize, baud: u32) -> Notice {
        if let Some(known) = self.known.get_mut(source) {
            known.baud = Some(baud);
            self.changed.insert(source);
        }
        Notice::SpeedFound { source: self.name(source), baud }
    }

    /// Which device it is; told where it was another one.
    pub(super) fn device(&mut self, source: usize, device: String) -> Option<Notice> {
        let known = self.known.get_mut(source)?;
        let before = known.device.replace(device.clone());
        if before.as_ref() == Some(&device) {
            return None;
        }
        self.changed.insert(source);
        before.map(|from| Notice::DeviceChanged { source: self.name(source), from, to: device })
    }

    /// Whether there is something to put on record.
    pub(super) fn is_due(&self) -> bool {
        !self.are_on_record || !self.changed.is_empty()
    }

    pub(super) fn store(&mut self, store: &mut Store) -> Result<(), StoreError> {
        let changed: Vec<&KnownSource> = match self.are_on_record {
            true => self.changed.iter().filter_map(|source| self.known.get(*source)).collect(),
            // All of them: one that was never read before is not there yet.
            false => self.known.iter().collect(),
        };
        store.keep_sources(&changed, &self.names)?;
        self.changed.clear();
        self.are_on_record = true;
        Ok(())
    }
}
