//! The page beside the logger: it goes with it, and whatever is sent to it does nothing to logging.

use std::io::{Read as _, Write as _};
use std::net::{SocketAddr, TcpStream};
use std::time::Duration;

use seedclock::page::{Needed, routes};
use seedclock::probes::Player;

use super::harness::{Desk, Logging};

/// An answer is waited for no longer.
const PATIENCE: Duration = Duration::from_secs(60);
/// Lines that the board prints while the page is molested.
const LINES: usize = 200;

/// Where the logger's page listens.
fn address(logging: &mut Logging) -> SocketAddr {
    logging.wait_for_words("the page is at http://", 1);
    let said = logging.said();
    let (_, after) = said.split_once("the page is at http://").unwrap();
    after.split(';').next().unwrap().parse().unwrap()
}

/// Sends bytes and reads what comes back until the connection ends or nothing more comes.
fn answer(address: SocketAddr, bytes: &[u8]) -> String {
    let mut stream = TcpStream::connect(address).unwrap();
    stream.set_read_timeout(Some(PATIENCE)).unwrap();
    // One that is refused may be cut off in the middle of what it sends.
    let _ = stream.write_all(bytes);
    let mut read = Vec::new();
    let _ = stream.read_to_end(&mut read);
    String::from_utf8_lossy(&read).into_owned()
}

fn status(answer: &str) -> u16 {
    answer.split(' ').nth(1).and_then(|status| status.parse().ok()).unwrap_or_else(|| panic!("no answer: {answer}"))
}

fn request(method: &str, path: &str, headers: &[(&str, &str)], body: &str) -> Vec<u8> {
    let headers: String = headers.iter().map(|(name, value)| format!("{name}: {value}\r\n")).collect();
    let length = body.len();
    format!("{method} {path} HTTP/1.1\r\n{headers}connection: close\r\ncontent-length: {length}\r\n\r\n{body}").into_bytes()
}

#[test]
fn fault_43_and_44_whatever_is_sent_to_the_page_logging_goes_on_and_the_page_ends_with_it() {
    let desk = Desk::new();
    let mut board = Player::new().unwrap();
    let port = desk.plug("board", board.path());
    let options = ["--baud", "9600", "--commit-every", "0.1s", "--page", "127.0.0.1:0", "--page-name", "bench.lan"];
    let mut logging = Logging::start(&desk, &[&port], &options);
    logging.wait_for_words("listening", 1);
    let address = address(&mut logging);
    let here = address.to_string();
    let lan = format!("bench.lan:{}", address.port());
    let printing = std::thread::spawn(move || {
        board.print(b"\n").unwrap();
        for line in 0..LINES {
            board.print(format!("p1,{}.25\n", 10 + line % 20).as_bytes()).unwrap();
            std::thread::yield_now();
        }
        board
    });
    let home: &[(&str, &str)] = &[("host", &here)];
    assert_eq!(status(&answer(address, &request("GET", "/", home, ""))), 200);

    // Half requests that never end hold their places no longer than they may.
    let slow: Vec<TcpStream> = (0..40)
        .map(|_| {
            let mut stream = TcpStream::connect(address).unwrap();
            stream.write_all(b"GET / HTTP/1.1\r\nhost: ").unwrap();
            stream
        })
        .collect();
    for route in routes() {
        let path = route.path.replace("{version}", "1").replace(['{', '}'], "");
        // Names that lead here from elsewhere, and pages of others.
        let foreign = answer(address, &request(route.method, &path, &[("host", "evil.example")], "{}"));
        assert_eq!(status(&foreign), 421, "{} {path}", route.method);
        if route.method == "POST" {
            for origin in ["http://evil.example", "null"] {
                let headers =
                    [("host", here.as_str()), ("origin", origin), ("x-seedclock", "1"), ("content-type", "application/json")];
                assert_eq!(status(&answer(address, &request("POST", &path, &headers, "{}"))), 403, "{path} {origin}");
            }
            let origin = format!("http://{here}");
            let headers =
                [("host", here.as_str()), ("origin", &origin), ("x-seedclock", "1"), ("content-type", "application/json")];
            for body in ["", "{", "[]", "null", "{\"looks\":7}", &"[".repeat(60_000)] {
                let answered = status(&answer(address, &request("POST", &path, &headers, body)));
                assert!((400..500).contains(&answered), "{path} {} bytes: {answered}", body.len());
            }
            let most = format!("{{\"code\":\"{}\"}}", "x".repeat(70_000_000));
            let answered = answer(address, &request("POST", &path, &headers, &most));
            assert!(answered.is_empty() || (400..500).contains(&status(&answered)), "{path}, oversized: {answered}");
        }
        if route.needed != Needed::Nothing {
            let stranger = answer(address, &request(route.method, &path, &[("host", &lan)], ""));
            assert_eq!(status(&stranger), 403, "{} {path} for a stranger", route.method);
        }
    }
    // A key that is none, a thousand times: never let in, and soon made to wait.
    let origin = format!("http://{lan}");
    let mut refused = std::collections::BTreeMap::<u16, usize>::new();
    for nth in 0..500 {
        let cookie = format!("seedclock={nth:064x}");
        let by_cookie = answer(address, &request("GET", "/", &[("host", &lan), ("cookie", &cookie)], ""));
        let headers = [("host", lan.as_str()), ("origin", &origin), ("x-seedclock", "1"), ("content-type", "application/json")];
        let by_code = answer(address, &request("POST", "/do/pair", &headers, &format!("{{\"code\":\"{nth:010}\"}}")));
        for answered in [status(&by_cookie), status(&by_code)] {
            *refused.entry(answered).or_default() += 1;
        }
    }
    assert!(refused.keys().all(|status| [403, 422, 429].contains(status)) && refused[&429] > 900, "{refused:?}");
    for garbage in [&b"\x16\x03\x01\x02\x00"[..], b"GET\r\n\r\n", b"POST / HTTP/9.9\r\n\r\n", &[b'A'; 100_000]] {
        let answered = answer(address, garbage);
        assert!(answered.is_empty() || answered.starts_with("HTTP/1.1 4"), "{answered}");
    }
    drop(slow);
    assert_eq!(status(&answer(address, &request("GET", "/", home, ""))), 200);
    let board = printing.join().unwrap();
    logging.wait_until("every line", |_| desk.readings().len() == LINES);
    drop(board);
    let (status, said) = logging.stop("TERM");
    assert_eq!(status.code(), Some(0), "{said}");
    assert!(!said.contains("the page ended"), "{said}");
    assert!(TcpStream::connect(address).is_err(), "the page ends with the logger");
}

#[test]
fn the_page_ends_with_a_logger_that_is_killed() {
    let desk = Desk::new();
    let board = Player::new().unwrap();
    let port = desk.plug("board", board.path());
    let mut logging = Logging::start(&desk, &[&port], &["--page", "127.0.0.1:0"]);
    let address = address(&mut logging);
    assert!(TcpStream::connect(address).is_ok());
    let _ = logging.stop("KILL");
    let begun = std::time::Instant::now();
    while TcpStream::connect(address).is_ok() {
        assert!(begun.elapsed() < PATIENCE, "the page goes on without its logger");
        std::thread::yield_now();
    }
}
