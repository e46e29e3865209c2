//! Making room for a new demo.

use super::{BenchKind, Store, StoreError};

impl Store {
    /// Closes a bench that was made up for the demo, and removes it.
    ///
    /// # Errors
    /// [`StoreError::Exists`] where the bench is a grower's own: it is left as it is. [`StoreError::Files`] where the file
    /// cannot be removed.
    pub fn discard_demo(self) -> Result<(), StoreError> {
        let path = self.path.clone();
        if self.kind != BenchKind::Demo {
            return Err(StoreError::Exists(path));
        }
        // Closed first: the last to close takes the log's files away. If another process still has the bench open, it goes on
        // with a file that has no name any more, and the log's files must not be left to the new one.
        drop(self);
        for suffix in ["-wal", "-shm", ""] {
            let file = super::lock::beside(&path, suffix);
            match std::fs::remove_file(&file) {
                Err(source) if source.kind() != std::io::ErrorKind::NotFound => {
                    return Err(StoreError::Files { path: file, doing: "removing", cause: source });
                }
                _ => {}
            }
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::civil::Zone;

    #[test]
    fn only_a_demo_bench_is_ever_removed() {
        let folder = tempfile::tempdir().unwrap();
        let path = |name| folder.path().join(name);
        let own = Store::create(&path("own.db"), Zone::UTC, BenchKind::Own).unwrap();
        assert!(matches!(own.discard_demo(), Err(StoreError::Exists(_))));
        assert!(Store::open(&path("own.db")).is_ok());
        let demo = Store::create(&path("demo.db"), Zone::UTC, BenchKind::Demo).unwrap();
        demo.discard_demo().unwrap();
        assert!(matches!(Store::open(&path("demo.db")), Err(StoreError::Missing(_))));
    }
}
