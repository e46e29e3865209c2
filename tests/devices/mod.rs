//! Boards, buses and brokers: recordings and staged faults, played through real pseudo-terminals into the real program.

mod alarms;
mod broker;
mod demo;
mod faults;
pub(crate) mod harness;
mod ill_ports;
mod mail_tls;
mod overdue;
mod own_buses;
mod page;
mod recordings;
mod special;
mod speeds;
mod watched;
