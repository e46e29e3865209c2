//! Values that general-purpose libraries computed, as kept in `tests/reference/expected`.

use std::path::PathBuf;

use serde_json::Value;

/// A value and how far a recomputation may differ.
#[derive(Debug, Clone, Copy)]
pub(super) struct Reference {
    pub(super) value: f64,
    pub(super) tolerance: f64,
}

impl Reference {
    pub(super) fn of(kept: &Value) -> Self {
        let number = |key: &str| kept[key].as_f64().unwrap_or_else(|| panic!("no {key} in {kept}"));
        Self { value: number("value"), tolerance: number("tolerance") }
    }

    pub(super) fn holds(self, what: &str, found: f64) {
        let Self { value, tolerance } = self;
        assert!((found - value).abs() <= tolerance, "{what}: {found}, expected {value} within {tolerance}");
    }
}

/// A file of expected values.
pub(super) fn expected(file: &str) -> Value {
    let path = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("tests/reference/expected").join(file);
    serde_json::from_str(&std::fs::read_to_string(&path).unwrap_or_else(|error| panic!("{path:?}: {error}"))).unwrap()
}
