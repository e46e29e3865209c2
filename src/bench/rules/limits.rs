//! Rules for the limits of single probes.

use super::{Admission, Entry, Key, Origin, differences, text};
use crate::bench::ProbeLimits;

impl Admission {
    pub(super) fn limits(&mut self, origin: Origin, limits: ProbeLimits) {
        let before = self.faults.len();
        let of = format!("probe '{}'", limits.probe);
        self.is_known_probe(&origin, &limits.probe);
        for rule in limits.broken_rules() {
            self.fault(&origin, format!("{of}: {rule}"));
        }
        if self.faults.len() > before {
            return;
        }
        match self.admitted.bench.limits.get(&limits.probe) {
            Some(there) if *there == limits => return self.is_repeated(origin, Key::Limits(limits.probe)),
            Some(there) => {
                let pairs: Vec<_> = ProbeLimits::COLUMNS
                    .into_iter()
                    .zip(there.values().into_iter().zip(limits.values()))
                    .map(|(column, (there, here))| (column, text(there), text(here)))
                    .collect();
                let (what, differing) = (format!("the limits of {of} are known already"), differences(&pairs));
                if !self.replaces(&origin, Entry::Limits(limits.clone()), &what, &differing) {
                    return;
                }
            }
            None => self.is_new(origin, Entry::Limits(limits.clone())),
        }
        self.admitted.bench.limits.insert(limits.probe.clone(), limits);
    }
}
