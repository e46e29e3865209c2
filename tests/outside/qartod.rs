//! Flags of made-up series as ioos_qc, the reference code of the QARTOD manual, gives them (`tests/reference/qartod.py`).

use serde_json::Value;

use super::reference::expected;
use seedclock::quality::{FlatLimits, RateLimits, SpikeLimits, flat_line, gross_range, lone_spike, rate_of_change, spike};
use seedclock::units::Bounds;

const SECOND_US: i64 = 1_000_000;

fn number(kept: &Value) -> f64 {
    kept.as_f64().unwrap_or_else(|| panic!("no number: {kept}"))
}

fn bounds(kept: &Value) -> Bounds {
    Bounds { what: "a value", low: number(&kept[0]), high: number(&kept[1]), unit: "" }
}

#[test]
fn made_up_series_get_the_flags_of_the_reference_code() {
    let kept = expected("qartod.json");
    let limits = &kept["limits"];
    let (fail, suspect) = (bounds(&limits["gross"]["fail"]), bounds(&limits["gross"]["suspect"]));
    let spikes = SpikeLimits { suspect_c: number(&limits["spike"]["suspect"]), fail_c: number(&limits["spike"]["fail"]) };
    let rates = RateLimits {
        suspect_c_per_minute: number(&limits["rate"]["suspect_per_minute"]),
        fail_c_per_minute: number(&limits["rate"]["fail_per_minute"]),
        least_span_us: 0,
    };
    let flat = FlatLimits {
        tolerance_c: number(&limits["flat"]["tolerance"]),
        suspect_us: number(&limits["flat"]["suspect_s"]) as i64 * SECOND_US,
        fail_us: Some(number(&limits["flat"]["fail_s"]) as i64 * SECOND_US),
    };
    let spacing_us = number(&limits["spacing_s"]) as i64 * SECOND_US;
    let all = kept["series"].as_array().unwrap();
    assert_eq!(all.len(), 24);
    for (which, series) in all.iter().enumerate() {
        let values: Vec<Option<f64>> = series["values"].as_array().unwrap().iter().map(Value::as_f64).collect();
        let times: Vec<i64> = series["seconds"].as_array().unwrap().iter().map(|at| number(at) as i64 * SECOND_US).collect();
        let whole: Vec<f64> = values.iter().map(|value| value.unwrap_or(20.0)).collect();
        let at = |n: usize| values.get(n).copied().flatten();
        let before = |n: usize| n.checked_sub(1).and_then(at);
        let holds = |test: &str, found: Vec<u8>| {
            let found: String = found.into_iter().map(|flag| flag.to_string()).collect();
            assert_eq!(found, series[test].as_str().unwrap(), "{test}, series {which}");
        };
        let each = |flag: &dyn Fn(usize) -> u8| (0..values.len()).map(flag).collect::<Vec<u8>>();
        holds("gross", each(&|n| gross_range(at(n), &fail, &suspect).number()));
        holds("spike", each(&|n| spike(before(n), at(n), at(n + 1), spikes).number()));
        holds("lone_spike", each(&|n| lone_spike(before(n), at(n), at(n + 1), spikes).number()));
        let earlier = |n: usize| n.checked_sub(1).map(|before| (times[before], whole[before]));
        holds("rate", each(&|n| rate_of_change(earlier(n), (times[n], whole[n]), &rates).number()));
        let even: Vec<(i64, f64)> = whole.iter().enumerate().map(|(n, value)| (n as i64 * spacing_us, *value)).collect();
        holds("flat", flat_line(&even, &flat).into_iter().map(|flag| flag.number()).collect());
    }
}
