//! What one whole line means.
//!
//! A line is read only if it can mean one thing: anything else is handed back with the reason, to be kept as it came. Lines
//! without a checksum can be garbled into other well-formed lines; what that does is left to the flags of `quality`.

mod checked;
mod json;
mod object;
mod pairs;
mod plain;
mod senml;
mod value;

use std::collections::BTreeSet;
use std::fmt;

use thiserror::Error;

use crate::bench::{Name, NameFault, Proof};

/// After so many good lines in a row of one format, a port is taken to print that one.
const LATCH_AFTER: u32 = 3;

/// What a line measured.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Measured {
    /// The probe it names; none: the port's own.
    pub probe: Option<Name>,
    /// Raw temperature in 1/10 000 °C; none where the line held no number.
    pub raw_c_e4: Option<i64>,
    /// What the line proves by itself. That a value of 85 is the power-on one, a single line cannot prove: see
    /// [`super::Opening`].
    pub proof: Proof,
    /// When it was measured, where the line says so.
    pub given: Option<Given>,
}

impl Measured {
    fn now(probe: Option<Name>, (raw_c_e4, proof): value::Value) -> Self {
        Self { probe, raw_c_e4, proof, given: None }
    }
}

/// A time that a line gives.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Given {
    /// Microseconds from now; below 0: ago.
    FromNow {
        /// How many.
        us: i64,
    },
    /// Microseconds since 1970, by the clock of whatever printed the line.
    Since1970 {
        /// How many.
        us: i64,
    },
}

impl Given {
    fn us(self) -> i64 {
        match self {
            Self::FromNow { us } | Self::Since1970 { us } => us,
        }
    }
}

/// How a board writes its lines.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum LineFormat {
    /// SenML, RFC 8428.
    Senml,
    /// A JSON object a line.
    JsonObject,
    /// `21.5` or `id,21.5`.
    Plain,
    /// `air:21.5,soil:19.8`
    Pairs,
    /// `21.5*8F` or `id,21.5*A1`: the plain forms with a checksum.
    Checked,
}

impl fmt::Display for LineFormat {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Senml => "SenML",
            Self::JsonObject => "a JSON object a line",
            Self::Plain => "'21.5' or 'probe,21.5'",
            Self::Pairs => "'label:21.5'",
            Self::Checked => "'probe,21.5*A1' with a checksum",
        })
    }
}

/// Why a line could not be read.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum LineFault {
    /// Bytes that are not text.
    #[error("it is not text (UTF-8)")]
    NotText,
    /// A control character that ends no line and colours nothing.
    #[error("it holds a control character")]
    Control,
    /// No shape that any format has.
    #[error("it is neither a number nor 'probe,number', 'label:number' or JSON")]
    Unknown,
    /// "21,5", or a probe named by a bare number.
    #[error("'{0}' before the comma is or ends in a number: a decimal comma? Write 21.5; a probe's name must not be a bare number")]
    DecimalComma(String),
    /// "2026-03-14 07:30:00,21.5"
    #[error("'{0}' before the comma looks like a time, not like a probe's name; leave times out, lines are stamped on arrival")]
    TimeFirst(String),
    /// More than one comma.
    #[error("it has more than one comma")]
    ManyCommas,
    /// The name is none.
    #[error("{0}")]
    Name(#[from] NameFault),
    /// A probe's name that is something else.
    #[error("its probe's name is neither text nor a whole number")]
    NoName,
    /// Two names, and no telling which is the probe's.
    #[error("it holds two names for one probe")]
    TwoNames,
    /// Two values for one probe.
    #[error("it holds two temperatures of '{0}'")]
    TwiceInLine(Name),
    /// A number that is no temperature.
    #[error("{0} is no temperature and no code known")]
    OutOfRange(String),
    /// An object without a temperature.
    #[error("it holds no temperature")]
    NoTemperature,
    /// Two keys that could both be the temperature's.
    #[error("'{0}' and '{1}' could both be the temperature")]
    TwoTemperatures(String, String),
    /// A unit that is not converted.
    #[error("its unit '{0}' is neither °C nor °F")]
    Unit(String),
    /// Broken JSON.
    #[error("it is not JSON that can be read: {0}")]
    Json(String),
    /// A record of SenML whose beginning was not heard, or could not be read.
    #[error("it is a record of SenML without the '[' that begins a pack")]
    RecordAlone,
    /// A pack of a later version.
    #[error("it is of SenML version {0}; versions 1 to 10 are known")]
    Version(String),
    /// A field of SenML that must be understood.
    #[error("its field '{0}' says that it must be understood, and it is not known here")]
    MustUnderstand(String),
    /// A field of SenML that is not what it should be.
    #[error("its field '{label}' is not {wanted}")]
    WrongType {
        /// The field.
        label: &'static str,
        /// What it should be.
        wanted: &'static str,
    },
    /// A record of SenML that says nothing.
    #[error("a record of it holds no value")]
    NoValue,
    /// A name that SenML does not allow.
    #[error("'{0}' is no name in SenML: letters, digits and -:./_, a letter or digit first")]
    SenmlName(String),
    /// A time in seconds that is none.
    #[error("{0} seconds is no time that could be reckoned with")]
    Time(String),
    /// A line of another format than the lines before it.
    #[error("it is written as {found}, while this port prints {latched}; such lines are read once three have come in a row")]
    OtherFormat {
        /// As what the line was read.
        found: LineFormat,
        /// As what the port's lines are read.
        latched: LineFormat,
    },
    /// Longer than a line may be.
    #[error("it is longer than {0} bytes")]
    TooLong(usize),
    /// A message that is none of those read.
    #[error("it is neither a number nor JSON")]
    NoMessage,
    /// Its checksum is not that of its bytes.
    #[error("its checksum is {given}, that of what came is {found}")]
    Checksum {
        /// The one it carries.
        given: String,
        /// The one of the bytes before it.
        found: String,
    },
    /// A line without a checksum, where all others have one.
    #[error("it has no checksum, while this port's lines carry one")]
    NoChecksum,
    /// A line that can be read, between others that are no text.
    #[error("it stands among bytes that are no text, and may be a number by chance")]
    AmongGarbage,
    /// A recorded line whose time is in the future, or before 2020.
    #[error("its time is in the future or before 2020")]
    RecordedTime,
}

