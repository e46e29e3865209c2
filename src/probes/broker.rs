//! Messages of an MQTT broker: the one file that knows the library for it.

use std::fmt;
use std::io;
use std::ops::ControlFlow;
use std::pin::pin;
use std::time::Duration;

use rumqttc::{
    AsyncClient, ConnectReturnCode, ConnectionError, Event, EventLoop, Incoming, MqttOptions, Publish, QoS, SubscribeFilter,
    SubscribeReasonCode,
};

use super::dating::{Dated, Dating, is_believed};
use super::line::read_message;
use super::outlet::{FIRST_RETRY, Outlet};
use super::source::{Listener, end_of};
use super::{LONGEST_JSON, LineFault, News, SourceState};

/// The port of a broker where none is named (MQTT 3.1.1, section 4.2; registered with IANA for plain MQTT).
pub const MQTT_PORT: u16 = 1883;
/// A request to stop is looked for this often.
const LOOK_EVERY: Duration = Duration::from_millis(250);
/// A broker that is gone is tried this often at last.
const LAST_RETRY: Duration = Duration::from_secs(5);
/// A connection on which nothing was heard is tried after this.
const KEEP_ALIVE: Duration = Duration::from_secs(30);
/// The longest message taken in, in bytes. Longer ones than [`LONGEST_JSON`] are told and not read; beyond this the broker is left.
const LARGEST_PACKET: usize = 16 * LONGEST_JSON;
/// Requests of ours that may wait: there is one, to be sent the topics.
const REQUESTS: usize = 4;

/// An MQTT broker to listen to.
#[derive(Clone, PartialEq, Eq)]
pub struct Broker {
    /// Its name or address.
    pub host: String,
    /// Its port.
    pub port: u16,
    /// What to listen to; `+` and `#` stand for any level and any further levels.
    pub topics: Vec<String>,
    /// User and password, where it asks for them.
    pub login: Option<(String, String)>,
}

impl fmt::Debug for Broker {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        // Never the password.
        let user = self.login.as_ref().map(|(user, _)| user);
        f.debug_struct("Broker").field("host", &self.host).field("port", &self.port).field("user", &user).finish_non_exhaustive()
    }
}

impl Broker {
    pub(super) fn name(&self) -> String {
        format!("mqtt://{}:{}", self.host, self.port)
    }

    /// Whether a topic can be listened to: `+` alone in its level, `#` alone in the last one (MQTT 3.1.1, section 4.7.1).
    #[must_use]
    pub fn is_topic(topic: &str) -> bool {
        topic.len() <= 65_535 && !topic.contains('\0') && rumqttc::valid_filter(topic)
    }
}

pub(super) fn listener(broker: Broker) -> impl Listener {
    BrokerListener { broker, dating: Dating::default(), retry: FIRST_RETRY }
}

struct BrokerListener {
    broker: Broker,
    dating: Dating,
    retry: Duration,
}

impl Listener for BrokerListener {
    fn run(&mut self, outlet: &mut Outlet) -> ControlFlow<()> {
        loop {
            let state = match tokio::runtime::Builder::new_current_thread().enable_all().build() {
                Ok(runtime) => runtime.block_on(self.listen_until_it_fails(outlet))?,
                Err(error) => SourceState::Failing(error.to_string()),
            };
            outlet.say(state)?;
            outlet.wait(self.retry)?;
            self.retry = (self.retry * 2).min(LAST_RETRY);
        }
    }
}

impl BrokerListener {
    async fn listen_until_it_fails(&mut self, outlet: &mut Outlet) -> ControlFlow<(), SourceState> {
        let (client, mut events) = self.connection(outlet);
        loop {
            match next(&mut events, outlet).await? {
                Ok(Event::Incoming(Incoming::ConnAck(_))) => {
                    let topics = self.broker.topics.iter();
                    let wanted = topics.map(|topic| SubscribeFilter::new(topic.clone(), QoS::AtLeastOnce));
                    if let Err(error) = client.try_subscribe_many(wanted) {
                        return ControlFlow::Continue(SourceState::Failing(error.to_string()));
                    }
                }
                Ok(Event::Incoming(Incoming::SubAck(answer))) => {
                    let refused = answer.return_codes.iter().position(|code| *code == SubscribeReasonCode::Failure);
                    if let Some(topic) = refused.and_then(|place| self.broker.topics.get(place)) {
                        return ControlFlow::Continue(SourceState::Refused(format!("the topic '{topic}'")));
                    }
                    self.retry = FIRST_RETRY;
                    if let Some(news) = outlet.changed(SourceState::Listening) {
                        outlet.tell_later(news).await?;
                    }
                }
                Ok(Event::Incoming(Incoming::Publish(message))) => self.take(outlet, &message).await?,
                Ok(_) => {}
                Err(error) => return ControlFlow::Continue(state_of(&error)),
            }
        }
    }

