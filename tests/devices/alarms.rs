//! Alarms through the built program: a board on a mat that becomes hot, a command that is to tell of it, a mail server.

use std::io::{BufRead as _, BufReader, Write as _};
use std::net::TcpListener;
use std::path::Path;
use std::process::Output;

use seedclock::probes::Player;
use serde_json::Value;

use super::harness::{Desk, Logging, program};
use crate::whole_job::{Shape, written};

/// Lettuce on a mat with a probe.
fn desk() -> Desk {
    let desk = Desk::new();
    says(&desk, &["sow", "C1", "--species", "lettuce", "--seeds", "20", "--spot", "mat"]);
    desk
}

/// Says that p1 has stood on the mat for two hours.
fn place(desk: &Desk) {
    let then = chrono::DateTime::<chrono::Utc>::from(std::time::SystemTime::now() - std::time::Duration::from_secs(7200));
    says(desk, &["probe", "place", "p1", "mat", "--since", &then.to_rfc3339()]);
}

fn run(desk: &Desk, arguments: &[&str]) -> Output {
    program(&desk.bench()).args(arguments).output().unwrap()
}

fn says(desk: &Desk, arguments: &[&str]) -> String {
    let done = run(desk, arguments);
    assert!(done.status.success(), "{arguments:?}: {}", String::from_utf8_lossy(&done.stderr));
    String::from_utf8(done.stdout).unwrap()
}

/// What a board prints that has gathered readings of 50 minutes: warm, then `celsius`.
fn gathered(celsius: f64) -> String {
    let at = |minute: i64| format!("{{\"t\":-{},\"v\":{}}}", minute * 60, if minute > 45 { 22.0 } else { celsius });
    let rest: Vec<String> = (0..50).rev().map(at).collect();
    format!("[{{\"bn\":\"p1\",\"bu\":\"Cel\",\"t\":-3000,\"v\":22.0}},{}]\n", rest.join(","))
}

/// Has the logger read what the board gathered, and stops it.
fn log_what_was_gathered(desk: &Desk, celsius: f64) {
    let mut board = Player::new().unwrap();
    let mut logging = Logging::start(desk, &[board.path()], &["--baud", "9600"]);
    logging.wait_for_words("listening", 1);
    board.print(b"\n").unwrap();
    board.print(gathered(celsius).as_bytes()).unwrap();
    logging.wait_for_words("p1", 1);
    let (status, said) = logging.stop("TERM");
    assert!(status.success(), "{said}");
}

/// A logger that looks at what is on the bench, with these options, until `done`; gives all it said.
fn look_again(desk: &Desk, options: &[&str], what: &str, done: impl FnMut(&str) -> bool) -> String {
    let board = Player::new().unwrap();
    let mut logging = Logging::start(desk, &[board.path()], &[&["--baud", "9600"], options].concat());
    logging.wait_until(what, done);
    let (status, said) = logging.stop("TERM");
    assert!(status.success(), "{said}");
    said
}

fn alarms(desk: &Desk) -> Value {
    let done = run(desk, &["alarms", "--json"]);
    serde_json::from_slice(&done.stdout).unwrap()
}

/// Whatever else the machine does meanwhile, so that it is told some minutes later.
const HOT: &str = "31.5\u{a0}°C at most: too hot for C1; check the thermostat";

