//! The sketch for a MicroPython board: its arithmetic under a desk's own Python. The board's modules come in only when it runs there.

use std::process::Command;

use super::vectors::{firmware, result_of};

/// Answers of sensors (DS18B20 data sheet, table of temperatures and power-on value; a DS18S20; a wrong CRC; zeros) and what they mean.
const TRIED: &str = r#"
import main
assert main.crc8(b"123456789") == 0xA1
assert main.crc8(bytes.fromhex("021cb801000000")) == 0xA2
for rom, pad in [
    ("28ff6402e27d3db5", "d0074b467fff0c10f4"), ("28e4fa2f57230baf", "91014b467fff0c1070"), ("28e4fa2f57230baf", "a2004b467fff0c1074"),
    ("28e4fa2f57230baf", "08004b467fff0c10e2"), ("28e4fa2f57230baf", "00004b467fff0c10c8"), ("28e4fa2f57230baf", "f8ff4b467fff0c10c3"),
    ("28e4fa2f57230baf", "5eff4b467fff0c106a"), ("28e4fa2f57230baf", "6ffe4b467fff0c10e8"), ("28e4fa2f57230baf", "90fc4b467fff0c104f"),
    ("28e4fa2f57230baf", "50054b467fff0c101c"), ("100800000000005a", "aa00b4b9ffff0c1018"),
    ("28e4fa2f57230baf", "90015505 7f7e816627"), ("28e4fa2f57230baf", "000000000000000000"),
]:
    print(main.line_of(bytes.fromhex(rom), bytes.fromhex(pad)))
"#;

#[test]
fn its_arithmetic_agrees_with_the_data_sheets_and_with_the_reader() {
    let mut python = Command::new("python3");
    python.args(["-B", "-c", TRIED]).current_dir(firmware("micropython_board"));
    let output = python.output().unwrap_or_else(|error| panic!("python3: {error}; `tests/all` installs it"));
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    let printed = String::from_utf8(output.stdout).unwrap();
    let came: Vec<String> = printed.lines().map(result_of).collect();
    let other = "28-0b23572ffae4=";
    let mut expected = vec!["28-3d7de20264ff=1250000".to_owned()];
    expected.extend([250_625, 101_250, 5_000, 0, -5_000, -101_250, -250_625, -550_000].map(|raw| format!("{other}{raw}")));
    expected.extend([format!("{other}!850000"), "10-000000000008=!850000".to_owned(), format!("{other}!"), format!("{other}!")]);
    assert_eq!(came, expected);
}
