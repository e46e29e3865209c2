//! `--assume SPOT=21`, `SPOT=70F±3`, `SPOT=OTHER`: temperatures to come as the grower supposes them.

use anyhow::{anyhow, bail, ensure};

use crate::answers::Known;
use crate::bench::{Degrees, Name, SetTemperature};
use crate::changes::TypedDegrees;
use crate::forecast::{Assumed, Supposed};
use crate::units::{SET_TEMPERATURE, SET_UNCERTAINTY};

/// What each `--assume` says, its spots looked up on the bench.
pub(super) fn read(texts: &[String], known: &Known) -> anyhow::Result<Vec<Assumed>> {
    let mut all: Vec<Assumed> = Vec::new();
    for text in texts {
        let assumed = one(text, known)?;
        ensure!(
            all.iter().all(|other| other.spot != assumed.spot),
            "--assume: '{}' is given twice: say one thing of a spot",
            assumed.spot
        );
        all.push(assumed);
    }
    Ok(all)
}

fn one(text: &str, known: &Known) -> anyhow::Result<Assumed> {
    let spot_named = |text: &str| Name::new(text).ok().filter(|name| known.bench.spots.contains_key(name));
    // A spot's own name may have an equals sign in it.
    let split = text.match_indices('=').find_map(|(at, _)| Some((spot_named(&text[..at])?, text[at + 1..].trim())));
    let Some((spot, said)) = split else {
        let Some((spot, _)) = text.split_once('=') else { bail!("--assume '{text}': write SPOT=21, SPOT=21±2 or SPOT=OTHER") };
        bail!("--assume '{text}': there is no spot '{}' on this bench; it has {}", spot.trim(), spots(known));
    };
    if let Some(other) = spot_named(said) {
        ensure!(other != spot, "--assume '{text}': a spot is like itself anyway; name another one");
        let told = known.warmth.contains_key(&other);
        ensure!(told, "--assume '{text}': no temperature is known at '{other}', so nothing can be taken to go like it");
        return Ok(Assumed { spot, supposed: Supposed::Like(other) });
    }
    let usual = known.bench.units.unwrap_or_default();
    let set = temperature(said, usual).map_err(|rule| anyhow!("--assume '{text}': {rule}"))?;
    Ok(Assumed { spot, supposed: Supposed::Steady(set.ok_or_else(|| neither(text, said, known))?) })
}

/// A temperature with how sure it is, none where the text is none at all; `21`, `70F`, `21±2`, `70±3F`.
fn temperature(said: &str, usual: Degrees) -> Result<Option<SetTemperature>, String> {
    let (middle, unsure) = match said.split_once('±').or_else(|| said.split_once("+-")) {
        Some((middle, unsure)) => (middle, Some(TypedDegrees::read(unsure)?)),
        None => (said, None),
    };
    let middle = match (TypedDegrees::read(middle), unsure) {
        (Ok(middle), _) => middle,
        (Err(rule), Some(_)) => return Err(rule),
        (Err(_), None) => return Ok(None),
    };
    // Degrees said once hold for both.
    let usual = middle.said().or(unsure.and_then(TypedDegrees::said)).unwrap_or(usual);
    let celsius = SET_TEMPERATURE.check(middle.celsius(usual))?;
    let sd_c = SET_UNCERTAINTY.check(unsure.map_or(0.0, |unsure| unsure.difference(usual)))?;
    Ok(Some(SetTemperature { celsius, sd_c }))
}

fn neither(text: &str, said: &str, known: &Known) -> anyhow::Error {
    anyhow!(
        "--assume '{text}': '{said}' is neither a temperature (21, 21C, 70F, 21±2) nor a spot of this bench; it has {}",
        spots(known)
    )
}

fn spots(known: &Known) -> String {
    let names: Vec<&str> = known.bench.spots.keys().map(Name::as_str).collect();
    if names.is_empty() { "none".to_owned() } else { names.join(", ") }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn temperatures_are_read_with_how_sure_they_are() {
        let read = |text: &str| temperature(text, Degrees::Celsius).map(|set| set.map(|set| (set.celsius, set.sd_c)));
        assert_eq!(read("21"), Ok(Some((21.0, 0.0))));
        assert_eq!(read("21±2"), Ok(Some((21.0, 2.0))));
        assert_eq!(read("21 +- 0.5 C"), Ok(Some((21.0, 0.5))));
        for fahrenheit in ["68F±9", "68±9F", "68F±9F"] {
            assert_eq!(read(fahrenheit), Ok(Some((20.0, 5.0))), "{fahrenheit}");
        }
        assert_eq!(read("warm"), Ok(None));
        assert_eq!(read("95"), Err("95 °C is out of range: a set temperature lies from -20 to 60 °C".to_owned()));
        assert_eq!(read("21±warm"), Err("'warm' is no temperature: write 21, 21C or 70F".to_owned()));
        assert_eq!(
            read("21±-2"),
            Err("-2 °C is out of range: the uncertainty of a set temperature lies from 0 to 20 °C".to_owned())
        );
    }
}
