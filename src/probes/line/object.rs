//! A JSON object a line: `{"id":"mat","t_c":26.5}`.

use super::json::{Json, Members, object};
use super::value::{NO_VALUE, Unit, Value, from_text, measured};
use super::{LineFault, Measured, Shape, senml};
use crate::bench::Name;

/// Keys that name the probe. All keys are compared without regard to case.
const IDS: [&str; 4] = ["id", "probe", "sensor", "name"];
const CELSIUS: [&str; 3] = ["t_c", "temp_c", "celsius"];
const FAHRENHEIT: [&str; 3] = ["t_f", "temp_f", "fahrenheit"];
/// Keys that say no unit: °C, unless a key of [`UNITS`] says otherwise.
const UNITLESS: [&str; 3] = ["temperature", "temp", "t"];
const UNITS: [&str; 2] = ["unit", "units"];

/// One object, alone on its line. Its temperature is one number, or an object of names and numbers; or each probe has an
/// object of its own. Keys that say nothing of this are passed over; where two could mean the same, the line is refused.
pub(super) fn json_object(text: &str) -> Shape {
    text.starts_with('{').then(|| read(text))
}

fn read(text: &str) -> Result<Vec<Measured>, LineFault> {
    if text.ends_with(',') {
        return Err(LineFault::RecordAlone);
    }
    let (members, after) = object(text)?;
    if !after.trim().is_empty() {
        return Err(LineFault::Json("something stands after the object".to_owned()));
    }
    let id = id(&members)?;
    let Some((temperature, unit)) = temperature(&members)? else {
        return apart(&members, id);
    };
    let Json::Object(probes) = temperature else {
        return Ok(vec![Measured::now(id, value(temperature, unit)?)]);
    };
    if id.is_some() || probes.is_empty() {
        return Err(if id.is_some() { LineFault::TwoNames } else { LineFault::NoTemperature });
    }
    probes.iter().map(|(name, number)| Ok(Measured::now(Some(Name::new(name)?), value(number, unit)?))).collect()
}

/// `{"mat":{"t_c":26.5},"sill":{"t_c":9.25}}`: an object within names its probe itself, or is named by its key.
fn apart(members: &Members, outside: Option<Name>) -> Result<Vec<Measured>, LineFault> {
    let mut all = Vec::new();
    for (key, within) in members {
        let Json::Object(within) = within else { continue };
        let Some((found, unit)) = temperature(within)? else { continue };
        let name = id(within)?.map_or_else(|| Name::new(key), Ok)?;
        all.push(Measured::now(Some(name), value(found, unit)?));
    }
    match outside {
        _ if all.is_empty() && members.iter().any(|(key, _)| senml::is_label(key)) => Err(LineFault::RecordAlone),
        _ if all.is_empty() => Err(LineFault::NoTemperature),
        Some(_) => Err(LineFault::TwoNames),
        None => Ok(all),
    }
}

/// The name that an object gives, if any. A whole number is a name here, where no comma can make it one by mistake.
fn id(members: &Members) -> Result<Option<Name>, LineFault> {
    let mut name = None;
    for (_, value) in of(members, &IDS) {
        let text = match value {
            Json::Text(text) => text.clone(),
            Json::Number(number) if number.fract() == 0.0 && (0.0..1e9).contains(number) => number.to_string(),
            Json::Null => continue,
            _ => return Err(LineFault::NoName),
        };
        let found = Name::new(&text)?;
        if name.is_some_and(|name| name != found) {
            return Err(LineFault::TwoNames);
        }
        name = Some(found);
    }
    Ok(name)
}

