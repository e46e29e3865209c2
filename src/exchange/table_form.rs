//! What the columns of a table of temperatures mean that another program wrote: told, remembered, or plain from its header.

use serde::{Deserialize, Serialize};

use crate::bench::{Degrees, Name};

/// A column as one tells it: by its place, counted from 1, or by its header.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Column {
    /// The place, counted from 1.
    Place(usize),
    /// The header.
    Header(String),
}

impl Column {
    /// Takes digits for a place and all else for a header.
    #[must_use]
    pub fn told(text: &str) -> Self {
        text.trim().parse().map_or_else(|_| Self::Header(text.trim().to_owned()), Self::Place)
    }

    fn find(&self, header: &[String]) -> Result<usize, String> {
        match self {
            Self::Place(place) if (1..=header.len()).contains(place) => Ok(place - 1),
            Self::Place(place) => Err(format!("there is no column {place}")),
            Self::Header(text) => {
                header.iter().position(|column| column == text).ok_or_else(|| format!("there is no column '{text}'"))
            }
        }
    }
}

/// How dates such as 03/04/2026 are written.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Dates {
    /// The third of April.
    DayFirst,
    /// The fourth of March.
    MonthFirst,
}

/// What was told about a table.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Told {
    /// The column of the time, or of the time of day.
    pub time: Option<Column>,
    /// The column of the date, where that stands apart.
    pub date: Option<Column>,
    /// The column of the temperature.
    pub temperature: Option<Column>,
    /// The column of the probe.
    pub probe_column: Option<Column>,
    /// The one probe that all of it is of.
    pub probe: Option<Name>,
    /// The degrees.
    pub degrees: Option<Degrees>,
    /// How its dates are written.
    pub dates: Option<Dates>,
}

/// Which probe a row is of.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum ProbeOf {
    /// The one that stands in this column.
    Column(usize),
    /// All are of the same.
    All(Name),
}

/// What the columns mean; places counted from 0.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct TableForm {
    /// The time, or the time of day.
    pub time: usize,
    /// The date, where that stands apart.
    pub date: Option<usize>,
    /// The temperature.
    pub temperature: usize,
    /// Its degrees.
    pub degrees: Degrees,
    /// The probe.
    pub probe: ProbeOf,
    /// How its dates are written, where that was told.
    pub dates: Option<Dates>,
}

/// A form as it is remembered.
#[derive(Serialize, Deserialize)]
struct Kept {
    time: usize,
    date: Option<usize>,
    temperature: usize,
    degrees: String,
    probe_column: Option<usize>,
    probe: Option<String>,
    dates: Option<Dates>,
}

impl TableForm {
    /// Puts together what was told, what is remembered of a table with this header, and what the header says plainly. `units`
    /// are the degrees of the bench, for a table that names none.
    ///
    /// # Errors
    /// What cannot be told, and the options that would tell it.
    pub fn settle(
        header: &[String],
        told: &Told,
        remembered: Option<&str>,
        units: Option<Degrees>,
    ) -> Result<Self, (String, String)> {
        let columns: Vec<String> = header.iter().enumerate().map(|(at, column)| format!("{} '{column}'", at + 1)).collect();
        let columns = format!("its columns are {}", columns.join(", "));
        let find = |column: &Option<Column>| column.as_ref().map(|column| column.find(header)).transpose();
        let found =
            |column: &Option<Column>| find(column).map_err(|what| (format!("{what}: {columns}"), "name another".to_owned()));
        let before = remembered.and_then(Self::remembered);
        let plain = Plain::of(header);
        let (time, date) = match (found(&told.time)?, found(&told.date)?) {
            (Some(time), date) => (Some(time), date),
            (None, date) => match (&before, plain.time) {
                (Some(before), _) => (Some(before.time), date.or(before.date)),
                (None, time) => (time, date.or(plain.date)),
            },
        };
        let temperature = found(&told.temperature)?.or(before.as_ref().map(|before| before.temperature)).or(plain.temperature);
        let probe = match (found(&told.probe_column)?, &told.probe) {
            (_, Some(name)) => Some(ProbeOf::All(name.clone())),
            (Some(column), None) => Some(ProbeOf::Column(column)),
            (None, None) => before.as_ref().map(|before| before.probe.clone()).or(plain.probe.map(ProbeOf::Column)),
        };
        let mut unclear = Vec::new();
        unclear.extend(time.is_none().then_some(("the time", "--time-column N")));
        unclear.extend(temperature.is_none().then_some(("the temperature", "--temp-column N")));
        unclear.extend(probe.is_none().then_some(("the probe", "--probe NAME or --probe-column N")));
        let (Some(time), Some(temperature), Some(probe)) = (time, temperature, probe) else {
            let (what, options): (Vec<_>, Vec<_>) = unclear.into_iter().unzip();
            let next = format!("add {}; it is asked only once for tables with this header", options.join(" "));
            return Err((format!("the header does not tell {}: {columns}", what.join(" and ")), next));
        };
        let named = header.get(temperature).and_then(|column| degrees_of(column));
        let degrees = told.degrees.or(before.as_ref().map(|before| before.degrees)).or(named).or(units).unwrap_or_default();
        let dates = told.dates.or(before.and_then(|before| before.dates));
        Ok(Self { time, date, temperature, degrees, probe, dates })
    }

