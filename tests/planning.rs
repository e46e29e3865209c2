//! Plans on made-up benches whose truth is known; measured on many of them by `tests/simulator/planning.rs`.

use crate::simulator::proof::plans::{Kept, mean_over_benches, plans};
use crate::simulator::world::Mix;

/// Ten benches: enough plants come as often as was said, within four standard errors over benches; and not always, which
/// would be seeds wasted.
#[test]
fn enough_plants_come_about_as_often_as_was_said() {
    let kept: Vec<Kept> = (1..=10).flat_map(|seed| plans(seed, Mix::Usual, 0.8, &[21, 40])).collect();
    assert!(kept.len() > 30, "only {} plans", kept.len());
    let (stated, _) = mean_over_benches(&kept, |one| one.stated).unwrap();
    let (reached, error) = mean_over_benches(&kept, |one| one.reached).unwrap();
    assert!((0.8..0.85).contains(&stated), "stated {stated}");
    assert!((reached - stated).abs() < 4.0 * error.max(0.01), "reached {reached} ± {error}, stated {stated}");
    assert!(reached < 0.98, "{reached}");
}