impl LineFault {
    /// Whether it speaks of bytes that are no text, as a wrong speed or a loose plug makes them. A line that is text but no
    /// reading does not: boards talk.
    #[must_use]
    pub fn is_no_text(&self) -> bool {
        matches!(self, Self::NotText | Self::Control | Self::TooLong(_))
    }
}

/// What a line means to a format; nothing where the line is not of its shape.
type Shape = Option<Result<Vec<Measured>, LineFault>>;
/// A format that needs no memory.
type Format = (LineFormat, fn(&str) -> Shape);

/// What a broker's message means, all of it or nothing: a pack of SenML, a JSON object, or a bare number. Names that it does not
/// give are the topic's to give.
///
/// # Errors
/// [`LineFault`].
pub(super) fn read_message(bytes: &[u8]) -> Result<Vec<Measured>, LineFault> {
    let text = std::str::from_utf8(bytes).map_err(|_| LineFault::NotText)?;
    // A line break between the parts of JSON is a blank to it, and within its texts it cannot stand.
    let text = text.trim_start_matches('\u{feff}').replace(['\n', '\r'], " ");
    let text = text.trim_matches([' ', '\t']);
    if text.chars().any(|c| c.is_control() && c != '\t') {
        return Err(LineFault::Control);
    }
    let measured = match text.bytes().next() {
        Some(b'[') => {
            let mut pack = senml::Stream::default();
            let measured = pack.read(text)?;
            if pack.is_open() {
                return Err(LineFault::Json("the pack does not end".to_owned()));
            }
            measured
        }
        _ => object::json_object(text).or_else(|| plain::bare(text)).unwrap_or(Err(LineFault::NoMessage))?,
    };
    each_once(measured)
}

/// No two temperatures of one probe.
fn each_once(measured: Vec<Measured>) -> Result<Vec<Measured>, LineFault> {
    let mut named = BTreeSet::new();
    // SenML may give one probe several times, each at its own time.
    let of_one_time = measured.iter().filter(|one| one.given.is_none()).filter_map(|one| one.probe.as_ref());
    match of_one_time.into_iter().find(|probe| !named.insert(*probe)) {
        Some(twice) => Err(LineFault::TwiceInLine(twice.clone())),
        None => Ok(measured),
    }
}

/// The formats beside SenML, tried in order: the first that knows the shape of a line decides what it means.
const FORMATS: [Format; 5] = [
    (LineFormat::JsonObject, object::json_object),
    (LineFormat::Checked, checked::checked),
    (LineFormat::Plain, plain::bare),
    (LineFormat::Pairs, pairs::pairs),
    (LineFormat::Plain, plain::named),
];

