//! The page, and the devices that may use it.

use std::io::Write as _;
use std::net::{IpAddr, Ipv4Addr, SocketAddr, TcpListener};
use std::path::Path;
use std::sync::Arc;

use anyhow::Context as _;
use fast_qr::QRBuilder;
use tokio::signal::unix::{SignalKind, signal};

use super::Outcome;
use super::ask::said;
use crate::answers::Here;
use crate::changes::{CODE_MINUTES, May, devices, offer_pairing, shut_out};
use crate::clock::{Clock, SystemClock};
use crate::page::{PageOptions, own_address, serve};
use crate::store::Store;
use crate::wording::moment;

/// The page's port where nothing else is said: the word SEED on the keys of a telephone.
pub(super) const PORT: u16 = 7333;

/// Show the bench in a browser: on this computer, and on phones that were paired with it
#[derive(Debug, clap::Args)]
pub(super) struct Page {
    /// Where it listens; 0.0.0.0 is every network of this computer [default: 127.0.0.1:7333, this computer only]
    #[arg(long, value_name = "ADDRESS[:PORT]", value_parser = address)]
    listen: Vec<SocketAddr>,
    /// A name that this computer goes by on the local network, such as bench.lan; may be given several times
    #[arg(long, value_name = "NAME")]
    name: Vec<String>,
    /// End when standard input ends: so the page goes with the logger that began it
    #[arg(long, hide = true)]
    until_input_ends: bool,
}

impl Page {
    pub(super) fn run(self, bench: &Path) -> anyhow::Result<Outcome> {
        // What cannot be read is said before anything is served.
        drop(Store::open_read_only(bench)?);
        let listen = if self.listen.is_empty() { vec![SocketAddr::from((Ipv4Addr::LOCALHOST, PORT))] } else { self.listen };
        let listeners = listen.iter().map(|address| bound(*address)).collect::<anyhow::Result<Vec<_>>>()?;
        for listener in &listeners {
            let address = listener.local_addr().context("cannot tell where the page listens")?;
            said(&format!("the page is at {}; stop with Ctrl-C", shown_address(address)));
            if !address.ip().is_loopback() {
                said("  other devices are let in once they are paired: seedclock pair");
            }
        }
        let here = Here::new(Arc::new(SystemClock));
        let options = PageOptions { bench: bench.to_path_buf(), names: self.name, here };
        let runtime =
            tokio::runtime::Builder::new_multi_thread().worker_threads(2).enable_all().build().context("cannot start the page")?;
        runtime.block_on(async {
            let mut interrupt = signal(SignalKind::interrupt())?;
            let mut terminate = signal(SignalKind::terminate())?;
            let shutdown = async {
                tokio::select! {
                    _ = interrupt.recv() => {}
                    _ = terminate.recv() => {}
                    () = input_ends(self.until_input_ends) => {}
                }
            };
            serve(listeners, options, shutdown).await
        })?;
        Ok(Outcome::Done)
    }
}

/// Waits for the end of standard input; for ever where that is not asked for.
async fn input_ends(asked: bool) {
    let (told, ends) = tokio::sync::oneshot::channel();
    let waiting = asked.then(|| {
        std::thread::spawn(move || {
            let _ = std::io::copy(&mut std::io::stdin(), &mut std::io::sink());
            told.send(())
        })
    });
    match waiting {
        Some(_) => drop(ends.await),
        None => std::future::pending().await,
    }
}

fn bound(address: SocketAddr) -> anyhow::Result<TcpListener> {
    TcpListener::bind(address).with_context(|| {
        format!("cannot listen at {address}\n  next: another address or port with `--listen`, or stop what listens there")
    })
}

/// An address, with the usual port where none is said.
pub(super) fn address(text: &str) -> Result<SocketAddr, String> {
    text.parse::<SocketAddr>()
        .or_else(|_| text.parse::<IpAddr>().map(|ip| SocketAddr::from((ip, PORT))))
        .map_err(|_| "write an address and perhaps a port, as 0.0.0.0 or 127.0.0.1:7333".to_owned())
}

/// How one gets there from a browser.
fn shown_address(address: SocketAddr) -> String {
    let reached = if address.ip().is_unspecified() { SocketAddr::from((own_address(), address.port())) } else { address };
    format!("http://{reached}")
}

/// Let a phone or another computer of this network use the page
#[derive(Debug, clap::Args)]
pub(super) struct Pair {
    /// It may look, record looks and add photographs, and nothing else
    #[arg(long)]
    helper: bool,
    /// What to call it
    #[arg(long, value_name = "NAME", default_value = "a device")]
    name: String,
    /// The page's address as that device reaches it [default: this computer's address on the local network]
    #[arg(long, value_name = "URL")]
    url: Option<String>,
    /// List the devices that were let in
    #[arg(long, conflicts_with_all = ["helper", "url", "remove"])]
    list: bool,
    /// Shut a device out, by its number in the list
    #[arg(long, value_name = "N")]
    remove: Option<i64>,
}

impl Pair {
    pub(super) fn run(self, bench: &Path) -> anyhow::Result<Outcome> {
        if self.list {
            return list(bench);
        }
        let mut store = Store::open(bench)?;
        if let Some(id) = self.remove {
            shut_out(&mut store, id).map_err(|error| super::record::refusal(error, "changed"))?;
            said(&format!("device {id} is shut out"));
            return Ok(Outcome::Done);
        }
        let may = if self.helper { May::Look } else { May::All };
        let code =
            offer_pairing(&mut store, may, &self.name, SystemClock.now()).map_err(|error| super::record::refusal(error, "made"))?;
        let url = self.url.unwrap_or_else(|| format!("http://{}", SocketAddr::from((own_address(), PORT))));
        let (first, second) = code.letters().split_at(code.letters().len() / 2);
        let link = format!("{}/pair#{first}{second}", url.trim_end_matches('/'));
        let qr = QRBuilder::new(link.as_str()).build().map_err(|error| anyhow::anyhow!("cannot draw the code: {error:?}"))?;
        let mut out = std::io::stdout();
        writeln!(
            out,
            "{}\nOpen this on the device within {CODE_MINUTES} minutes (its camera reads the square):\n  {link}",
            qr.to_str()
        )?;
        writeln!(out, "or open {url}/pair there and type {first}-{second}. The code works once.")?;
        writeln!(
            out,
            "The page listens to other devices where it was started with `--listen 0.0.0.0` (or that address in the configuration). What it \
             sends is not encrypted: pair only in a network that you trust."
        )?;
        Ok(Outcome::Done)
    }
}

fn list(bench: &Path) -> anyhow::Result<Outcome> {
    let store = Store::open_read_only(bench)?;
    let zone = store.bench()?.zone;
    let mut out = std::io::stdout();
    let devices = devices(&store).map_err(|error| super::record::refusal(error, "read"))?;
    if devices.is_empty() {
        writeln!(out, "No device was let in yet: seedclock pair")?;
    }
    for device in devices {
        let may = device.may_words();
        let (paired, seen) = (moment(device.paired, zone), moment(device.seen, zone));
        writeln!(out, "{}  {}, {may}; let in {paired}, last here {seen}", device.id, device.name)?;
    }
    Ok(Outcome::Done)
}