/// The member that is the temperature, if any: one that names °C before one that names °F before one that names no unit.
fn temperature(members: &Members) -> Result<Option<(&Json, Unit)>, LineFault> {
    for (keys, unit) in [(CELSIUS, Some(Unit::Celsius)), (FAHRENHEIT, Some(Unit::Fahrenheit)), (UNITLESS, None)] {
        let found: Vec<_> = of(members, &keys).collect();
        match found.as_slice() {
            [] => {}
            // In a record of SenML "t" is a time.
            [(key, _)] if key.eq_ignore_ascii_case("t") && members.iter().any(|(key, _)| senml::is_label(key)) => {
                return Err(LineFault::RecordAlone);
            }
            [(_, value)] => return Ok(Some((value, unit.map_or_else(|| unit_of(members), Ok)?))),
            [(one, _), (other, _), ..] => return Err(LineFault::TwoTemperatures(one.clone(), other.clone())),
        }
    }
    Ok(None)
}

/// The unit that an object gives to its temperature.
fn unit_of(members: &Members) -> Result<Unit, LineFault> {
    let mut unit = Unit::Celsius;
    for (_, value) in of(members, &UNITS) {
        let Json::Text(text) = value else { return Err(LineFault::Unit("no text".to_owned())) };
        unit = match text.trim().trim_start_matches('°').to_lowercase().as_str() {
            "c" | "cel" | "celsius" | "degc" => Unit::Celsius,
            "f" | "fahrenheit" | "degf" => Unit::Fahrenheit,
            _ => return Err(LineFault::Unit(text.clone())),
        };
    }
    Ok(unit)
}

fn value(value: &Json, unit: Unit) -> Result<Value, LineFault> {
    match value {
        Json::Null => Ok(NO_VALUE),
        Json::Number(number) => measured(*number, unit, || number.to_string()),
        Json::Text(text) => from_text(text.trim(), unit).unwrap_or_else(|| Err(LineFault::OutOfRange(format!("'{text}'")))),
        Json::Object(_) | Json::Other => Err(LineFault::NoTemperature),
    }
}

