//! Temperatures as they are typed: `21`, `21C`, `70F`.

use crate::bench::Degrees;

/// The uncertainty of a set or remembered temperature where none is said, in °C: what a dial's figure is worth.
pub const USUAL_SD_C: f64 = 1.0;

/// A number of degrees, of which kind is known where it was typed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TypedDegrees {
    number: f64,
    degrees: Option<Degrees>,
}

impl TypedDegrees {
    /// Reads `21`, `21.5C`, `70 F`, `-3 °C`.
    ///
    /// # Errors
    /// Text and rule, where it is no temperature.
    pub fn read(text: &str) -> Result<Self, String> {
        let trimmed = text.trim();
        let degrees = match trimmed.chars().last() {
            Some('C' | 'c') => Some(Degrees::Celsius),
            Some('F' | 'f') => Some(Degrees::Fahrenheit),
            _ => None,
        };
        let digits = if degrees.is_some() { &trimmed[..trimmed.len() - 1] } else { trimmed };
        let digits = digits.trim_end().trim_end_matches('°').trim_end();
        let number = digits.replace('−', "-").parse::<f64>().ok().filter(|number| number.is_finite());
        let rule = if digits.contains(',') { "write it with a decimal point, as in 21.5" } else { "write 21, 21C or 70F" };
        number.map(|number| Self { number, degrees }).ok_or_else(|| format!("'{text}' is no temperature: {rule}"))
    }

    /// The temperature in °C; `usual` are the degrees of the bench.
    #[must_use]
    pub fn celsius(self, usual: Degrees) -> f64 {
        self.degrees.unwrap_or(usual).to_celsius(self.number)
    }

    /// The degrees that it was typed in, where that was said.
    #[must_use]
    pub fn said(self) -> Option<Degrees> {
        self.degrees
    }

    /// The difference of temperatures in °C.
    #[must_use]
    pub fn difference(self, usual: Degrees) -> f64 {
        self.degrees.unwrap_or(usual).difference_to_celsius(self.number)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Freezing and boiling water and the point where both scales meet; the scale is defined by its 32 and 212 degrees.
    #[test]
    fn degrees_are_read_in_both_scales() {
        let celsius = |text: &str| TypedDegrees::read(text).unwrap().celsius(Degrees::Celsius);
        assert_eq!(
            [celsius("21.5"), celsius("32F"), celsius("212 °F"), celsius("-40f"), celsius("−40 C")],
            [21.5, 0.0, 100.0, -40.0, -40.0]
        );
        let of_the_bench = TypedDegrees::read("70").unwrap();
        assert!((of_the_bench.celsius(Degrees::Fahrenheit) - 21.111_111_111).abs() < 1e-9);
        assert_eq!(TypedDegrees::read("9F").unwrap().difference(Degrees::Celsius), 5.0, "a difference goes without the 32");
        assert_eq!(TypedDegrees::read("21,5").unwrap_err(), "'21,5' is no temperature: write it with a decimal point, as in 21.5");
        for wrong in ["", "F", "warm", "NaN", "inf C", "21K"] {
            assert_eq!(TypedDegrees::read(wrong).unwrap_err(), format!("'{wrong}' is no temperature: write 21, 21C or 70F"));
        }
    }
}
