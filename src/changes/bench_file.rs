//! A bench file as one who is asked over and over uses it: opened for each question or change, so that one that was renamed,
//! restored or made anew meanwhile is seen as it is.

use std::path::{Path, PathBuf};

use super::ChangeError;
use crate::store::Store;

/// Where a bench file lies.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct BenchFile(PathBuf);

impl BenchFile {
    /// The bench at a path.
    #[must_use]
    pub fn at(path: PathBuf) -> Self {
        Self(path)
    }

    /// The path.
    #[must_use]
    pub fn path(&self) -> &Path {
        &self.0
    }

    /// Asks.
    ///
    /// # Errors
    /// [`ChangeError::Store`] where it cannot be read; what `ask` says.
    pub fn ask<T, E: Into<ChangeError>>(&self, ask: impl FnOnce(&Store) -> Result<T, E>) -> Result<T, ChangeError> {
        ask(&Store::open_read_only(&self.0)?).map_err(Into::into)
    }

    /// Changes.
    ///
    /// # Errors
    /// [`ChangeError`].
    pub fn change<T>(&self, change: impl FnOnce(&mut Store) -> Result<T, ChangeError>) -> Result<T, ChangeError> {
        change(&mut Store::open(&self.0)?)
    }
}
