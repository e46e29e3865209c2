//! Sources of readings: serial ports, files of the kernel, a broker, a recording. Bytes → readings, stamped as they arrive; and a
//! player that stands in for a board.
//!
//! Of a port three steps, each apart from the next: [`LineBuffer`] finds whole lines in bytes that come as they like,
//! [`LineReader`] says what a whole line means, and [`listen`] owns the source, one thread each. Another line format is one more
//! file in `line`; another kind of source is one more file here, a member of [`Source`], and an `impl Listener`.

mod broker;
mod crc8;
mod dating;
mod holder;
mod hunt;
mod hwmon;
mod line;
mod line_buffer;
mod one_wire;
mod opening;
mod outlet;
mod player;
mod port;
mod recording;
mod rom;
mod source;
mod stable;
mod stop;

pub use broker::{Broker, MQTT_PORT};
pub use hwmon::{Hwmon, hwmon_names};
pub use line::{Given, LineFault, LineFormat, LineReader, Measured, Read};
pub use line_buffer::{Found, LONGEST_JSON, LONGEST_LINE, LineBuffer};
pub use one_wire::{OneWire, one_wire_names};
pub use opening::{Opening, Told};
#[cfg(test)]
pub(crate) use outlet::BREAK_DOWN;
pub use player::Player;
pub use port::{Port, Speed};
pub use recording::Recording;
pub use rom::kernel_name;
pub use source::{Heard, Holder, News, READ_EVERY, Roots, Source, SourceState, listen};
pub use stable::{Device, FoundPort, about, ports, stable_name};
pub use stop::Stop;
