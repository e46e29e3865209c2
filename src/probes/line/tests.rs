use super::*;
use proptest::prelude::*;

/// What a line of one measurement means to a port that has printed nothing yet.
fn read_line(bytes: &[u8]) -> Result<Option<Measured>, LineFault> {
    let Read { mut measured, changed } = LineReader::new().read(bytes)?;
    assert_eq!(changed, None);
    assert!(measured.len() <= 1);
    Ok(measured.pop().map(|measured| Measured { given: None, ..measured }))
}

fn plain(probe: Option<&str>, celsius: f64) -> Result<Option<Measured>, LineFault> {
    read(probe, Some(celsius), Proof::Plain)
}

fn read(probe: Option<&str>, celsius: Option<f64>, proof: Proof) -> Result<Option<Measured>, LineFault> {
    let raw_c_e4 = celsius.map(|celsius| (celsius * 1e4).round() as i64);
    Ok(Some(Measured { probe: probe.map(|name| Name::new(name).unwrap()), raw_c_e4, proof, given: None }))
}

#[test]
fn the_two_simple_forms_are_read() {
    for (line, expected) in [
        ("21.5", plain(None, 21.5)),
        ("-0.0625", plain(None, -0.0625)),
        ("+7", plain(None, 7.0)),
        ("  21.5\t", plain(None, 21.5)),
        ("1.95e1", plain(None, 19.5)),
        ("sill,21.5625", plain(Some("sill"), 21.5625)),
        ("west sill , 21.5", plain(Some("west sill"), 21.5)),
        ("28-3d7de20264ff,19", plain(Some("28-3d7de20264ff"), 19.0)),
        ("p1,85.0", plain(Some("p1"), 85.0)),
        ("größe,0.5", plain(Some("größe"), 0.5)),
    ] {
        assert_eq!(read_line(line.as_bytes()), expected, "{line:?}");
    }
}

#[test]
fn fault_25_what_a_line_proves_is_kept_with_its_number() {
    for code in [-127.0, -196.6, 127.94, -254.0, -253.0, -252.0, -999.0] {
        assert_eq!(read_line(format!("p1,{code}").as_bytes()), read(Some("p1"), Some(code), Proof::Disconnected));
    }
    for none in ["nan", "NaN", "null", "ERR", "inf", "-inf", ""] {
        assert_eq!(read_line(format!("p1,{none}").as_bytes()), read(Some("p1"), None, Proof::NotANumber), "{none:?}");
    }
    assert_eq!(read_line(b"nan"), read(None, None, Proof::NotANumber));
    assert_eq!(read_line(b"p1,0.000"), plain(Some("p1"), 0.0));
}

#[test]
fn fault_22_dirt_around_a_line_is_taken_off_and_dirt_within_it_spoils_it() {
    assert_eq!(read_line("\u{feff}21.5".as_bytes()), plain(None, 21.5));
    assert_eq!(read_line(b"\x1b[32mp1,\x1b[0;1m21.5\x1b[m"), plain(Some("p1"), 21.5));
    assert_eq!(read_line(b"\x1b[321.5"), Err(LineFault::Control));
    assert_eq!(read_line(b"2\x001.5"), Err(LineFault::Control));
    assert_eq!(read_line(b"\x001.5"), Err(LineFault::Control), "a lost digit must not make a temperature");
    assert_eq!(read_line(b"p1,21.5\xff"), Err(LineFault::NotText));
    assert_eq!(read_line(b"   "), Ok(None));
}