fn of<'m>(members: &'m Members, keys: &[&str]) -> impl Iterator<Item = &'m (String, Json)> {
    members.iter().filter(|(key, _)| keys.iter().any(|known| key.eq_ignore_ascii_case(known)))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::bench::Proof;

    fn read_all(text: &str) -> Vec<(Option<String>, Option<i64>, Proof)> {
        let all = read(text).unwrap_or_else(|fault| panic!("{text}: {fault}"));
        all.into_iter().map(|one| (one.probe.map(|name| name.to_string()), one.raw_c_e4, one.proof)).collect()
    }

    fn plain(name: &str, raw: i64) -> (Option<String>, Option<i64>, Proof) {
        (Some(name.to_owned()), Some(raw), Proof::Plain)
    }

    #[test]
    fn the_common_keys_are_known_and_others_passed_over() {
        for text in [
            r#"{"id":"a","t_c":21.5}"#,
            r#"{"probe":"a","temp_c":21.5}"#,
            r#"{"sensor":"a","celsius":2.15e1}"#,
            r#" {"Name" : "a", "Temperature" : "21.5" } "#,
            r#"{"t":21.5,"id":"a","humidity":45.5,"ok":true,"history":[1,{"t_c":2}],"next":null}"#,
            r#"{"id":"a","temp":21.5,"unit":"°C"}"#,
            r#"{"id":"a","t_f":70.7}"#,
            r#"{"id":"a","fahrenheit":70.7,"temp":70.7}"#,
            r#"{"id":"a","temp":70.7,"unit":"F"}"#,
            r#"{"id":"a","name":"a","t_c":21.5,"t_f":70.7,"t":1700000000}"#,
            r#"{"id":"a","t_c":21.5,"limits":{"t_c":30}}"#,
        ] {
            assert_eq!(read_all(text), [plain("a", 215_000)], "{text}");
        }
        assert_eq!(read_all(r#"{"t_c":21.5}"#), [(None, Some(215_000), Proof::Plain)]);
        assert_eq!(read_all(r#"{"id":3,"t_c":21.5}"#), [plain("3", 215_000)]);
        assert_eq!(read_all(r#"{"id":"a","t_c":-127.0}"#), [(Some("a".to_owned()), Some(-1_270_000), Proof::Disconnected)]);
        for none in ["null", "\"nan\"", "\"ERR\""] {
            let text = format!(r#"{{"id":"a","t_c":{none}}}"#);
            assert_eq!(read_all(&text), [(Some("a".to_owned()), None, Proof::NotANumber)], "{text}");
        }
    }

    #[test]
    fn several_probes_are_read_from_objects_one_deep() {
        let both = [plain("mat", 265_000), plain("sill", 92_500)];
        assert_eq!(read_all(r#"{"t_c":{"mat":26.5,"sill":9.25}}"#), both);
        assert_eq!(read_all(r#"{"up":17,"mat":{"t_c":26.5,"rh":40},"sill":{"t_c":9.25},"wifi":{"dbm":-60}}"#), both);
        assert_eq!(read_all(r#"{"first":{"Id":"mat","Temperature":26.5}}"#), both[..1]);
    }

    #[test]
    fn what_cannot_be_told_apart_is_refused_with_the_reason() {
        for (text, words) in [
            (r#"{"id":"a","temp":21.5,"t":5}"#, "'temp' and 't' could both be the temperature"),
            (r#"{"id":"a","name":"b","t_c":21.5}"#, "it holds two names for one probe"),
            (r#"{"id":"board","t_c":{"mat":26.5}}"#, "it holds two names for one probe"),
            (r#"{"id":"board","mat":{"t_c":26.5}}"#, "it holds two names for one probe"),
            (r#"{"id":["a"],"t_c":21.5}"#, "its probe's name is neither text nor a whole number"),
            (r#"{"id":"a","humidity":45}"#, "it holds no temperature"),
            (r#"{"mat":26.5,"sill":9.25}"#, "it holds no temperature"),
            (r#"{"id":"a","t_c":true}"#, "it holds no temperature"),
            (r#"{"t_c":{}}"#, "it holds no temperature"),
            (r#"{"t_c":{"a":{"b":1}}}"#, "it holds no temperature"),
            (r#"{"id":"a","temp":294.65,"unit":"K"}"#, "its unit 'K' is neither °C nor °F"),
            (r#"{"id":"a","t_c":"21,5"}"#, "'21,5' is no temperature and no code known"),
            (r#"{"id":"a","t_c":2150}"#, "2150 is no temperature and no code known"),
            (r#"{"id":"a","t_c":21.5,"t_c":22}"#, "it is not JSON that can be read: the key 't_c' stands there twice"),
            (r#"{"id":"a","t_c":nan}"#, "it is not JSON that can be read: expected ident"),
            (r#"{"id":"a","t_c":21.5"#, "it is not JSON that can be read: EOF while parsing an object"),
            (r#"{"id":"a","t_c":21.5}}"#, "it is not JSON that can be read: something stands after the object"),
            (r#"{"id":"a","t_c":1e400}"#, "it is not JSON that can be read: number out of range"),
            (r#"{"t":10,"v":21.3}"#, "it is a record of SenML without the '[' that begins a pack"),
            (r#"{"t":10,"v":21.3},"#, "it is a record of SenML without the '[' that begins a pack"),
            (r#"{"n":"a","u":"Cel","v":21.3}"#, "it is a record of SenML without the '[' that begins a pack"),
            (r#"{"id":"","t_c":21.3}"#, "a name is missing"),
        ] {
            assert_eq!(read(text).map_err(|fault| fault.to_string()), Err(words.to_owned()), "{text}");
        }
    }

    #[test]
    fn deep_nesting_is_refused_or_passed_over_but_never_overflows() {
        let deep = |n: usize, open: &str, close: &str| format!(r#"{{"t_c":21.5,"x":{}1{}}}"#, open.repeat(n), close.repeat(n));
        assert!(read(&deep(1000, "{\"a\":", "}")).is_err());
        for text in [deep(1000, "[", "]"), deep(20_000, "[", "]"), deep(20_000, "{\"a\":", "}")] {
            let _ = read(&text);
        }
    }
}
