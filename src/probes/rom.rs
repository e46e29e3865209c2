//! The numbers burnt into 1-Wire sensors, of which boards and the Linux kernel write the same one differently.

use super::crc8::maxim;
use crate::bench::Name;

/// Families of temperature sensors: DS18S20, DS1822, DS18B20, DS1825, DS28EA00 (Linux, drivers/w1/slaves/w1_therm.c).
pub(super) const FAMILIES: [u8; 5] = [0x10, 0x22, 0x28, 0x3B, 0x42];

/// The name that the Linux kernel gives a sensor (`28-3d7de20264ff`: family, then the serial number with its high byte first),
/// where `text` is its number as boards print it: all eight bytes in hexadecimal, in the order sent (family first, checksum last)
/// or the other way round, with or without `-`, `:` or blanks between, and the checksum right. Anything else is no such number.
#[must_use]
pub fn kernel_name(text: &str) -> Option<Name> {
    let sent = bytes(text)?;
    let mut reversed = sent;
    reversed.reverse();
    [sent, reversed].into_iter().find_map(|rom| {
        let [family, a, b, c, d, e, f, checksum] = rom;
        let is_one = FAMILIES.contains(&family) && maxim(&[family, a, b, c, d, e, f]) == checksum;
        is_one.then(|| Name::new(&format!("{family:02x}-{f:02x}{e:02x}{d:02x}{c:02x}{b:02x}{a:02x}")).ok())?
    })
}

/// Eight bytes written in hexadecimal.
fn bytes(text: &str) -> Option<[u8; 8]> {
    let separator = text.as_bytes().get(2).filter(|byte| b"-: ".contains(byte));
    let wanted = if separator.is_some() { 23 } else { 16 };
    if text.len() != wanted || !text.is_ascii() {
        return None;
    }
    let step = if separator.is_some() { 3 } else { 2 };
    let mut rom = [0; 8];
    for (place, byte) in rom.iter_mut().enumerate() {
        let digits = text.get(place * step..place * step + 2)?;
        if !digits.bytes().all(|digit| digit.is_ascii_hexdigit()) {
            return None;
        }
        if separator.is_some() && place < 7 && text.as_bytes().get(place * step + 2) != separator {
            return None;
        }
        *byte = u8::from_str_radix(digits, 16).ok()?;
    }
    Some(rom)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn kernel(text: &str) -> Option<String> {
        kernel_name(text).map(|name| name.to_string())
    }

    #[test]
    fn a_number_printed_by_a_board_is_the_kernels_however_it_is_written() {
        for text in [
            "28-FF-64-02-E2-7D-3D-B5",
            "28:ff:64:02:e2:7d:3d:b5",
            "28 FF 64 02 E2 7D 3D B5",
            "28FF6402E27D3DB5",
            "b53d7de20264ff28",
        ] {
            assert_eq!(kernel(text).as_deref(), Some("28-3d7de20264ff"), "{text}");
        }
        assert_eq!(kernel("28-E4-FA-2F-57-23-0B-AF").as_deref(), Some("28-0b23572ffae4"));
    }

    #[test]
    fn what_is_no_such_number_or_has_a_wrong_checksum_is_left_alone() {
        for text in [
            "28-FF-64-02-E2-7D-3D-B4",
            "28-FF-64-02-E2-7D-3D",
            "28-FF-64-02-E2-7D-3D-B5-00",
            "28-FF:64-02-E2-7D-3D-B5",
            "28-3d7de20264ff",
            // The checksum of Application Note 27's example is right, but its family is no thermometer's.
            "02-1C-B8-01-00-00-00-A2",
            "00-00-00-00-00-00-00-00",
            "größe größe größe größ",
            "mat",
            "",
        ] {
            assert_eq!(kernel(text), None, "{text}");
        }
    }
}
