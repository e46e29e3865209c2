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

#[cfg(test)]
mod tests {
    use super::*;
    use std::io::{BufRead as _, BufReader, Write as _};
    use std::net::TcpListener;
    use std::thread::JoinHandle;

    /// What a server of this test does.
    #[derive(Clone, Copy, PartialEq, Eq)]
    enum Server {
        Accepts,
        RefusesTo,
        HangsAfterGreeting,
        OffersNoTls,
    }

    /// A mail server for one letter (RFC 5321); gives all lines that it got.
    fn server(kind: Server) -> (u16, JoinHandle<Vec<String>>) {
        let listener = TcpListener::bind("127.0.0.1:0").unwrap();
        let port = listener.local_addr().unwrap().port();
        let serve = move || {
            let (mut stream, _) = listener.accept().unwrap();
            let mut lines = Vec::new();
            stream.write_all(b"220 house.lan\r\n").unwrap();
            let reader = BufReader::new(stream.try_clone().unwrap());
            let mut in_data = false;
            for line in reader.lines() {
                let Ok(line) = line else { break };
                let answer = match (in_data, line.as_str()) {
                    (true, ".") => {
                        in_data = false;
                        "250 taken as 7\r\n"
                    }
                    (true, _) => "",
                    _ if kind == Server::HangsAfterGreeting => "",
                    (_, "DATA") => {
                        in_data = true;
                        "354 go on\r\n"
                    }
                    (_, "QUIT") => "221 bye\r\n",
                    (_, text) if text.starts_with("EHLO") => "250-house.lan\r\n250 8BITMIME\r\n",
                    (_, text) if text.starts_with("RCPT") && kind == Server::RefusesTo => "550 no such person here\r\n",
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

    fn mail(port: u16, secrecy: Secrecy) -> Mail {
        Mail {
            host: "127.0.0.1".to_owned(),
            port,
            secrecy,
            login: None,
            from: "seeds@house.lan".to_owned(),
            to: vec!["Ann <ann@house.lan>".to_owned(), "bob@house.lan".to_owned()],
            limit: Duration::from_millis(500),
        }
    }

    fn letter() -> Letter {
        Letter {
            about: Vec::new(),
            title: "At 'mat' it has been over 27.8\u{a0}°C".to_owned(),
            text: "Too hot; check the thermostat.".to_owned(),
            json: String::new(),
            written: "2026-03-20T12:00:00Z".parse().unwrap(),
        }
    }

    #[test]
    fn a_letter_is_taken_whole_with_its_date_and_everybody_named() {
        let (port, server) = server(Server::Accepts);
        assert_eq!(mail(port, Secrecy::Plain).send(&letter()), Ok("250 taken as 7".to_owned()));
        let lines = server.join().unwrap();
        for wanted in [
            "MAIL FROM:<seeds@house.lan>",
            "RCPT TO:<ann@house.lan>",
            "RCPT TO:<bob@house.lan>",
            "From: seeds@house.lan",
            "Date: Fri, 20 Mar 2026 12:00:00 +0000",
            "Too hot; check the thermostat.",
        ] {
            assert!(lines.iter().any(|line| line.starts_with(wanted)), "{wanted}: {lines:?}");
        }
        assert!(lines.iter().any(|line| line.starts_with("Message-ID: <") && line.contains(".alarm@house.lan>")), "{lines:?}");
        assert!(lines.iter().any(|line| line.starts_with("Subject: ")), "{lines:?}");
    }

    #[test]
    fn a_server_that_refuses_hangs_hides_its_tls_or_is_not_there_is_named_in_words() {
        let (port, refuses) = server(Server::RefusesTo);
        let why = mail(port, Secrecy::IfOffered).send(&letter()).unwrap_err();
        assert!(why.contains("550") || why.contains("no such person here"), "{why}");
        refuses.join().unwrap();
        let (port, hangs) = server(Server::HangsAfterGreeting);
        let why = mail(port, Secrecy::Plain).send(&letter()).unwrap_err();
        assert!(!why.is_empty(), "{why}");
        hangs.join().unwrap();
        // Without TLS nothing is sent where it is wanted.
        let (port, hides) = server(Server::OffersNoTls);
        assert!(mail(port, Secrecy::StartTls).send(&letter()).is_err());
        assert!(hides.join().unwrap().iter().all(|line| !line.starts_with("MAIL")));
        let (port, hides) = server(Server::OffersNoTls);
        let with_password = Mail { login: Some(("seeds".to_owned(), "secret".to_owned())), ..mail(port, Secrecy::IfOffered) };
        assert!(with_password.send(&letter()).is_err());
        assert!(hides.join().unwrap().iter().all(|line| !line.starts_with("AUTH") && !line.starts_with("MAIL")));
        let free = TcpListener::bind("127.0.0.1:0").unwrap().local_addr().unwrap().port();
        let why = mail(free, Secrecy::Plain).send(&letter()).unwrap_err();
        assert!(why.to_lowercase().contains("refused"), "{why}");
    }

    #[test]
    fn the_same_letter_has_the_same_number_and_addresses_are_known_by_their_form() {
        use crate::bench::{AlarmKind, Name};
        use crate::diagnosis::alarms::Event;
        use crate::logger::About;
        let about = |event| About { kind: AlarmKind::TooHot, subject: Name::new("mat").unwrap(), since: None, event };
        let (one, other) = (mail(25, Secrecy::Plain), Letter { about: vec![about(Event::Begun)], ..letter() });
        assert_eq!(one.number(&other), one.number(&Letter { text: "said later".to_owned(), ..other.clone() }));
        assert_ne!(one.number(&other), one.number(&Letter { about: vec![about(Event::Ended)], ..other.clone() }));
        assert!(is_mail_address("ann@example.org") && is_mail_address("Ann B <ann@example.org>"));
        assert!(!is_mail_address("ann") && !is_mail_address("") && !is_mail_address("ann@"));
        assert!(!format!("{:?}", Mail { login: Some(("a".to_owned(), "secret".to_owned())), ..one }).contains("secret"));
    }
}