#[test]
fn fault_25_34_what_could_mean_two_things_is_refused_with_the_reason() {
    for (line, words) in [
        (
            "21,5",
            "'21' before the comma is or ends in a number: a decimal comma? Write 21.5; a probe's name must not be a bare number",
        ),
        (
            "-3,5",
            "'-3' before the comma is or ends in a number: a decimal comma? Write 21.5; a probe's name must not be a bare number",
        ),
        (
            "air:2,5",
            "'air:2' before the comma is or ends in a number: a decimal comma? Write 21.5; a probe's name must not be a bare number",
        ),
        (
            "2026-03-14 07:30:00,21.5",
            "'2026-03-14 07:30:00' before the comma looks like a time, not like a probe's name; leave times out, \
             lines are stamped on arrival",
        ),
        ("air:21.5,air:22", "it holds two temperatures of 'air'"),
        (r#"{"t_c":{"a":1,"a ":2}}"#, "it holds two temperatures of 'a'"),
        ("p1,21,5", "it has more than one comma"),
        ("p1,1e400", "1e400 is no temperature and no code known"),
        ("1000.1", "1000.1 is no temperature and no code known"),
        ("21.", "it is neither a number nor 'probe,number', 'label:number' or JSON"),
        (".5", "it is neither a number nor 'probe,number', 'label:number' or JSON"),
        ("0x15", "it is neither a number nor 'probe,number', 'label:number' or JSON"),
        ("p1,70F", "it is neither a number nor 'probe,number', 'label:number' or JSON"),
        ("DS18B20 logger v2 ready", "it is neither a number nor 'probe,number', 'label:number' or JSON"),
        ("ets Jan  8 2013,rst cause:2, boot mode:(3,6)", "it has more than one comma"),
        ("AT", "it is neither a number nor 'probe,number', 'label:number' or JSON"),
        (",21.5", "a name is missing"),
    ] {
        assert_eq!(read_line(line.as_bytes()).map_err(|fault| fault.to_string()), Err(words.to_owned()), "{line:?}");
    }
    let long = format!("{},21.5", "x".repeat(81));
    assert!(matches!(read_line(long.as_bytes()), Err(LineFault::Name(NameFault::TooLong(81, _)))));
}

#[test]
fn names_with_colons_are_still_names() {
    for (line, name) in [("28:FF:64:02:E2:7D:3D:B5,21.5", "28:FF:64:02:E2:7D:3D:B5"), ("urn:dev:a,21.5", "urn:dev:a")] {
        assert_eq!(read_line(line.as_bytes()), plain(Some(name), 21.5));
    }
}

/// The temperatures and raw sixteenths of the data sheet of the DS18B20, table "Temperature/Data Relationship" (Maxim
/// Integrated, DS18B20 Programmable Resolution 1-Wire Digital Thermometer).
const DS18B20: [(f64, u16); 10] = [
    (125.0, 0x07D0),
    (85.0, 0x0550),
    (25.0625, 0x0191),
    (10.125, 0x00A2),
    (0.5, 0x0008),
    (0.0, 0x0000),
    (-0.5, 0xFFF8),
    (-10.125, 0xFF5E),
    (-25.0625, 0xFE6F),
    (-55.0, 0xFC90),
];

#[test]
fn every_row_of_the_ds18b20s_table_is_kept_exactly_in_every_format() {
    for (celsius, word) in DS18B20 {
        let sixteenths = i64::from(word.cast_signed());
        for line in [
            format!("p1,{celsius}"),
            format!("p1:{celsius}"),
            format!(r#"{{"id":"p1","t_c":{celsius}}}"#),
            format!(r#"[{{"n":"p1","u":"Cel","v":{celsius}}}]"#),
        ] {
            let measured = read_line(line.as_bytes()).unwrap().unwrap();
            // A sixteenth of a degree is 625 ten-thousandths.
            assert_eq!((measured.raw_c_e4, measured.proof), (Some(sixteenths * 625), Proof::Plain), "{line}");
        }
    }
}

/// What a port makes of lines one after the other: "=" read, "-" refused as of another format, "!" refused otherwise, "~" the
/// format has changed with it.
fn course(lines: &[&str]) -> String {
    let mut reader = LineReader::new();
    let sign = |line: &&str| match reader.read(line.as_bytes()) {
        Ok(Read { changed: Some(_), .. }) => '~',
        Ok(_) => '=',
        Err(LineFault::OtherFormat { .. }) => '-',
        Err(_) => '!',
    };
    lines.iter().map(sign).collect()
}

#[test]
fn a_port_keeps_its_format_until_three_good_lines_in_a_row_say_otherwise() {
    let json = r#"{"id":"a","t_c":21.5}"#;
    let pack = r#"[{"n":"a","u":"Cel","v":21.5}]"#;
    assert_eq!(course(&["a,1", json, "a:1", pack, "1"]), "=====", "nothing is latched yet");
    assert_eq!(course(&["a,1", "1", "b,2", "found:2", "a,1", json]), "===-=-", "a board's talk is no temperature");
    assert_eq!(course(&["a,1", "1", "b,2", json, json, json, json]), "===--~=");
    assert_eq!(course(&["a,1", "1", "b,2", json, json, "a,1", json, json, json]), "===--=--~");
    assert_eq!(course(&["a,1", "?", "b,2", "", "c,3", "a:1"]), "=!===-", "lines that say nothing count neither way");
    assert_eq!(course(&[json, json, json, "21.5", "5"]), "===--", "pieces of a longer line are not believed");
    assert_eq!(course(&["a:1", "a:1", "a:1", pack, pack, pack]), "===--~");
    let record = r#"{"n":"a","u":"Cel","v":21.5},"#;
    assert_eq!(course(&["a,1", "a,1", "a,1", "[", record, record, record, record]), "====--~=", "a stream begun is not lost");
}

#[test]
fn a_change_of_format_says_from_what_to_what() {
    let mut reader = LineReader::new();
    let lines = ["a,1", "a,1", "a,1", "a:1", "a:1", "a:1"];
    let changes: Vec<_> = lines.iter().filter_map(|line| reader.read(line.as_bytes()).ok()?.changed).collect();
    assert_eq!(changes, [(LineFormat::Plain, LineFormat::Pairs)]);
    assert_eq!(
        reader.read(b"a,1").unwrap_err().to_string(),
        "it is written as '21.5' or 'probe,21.5', while this port prints 'label:21.5'; such lines are read once three have come \
         in a row"
    );
}

/// A record of a stream leaves its name, unit or time to an earlier line: when a line was lost that may have said otherwise,
/// nothing more of the stream is believed.
#[test]
fn a_stream_with_a_line_lost_is_not_believed_until_a_new_pack() {
    let first = r#"[{"bn":"a","bu":"Cel","v":21.5},"#;
    let next = r#"{"t":10,"v":21.6},"#;
    assert_eq!(course(&[first, next, "", next, "]", next]), "=====!");
    for lost in [r#"{"bu":"%RH","v":4"#, "AT", "5", "b,21", "\u{1b}[2J", "]x", "\u{0}"] {
        assert_eq!(&course(&[first, next, lost, next, next, first, next])[3..], "!!==", "{lost:?}");
    }
    let mut reader = LineReader::new();
    reader.read(first.as_bytes()).unwrap();
    reader.lost_track();
    assert_eq!(reader.read(next.as_bytes()), Err(LineFault::RecordAlone));
    // Without its comma it looks like an object of its own, in which "t" might be taken for a temperature.
    assert_eq!(reader.read(br#"{"t":10,"v":21.6}"#), Err(LineFault::RecordAlone));
}

fn are_refused_or_in_range(lines: &[&[u8]]) -> bool {
    let mut reader = LineReader::new();
    let measured = lines.iter().filter_map(|line| reader.read(line).ok()).flat_map(|read| read.measured);
    measured.filter_map(|measured| measured.raw_c_e4).all(|raw| raw.abs() <= 10_000_000)
}

/// Pieces of which JSON lines are made, and some that have no place there.
const PIECES: [&str; 23] = [
    "[",
    "]",
    "{",
    "}",
    ",",
    ":",
    "\"",
    "\"t_c\"",
    "\"id\"",
    "\"t\"",
    "\"v\"",
    "\"u\":\"Cel\"",
    "\"n\":\"a\"",
    "\"bn\":\"b\"",
    "21.5",
    "-127",
    "1e400",
    "1e30",
    "null",
    "nan",
    "\"mat\"",
    "{\"t_c\":",
    "[{\"v\":",
];

proptest! {
    #[test]
    fn no_bytes_make_it_fail_or_read_what_is_no_temperature(bytes in prop::collection::vec(any::<u8>(), 0..600)) {
        prop_assert!(are_refused_or_in_range(&bytes.split(|byte| *byte == b'\n').collect::<Vec<_>>()));
    }

    #[test]
    fn near_misses_neither(text in "(\u{feff}|\u{1b}\\[[0-9;]{0,3}m?)?[a-z]{0,2}[,:]?[-+]?[0-9]{0,4}[.,]?[0-9eE]{0,4}(nan|inf)?") {
        prop_assert!(are_refused_or_in_range(&[text.as_bytes()]));
    }

    #[test]
    fn nor_pieces_of_json(
        lines in prop::collection::vec(prop::collection::vec(prop::sample::select(PIECES.to_vec()), 0..12), 1..4),
    ) {
        let lines: Vec<String> = lines.iter().map(|pieces| pieces.concat()).collect();
        prop_assert!(are_refused_or_in_range(&lines.iter().map(|line| line.as_bytes()).collect::<Vec<_>>()));
    }

    #[test]
    fn a_probes_sixteenths_are_kept_exactly(sixteenths in -880i64..=2000) {
        let celsius = sixteenths as f64 / 16.0;
        let measured = read_line(format!("p1,{celsius:.4}").as_bytes()).unwrap().unwrap();
        prop_assert_eq!(measured.raw_c_e4, Some(sixteenths * 625));
    }
}