    fn connection(&self, outlet: &Outlet) -> (AsyncClient, EventLoop) {
        // A name of our own, as a broker throws out whoever comes by the same one; at most 23 letters and digits
        // (MQTT 3.1.1, section 3.1.3.1).
        let name = format!("sc{:x}{:x}", std::process::id(), outlet.now_us());
        let mut options = MqttOptions::new(name.chars().take(23).collect::<String>(), &self.broker.host, self.broker.port);
        options.set_keep_alive(KEEP_ALIVE);
        // Else the broker would keep what comes while we are away, and give it out later as if it were measured then.
        options.set_clean_session(true);
        options.set_max_packet_size(LARGEST_PACKET, LONGEST_JSON);
        if let Some((user, password)) = &self.broker.login {
            options.set_credentials(user, password);
        }
        AsyncClient::new(options, REQUESTS)
    }

    /// One message: readings of the probes it names, else of the one that is its topic. The whole topic, for any part of it may
    /// be another's too.
    async fn take(&mut self, outlet: &Outlet, message: &Publish) -> ControlFlow<()> {
        let (topic, payload) = (&message.topic, &message.payload[..]);
        // An empty message is how a broker is told to forget the one it kept.
        if payload.is_empty() {
            return ControlFlow::Continue(());
        }
        let arrived = outlet.stamp();
        let read = if payload.len() > LONGEST_JSON { Err(LineFault::TooLong(LONGEST_JSON)) } else { read_message(payload) };
        let own = end_of(topic).map_err(LineFault::from);
        let (measured, own) = match read.and_then(|measured| Ok((measured, own?))) {
            Ok(read) => read,
            Err(fault) => {
                let line = [topic.as_bytes(), b": ", payload].concat();
                return outlet.tell_later(outlet.unread(&line, fault)).await;
            }
        };
        for one in measured {
            // The last one known, kept by the broker since nobody knows when: its arrival is not its time.
            if message.retain && !is_believed(one.given, arrived) {
                outlet.tell_later(News::Retained { topic: topic.clone() }).await?;
                continue;
            }
            let Dated { probe, reading, stamp, clock_ahead_us } = self.dating.date(one, &own, arrived);
            if let Some(ahead_us) = clock_ahead_us {
                outlet.tell_later(News::ClockDiffers { ahead_us }).await?;
            }
            outlet.tell_later(News::Reading(probe, reading, stamp)).await?;
        }
        ControlFlow::Continue(())
    }
}

/// The next event; breaks where the request to stop comes first. The library's own wait is never cut short by the looks for it:
/// it may be connecting.
async fn next(events: &mut EventLoop, outlet: &Outlet) -> ControlFlow<(), Result<Event, ConnectionError>> {
    let mut event = pin!(events.poll());
    loop {
        tokio::select! {
            biased;
            event = &mut event => return ControlFlow::Continue(event),
            () = tokio::time::sleep(LOOK_EVERY) => {
                if outlet.is_stopped() {
                    return ControlFlow::Break(());
                }
            }
        }
    }
}

fn state_of(error: &ConnectionError) -> SourceState {
    let refused = |why: &str| SourceState::Refused(why.to_owned());
    match error {
        ConnectionError::ConnectionRefused(ConnectReturnCode::BadUserNamePassword | ConnectReturnCode::NotAuthorized) => {
            refused("user or password is wrong, or missing")
        }
        ConnectionError::ConnectionRefused(ConnectReturnCode::ServiceUnavailable) => refused("it is not ready"),
        ConnectionError::ConnectionRefused(_) => refused("it does not speak MQTT 3.1.1 with us"),
        ConnectionError::Io(cause) if cause.kind() == io::ErrorKind::ConnectionRefused => {
            SourceState::Unreachable("nothing listens at that port".to_owned())
        }
        ConnectionError::Io(cause) => SourceState::Unreachable(cause.to_string()),
        ConnectionError::NetworkTimeout | ConnectionError::FlushTimeout => {
            SourceState::Unreachable("it does not answer".to_owned())
        }
        other => SourceState::Unreachable(other.to_string()),
    }
}
