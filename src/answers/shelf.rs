//! Fits made before, taken again as long as nothing that goes into them has changed.

use std::fmt::Write as _;
use std::hash::Hasher;

use siphasher::sip128::{Hasher128, SipHasher13};

use super::Known;
use super::fit::fit_species;
use crate::bench::{Event, Name, Trial};
use crate::exchange::{FORM, fit_bytes, fit_of};
use crate::germination::{Fit, Question};
use crate::store::{KeptFit, Store};

/// Where fits are looked for and laid down.
#[derive(Debug, Default)]
pub struct Shelf<'a> {
    store: Option<&'a Store>,
    fresh: Vec<KeptFit>,
}

impl<'a> Shelf<'a> {
    /// Fits kept in a bench file.
    #[must_use]
    pub fn of(store: &'a Store) -> Self {
        Self { store: Some(store), fresh: Vec::new() }
    }

    /// Nothing is kept: every fit is made anew.
    #[must_use]
    pub fn none() -> Self {
        Self::default()
    }

    /// The fits that were made anew, to be kept.
    #[must_use]
    pub fn into_fresh(self) -> Vec<KeptFit> {
        self.fresh
    }

    /// One species' fit from its trials, and the digest of what went into it.
    pub(super) fn fit(
        &mut self,
        known: &Known,
        species: &Name,
        event: Event,
        trials: &[&Trial],
        question: Question,
    ) -> Option<(Fit, [u8; 16])> {
        let key = digest(known, species, event, trials, &question);
        // What cannot be read is made anew, as if nothing were kept.
        let kept = self.store.and_then(|store| store.kept_fit(&key).ok().flatten());
        if let Some(fit) = kept.and_then(|bytes| fit_of(&bytes, species, event, question)) {
            return Some((fit, key));
        }
        let fit = fit_species(known, species, event, trials, question)?;
        if self.store.is_some() {
            self.fresh.extend(fit_bytes(&fit).map(|body| KeptFit { key, species: species.clone(), event, body }));
        }
        Some((fit, key))
    }
}

/// A digest of all that a fit is made from: its question, and each trial with its looks, where it stood, and how warm that was.
fn digest(known: &Known, species: &Name, event: Event, trials: &[&Trial], question: &Question) -> [u8; 16] {
    let mut digest = Digest(SipHasher13::new());
    // Writing to a digest cannot fail. The words are those that the program itself uses, every field of them.
    let _ = write!(digest, "{} {FORM} {species:?} {event:?} {question:?}", env!("CARGO_PKG_VERSION"));
    for trial in trials {
        let _ = write!(digest, "{trial:?}{:?}", known.counts_from(trial));
        for interval in known.intervals_of(trial) {
            let stretch = known.stretch_at(&interval);
            let _ = write!(digest, "{interval:?}{:?}", known.level_of(&interval));
            for number in [stretch.unknown_days, stretch.guess_below_c, stretch.guess_above_c] {
                digest.0.write_u64(number.to_bits());
            }
            for column in stretch.known.columns().into_iter().chain(stretch.guessed.columns()) {
                digest.0.write_usize(column.len());
                column.iter().for_each(|number| digest.0.write_u64(number.to_bits()));
            }
        }
    }
    digest.0.finish128().as_bytes()
}

struct Digest(SipHasher13);

impl std::fmt::Write for Digest {
    fn write_str(&mut self, text: &str) -> std::fmt::Result {
        self.0.write(text.as_bytes());
        Ok(())
    }
}
