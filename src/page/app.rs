//! What all pages share: the bench file, and what was last worked out of it.

use std::path::PathBuf;
use std::sync::atomic::{AtomicBool, AtomicI64, AtomicU64, Ordering};
use std::sync::{Arc, Mutex, PoisonError, RwLock};
use std::thread::JoinHandle;
use std::time::Duration;

use tokio::sync::broadcast;

use super::compare::LastCompared;
use super::guard::Failures;
use super::handled::Refusal;
use crate::answers::{Here, Picture, keep_fits, picture};
use crate::bench::Bench;
use crate::changes::{BenchFile, ChangeError};
use crate::civil::Time;

/// What is worked out is never older than this while anybody looks, though nothing was changed: readings come all the time.
const ANEW_AFTER: chrono::Duration = chrono::Duration::minutes(10);
/// Nobody has asked for so long: nothing is worked out until somebody does.
const ASLEEP_AFTER: chrono::Duration = chrono::Duration::minutes(30);
/// How often it is looked whether another program changed the bench.
const LOOK_EVERY: Duration = Duration::from_secs(5);
/// News that a page may be behind with; one that is further behind reads all anew.
const NEWS_KEPT: usize = 16;

/// How a page is to be served.
#[derive(Debug, Clone)]
pub struct PageOptions {
    /// The bench file.
    pub bench: PathBuf,
    /// Names that this computer goes by on the local network, beside its addresses.
    pub names: Vec<String>,
    /// This computer.
    pub here: Here,
}

/// What happened, told to pages that are open.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum News {
    /// Something was put on record.
    Bench,
    /// Dates and delays were worked out anew.
    Picture,
    /// The page ends.
    End,
}

/// What was worked out, and the bench that it was worked out of.
#[derive(Debug)]
pub(super) struct Worked {
    pub(super) picture: Picture,
    bench: Bench,
}

pub(super) struct App {
    pub(super) file: BenchFile,
    pub(super) names: Vec<String>,
    pub(super) here: Here,
    worked: RwLock<Option<Arc<Worked>>>,
    /// Why nothing could be worked out the last time.
    trouble: Mutex<Option<String>>,
    news: broadcast::Sender<News>,
    /// How many news there were: a page tells up to which it knows them.
    told: AtomicU64,
    pub(super) failures: Failures,
    asked_us: AtomicI64,
    ends: AtomicBool,
    worker: Mutex<Option<JoinHandle<()>>>,
    pub(super) compared: LastCompared,
    /// One folder is taken in at a time.
    pub(super) folders: tokio::sync::Mutex<()>,
}

impl App {
    /// Begins to work out what is to be shown.
    pub(super) fn begin(options: PageOptions) -> std::io::Result<Arc<Self>> {
        let app = Arc::new(Self {
            file: BenchFile::at(options.bench),
            names: options.names,
            here: options.here,
            worked: RwLock::new(None),
            trouble: Mutex::new(None),
            news: broadcast::channel(NEWS_KEPT).0,
            told: AtomicU64::new(0),
            failures: Failures::default(),
            asked_us: AtomicI64::new(0),
            ends: AtomicBool::new(false),
            worker: Mutex::new(None),
            compared: LastCompared::default(),
            folders: tokio::sync::Mutex::new(()),
        });
        app.asked_us.store(app.now().timestamp_micros(), Ordering::Relaxed);
        let worker = std::thread::Builder::new().name("picture".to_owned()).spawn({
            let app = Arc::clone(&app);
            move || app.work()
        })?;
        *app.worker.lock().unwrap_or_else(PoisonError::into_inner) = Some(worker);
        Ok(app)
    }

    pub(super) fn now(&self) -> Time {
        self.here.now()
    }

    /// What was last worked out; none: nothing yet.
    pub(super) fn worked(&self) -> Option<Arc<Worked>> {
        self.worked.read().unwrap_or_else(PoisonError::into_inner).clone()
    }

    /// What was last worked out, where nothing was put on record since.
    pub(super) fn worked_of_now(&self) -> Result<Option<Arc<Worked>>, ChangeError> {
        let bench = self.file.ask(|store| store.bench())?;
        Ok(self.worked().filter(|worked| worked.bench == bench))
    }