#[test]
fn a_mat_that_becomes_hot_is_told_once_in_the_journal_by_command_and_by_status() {
    let desk = desk();
    log_what_was_gathered(&desk, 31.5);
    place(&desk);
    let letters = desk.port("letters");
    let command = format!("cat >> {}; echo rung", letters.display());
    let options = ["--alarm-command", command.as_str()];
    let delivered = |_: &str| alarms(&desk)["alarms"][0]["deliveries"][0]["tries"] == 1;
    let said = look_again(&desk, &options, "the delivery", delivered);
    assert_eq!(said.matches(HOT).count(), 1, "{said}");
    let letter: Value = serde_json::from_str(&std::fs::read_to_string(&letters).unwrap()).unwrap();
    let shapes = written();
    let hold = |shape: &Shape, answer: &Value| shape.holds(answer, "alarms", &mut std::collections::BTreeSet::new());
    hold(&shapes["letter"], &letter);
    let alarm = &letter["alarms"][0];
    assert_eq!((&alarm["kind"], &alarm["subject"], &alarm["event"]), (&"too-hot".into(), &"mat".into(), &"begun".into()));
    assert!(alarm["caution"].as_str().unwrap().contains("RCD/GFCI"), "{alarm}");
    // Another start says nothing again.
    let again = look_again(&desk, &options, "it to look", |said| said.contains("listening"));
    assert_eq!(
        (again.matches("At 'mat'").count(), std::fs::read_to_string(&letters).unwrap().matches("\"bench\"").count()),
        (0, 1)
    );
    let answer = alarms(&desk);
    hold(&shapes["alarms"], &answer);
    assert_eq!(answer["alarms"][0]["deliveries"][0]["answer"], "exit 0: rung");
    assert_eq!(run(&desk, &["alarms"]).status.code(), Some(1));
    let text = String::from_utf8(run(&desk, &["alarms"]).stdout).unwrap();
    assert!(text.contains("by command: delivered on ") && text.contains("(exit 0: rung)"), "{text}");
    assert!(text.ends_with("No logger runs: nothing is watched now.\n"), "{text}");
    // While one runs, status puts it first, until somebody says that it was seen.
    let board = Player::new().unwrap();
    let mut logging = Logging::start(&desk, &[board.path()], &["--baud", "9600"]);
    logging.wait_for_words("listening", 1);
    let status = |desk: &Desk| -> Value { serde_json::from_slice(&run(desk, &["status", "--json"]).stdout).unwrap() };
    assert_eq!(status(&desk)["todo"][0]["kind"], "too-hot");
    assert_eq!(says(&desk, &["alarms", "--seen", "mat"]), "1 alarm was seen\n");
    let now = status(&desk);
    assert!(now["todo"].as_array().unwrap().iter().all(|todo| todo["kind"] != "too-hot"), "{now:#}");
    assert!(now["alarms"][0]["seen"].is_string());
    drop(logging);
}

#[test]
fn a_command_that_hangs_is_ended_and_one_that_fails_is_told_and_neither_holds_up_logging() {
    for (line, outcome) in [("sleep 1000", "it took longer than 0.3 s and was ended"), ("echo no >&2; exit 4", "exit 4: no")] {
        let desk = desk();
        log_what_was_gathered(&desk, 31.5);
        place(&desk);
        let mut board = Player::new().unwrap();
        let options = ["--baud", "9600", "--alarm-command", line, "--alarm-wait", "0.3s", "--commit-every", "0.1s"];
        let mut logging = Logging::start(&desk, &[board.path()], &options);
        logging.wait_for_words(HOT, 1);
        // Lines go on into the bench while it hangs.
        board.print(b"\nq,1.5\n").unwrap();
        logging.wait_until("a reading", |_| desk.values().contains(&"q,1.5".to_owned()));
        logging.wait_until("the outcome", |_| alarms(&desk)["alarms"][0]["deliveries"][0]["failure"] == outcome);
        let (status, said) = logging.stop("TERM");
        assert!(status.success(), "{said}");
        assert!(alarms(&desk)["alarms"][0]["deliveries"][0]["next"].is_string(), "it is tried again");
    }
}

#[test]
fn frost_out_of_doors_is_no_alarm_and_in_the_chilling_spot_it_is() {
    for (kind, told) in [("outdoors", 0), ("indoors", 0), ("fridge", 1)] {
        let desk = desk();
        says(&desk, &["spot", "mat", "--kind", kind]);
        log_what_was_gathered(&desk, -3.0);
        place(&desk);
        let frost = "−3.0\u{a0}°C at least: C1 may freeze; set it warmer: moist chilling wants cold above freezing.";
        let said = look_again(&desk, &[], "it to look", |said| said.contains("listening"));
        assert_eq!(said.matches(frost).count(), told, "{kind}: {said}");
        assert_eq!(said.matches("At 'mat'").count(), told, "{kind}: {said}");
    }
}

/// A mail server for one letter; what it answers to RCPT is given.
fn mail_server(to_recipient: &'static str) -> (u16, std::thread::JoinHandle<Vec<String>>) {
    let listener = TcpListener::bind("127.0.0.1:0").unwrap();
    let port = listener.local_addr().unwrap().port();
    let serve = move || {
        let (mut stream, _) = listener.accept().unwrap();
        let (mut lines, mut in_data) = (Vec::new(), false);
        stream.write_all(b"220 house.lan\r\n").unwrap();
        for line in BufReader::new(stream.try_clone().unwrap()).lines() {
            let Ok(line) = line else { break };
            let answer = match line.as_str() {
                "." if in_data => {
                    in_data = false;
                    "250 taken\r\n"
                }
                _ if in_data => "",
                "DATA" => {
                    in_data = true;
                    "354 go on\r\n"
                }
                text if text.starts_with("RCPT") => to_recipient,
                "QUIT" => "221 bye\r\n",
                _ => "250 OK\r\n",
            };
            lines.push(line);
            if stream.write_all(answer.as_bytes()).is_err() {
                break;
            }
        }
        lines
    };
    (port, std::thread::spawn(serve))
}

