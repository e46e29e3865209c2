//! How the bench stands: what needs doing, probes, alarms, and the devices that were let in.

use std::sync::Arc;

use askama::Template;
use axum::Json;
use axum::extract::{Extension, State};
use serde::Deserialize;

use super::app::App;
use super::frame::{Frame, Place};
use super::guard::Visitor;
use super::handled::{Change, Done, Refusal, Shown, shown};
use super::prose::{Block, blocks};
use crate::changes::{self, devices};
use crate::diagnosis::LoggerState;
use crate::wording::{alarms_text, moment, status_text};

#[derive(Template)]
#[template(path = "status.html", config = "src/page/askama.toml")]
struct Page {
    frame: Frame,
    said: Vec<Block>,
    /// Empty: no logger watches.
    alarms: Vec<Block>,
    devices: Vec<Paired>,
}

/// A device that was let in.
struct Paired {
    id: i64,
    name: String,
    may: &'static str,
    paired: String,
    seen: String,
}

pub(super) async fn page(State(app): State<Arc<App>>, Extension(visitor): Extension<Visitor>) -> Shown {
    app.aside(move |app| {
        let (known, now) = (app.told(), app.now());
        let (status, zone, devices) =
            app.file.ask(|store| Ok::<_, changes::ChangeError>((app.here.status(store)?, store.bench()?.zone, devices(store)?)))?;
        let runs = status.machine.map(|machine| matches!(machine.logger, LoggerState::Runs(_)));
        let alarms = status.alarms.as_ref();
        let alarms = alarms.map(|alarms| blocks(&alarms_text(&alarms.states, &alarms.deliveries, &alarms.bench, now, runs)));
        let device = |device: &_| paired(device, zone);
        let devices = if visitor.may_all() { devices.iter().map(device).collect() } else { Vec::new() };
        shown(&Page {
            frame: Frame::new("How the bench stands", Place::Elsewhere, visitor, known),
            said: blocks(&status_text(&status, zone)),
            alarms: alarms.unwrap_or_default(),
            devices,
        })
    })
    .await
}

fn paired(device: &changes::LetIn, zone: crate::civil::Zone) -> Paired {
    Paired {
        id: device.id,
        name: if device.name.is_empty() { format!("device {}", device.id) } else { device.name.clone() },
        may: device.may_words(),
        paired: moment(device.paired, zone),
        seen: moment(device.seen, zone),
    }
}

/// Which device.
#[derive(Debug, Deserialize)]
pub(super) struct Which {
    id: String,
}

pub(super) async fn shut_out(State(app): State<Arc<App>>, Json(which): Json<Which>) -> Change {
    let done = app.aside(move |app| {
        let none = || Refusal::not_here("there is no such device");
        let id: i64 = which.id.parse().map_err(|_| none())?;
        let known = app.file.ask(devices)?;
        let device = known.into_iter().find(|device| device.id == id).ok_or_else(none)?;
        app.file.change(|store| changes::shut_out(store, id))?;
        Ok(Done { said: format!("{} is shut out.", device.name), ..Done::default() })
    });
    Change(done.await)
}
