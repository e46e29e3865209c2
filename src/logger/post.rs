//! How alarms leave the logger: letters out by each way, and back how each went. Whoever carries them may take its time; the logger
//! never waits for it.

use std::sync::mpsc::{Receiver, SyncSender, sync_channel};
use std::sync::{Arc, Mutex, PoisonError};

use tokio::sync::Notify;

use crate::bench::{AlarmKind, Name};
use crate::civil::Time;
use crate::diagnosis::alarms::Event;

/// Letters that may wait for one carrier; what finds no room is handed out later.
const LETTERS: usize = 8;

/// Which alarm, and what of it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct About {
    /// What kind.
    pub kind: AlarmKind,
    /// What it is about.
    pub subject: Name,
    /// Since when it is an alarm.
    pub since: Option<Time>,
    /// Its beginning or its end.
    pub event: Event,
}

/// What is to be told by one way.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Letter {
    /// What it tells of; nothing where it is a test.
    pub about: Vec<About>,
    /// In a few words.
    pub title: String,
    /// In sentences, a paragraph each.
    pub text: String,
    /// For programs.
    pub json: String,
    /// When it was written.
    pub written: Time,
}

/// How carrying a letter went.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Carried {
    /// By which way.
    pub way: String,
    /// What it told of.
    pub about: Vec<About>,
    /// What came back; or why it did not arrive.
    pub outcome: Result<String, String>,
}

/// What carriers put down for the logger to take up.
#[derive(Debug, Default)]
pub struct Tray {
    carried: Mutex<Vec<Carried>>,
    bell: Notify,
}

impl Tray {
    /// Puts down how a letter went.
    pub fn put(&self, carried: Carried) {
        self.carried.lock().unwrap_or_else(PoisonError::into_inner).push(carried);
        self.bell.notify_one();
    }

    /// Takes up all there is.
    pub(super) fn take(&self) -> Vec<Carried> {
        std::mem::take(&mut self.carried.lock().unwrap_or_else(PoisonError::into_inner))
    }

    /// Waits until something was put down.
    pub(super) async fn filled(&self) {
        self.bell.notified().await;
    }
}

/// The ways out of the logger.
#[derive(Debug, Clone, Default)]
pub struct Post {
    pub(super) ways: Vec<(String, SyncSender<Letter>)>,
    pub(super) tray: Arc<Tray>,
}

impl Post {
    /// Opens a way; gives what its carrier takes letters from.
    pub fn open_way(&mut self, name: &str) -> Receiver<Letter> {
        let (sender, letters) = sync_channel(LETTERS);
        self.ways.push((name.to_owned(), sender));
        letters
    }

    /// Where carriers put down how letters went.
    #[must_use]
    pub fn tray(&self) -> Arc<Tray> {
        Arc::clone(&self.tray)
    }
}