#[test]
fn a_test_goes_out_by_every_way_of_the_configuration_and_says_how_each_went() {
    let desk = desk();
    let (port, server) = mail_server("250 OK\r\n");
    let file = desk.port("seedclock.toml");
    let configure = |path: &Path, port: u16| {
        let text = format!(
            "alarm-command = \"cat > {}\"\nmail-server = \"127.0.0.1:{port}\"\nmail-secrecy = \"plain\"\nmail-from = \"seeds@house.lan\"\n\
             mail-to = [\"ann@house.lan\"]\n",
            desk.port("letter").display()
        );
        std::fs::write(path, text).unwrap();
    };
    configure(&file, port);
    let test = |desk: &Desk| run(desk, &["alarms", "--test", "--config", file.to_str().unwrap()]);
    let done = test(&desk);
    let said = String::from_utf8(done.stdout).unwrap();
    assert_eq!(done.status.code(), Some(0), "{said}{}", String::from_utf8_lossy(&done.stderr));
    let lines: Vec<&str> = said.lines().collect();
    assert!(lines[0].starts_with("by command: delivered on ") && lines[0].ends_with(" (exit 0)"), "{said}");
    assert!(lines[1].starts_with("by mail: delivered on ") && lines[1].ends_with(" (250 taken)"), "{said}");
    let letter: Value = serde_json::from_str(&std::fs::read_to_string(desk.port("letter")).unwrap()).unwrap();
    assert_eq!((&letter["test"], letter["alarms"].as_array().map(Vec::len)), (&true.into(), Some(0)));
    let got = server.join().unwrap();
    assert!(got.iter().any(|line| line == "This is a test: alarms reach you this way."), "{got:?}");
    let (port, server) = mail_server("550 no such person\r\n");
    configure(&file, port);
    let done = test(&desk);
    assert_eq!(done.status.code(), Some(1));
    assert!(String::from_utf8(done.stdout).unwrap().contains("by mail: failed on "));
    server.join().unwrap();
    let text = String::from_utf8(run(&desk, &["alarms"]).stdout).unwrap();
    assert!(text.starts_with("No alarm.\nThe last test, by command: delivered on "), "{text}");
    assert!(text.contains("The last test, by mail: failed on ") && text.contains("no such person"), "{text}");
}

#[test]
fn what_cannot_be_meant_of_ways_is_refused_before_anything_is_logged() {
    let desk = desk();
    let refused = |arguments: &[&str]| {
        let done = run(&desk, arguments);
        assert_eq!(done.status.code(), Some(2), "{arguments:?}");
        String::from_utf8(done.stderr).unwrap()
    };
    assert_eq!(
        refused(&["alarms", "--test"]),
        "seedclock: no way is named by which alarms are told\n  next: name the configuration of the logger with --config, or a way with \
         --alarm-command or --mail-server\n"
    );
    std::fs::write(desk.port("password"), "secret\n").unwrap();
    let password = desk.port("password");
    let plain = [
        "log",
        "--one-wire",
        "--mail-server",
        "mail.example.org",
        "--mail-from",
        "a@example.org",
        "--mail-to",
        "b@example.org",
        "--mail-secrecy",
        "plain",
        "--mail-user",
        "seeds",
        "--mail-password-file",
        password.to_str().unwrap(),
    ];
    assert_eq!(
        refused(&plain),
        "seedclock: a password would go to mail.example.org for everybody on the way to read\n  next: --mail-secrecy tls or starttls; \
         plain only for a server on this computer\n"
    );
    assert!(refused(&["alarms", "--seen", "mat"]).starts_with("seedclock: there is no alarm about 'mat' that was not seen yet"));
    assert!(
        refused(&["log", "--one-wire", "--mail-server", "x", "--mail-from", "nobody", "--mail-to", "b@example.org"])
            .contains("ann@example.org")
    );
}
