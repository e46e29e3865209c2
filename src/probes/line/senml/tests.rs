//! The examples of RFC 8428, https://www.rfc-editor.org/rfc/rfc8428, and its rules. Of the examples only the figures are taken
//! over; where one shows no temperature, its unit is swapped for Cel beside it, so that its rows can be seen.

use super::*;
use crate::bench::Proof;

/// A row as `name, °C, seconds`; those of `FromNow` are marked by the flag.
type Row = (String, f64, f64, bool);

fn rows(lines: &[&str]) -> Vec<Row> {
    let mut stream = Stream::default();
    let all = lines.iter().flat_map(|line| {
        assert!(stream.takes(line), "{line}");
        stream.read(line).unwrap_or_else(|fault| panic!("{line}: {fault}"))
    });
    let row = |one: Measured| {
        let (us, from_now) = match one.given.unwrap() {
            Given::FromNow { us } => (us, true),
            Given::Since1970 { us } => (us, false),
        };
        assert_eq!(one.proof, Proof::Plain);
        (one.probe.unwrap().to_string(), one.raw_c_e4.unwrap() as f64 / 1e4, us as f64 / 1e6, from_now)
    };
    all.map(row).collect()
}

fn row(name: &str, celsius: f64, seconds: f64) -> Row {
    (name.to_owned(), celsius, seconds, seconds < FIRST_ABSOLUTE_S)
}

fn refused(line: &str) -> String {
    Stream::default().read(line).expect_err(line).to_string()
}

#[test]
fn section_5_1_1_a_single_measurement_now() {
    let pack = r#"[{"n":"urn:dev:ow:10e2073a01080063","u":"Cel","v":23.1}]"#;
    assert_eq!(rows(&[pack]), [row("urn:dev:ow:10e2073a01080063", 23.1, 0.0)]);
}

/// The second pack of the section, in amperes, and the same in Cel. 1.4 is written as 0.14e1 and 1.3 as 1.30.
#[test]
fn section_5_1_2_times_before_a_base_time_and_an_older_version() {
    let pack = |unit: &str| {
        format!(
            r#"[{{"bn":"urn:dev:ow:10e2073a0108006:","bt":1.276020076001e+09,"bu":"{unit}","bver":5,"n":"voltage","u":"V","v":120.1}},
               {{"n":"current","t":-5,"v":1.2}},{{"n":"current","t":-4,"v":1.30}},{{"n":"current","t":-3,"v":0.14e1}},
               {{"n":"current","t":-2,"v":1.5}},{{"n":"current","t":-1,"v":1.6}},{{"n":"current","v":1.7}}]"#
        )
    };
    assert_eq!(rows(&[&pack("A")]), []);
    let name = "urn:dev:ow:10e2073a0108006:current";
    let expected: Vec<Row> = (0..6).map(|n| row(name, [1.2, 1.3, 1.4, 1.5, 1.6, 1.7][n], 1_276_020_071.001 + n as f64)).collect();
    assert_eq!(rows(&[&pack("Cel")]), expected);
}