    pub(super) fn trouble(&self) -> Option<String> {
        self.trouble.lock().unwrap_or_else(PoisonError::into_inner).clone()
    }

    /// Somebody asks: what is shown is kept up from now on.
    pub(super) fn is_asked(&self) {
        let now_us = self.now().timestamp_micros();
        let before = self.asked_us.swap(now_us, Ordering::Relaxed);
        if now_us - before > ASLEEP_AFTER.num_microseconds().unwrap_or(i64::MAX) {
            self.wake();
        }
    }

    /// Something was put on record: it is worked out anew, and open pages are told.
    pub(super) fn is_changed(&self) {
        self.tell(News::Bench);
        self.wake();
    }

    fn tell(&self, news: News) {
        self.told.fetch_add(1, Ordering::SeqCst);
        // Nobody listening is no matter.
        let _ = self.news.send(news);
    }

    /// How many news there were so far. Asked before a page is made, so that none is missed.
    pub(super) fn told(&self) -> u64 {
        self.told.load(Ordering::SeqCst)
    }

    /// News from now on, and whether there were any since the first `known`.
    pub(super) fn listen(&self, known: u64) -> (bool, broadcast::Receiver<News>) {
        let news = self.news.subscribe();
        (self.told() != known, news)
    }

    fn wake(&self) {
        if let Some(worker) = &*self.worker.lock().unwrap_or_else(PoisonError::into_inner) {
            worker.thread().unpark();
        }
    }

    /// Ends what goes on for ever: news to open pages.
    pub(super) fn end_news(&self) {
        self.tell(News::End);
    }

    /// Ends the work, and waits for it to end.
    pub(super) fn end(&self) {
        self.ends.store(true, Ordering::SeqCst);
        self.wake();
        let worker = self.worker.lock().unwrap_or_else(PoisonError::into_inner).take();
        if let Some(worker) = worker {
            let _ = worker.join();
        }
    }

    fn work(&self) {
        while !self.ends.load(Ordering::SeqCst) {
            let now = self.now();
            let asleep = now.timestamp_micros() - self.asked_us.load(Ordering::Relaxed)
                > ASLEEP_AFTER.num_microseconds().unwrap_or(i64::MAX);
            if !asleep {
                let trouble = self.work_once(now).err().map(|error| error.to_string());
                *self.trouble.lock().unwrap_or_else(PoisonError::into_inner) = trouble;
            }
            std::thread::park_timeout(LOOK_EVERY);
        }
    }

    /// Works all out anew where anything was changed, or it is old.
    fn work_once(&self, now: Time) -> Result<(), ChangeError> {
        let bench = self.file.ask(|store| store.bench())?;
        let last = self.worked();
        let as_before = last.as_ref().is_some_and(|last| last.bench == bench);
        if as_before && last.as_ref().is_some_and(|last| (now - last.picture.as_of).abs() < ANEW_AFTER) {
            return Ok(());
        }
        if last.is_some() && !as_before {
            self.tell(News::Bench);
        }
        let (picture, fresh) = self.file.ask(|store| picture(store, now))?;
        let worked = Arc::new(Worked { picture, bench });
        *self.worked.write().unwrap_or_else(PoisonError::into_inner) = Some(worked);
        self.tell(News::Picture);
        if !fresh.is_empty() {
            // Made again next time where they cannot be kept.
            let _ = self.file.change(|store| Ok(keep_fits(store, &fresh, now)?));
        }
        Ok(())
    }

    /// Does work that waits for the disk where it holds nobody else up.
    pub(super) async fn aside<T: Send + 'static>(
        self: &Arc<Self>,
        work: impl FnOnce(&Self) -> Result<T, Refusal> + Send + 'static,
    ) -> Result<T, Refusal> {
        let app = Arc::clone(self);
        match tokio::task::spawn_blocking(move || work(&app)).await {
            Ok(done) => done,
            Err(_) => Err(Refusal::broken("this could not be done: see what the program says where it runs")),
        }
    }
}
