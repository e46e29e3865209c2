//! Values that are no temperatures, from the board to the flags.

use seedclock::bench::Name;
use seedclock::probes::Player;
use seedclock::quality::{Flag, Thresholds, flags};
use seedclock::store::Store;

use super::harness::{Desk, Logging};

/// What a board prints instead of a temperature, and the flag it gets; none: the line is kept as unread.
const SPECIAL: [(&str, Option<u8>); 18] = [
    ("nan", Some(9)),
    ("NaN", Some(9)),
    ("null", Some(9)),
    ("ERR", Some(9)),
    ("inf", Some(9)),
    ("-inf", Some(9)),
    ("", Some(9)),
    ("-127", Some(4)),
    ("-127.00", Some(4)),
    ("-196.6", Some(4)),
    ("85", Some(4)),
    ("85.000", Some(4)),
    ("0.000", Some(4)),
    ("127.94", Some(4)),
    ("-999", Some(4)),
    ("21,5", None),
    ("1e400", None),
    ("2x.5", None),
];

#[test]
fn fault_25_what_is_no_temperature_is_failed_or_missing_from_board_to_flag_and_its_neighbours_are_kept() {
    let desk = Desk::new();
    let mut board = Player::new().unwrap();
    let port = desk.plug("board", board.path());
    let mut logging = Logging::start(&desk, &[&port], &["--commit-every", "0.1s"]);
    logging.wait_for_words("listening", 1);
    let lines = |shown: &dyn Fn(&str) -> String| -> String {
        SPECIAL.iter().enumerate().map(|(n, (value, _))| format!("q{n}x,{}\n", shown(value))).collect()
    };
    board.print(format!("\n{}", lines(&|_| "21.5".to_owned())).as_bytes()).unwrap();
    board.print(lines(&|value| value.to_owned()).as_bytes()).unwrap();
    board.print(lines(&|_| "21.5625".to_owned()).as_bytes()).unwrap();
    let (status, said) = {
        let unread = SPECIAL.iter().filter(|(_, flag)| flag.is_none()).count();
        logging.wait_until("all readings", |_| desk.bench().exists() && desk.readings().len() == 3 * SPECIAL.len() - unread);
        logging.stop("INT")
    };
    assert_eq!(status.code(), Some(0), "{said}");
    let store = Store::open_read_only(&desk.bench()).unwrap();
    for (n, (value, expected)) in SPECIAL.iter().enumerate() {
        let readings = store.readings(&Name::new(&format!("q{n}x")).unwrap(), i64::MIN, i64::MAX).unwrap();
        let found: Vec<u8> = flags(&readings, &Thresholds::default()).into_iter().map(Flag::number).collect();
        let wanted = match expected {
            Some(flag) => vec![1, *flag, 1],
            None => vec![1, 1],
        };
        assert_eq!(found, wanted, "{value:?}");
    }
}