/// The third pack of the section, a stream whose end has not come: in one line, and as a record a line.
#[test]
fn fault_35_section_5_1_2_and_4_8_a_stream_gives_its_records_before_its_end() {
    let values = [21.2, 21.3, 21.4, 21.4, 21.5, 21.5, 21.5, 21.6, 21.7];
    let records = |unit: &str| -> Vec<String> {
        let first = format!(r#"{{"bn":"urn:dev:ow:10e2073a01080063","bt":1.320067464e+09,"bu":"{unit}","v":21.2}}"#);
        let later = |n: usize| format!(r#"{{"t":{},"v":{}}}"#, n * 10, values[n]);
        std::iter::once(first).chain((1..values.len()).map(later)).collect()
    };
    let expected: Vec<Row> =
        (0..9).map(|n| row("urn:dev:ow:10e2073a01080063", values[n], 1_320_067_464.0 + 10.0 * n as f64)).collect();
    assert_eq!(rows(&[&format!("[{}", records("%RH").join(","))]), []);
    assert_eq!(rows(&[&format!("[{},", records("Cel").join(","))]), expected);
    let ways = [("", ","), (",", ""), ("", "")];
    for (before, after) in ways {
        let lines: Vec<String> = records("Cel").iter().map(|record| format!("{before}{record}{after}")).collect();
        let mut lines: Vec<&str> = std::iter::once("[").chain(lines.iter().map(String::as_str)).collect();
        if before == "," {
            // The first record of all follows no other.
            lines[1] = &lines[1][1..];
        }
        assert_eq!(rows(&lines), expected, "{before:?} {after:?}");
    }
}

#[test]
fn section_5_1_3_other_units_are_passed_over() {
    let pack = r#"[{"bn":"urn:dev:ow:10e2073a01080063","bt":1.320067464e+09,"bu":"%RH","v":20},{"u":"lon","v":24.30621},
        {"u":"lat","v":60.07965},{"t":60,"v":20.3},{"u":"lon","t":60,"v":24.30622},{"u":"lat","t":60,"v":60.07965},
        {"t":120,"v":20.7},{"u":"%EL","t":150,"v":98},{"n":"urn:x:no-unit-is-no-temperature","v":21}]"#;
    assert_eq!(rows(&[pack]), []);
}

#[test]
fn section_5_1_4_a_base_name_holds_for_the_records_after_it() {
    let pack = r#"[{"bn":"urn:dev:ow:10e2073a01080063:","n":"temp","u":"Cel","bt":1.276020076e+09,"v":23.5},
        {"n":"temp","u":"Cel","t":1.5e+1,"v":23.6}]"#;
    let name = "urn:dev:ow:10e2073a01080063:temp";
    assert_eq!(rows(&[pack]), [row(name, 23.5, 1_276_020_076.0), row(name, 23.6, 1_276_020_091.0)]);
}

#[test]
fn section_5_1_5_texts_truths_and_data_are_passed_over() {
    let pack = r#"[{"bn":"urn:dev:ow:10e2073a01080063:","n":"temp","u":"Cel","v":23.1},{"n":"label","vs":"Machine Room"},
        {"n":"open","vb":false},{"n":"nfv-reader","vd":"aGkgCg"}]"#;
    assert_eq!(rows(&[pack]), [row("urn:dev:ow:10e2073a01080063:temp", 23.1, 0.0)]);
}

#[test]
fn section_5_1_6_a_base_name_can_change_within_a_pack() {
    let pack = r#"[{"bn":"2001:db8::2/","bt":1.320078429e+09,"n":"temperature","u":"Cel","v":25.2},
        {"n":"humidity","u":"%RH","v":30},{"bn":"2001:db8::1/","n":"temperature","u":"Cel","v":12.3},
        {"n":"humidity","u":"%RH","v":67}]"#;
    let at = 1_320_078_429.0;
    assert_eq!(rows(&[pack]), [row("2001:db8::2/temperature", 25.2, at), row("2001:db8::1/temperature", 12.3, at)]);
}

#[test]
fn fault_35_section_4_1_a_base_holds_also_where_a_record_measures_nothing() {
    let pack = r#"[{"bn":"a:","bu":"Cel","bv":20},{"n":"x","v":1.5},{"n":"y","v":-0.5},{"n":"z","s":5},{"bv":0},{"n":"x","v":9}]"#;
    assert_eq!(rows(&[pack]), [row("a:x", 21.5, 0.0), row("a:y", 19.5, 0.0), row("a:x", 9.0, 0.0)]);
}

