//! Serial ports: bytes → lines → readings, stamped as they arrive; and a player that stands in for a board.
//!
//! Three steps, each apart from the next: [`LineBuffer`] finds whole lines in bytes that come as they like, [`LineReader`]
//! says what a whole line means, and [`listen`] owns the port. Another line format is one more file in `line`.

mod line;
mod line_buffer;
mod opening;
mod player;
mod port;
mod stop;

pub use line::{Given, LineFault, LineFormat, LineReader, Measured, Read};
pub use line_buffer::{Found, LONGEST_JSON, LONGEST_LINE, LineBuffer};
pub use opening::{Opening, Told};
pub use player::Player;
#[cfg(test)]
pub(crate) use port::BREAK_DOWN;
pub use port::{Heard, News, Port, PortState, listen};
pub use stop::Stop;
