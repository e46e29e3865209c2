//! thermal