#[test]
fn fault_35_section_4_4_unknown_fields_are_ignored_unless_they_must_be_understood() {
    let pack = r#"[{"n":"a","u":"Cel","v":23.1,"ut":60,"colour":{"deep":[1,{"v":2}]},"x_y":1}]"#;
    assert_eq!(rows(&[pack]), [row("a", 23.1, 0.0)]);
    assert_eq!(
        refused(r#"[{"n":"b","u":"Cel","v":1},{"n":"a","u":"Cel","v":23.1,"twist_":1}]"#),
        "its field 'twist_' says that it must be understood, and it is not known here"
    );
}

#[test]
fn fault_35_section_4_4_a_later_version_is_refused_and_earlier_ones_are_not() {
    for version in ["1", "5", "10", "10.0"] {
        assert_eq!(rows(&[&format!(r#"[{{"bver":{version},"n":"a","u":"Cel","v":1}}]"#)]).len(), 1, "{version}");
    }
    for version in ["11", "99", "10.5", "0", "-1"] {
        let words = refused(&format!(r#"[{{"bver":{version},"n":"a","u":"Cel","v":1}}]"#));
        assert_eq!(words, format!("it is of SenML version {version}; versions 1 to 10 are known"));
    }
}

#[test]
fn section_4_5_1_names_have_a_small_alphabet() {
    assert_eq!(rows(&[r#"[{"n":"0-:./_z","u":"Cel","v":1}]"#]).len(), 1);
    for bad in ["", "-a", "_a", "a b", "ä", "a\\u0000"] {
        let words = refused(&format!(r#"[{{"n":"{bad}","u":"Cel","v":1}}]"#));
        assert!(words.ends_with("is no name in SenML: letters, digits and -:./_, a letter or digit first"), "{bad}: {words}");
    }
    assert_eq!(rows(&[r#"[{"n":"not a probe's","u":"%RH","v":1}]"#]), [], "what is passed over is not judged");
    assert!(refused(&format!(r#"[{{"n":"{}","u":"Cel","v":1}}]"#, "x".repeat(81))).contains("is too long"));
}

#[test]
fn fault_35_section_4_5_3_times_below_two_to_the_28th_are_from_now() {
    for (bt, t, from_now) in [("0", "268435455.999", true), ("0", "268435456", false), ("268435456", "-1", true), ("0", "-9", true)]
    {
        let pack = format!(r#"[{{"bt":{bt},"t":{t},"n":"a","u":"Cel","v":1}}]"#);
        assert_eq!(rows(&[&pack])[0].3, from_now, "{bt} + {t}");
    }
    let beyond = refused(r#"[{"t":1e300,"n":"a","u":"Cel","v":1}]"#);
    assert!(beyond.ends_with("seconds is no time that could be reckoned with"), "{beyond}");
}

#[test]
fn section_4_6_records_come_in_order_of_time() {
    let pack = r#"[{"bn":"a","bu":"Cel","v":3},{"t":-20,"v":1},{"t":-10,"v":2}]"#;
    assert_eq!(rows(&[pack]), [row("a", 1.0, -20.0), row("a", 2.0, -10.0), row("a", 3.0, 0.0)]);
}

#[test]
fn fault_35_what_is_no_pack_gives_nothing_and_says_why() {
    for (line, words) in [
        (r#"[{"n":"a","u":"Cel","v":"23.1"}]"#, "its field 'v' is not a number"),
        (r#"[{"n":5,"u":"Cel","v":23.1}]"#, "its field 'n' is not text"),
        (r#"[{"n":"a","u":"Cel"}]"#, "a record of it holds no value"),
        (r#"[{}]"#, "a record of it holds no value"),
        (r#"[{"n":"a","u":"Cel","v":1001}]"#, "1001 is no temperature and no code known"),
        (r#"[{"n":"a","u":"Cel","v":1},]"#, ""),
        (r#"[{"n":"a","u":"Cel","v":1,"v":2}]"#, "it is not JSON that can be read: the key 'v' stands there twice"),
        (r#"[{"n":"a","u":"Cel","v":1}{"n":"b"}]"#, "it is not JSON that can be read: expected a record, a comma or ']'"),
        (r#"[{"n":"a","u":"Cel","v":1}] x"#, "it is not JSON that can be read: something stands after the pack"),
        (r#"[,{"n":"a","u":"Cel","v":1}]"#, "it is not JSON that can be read: expected a record, a comma or ']'"),
        (r#"[1,2]"#, "it is not JSON that can be read: expected a record, a comma or ']'"),
        (r#"[{"n":"a","u":"Cel","v":2"#, "it is not JSON that can be read: EOF while parsing an object"),
        ("[ 1.5 ] 21", "it is not JSON that can be read: expected a record, a comma or ']'"),
    ] {
        if words.is_empty() {
            // A comma too many before the end takes nothing from the records before it.
            assert_eq!(rows(&[line]).len(), 1, "{line}");
        } else {
            assert_eq!(refused(line), words, "{line}");
        }
    }
    let deep = format!(r#"[{{"n":"a","u":"Cel","v":1,"x":{}1{}}}]"#, "{\"a\":".repeat(1000), "}".repeat(1000));
    assert!(refused(&deep).contains("recursion limit exceeded"));
}

#[test]
fn drivers_codes_are_codes_here_too() {
    let read = Stream::default().read(r#"[{"n":"a","u":"Cel","v":-127},{"n":"b","u":"Cel","bv":100,"v":-227}]"#).unwrap();
    assert!(read.iter().all(|one| one.proof == Proof::Disconnected && one.raw_c_e4 == Some(-1_270_000)));
}
