//! Addresses of the page, as they stand on paper.

/// The longest address of a page, letters: what more is, no code holds beside a name.
const LONGEST: usize = 150;

/// Where the page is to be reached, without what follows the host's name and port.
///
/// # Errors
/// What is wrong with it, in words.
pub fn page_address(text: &str) -> Result<String, String> {
    let text = text.trim();
    let told = |rule: &str| Err(format!("'{}' {rule}", text.chars().take(80).collect::<String>()));
    let Some(rest) = text.strip_prefix("http://").or_else(|| text.strip_prefix("https://")) else {
        return told("is no address: write it as http://192.168.1.5:7333");
    };
    let rest = rest.trim_end_matches('/');
    if rest.is_empty()
        || rest.contains(|letter: char| letter.is_whitespace() || letter.is_control() || "?#@\"<>\\".contains(letter))
    {
        return told("is no address of a page: it ends with a name and perhaps a port, as http://192.168.1.5:7333");
    }
    if text.chars().count() > LONGEST {
        return told(&format!("is too long for a code: at most {LONGEST} letters"));
    }
    Ok(text.trim_end_matches('/').to_owned())
}

/// A name as a part of a path (RFC 3986, section 2.1: all but unreserved letters as their bytes).
#[must_use]
pub fn path_part(name: &str) -> String {
    name.bytes()
        .map(|byte| match byte {
            b'a'..=b'z' | b'A'..=b'Z' | b'0'..=b'9' | b'-' | b'.' | b'_' | b'~' => char::from(byte).to_string(),
            other => format!("%{other:02X}"),
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_address_is_taken_as_one_types_it() {
        for (typed, taken) in [
            (" http://192.168.1.5:7333/ ", "http://192.168.1.5:7333"),
            ("https://bench.lan", "https://bench.lan"),
            ("http://[fd00::5]:7333", "http://[fd00::5]:7333"),
            ("http://bench.lan/seeds/", "http://bench.lan/seeds"),
        ] {
            assert_eq!(page_address(typed).as_deref(), Ok(taken));
        }
        for wrong in [
            "",
            "bench.lan:7333",
            "ftp://bench",
            "http://",
            "http://a b",
            "http://a?b",
            "http://a#b",
            "http://me@a",
            "javascript:1",
        ] {
            assert!(page_address(wrong).is_err(), "{wrong}");
        }
        assert!(page_address(&format!("http://{}", "x".repeat(200))).unwrap_err().contains("too long"));
    }

    #[test]
    fn a_name_is_one_part_of_a_path() {
        assert_eq!(path_part("B 3/½?#"), "B%203%2F%C2%BD%3F%23");
    }
}
