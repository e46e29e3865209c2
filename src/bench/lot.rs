//! Seeds as they were collected or bought.

use super::Name;

/// Seeds of one species collected or bought together, with what their packet says.
#[derive(Debug, Clone, PartialEq)]
pub struct Lot {
    /// Its name.
    pub name: Name,
    /// The plant.
    pub species: Name,
    /// Where the seeds come from: a shop, a friend, a collecting place.
    pub source: Option<String>,
    /// When they were collected, in the grower's words.
    pub collected: Option<String>,
    /// The packet says that they come up after this many days at least.
    pub packet_days_low: Option<f64>,
    /// The packet says that they come up after this many days at most.
    pub packet_days_high: Option<f64>,
    /// The temperature that the packet says so for, in °C.
    pub packet_c: Option<f64>,
    /// The share that the packet says will come up, in percent.
    pub packet_percent: Option<f64>,
    /// Days of moist cold that they are said to want.
    pub chill_days: Option<f64>,
    /// What is said about light, in the grower's words: dark, needed …
    pub light: Option<String>,
    /// The grower's note.
    pub note: Option<String>,
}

impl Lot {
    /// A lot of which nothing more is known.
    #[must_use]
    pub fn new(name: Name, species: Name) -> Self {
        Self {
            name,
            species,
            source: None,
            collected: None,
            packet_days_low: None,
            packet_days_high: None,
            packet_c: None,
            packet_percent: None,
            chill_days: None,
            light: None,
            note: None,
        }
    }
}
