//! Where a probe was put, put right.

use super::amended::OrNone;
use super::correct::{Pair, on_record, said};
use super::{fault, siting};
use crate::bench::rules::{Entry, Fault, Key};
use crate::bench::{Bench, Calibration, Name, Siting};
use crate::changes::TypedDegrees;
use crate::civil::Time;

/// Where a probe was put, put right
#[derive(Debug, clap::Args)]
pub(in crate::cli) struct Placed {
    /// The probe
    #[arg(value_parser = Name::new)]
    probe: Name,
    /// Which placing or calibration: the one since this time [default: the last]
    #[arg(long, value_name = "TIME")]
    pub(super) since: Option<String>,
    /// Where it stands
    #[arg(long, value_parser = Name::new)]
    spot: Option<Name>,
    /// Calibrated: degrees to add to what it shows, or none: not calibrated
    #[arg(long, value_name = "DEGREES", allow_negative_numbers = true, value_parser = offset)]
    offset: Option<OrNone<TypedDegrees>>,
    /// Calibrated: the factor on what it shows
    #[arg(long, value_name = "FACTOR")]
    gain: Option<f64>,
    /// Where it is: in a box, beside the boxes, or only in the same room
    #[arg(long, value_name = "in|beside|room", value_parser = siting)]
    siting: Option<Siting>,
    /// From when on it really stood there
    #[arg(long, value_name = "TIME")]
    pub(super) time: Option<String>,
}

fn offset(text: &str) -> Result<OrNone<TypedDegrees>, String> {
    OrNone::read(text, TypedDegrees::read)
}

impl Placed {
    pub(super) fn right(self, bench: &Bench, since: Option<Time>, to: Option<Time>) -> Result<Pair, Vec<Fault>> {
        let probe = &self.probe;
        let last = bench.placements.iter().rev().find(|there| there.probe == *probe).map(|there| there.since);
        let none = || fault(format!("probe '{probe}' was never placed: there is nothing to correct"));
        let since = since.or(last).ok_or_else(none)?;
        let key = Key::Placement(probe.clone(), since);
        let was = on_record(bench, &key, || format!("probe '{probe}' was not placed on {}", said(since, bench)))?;
        let Entry::Placement(mut placement) = was.clone() else { return Err(fault("no placing is on record")) };
        placement.since = to.unwrap_or(since);
        placement.spot = self.spot.unwrap_or(placement.spot);
        placement.siting = self.siting.unwrap_or(placement.siting);
        let there = placement.calibration.unwrap_or(Calibration { offset_c: 0.0, gain: 1.0 });
        let calibrated = |offset_c, gain| Some(Calibration { offset_c, gain });
        placement.calibration = match (self.offset, self.gain) {
            (None, None) => placement.calibration,
            (Some(OrNone(None)), _) => None,
            (Some(OrNone(Some(offset))), gain) => {
                calibrated(offset.difference(bench.units.unwrap_or_default()), gain.unwrap_or(there.gain))
            }
            (None, Some(gain)) => calibrated(there.offset_c, gain),
        };
        Ok((was, Entry::Placement(placement)))
    }
}
