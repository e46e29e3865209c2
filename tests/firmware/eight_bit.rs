//! The sketch for an 8-bit board: its arithmetic on this machine, and all of it on an emulated board whose lines go into the real
//! program.

use std::io::{BufRead, BufReader};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};

use seedclock::probes::Player;

use super::super::devices::harness::{Desk, Logging};
use super::vectors::{firmware, result_of};

/// What its rehearsal prints: DS18B20 data sheet, table of temperatures and power-on value (fourth of the made-up numbers); a DS18S20's
/// half degrees; an answer with a wrong CRC, one of zeros alone.
const REHEARSED: [&str; 9] = [
    "28-3d7de20264ff,25.0625*83",
    "28-0b23572ffae4,-10.1250*96",
    "28-000000000001,0.0000*A0",
    "28-000000000002,-0.5000*30",
    "28-000000000003,-55.0000*A8",
    "28-000000000004,85.0000*9B",
    "28-000000000005,nan*09",
    "28-000000000006,nan*47",
    "10-000000000008,85.0000*17",
];

fn run(command: &mut Command) -> String {
    let tool = command.get_program().to_string_lossy().into_owned();
    let output = command.output().unwrap_or_else(|error| panic!("{tool}: {error}; `tests/all` installs it"));
    assert!(output.status.success(), "{tool}: {}", String::from_utf8_lossy(&output.stderr));
    String::from_utf8(output.stdout).unwrap()
}

fn sketch() -> PathBuf {
    firmware("eight_bit_board/eight_bit_board.ino")
}

fn compile(options: &[&str], to: &Path) {
    let board = ["-mmcu=atmega328p", "-DF_CPU=16000000UL", "-Os", "-Wall", "-Wextra", "-Werror"];
    run(Command::new("avr-gcc").args(board).args(options).arg(sketch()).arg("-o").arg(to));
}

#[test]
fn its_arithmetic_agrees_with_the_data_sheets_and_with_the_reader() {
    let folder = tempfile::tempdir().unwrap();
    let program = folder.path().join("tried");
    let source = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/firmware/try_reading.c");
    let header = firmware("eight_bit_board");
    run(Command::new("cc").args(["-Wall", "-Wextra", "-Werror", "-I"]).arg(header).arg(source).arg("-o").arg(&program));
    let printed = run(&mut Command::new(&program));
    let lines: Vec<&str> = printed.lines().collect();
    assert_eq!(lines[0], "A1 A2", "the check value of the CRC, and example 2 of Maxim application note 27");
    // All that two bytes can say, each with its sign and four digits, is read back as it was meant.
    assert_eq!(lines.len(), 1 + 4096);
    for (line, raw) in lines[1..].iter().zip((-32768i64..32768).step_by(16)) {
        let raw_e4 = raw * 625;
        let expected = if raw_e4.abs() <= 10_000_000 { format!("28-0b23572ffae4={raw_e4}") } else { "unread".to_owned() };
        let came = result_of(line);
        // Among them are 85 and the codes that drivers print.
        assert_eq!(came.replace('!', ""), expected, "{line}");
    }
}

#[test]
fn it_compiles_for_the_board_as_c_and_as_a_boards_own_editor_takes_it() {
    let folder = tempfile::tempdir().unwrap();
    compile(&["-x", "c"], &folder.path().join("board.elf"));
    compile(&["-x", "c++", "-DARDUINO=10800", "-c"], &folder.path().join("sketch.o"));
}

/// An emulated board, running.
struct Board(Child);

impl Drop for Board {
    fn drop(&mut self) {
        let _ = self.0.kill();
        let _ = self.0.wait();
    }
}

#[test]
fn an_emulated_boards_readings_arrive() {
    let folder = tempfile::tempdir().unwrap();
    let program = folder.path().join("board.elf");
    compile(&["-x", "c", "-DREHEARSAL"], &program);
    let mut emulator = Command::new("qemu-system-avr");
    emulator.args(["-machine", "uno", "-display", "none", "-monitor", "none", "-serial", "pty", "-bios"]).arg(&program);
    let mut child =
        emulator.stdout(Stdio::piped()).spawn().unwrap_or_else(|error| panic!("qemu-system-avr: {error}; `tests/all` installs it"));
    let printed = child.stdout.take().unwrap();
    let _board = Board(child);
    let port = BufReader::new(printed)
        .lines()
        .map_while(Result::ok)
        .find_map(|line| line.split_whitespace().find(|word| word.starts_with("/dev/pts/")).map(PathBuf::from))
        .expect("the emulator says which port it made");
    let desk = Desk::new();
    let mut logging = Logging::start(&desk, &[&port], &["--commit-every", "0.1s"]);
    let all_came = |desk: &Desk| {
        desk.bench().exists()
            && REHEARSED.iter().all(|line| {
                let probe = line.split(',').next().unwrap();
                desk.values().iter().any(|value| value.starts_with(probe))
            })
    };
    logging.wait_until("a line of each probe", |_| all_came(&desk));
    let (status, said) = logging.stop("TERM");
    assert_eq!(status.code(), Some(0), "{said}");
    let values = desk.values();
    for line in REHEARSED {
        let (probe, value) = line.split_once(',').unwrap();
        let value = value.split('*').next().unwrap();
        let expected = value.parse::<f64>().map_or_else(
            |_| format!("{probe},"),
            |celsius| if celsius.is_nan() { format!("{probe},") } else { format!("{probe},{celsius}") },
        );
        let of_probe: Vec<&String> = values.iter().filter(|value| value.starts_with(probe)).collect();
        assert!(of_probe.iter().all(|value| **value == expected), "{line}: {of_probe:?}");
    }
    assert!(!said.contains("could not be read"), "{said}");
}

/// The same lines without an emulator: what the program makes of them is what the board says.
#[test]
fn what_it_rehearses_is_read() {
    let desk = Desk::new();
    let mut board = Player::new().unwrap();
    let port = desk.plug("board", board.path());
    let mut logging = Logging::start(&desk, &[&port], &[]);
    logging.wait_for_words("listening", 1);
    board.print(format!("\n{}\r\n", REHEARSED.join("\r\n")).as_bytes()).unwrap();
    let (status, said) = logging.stop("TERM");
    assert_eq!(status.code(), Some(0), "{said}");
    assert_eq!(desk.readings().len(), REHEARSED.len(), "{said}");
}
