//! forecast
