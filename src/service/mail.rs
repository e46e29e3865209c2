//! Telling by e-mail, through a server of the grower's choice.

use std::time::{Duration, SystemTime};

use lettre::message::{Mailbox, Message, header::ContentType};
use lettre::transport::smtp::authentication::Credentials;
use lettre::transport::smtp::client::{Tls, TlsParameters};
use lettre::{SmtpTransport, Transport as _};

use super::command::shortened;
use crate::logger::Letter;

/// How the way to the mail server is kept from others.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Secrecy {
    /// From the first byte on (RFC 8314).
    Tls,
    /// After a greeting (STARTTLS, RFC 3207); without it nothing is sent.
    StartTls,
    /// Where the server offers it.
    IfOffered,
    /// Not at all.
    Plain,
}

/// A mail server, and who writes to whom by it.
#[derive(Clone, PartialEq, Eq)]
pub struct Mail {
    /// Its name or address.
    pub host: String,
    /// Its port.
    pub port: u16,
    /// How the way there is kept from others.
    pub secrecy: Secrecy,
    /// User and password, where it asks for them.
    pub login: Option<(String, String)>,
    /// Who writes.
    pub from: String,
    /// To whom.
    pub to: Vec<String>,
    /// No answer of the server is waited for longer.
    pub limit: Duration,
}

impl std::fmt::Debug for Mail {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        // Not the password.
        write!(f, "Mail({}:{} {:?} {} -> {:?})", self.host, self.port, self.secrecy, self.from, self.to)
    }
}

/// Whether this is an address to which mail can go, as in "ann@example.org" or "Ann <ann@example.org>".
#[must_use]
pub fn is_mail_address(text: &str) -> bool {
    text.parse::<Mailbox>().is_ok()
}

impl Mail {
    /// Sends a letter; gives what the server answered.
    ///
    /// # Errors
    /// Why it was not taken, in words.
    pub fn send(&self, letter: &Letter) -> Result<String, String> {
        let message = self.message(letter)?;
        let in_words = |error: lettre::transport::smtp::Error| shortened(&chain(&error));
        let secrecy = match self.secrecy {
            Secrecy::Plain => Tls::None,
            wanted => {
                let parameters = TlsParameters::new(self.host.clone()).map_err(in_words)?;
                match wanted {
                    Secrecy::Tls => Tls::Wrapper(parameters),
                    // A password is never given away because somebody in between hides the offer.
                    Secrecy::IfOffered if self.login.is_none() => Tls::Opportunistic(parameters),
                    _ => Tls::Required(parameters),
                }
            }
        };
        let mut way = SmtpTransport::builder_dangerous(&self.host).port(self.port).tls(secrecy).timeout(Some(self.limit));
        if let Some((user, password)) = &self.login {
            way = way.credentials(Credentials::new(user.clone(), password.clone()));
        }
        let answer = way.build().send(&message).map_err(in_words)?;
        let words: Vec<&str> = answer.message().collect();
        Ok(shortened(&format!("{} {}", answer.code(), words.join(" "))))
    }

    fn message(&self, letter: &Letter) -> Result<Message, String> {
        let mailbox = |text: &str| text.parse::<Mailbox>().map_err(|_| format!("'{text}' is no address for mail"));
        let mut message = Message::builder().from(mailbox(&self.from)?).subject(format!("seedclock: {}", letter.title));
        for to in &self.to {
            message = message.to(mailbox(to)?);
        }
        message = message.date(SystemTime::from(letter.written)).message_id(Some(self.number(letter)));
        let text = format!("{}\n\n-- \nseedclock logs and advises; it switches nothing.\n", letter.text);
        message.header(ContentType::TEXT_PLAIN).body(text).map_err(|error| error.to_string())
    }

    /// The same letter has the same number, so that one that went out twice can be told from two.
    fn number(&self, letter: &Letter) -> String {
        use std::hash::Hasher as _;
        let mut hasher = siphasher::sip::SipHasher13::new();
        for about in &letter.about {
            hasher.write(format!("{} {} {:?} {:?};", about.kind.word(), about.subject, about.since, about.event).as_bytes());
        }
        if letter.about.is_empty() {
            hasher.write_i64(letter.written.timestamp_micros());
        }
        let host = self.from.rsplit('@').next().unwrap_or_default().trim_end_matches('>');
        format!("<{:016x}.alarm@{host}>", hasher.finish())
    }
}

/// An error with what caused it.
fn chain(error: &dyn std::error::Error) -> String {
    let mut words = error.to_string();
    let mut cause = error.source();
    while let Some(inner) = cause {
        let more = inner.to_string();
        if !words.contains(&more) {
            words = format!("{words}: {more}");
        }
        cause = inner.source();
    }
    words
}