    /// The form as text to be remembered.
    #[must_use]
    pub fn to_text(&self) -> String {
        let (probe_column, probe) = match &self.probe {
            ProbeOf::Column(place) => (Some(*place), None),
            ProbeOf::All(name) => (None, Some(name.to_string())),
        };
        let kept = Kept {
            time: self.time,
            date: self.date,
            temperature: self.temperature,
            degrees: self.degrees.word().to_owned(),
            probe_column,
            probe,
            dates: self.dates,
        };
        serde_json::to_string(&kept).unwrap_or_default()
    }

    fn remembered(text: &str) -> Option<Self> {
        let kept: Kept = serde_json::from_str(text).ok()?;
        let named = || Name::new(kept.probe.as_deref()?).ok();
        Some(Self {
            time: kept.time,
            date: kept.date,
            temperature: kept.temperature,
            degrees: Degrees::from_word(&kept.degrees)?,
            probe: kept.probe_column.map(ProbeOf::Column).or_else(|| named().map(ProbeOf::All))?,
            dates: kept.dates,
        })
    }
}

/// What a header says plainly: where exactly one column can be meant.
struct Plain {
    time: Option<usize>,
    date: Option<usize>,
    temperature: Option<usize>,
    probe: Option<usize>,
}

impl Plain {
    fn of(header: &[String]) -> Self {
        let words: Vec<Vec<String>> = header.iter().map(|column| words_of(column)).collect();
        let only = |is: &dyn Fn(&[String], &str) -> bool| {
            let mut places = (0..header.len()).filter(|at| is(&words[*at], &header[*at]));
            places.next().filter(|_| places.next().is_none())
        };
        let any = |words: &[String], of: &[&str]| words.iter().any(|word| of.contains(&word.as_str()));
        let time = only(&|words, _| any(words, &["time", "timestamp", "datetime", "epoch"]));
        let date = only(&|words, _| any(words, &["date", "day"]));
        Self {
            time: time.or(date),
            // "Date Time" is one column, "Date" and "Time" are two.
            date: date.filter(|date| time.is_some_and(|time| time != *date)),
            temperature: only(&|words, column| words.iter().any(|word| word.starts_with("temp")) || degrees_of(column).is_some()),
            probe: only(&|words, _| any(words, &["probe", "sensor", "id", "channel"])),
        }
    }
}

fn words_of(column: &str) -> Vec<String> {
    column.to_lowercase().split(|letter: char| !letter.is_alphanumeric()).map(str::to_owned).collect()
}

/// The degrees that a header names.
fn degrees_of(column: &str) -> Option<Degrees> {
    let words = words_of(column);
    let any = |of: &[&str]| words.iter().any(|word| of.contains(&word.as_str()));
    if any(&["celsius", "degc", "tempc", "c"]) {
        Some(Degrees::Celsius)
    } else if any(&["fahrenheit", "degf", "tempf", "f"]) {
        Some(Degrees::Fahrenheit)
    } else {
        None
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn settled(header: &[&str], told: &Told, remembered: Option<&str>) -> Result<TableForm, (String, String)> {
        let header: Vec<String> = header.iter().map(|column| (*column).to_owned()).collect();
        TableForm::settle(&header, told, remembered, None)
    }

    #[test]
    fn plain_headers_need_no_asking() {
        let form = settled(&["Date", "Time", "Sensor ID", "Temperature (°F)", "Battery"], &Told::default(), None).unwrap();
        let fahrenheit = TableForm {
            time: 1,
            date: Some(0),
            temperature: 3,
            degrees: Degrees::Fahrenheit,
            probe: ProbeOf::Column(2),
            dates: None,
        };
        assert_eq!(form, fahrenheit);
        let form = settled(&["probe", "Date/Time", "°C"], &Told::default(), None).unwrap();
        assert_eq!((form.time, form.date, form.temperature, form.degrees), (1, None, 2, Degrees::Celsius));
    }

    #[test]
    fn what_is_not_plain_is_asked_and_remembered() {
        let header = ["when", "in temp", "out temp"];
        assert_eq!(
            settled(&header, &Told::default(), None).unwrap_err(),
            (
                "the header does not tell the time and the temperature and the probe: its columns are 1 'when', 2 'in temp', 3 \
                 'out temp'"
                    .to_owned(),
                "add --time-column N --temp-column N --probe NAME or --probe-column N; it is asked only once for tables with this \
                 header"
                    .to_owned()
            )
        );
        let told = Told {
            time: Some(Column::told("1")),
            temperature: Some(Column::told("out temp")),
            probe: Some(Name::new("yard").unwrap()),
            degrees: Some(Degrees::Fahrenheit),
            dates: Some(Dates::MonthFirst),
            ..Told::default()
        };
        let form = settled(&header, &told, None).unwrap();
        assert_eq!((form.time, form.temperature), (0, 2));
        assert_eq!(settled(&header, &Told::default(), Some(&form.to_text())), Ok(form.clone()), "remembered");
        let other = Told { temperature: Some(Column::told("2")), ..Told::default() };
        assert_eq!(settled(&header, &other, Some(&form.to_text())).unwrap().temperature, 1, "what is told now goes first");
        let wrong = Told { time: Some(Column::told("9")), ..Told::default() };
        assert!(settled(&header, &wrong, None).unwrap_err().0.starts_with("there is no column 9: its columns are"));
    }
}
