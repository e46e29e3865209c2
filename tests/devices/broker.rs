//! A real broker (Debian's mosquitto) on a free port of this machine, and the real program listening to it.

use std::net::{TcpListener, TcpStream};
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

use rumqttc::{Client, Event, MqttOptions, Packet, QoS};

use super::harness::{Desk, Logging};

struct Broker {
    child: Child,
    port: u16,
}

impl Broker {
    fn on(desk: &Desk, port: u16) -> Self {
        let config = desk.port("mosquitto.conf");
        std::fs::write(&config, format!("listener {port} 127.0.0.1\nallow_anonymous true\npersistence false\n")).unwrap();
        let begun = Command::new("mosquitto").arg("-c").arg(&config).stderr(Stdio::null()).stdout(Stdio::null()).spawn();
        let begun = begun.or_else(|_| {
            Command::new("/usr/sbin/mosquitto").arg("-c").arg(&config).stderr(Stdio::null()).stdout(Stdio::null()).spawn()
        });
        let child = begun.unwrap_or_else(|error| panic!("mosquitto: {error}; `tests/all` installs it"));
        let broker = Self { child, port };
        let begun = Instant::now();
        while TcpStream::connect(("127.0.0.1", port)).is_err() {
            assert!(begun.elapsed() < Duration::from_secs(60), "the broker does not answer");
            std::thread::sleep(Duration::from_millis(10));
        }
        broker
    }

    fn publish(&self, messages: &[(&str, &str, bool)]) {
        let mut options = MqttOptions::new("board", "127.0.0.1", self.port);
        options.set_keep_alive(Duration::from_secs(30));
        let (client, mut connection) = Client::new(options, 100);
        for (topic, payload, retain) in messages {
            client.publish(*topic, QoS::AtLeastOnce, *retain, *payload).unwrap();
        }
        let is_acknowledged = |event: &Result<Event, _>| matches!(event, Ok(Event::Incoming(Packet::PubAck(_))));
        let acknowledged = connection.iter().filter(is_acknowledged).take(messages.len()).count();
        assert_eq!(acknowledged, messages.len());
    }
}

impl Drop for Broker {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

fn free_port() -> u16 {
    TcpListener::bind("127.0.0.1:0").unwrap().local_addr().unwrap().port()
}

#[test]
fn messages_become_readings_and_what_nobody_can_date_is_passed_over() {
    let desk = Desk::new();
    let broker = Broker::on(&desk, free_port());
    broker.publish(&[("bench/old/temperature", "3.5", true)]);
    let address = format!("127.0.0.1:{}", broker.port);
    let options = ["--broker", &address, "--topic", "bench/#", "--commit-every", "0.1s"];
    let mut logging = Logging::start(&desk, &[], &options);
    logging.wait_for_words("listening", 1);
    logging.wait_for_words("what the broker had kept of 'bench/old/temperature' was passed over", 1);
    broker.publish(&[
        ("bench/mat/temperature", "26.5", false),
        ("bench/json", r#"{"id":"sill","t_c":9.25}"#, false),
        ("bench/senml", r#"[{"n":"shelf","u":"Cel","v":18.5}]"#, false),
        ("bench/mat/state", "offline", false),
        ("elsewhere/mat", "99", false),
    ]);
    let expected = ["bench/mat/temperature,26.5", "shelf,18.5", "sill,9.25"];
    logging.wait_until("the readings", |_| desk.bench().exists() && desk.values() == expected);
    let (status, said) = logging.stop("TERM");
    assert_eq!(status.code(), Some(0), "{said}");
    assert_eq!(said.matches("could not be read:").count(), 1, "'offline' is no value: {said}");
}

#[test]
fn a_broker_that_goes_is_told_and_waited_for() {
    let desk = Desk::new();
    let port = free_port();
    let address = format!("127.0.0.1:{port}");
    let mut logging = Logging::start(&desk, &[], &["--broker", &address, "--topic", "bench/#", "--commit-every", "0.1s"]);
    logging.wait_for_words("no broker answers there", 1);
    let broker = Broker::on(&desk, port);
    logging.wait_for_words("listening", 1);
    drop(broker);
    logging.wait_for_words("no broker answers there", 2);
    let broker = Broker::on(&desk, port);
    logging.wait_for_words("listening", 2);
    broker.publish(&[("bench/mat", "26.5", false)]);
    logging.wait_until("the reading", |_| desk.bench().exists() && desk.values() == ["bench/mat,26.5"]);
    assert_eq!(logging.stop("TERM").0.code(), Some(0));
}
