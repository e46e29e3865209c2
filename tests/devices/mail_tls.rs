//! Mail by real TLS: a server of the test that speaks STARTTLS (RFC 3207) with a certificate made up for it.

use std::io::{Read, Write};
use std::net::{TcpListener, TcpStream};
use std::sync::Arc;
use std::thread::JoinHandle;

use rustls::pki_types::{PrivateKeyDer, PrivatePkcs8KeyDer};
use rustls::{ServerConfig, ServerConnection, StreamOwned};

use super::harness::{Desk, program};

/// A certificate for this computer, signed by itself.
struct Papers {
    pem: String,
    config: Arc<ServerConfig>,
}

fn papers() -> Papers {
    let made = rcgen::generate_simple_self_signed(vec!["localhost".to_owned()]).unwrap();
    let key = PrivateKeyDer::Pkcs8(PrivatePkcs8KeyDer::from(made.signing_key.serialize_der()));
    let provider = Arc::new(rustls::crypto::ring::default_provider());
    let config = ServerConfig::builder_with_provider(provider)
        .with_safe_default_protocol_versions()
        .unwrap()
        .with_no_client_auth()
        .with_single_cert(vec![made.cert.der().clone()], key)
        .unwrap();
    Papers { pem: made.cert.pem(), config: Arc::new(config) }
}

/// One talk (RFC 5321); gives the lines that were heard, up to the end or to STARTTLS where that is offered.
fn talk<S: Read + Write>(stream: &mut S, offers_tls: bool) -> Vec<String> {
    let (mut lines, mut in_data, mut line) = (Vec::new(), false, Vec::new());
    let mut byte = [0u8];
    while matches!(stream.read(&mut byte), Ok(1)) {
        if byte[0] != b'\n' {
            line.push(byte[0]);
            continue;
        }
        let text = String::from_utf8_lossy(&std::mem::take(&mut line)).trim_end().to_owned();
        lines.push(text.clone());
        let answer = match text.as_str() {
            "." if in_data => {
                in_data = false;
                "250 taken\r\n"
            }
            _ if in_data => "",
            "STARTTLS" => "220 go on\r\n",
            "DATA" => {
                in_data = true;
                "354 go on\r\n"
            }
            "QUIT" => "221 bye\r\n",
            text if text.starts_with("EHLO") && offers_tls => "250-localhost\r\n250 STARTTLS\r\n",
            _ => "250 OK\r\n",
        };
        if stream.write_all(answer.as_bytes()).and_then(|()| stream.flush()).is_err() || text == "STARTTLS" || text == "QUIT" {
            break;
        }
    }
    lines
}

/// What a server heard in the open, and what by TLS.
type Heard = (Vec<String>, Vec<String>);

/// A server for one letter.
fn server(config: Arc<ServerConfig>) -> (u16, JoinHandle<Heard>) {
    let listener = TcpListener::bind("127.0.0.1:0").unwrap();
    let port = listener.local_addr().unwrap().port();
    let serve = move || {
        let (mut stream, _): (TcpStream, _) = listener.accept().unwrap();
        stream.write_all(b"220 localhost\r\n").unwrap();
        let open = talk(&mut stream, true);
        let mut secret = StreamOwned::new(ServerConnection::new(config).unwrap(), stream);
        let heard = talk(&mut secret, false);
        (open, heard)
    };
    (port, std::thread::spawn(serve))
}

/// Sends a test by mail, trusting nobody but whose certificate is given; gives the exit code and what was said.
fn test_mail(desk: &Desk, port: u16, trusted: &str) -> (Option<i32>, String) {
    let roots = desk.port("roots.pem");
    std::fs::write(&roots, trusted).unwrap();
    let server = format!("localhost:{port}");
    let mail =
        ["--mail-server", &server, "--mail-secrecy", "starttls", "--mail-from", "seeds@house.lan", "--mail-to", "ann@house.lan"];
    let done = program(&desk.bench())
        .args(["alarms", "--test"])
        .args(mail)
        .env("SSL_CERT_FILE", &roots)
        .env_remove("SSL_CERT_DIR")
        .output()
        .unwrap();
    let said = format!("{}{}", String::from_utf8_lossy(&done.stdout), String::from_utf8_lossy(&done.stderr));
    (done.status.code(), said)
}

#[test]
fn mail_goes_by_tls_to_a_server_whose_certificate_is_trusted_and_to_no_other() {
    let desk = Desk::new();
    let sown =
        program(&desk.bench()).args(["sow", "C1", "--species", "lettuce", "--seeds", "20", "--spot", "mat"]).output().unwrap();
    assert!(sown.status.success());
    let (mine, other) = (papers(), papers());
    let (port, listening) = server(Arc::clone(&mine.config));
    let (code, said) = test_mail(&desk, port, &mine.pem);
    let (open, secret) = listening.join().unwrap();
    assert_eq!(code, Some(0), "{said}");
    assert!(said.starts_with("by mail: delivered on ") && said.ends_with(" (250 taken)\n"), "{said}");
    assert!(open.last().is_some_and(|line| line == "STARTTLS") && open.iter().all(|line| !line.starts_with("MAIL")), "{open:?}");
    assert!(secret.iter().any(|line| line.starts_with("RCPT TO:<ann@house.lan>")), "{secret:?}");
    assert!(secret.iter().any(|line| line == "This is a test: alarms reach you this way."), "{secret:?}");
    // Of another's certificate nothing is known: not a word of the letter goes out, and why is told.
    let (port, listening) = server(mine.config);
    let (code, said) = test_mail(&desk, port, &other.pem);
    let (open, secret) = listening.join().unwrap();
    assert_eq!(code, Some(1), "{said}");
    assert!(said.starts_with("by mail: failed on ") && said.to_lowercase().contains("certificate"), "{said}");
    assert!(secret.is_empty() && open.iter().all(|line| !line.starts_with("MAIL")), "{open:?} {secret:?}");
}