/// What a line said, where it could be read.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Read {
    /// What it measured; nothing, for a line of blanks.
    pub measured: Vec<Measured>,
    /// From and to which format the port changed with this line.
    pub changed: Option<(LineFormat, LineFormat)>,
}

/// Reads the lines of one port, and remembers how they are written: a board prints one format, so that a line of another is
/// more likely a board's talk, or a piece of something, than a temperature.
#[derive(Debug, Default)]
pub struct LineReader {
    stream: senml::Stream,
    latched: Option<LineFormat>,
    /// The last format seen that is not latched, and how many good lines of it came in a row.
    seen: Option<(LineFormat, u32)>,
}

impl LineReader {
    /// A reader for a port that has printed nothing yet.
    #[must_use]
    pub fn new() -> Self {
        Self::default()
    }

    /// The port was opened anew. Whatever has been plugged in meanwhile need not print checksums.
    pub(super) fn is_opened(&mut self) {
        self.lost_track();
        if self.latched == Some(LineFormat::Checked) {
            self.latched = None;
        }
    }

    /// A line was lost, or the port was opened anew: what later lines leave unsaid is not known any more.
    pub fn lost_track(&mut self) {
        self.stream.close();
    }

    /// Reads one whole line, without its end.
    ///
    /// # Errors
    /// [`LineFault`]: the line cannot be read, and why. Nothing of it is used then.
    pub fn read(&mut self, bytes: &[u8]) -> Result<Read, LineFault> {
        let read = self.understand(bytes);
        if read.is_err() {
            self.lost_track();
        }
        let Some((format, measured)) = read? else { return Ok(Read::default()) };
        // A line that measures nothing tells little of what the port prints.
        let changed = if measured.is_empty() { None } else { self.latch(format)? };
        Ok(Read { measured, changed })
    }

    fn understand(&mut self, bytes: &[u8]) -> Result<Option<(LineFormat, Vec<Measured>)>, LineFault> {
        let text = std::str::from_utf8(bytes).map_err(|_| LineFault::NotText)?;
        let text = without_colours(text.trim_start_matches('\u{feff}'));
        let text = text.trim_matches([' ', '\t']);
        if text.chars().any(|c| c.is_control() && c != '\t') {
            return Err(LineFault::Control);
        }
        if text.is_empty() {
            return Ok(None);
        }
        if self.stream.takes(text) {
            return Ok(Some((LineFormat::Senml, self.stream.read(text)?)));
        }
        self.stream.close();
        let found = FORMATS.iter().find_map(|(format, read)| Some((*format, read(text)?)));
        let (format, read) = found.ok_or(LineFault::Unknown)?;
        Ok(Some((format, each_once(read?)?)))
    }

    /// Counts a good line; says which formats the port changed between, if it did.
    fn latch(&mut self, found: LineFormat) -> Result<Option<(LineFormat, LineFormat)>, LineFault> {
        if self.latched == Some(found) {
            self.seen = None;
            return Ok(None);
        }
        // However many come: a board that prints checksums prints them always, and a bit may turn the mark before one into a line end.
        if self.latched == Some(LineFormat::Checked) {
            return Err(LineFault::NoChecksum);
        }
        let count = self.seen.filter(|(format, _)| *format == found).map_or(1, |(_, count)| count + 1);
        self.seen = Some((found, count));
        if count >= LATCH_AFTER {
            self.seen = None;
            return Ok(self.latched.replace(found).map(|before| (before, found)));
        }
        self.latched.map_or(Ok(None), |latched| Err(LineFault::OtherFormat { found, latched }))
    }
}

/// The text without whole colour sequences (`ESC [ 32 ; 1 m`). A broken sequence leaves its escape character behind, which
/// spoils the line: its digits could be taken for a temperature.
fn without_colours(text: &str) -> String {
    let mut kept = String::with_capacity(text.len());
    let mut rest = text;
    while let Some((before, after)) = rest.split_once("\u{1b}[") {
        kept.push_str(before);
        let end = after.find(|c: char| !c.is_ascii_digit() && c != ';');
        match end.and_then(|end| after.get(end..)?.strip_prefix('m')) {
            Some(tail) => rest = tail,
            None => {
                kept.push('\u{1b}');
                rest = after;
            }
        }
    }
    kept + rest
}

#[cfg(test)]
mod tests;
