//! What is on record after a week, held against what was printed.

use std::collections::BTreeMap;

use super::{STEP_US, Week, World, place_of, probe_number};
use crate::bench::Name;
use crate::civil::time_from_micros;

impl World {
    /// Ends, and holds what is on record against what was printed.
    pub(super) fn judge(mut self, seed: u64) -> Week {
        self.heal();
        self.rig.finish();
        let mut found: BTreeMap<usize, Option<i64>> = BTreeMap::new();
        let mut latest: BTreeMap<(usize, u32), (i64, usize)> = BTreeMap::new();
        let fail = |what: String| -> ! { panic!("seed {seed}: {what}") };
        let mut take = |probe: usize, raw: i64, dated: Option<i64>| {
            let place = place_of(raw);
            let Some(sent) = self.sent.get(place).filter(|sent| sent.probe == probe) else {
                fail(format!("p{probe} never printed {raw}"));
            };
            if found.insert(place, dated).is_some() {
                fail(format!("{raw} of p{probe} is on record twice"));
            }
            sent
        };
        for (probe, rows) in self.rig.dated() {
            let mut rows_by_place: Vec<(usize, i64)> = Vec::new();
            for (us, raw) in rows {
                let sent = take(probe_number(&probe), raw, Some(us));
                let off_us = (us - sent.at_us).abs();
                if off_us > sent.off_us + STEP_US {
                    let said = time_from_micros(us).unwrap();
                    fail(format!("{raw} of {probe} is on record at {said}, off by {off_us} µs; at most {}", sent.off_us));
                }
                self.week.worst_us = self.week.worst_us.max(off_us.saturating_sub(sent.off_us));
                rows_by_place.push((place_of(raw), us));
            }
            // In the order they were printed in, as long as the time they go by did not go back.
            rows_by_place.sort_unstable();
            for (place, us) in rows_by_place {
                let era = (probe_number(&probe), self.sent[place].era);
                if let Some((before_us, before)) = latest.insert(era, (us, place))
                    && before_us >= us
                {
                    fail(format!("{} of {probe} stands after {}, which was printed later", before + 1, place + 1));
                }
            }
        }
        let undated = self.rig.store().undated_rows();
        let mut order: BTreeMap<(i64, String), i64> = BTreeMap::new();
        for (start, probe, _, raw) in &undated {
            take(probe_number(&Name::new(probe).unwrap()), *raw, None);
            if order.insert((*start, probe.clone()), *raw).is_some_and(|before| before >= *raw) {
                fail(format!("undated: {raw} of {probe} is out of order"));
            }
        }
        for place in 0..self.sent.len() {
            match (found.contains_key(&place), self.lost.contains(&place)) {
                (true, false) | (false, true) => {}
                (true, true) => fail(format!("{} was counted as lost, and is on record", place + 1)),
                (false, false) => fail(format!("{} of p{} is gone", place + 1, self.sent[place].probe)),
            }
        }
        let Week { dropped, lost_by_kill, .. } = self.week;
        assert_eq!(self.lost.len() as u64, dropped + lost_by_kill as u64, "seed {seed}");
        self.week.sent = self.sent.len();
        self.week.undated = undated.len();
        self.week.dated = found.len() - undated.len();
        self.week
    }
}
