//! Troubles of the storage, staged for tests by SQLite itself: what it then says is what it says when they are real.

use rusqlite::Connection;

use super::Store;

/// A trouble.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum StoreTrouble {
    /// No page can be added to the file.
    Full,
    /// Nothing can be written.
    ReadOnly,
    /// Another program is writing and does not end.
    Busy,
}

/// A trouble that lasts until it is told to end; another process of ours would meet the last two as well.
#[derive(Debug)]
pub(crate) struct Staged {
    trouble: StoreTrouble,
    other: Option<Connection>,
}

impl Store {
    /// Stages a trouble.
    pub(crate) fn stage(&mut self, trouble: StoreTrouble) -> Staged {
        let mut other = None;
        match trouble {
            StoreTrouble::Full => {
                let pages: i64 = self.connection.query_row("PRAGMA page_count", [], |row| row.get(0)).unwrap();
                self.connection.pragma_update_and_check(None, "max_page_count", pages, |_| Ok(())).unwrap();
            }
            StoreTrouble::ReadOnly => self.connection.pragma_update(None, "query_only", true).unwrap(),
            StoreTrouble::Busy => {
                self.connection.busy_timeout(std::time::Duration::ZERO).unwrap();
                let writing = Connection::open(&self.path).unwrap();
                writing.execute_batch("BEGIN IMMEDIATE").unwrap();
                other = Some(writing);
            }
        }
        Staged { trouble, other }
    }

    /// Ends it.
    pub(crate) fn unstage(&mut self, staged: Staged) {
        match staged.trouble {
            StoreTrouble::Full => {
                self.connection.pragma_update_and_check(None, "max_page_count", 4_294_967_294_i64, |_| Ok(())).unwrap();
            }
            StoreTrouble::ReadOnly => self.connection.pragma_update(None, "query_only", false).unwrap(),
            StoreTrouble::Busy => {
                drop(staged.other);
                self.connection.busy_timeout(super::schema::BUSY_TIMEOUT).unwrap();
            }
        }
    }
}
