//! QR codes (ISO/IEC 18004), with error correction M: 15 in 100 of what a camera sees may be dirt.

use fast_qr::{ECL, QRBuilder, Version};

/// Clear modules on each side (ISO/IEC 18004, 5.3.8).
pub const QUIET_MODULES: usize = 4;
/// Modules across at least, as of version 3, so that a code of a given size is large enough beside its quiet zone.
const FEWEST_MODULES: usize = 29;

/// A code as squares of one unit each.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Code {
    /// Squares across and down, without the quiet zone.
    pub modules: usize,
    /// The dark ones as the path of an SVG figure that begins at the corner above on the left, without the quiet zone.
    pub path: String,
}

/// The code of a text; none where it is too long for any.
#[must_use]
pub fn code(text: &str) -> Option<Code> {
    let usual = QRBuilder::new(text).ecl(ECL::M).build().ok()?;
    let drawn =
        if usual.size < FEWEST_MODULES { QRBuilder::new(text).ecl(ECL::M).version(Version::V03).build().ok()? } else { usual };
    let mut path = String::new();
    for y in 0..drawn.size {
        let mut x = 0;
        while x < drawn.size {
            let run = drawn[y][x..].iter().take_while(|module| module.value()).count();
            if run > 0 {
                path += &format!("M{x} {y}h{run}v1h-{run}z");
            }
            x += run.max(1);
        }
    }
    Some(Code { modules: drawn.size, path })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_code_is_as_large_as_its_text_asks_for() {
        // ISO/IEC 18004, table 7: bytes that fit with correction M: version 3 42, version 4 62, version 11 251, version 40 2331.
        for (bytes, modules) in
            [(1, Some(29)), (42, Some(29)), (43, Some(33)), (62, Some(33)), (251, Some(61)), (2331, Some(177)), (2332, None)]
        {
            let text = format!("{:x>bytes$}", "");
            assert_eq!(code(&text).map(|code| code.modules), modules, "{bytes} bytes");
        }
    }
}
