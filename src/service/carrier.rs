//! Whoever carries alarms out of the house: a thread for each way, so that none holds up another, or the logger.

use super::{AlarmCommand, Mail};
use crate::logger::{Carried, Letter, Post};

/// A way by which alarms are told.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Way {
    /// A command.
    Command(AlarmCommand),
    /// E-mail.
    Mail(Mail),
}

impl Way {
    /// What it is called.
    #[must_use]
    pub fn name(&self) -> &'static str {
        match self {
            Self::Command(_) => "command",
            Self::Mail(_) => "mail",
        }
    }

    /// Carries a letter; gives what came back.
    ///
    /// # Errors
    /// Why it did not arrive, in words.
    pub fn carry(&self, letter: &Letter) -> Result<String, String> {
        match self {
            Self::Command(command) => command.run(&letter.json),
            Self::Mail(mail) => mail.send(letter),
        }
    }
}

/// Opens ways out of the logger, each with a carrier of its own. They end with the logger.
///
/// # Errors
/// Where no thread can be started.
pub fn open_ways(ways: Vec<Way>) -> std::io::Result<Post> {
    let mut post = Post::default();
    for way in ways {
        let (letters, tray) = (post.open_way(way.name()), post.tray());
        let carry = move || {
            for letter in letters {
                let outcome = way.carry(&letter);
                tray.put(Carried { way: way.name().to_owned(), about: letter.about, outcome });
            }
        };
        std::thread::Builder::new().name("carrier".to_owned()).spawn(carry)?;
    }
    Ok(post)
}
