//! Where the page is reached.

use std::net::{IpAddr, Ipv4Addr, UdpSocket};

use axum::http::HeaderMap;
use axum::http::header::HOST;

use super::app::App;
use super::guard::{Ends, is_loopback_name};

/// This computer's address on the local network. A socket that is only said to be connected sends nothing; the address asked about is
/// one kept for documentation (RFC 5737).
#[must_use]
pub fn own_address() -> IpAddr {
    let asked = || {
        let socket = UdpSocket::bind((Ipv4Addr::UNSPECIFIED, 0))?;
        socket.connect((Ipv4Addr::new(192, 0, 2, 1), 9))?;
        socket.local_addr()
    };
    asked().map_or(IpAddr::V4(Ipv4Addr::LOCALHOST), |address| address.ip())
}

/// The address to print on paper: as the page was asked for, unless by a name that means another computer to each: then by a name that
/// this computer was given, else by its address on the network.
pub(super) fn printed_address(app: &App, headers: &HeaderMap, ends: Ends) -> String {
    let host = headers.get(HOST).and_then(|host| host.to_str().ok()).unwrap_or_default();
    if !host.is_empty() && !is_loopback_name(host) {
        return format!("http://{host}");
    }
    let port = ends.local.port();
    let name = app.names.first().cloned().unwrap_or_else(|| match own_address() {
        IpAddr::V4(ip) => ip.to_string(),
        IpAddr::V6(ip) => format!("[{ip}]"),
    });
    if port == 80 { format!("http://{name}") } else { format!("http://{name}:{port}") }
}

/// Whether only this computer itself comes to an address.
pub(super) fn is_only_here(address: &str) -> bool {
    let host = address.split_once("://").map_or(address, |(_, rest)| rest);
    is_loopback_name(host.split('/').next().unwrap_or_default())
}
