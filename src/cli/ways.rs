//! By which ways alarms are told, as it was said: by options, or by a configuration file whose keys are the options' names.

use std::path::PathBuf;
use std::time::Duration;

use anyhow::Context;

use crate::service::{AlarmCommand, Mail, Secrecy, Way, is_mail_address};

/// The shortest and the longest time that a command or a mail server may take, in seconds.
const WAIT_SECONDS: std::ops::RangeInclusive<f64> = 0.1..=600.0;
const WAIT: Duration = Duration::from_secs(30);
/// Where a server takes mail from programs (RFC 6409, RFC 8314), and where TLS begins at once.
const SUBMISSION_PORT: u16 = 587;
const TLS_PORT: u16 = 465;
const RELAY_PORT: u16 = 25;

/// Ways, and what each needs.
#[derive(Debug, Default, Clone, clap::Args)]
pub(super) struct Ways {
    /// Run this for each alarm, by the shell; it reads what it is about as JSON from its standard input
    #[arg(long, value_name = "COMMAND")]
    alarm_command: Option<String>,
    /// How long that, or a mail server, may take. Write 10s or 1m [default: 30s]
    #[arg(long, value_name = "TIME", value_parser = wait)]
    alarm_wait: Option<Duration>,
    /// Send alarms by e-mail through this server [default port: 587, with TLS after the greeting; 465 with TLS from the start; 25 with
    /// TLS where it is offered]
    #[arg(long, value_name = "HOST[:PORT]", requires = "mail_from", requires = "mail_to")]
    mail_server: Option<String>,
    /// How the way to it is kept from others: tls, starttls, or plain for a server in the same house [default: by the port]
    #[arg(long, value_name = "HOW", hide_possible_values = true, requires = "mail_server")]
    mail_secrecy: Option<MailSecrecy>,
    /// The user by whose name it takes mail
    #[arg(long, value_name = "NAME", requires = "mail_password_file")]
    mail_user: Option<String>,
    /// A file whose first line is the password
    #[arg(long, value_name = "FILE", requires = "mail_user")]
    mail_password_file: Option<PathBuf>,
    /// Who the mail is from
    #[arg(long, value_name = "ADDRESS", value_parser = mail_address)]
    mail_from: Option<String>,
    /// To whom it goes; may be given several times
    #[arg(long, value_name = "ADDRESS", value_parser = mail_address)]
    mail_to: Vec<String>,
}

/// How the way to a mail server is kept from others.
#[derive(Debug, Clone, Copy, PartialEq, Eq, clap::ValueEnum)]
enum MailSecrecy {
    /// TLS from the start
    Tls,
    /// TLS after the greeting
    Starttls,
    /// Neither
    Plain,
}

impl Ways {
    /// These, and where they say nothing, those.
    pub(super) fn over(self, other: Self) -> Self {
        // Login and addresses belong to their server.
        let mail = if self.mail_server.is_some() { self.clone() } else { other.clone() };
        Self {
            alarm_command: self.alarm_command.or(other.alarm_command),
            alarm_wait: self.alarm_wait.or(other.alarm_wait),
            mail_server: mail.mail_server,
            mail_secrecy: mail.mail_secrecy,
            mail_user: mail.mail_user,
            mail_password_file: mail.mail_password_file,
            mail_from: self.mail_from.or(other.mail_from),
            mail_to: if self.mail_to.is_empty() { other.mail_to } else { self.mail_to },
        }
    }

    /// The ways.
    ///
    /// # Errors
    /// What cannot be meant, or a password that cannot be read.
    pub(super) fn open(&self) -> anyhow::Result<Vec<Way>> {
        let limit = self.alarm_wait.unwrap_or(WAIT);
        let command = self.alarm_command.as_ref().map(|line| Way::Command(AlarmCommand { line: line.clone(), limit }));
        let mail = self.mail(limit)?.map(Way::Mail);
        Ok(command.into_iter().chain(mail).collect())
    }

    fn mail(&self, limit: Duration) -> anyhow::Result<Option<Mail>> {
        let (Some(address), Some(from)) = (&self.mail_server, &self.mail_from) else { return Ok(None) };
        let (host, port) = super::wishes::address_of(address, SUBMISSION_PORT)
            .map_err(|rule| anyhow::anyhow!("cannot use the mail server '{address}': {rule}"))?;
        let secrecy = match self.mail_secrecy {
            Some(MailSecrecy::Tls) => Secrecy::Tls,
            Some(MailSecrecy::Starttls) => Secrecy::StartTls,
            Some(MailSecrecy::Plain) => Secrecy::Plain,
            None if port == TLS_PORT => Secrecy::Tls,
            None if port == RELAY_PORT => Secrecy::IfOffered,
            None => Secrecy::StartTls,
        };
        let login = match (&self.mail_user, &self.mail_password_file) {
            (Some(user), Some(file)) => {
                let text = std::fs::read_to_string(file)
                    .with_context(|| format!("cannot read the mail server's password in {}", file.display()))?;
                Some((user.clone(), text.lines().next().unwrap_or_default().to_owned()))
            }
            _ => None,
        };
        let here = matches!(host.as_str(), "localhost" | "127.0.0.1" | "::1");
        if secrecy == Secrecy::Plain && login.is_some() && !here {
            anyhow::bail!(
                "a password would go to {host} for everybody on the way to read\n  next: --mail-secrecy tls or starttls; plain only for \
                 a server on this computer"
            );
        }
        Ok(Some(Mail { host, port, secrecy, login, from: from.clone(), to: self.mail_to.clone(), limit }))
    }
}

fn wait(text: &str) -> Result<Duration, String> {
    super::wishes::duration(text, &WAIT_SECONDS)
}

fn mail_address(text: &str) -> Result<String, String> {
    if is_mail_address(text) { Ok(text.to_owned()) } else { Err("write an address, as ann@example.org".to_owned()) }
}
