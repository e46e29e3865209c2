//! The bench as a folder of tables: taken away as one file, and taken in, first only to see what that would bring.
//!
//! What is sent lies in a temporary folder while it is read, and is gone with the answer: to be taken in it is sent once more.

use std::io::{Read as _, Seek as _, SeekFrom};
use std::sync::Arc;

use askama::Template;
use axum::body::{Body, Bytes};
use axum::extract::{Extension, Multipart, Query, State};
use axum::http::StatusCode;
use axum::http::header::{CONTENT_DISPOSITION, CONTENT_LENGTH, CONTENT_TYPE};
use axum::response::Response;
use tempfile::TempDir;
use tokio_stream::wrappers::ReceiverStream;

use super::app::App;
use super::asked::{Asked, Field, Kind};
use super::frame::{Frame, Place};
use super::guard::Visitor;
use super::handled::{Change, Done, FieldFault, Refusal, Shown, shown};
use crate::answers::{Shared, write_folder};
use crate::bench::rules::{Conflict, Fault};
use crate::changes::{ChangeError, Imported, brought_words, import_folder, rehearse_folder};
use crate::civil::local_date;
use crate::exchange::{Folder, Sent, pack};

/// Bytes that may be sent at once.
pub(super) const SENT_BYTES: usize = 64 * 1024 * 1024;
/// Faults that are told one by one.
const TOLD: usize = 500;
/// Bytes that are handed on at a time.
const PIECE_BYTES: usize = 64 * 1024;

type Pairs = Query<Vec<(String, String)>>;

#[derive(Template)]
#[template(path = "folder.html", config = "src/page/askama.toml")]
struct Page {
    frame: Frame,
    share: Field,
    ticks: Vec<Field>,
}

pub(super) async fn page(State(app): State<Arc<App>>, Extension(visitor): Extension<Visitor>) -> Shown {
    let asked = Asked::default();
    let tick = |name, label| asked.field(name, label, Kind::Tick);
    shown(&Page {
        frame: Frame::new("The bench as tables", Place::Elsewhere, visitor, app.told()),
        share: tick(
            "share",
            "To hand on: without collecting places, notes and times away, and without what friends entrusted to you",
        ),
        ticks: vec![
            tick("replace", "Where other values are on record, let these take their place; the old ones are kept beside"),
            tick("believe", "Temperatures that seem too warm for seeds are °C as they stand"),
        ],
    })
}

fn broken(error: impl std::fmt::Display) -> Refusal {
    Refusal::broken(error.to_string())
}

pub(super) async fn download(State(app): State<Arc<App>>, Query(pairs): Pairs) -> Result<Response, Refusal> {
    let shared = if Asked::of(pairs).ticked("share") { Shared::ToHandOn } else { Shared::Everything };
    let (mut archive, bytes, name) = app
        .aside(move |app| {
            let folder = TempDir::new().map_err(broken)?;
            let (written, zone) = app.file.ask(|store| {
                let written = write_folder(store, shared, folder.path());
                Ok::<_, ChangeError>((written, store.bench()?.zone))
            })?;
            let mut archive = tempfile::tempfile().map_err(broken)?;
            pack(folder.path(), &written.map_err(broken)?, &mut archive).map_err(broken)?;
            let bytes = archive.seek(SeekFrom::End(0)).and_then(|bytes| archive.rewind().map(|()| bytes)).map_err(broken)?;
            Ok((archive, bytes, format!("bench-{}.zip", local_date(app.now(), zone))))
        })
        .await?;
    let (sender, receiver) = tokio::sync::mpsc::channel::<std::io::Result<Bytes>>(2);
    tokio::task::spawn_blocking(move || {
        let mut piece = vec![0; PIECE_BYTES];
        loop {
            let read = match archive.read(&mut piece) {
                Ok(0) => break,
                Ok(read) => Ok(Bytes::copy_from_slice(&piece[..read])),
                Err(error) => Err(error),
            };
            // Whoever asked may have gone.
            if read.is_err() | sender.blocking_send(read).is_err() {
                break;
            }
        }
    });
    let response = Response::builder()
        .header(CONTENT_TYPE, "application/zip")
        .header(CONTENT_LENGTH, bytes)
        .header(CONTENT_DISPOSITION, format!("attachment; filename=\"{name}\""))
        .body(Body::from_stream(ReceiverStream::new(receiver)));
    response.map_err(broken)
}

pub(super) async fn examine(State(app): State<Arc<App>>, Query(pairs): Pairs, sent: Multipart) -> Change {
    let done = read(&app, pairs, sent, |app, folder, conflict| {
        let now = app.now();
        app.file.change(|store| rehearse_folder(store, folder, conflict, now)).map_err(refusal)
    });
    let said = |(imported, notes): (Imported, Vec<String>)| {
        let said =
            format!("Nothing is wrong with it. Taken in, it would bring {}. Nothing is on record yet.", brought_words(&imported));
        Done { said: with(said, notes), ..Done::default() }
    };
    Change(done.await.map(said))
}

pub(super) async fn take(State(app): State<Arc<App>>, Query(pairs): Pairs, sent: Multipart) -> Change {
    let done = read(&app, pairs, sent, |app, folder, conflict| {
        let now = app.now();
        let imported = app.file.change(|store| import_folder(store, folder, conflict, now)).map_err(refusal)?;
        app.is_changed();
        Ok(imported)
    });
    let said = |(imported, notes): (Imported, Vec<String>)| {
        let said = format!("On record now: {}.", brought_words(&imported));
        Done { said: with(said, notes), ..Done::default() }
    };
    Change(done.await.map(said))
}

fn with(said: String, notes: Vec<String>) -> String {
    std::iter::once(said).chain(notes.into_iter().map(|note| format!("Note: {note}."))).collect::<Vec<_>>().join(" ")
}

/// All that is wrong, each with its file and line.
fn refusal(error: ChangeError) -> Refusal {
    match error {
        ChangeError::Faults(faults) => refused(&faults),
        other => other.into(),
    }
}

fn refused(faults: &[Fault]) -> Refusal {
    let told = |fault: &Fault| FieldFault { field: None, what: fault.to_string(), next: fault.advice() };
    let mut all: Vec<FieldFault> = faults.iter().take(TOLD).map(told).collect();
    if faults.len() > TOLD {
        all.push(FieldFault { field: None, what: format!("and {} more", faults.len() - TOLD), next: None });
    }
    Refusal::of_faults(all)
}

/// Reads what is sent into a temporary folder, and does something with it; gives its notes beside.
async fn read<T: Send + 'static>(
    app: &Arc<App>,
    pairs: Vec<(String, String)>,
    mut parts: Multipart,
    work: impl FnOnce(&App, &Folder, Conflict) -> Result<T, Refusal> + Send + 'static,
) -> Result<(T, Vec<String>), Refusal> {
    let busy = || Refusal::new(StatusCode::SERVICE_UNAVAILABLE, "another folder is being read: try again when that is done");
    let Ok(_alone) = app.folders.try_lock() else { return Err(busy()) };
    let asked = Asked::of(pairs);
    let conflict = if asked.ticked("replace") { Conflict::Replaced } else { Conflict::Refused };
    let believe = asked.ticked("believe");
    let folder = TempDir::new().map_err(broken)?;
    let mut sent = Sent::into_folder(folder.path());
    let mut archives = Vec::new();
    let unread = |error: axum::extract::multipart::MultipartError| match error.status() {
        StatusCode::PAYLOAD_TOO_LARGE => {
            Refusal::new(StatusCode::PAYLOAD_TOO_LARGE, format!("this is more than {} MB", SENT_BYTES / 1024 / 1024))
                .with_next("pack it as one .zip, or leave readings out that are on record")
        }
        _ => Refusal::new(StatusCode::BAD_REQUEST, "what was sent cannot be read; nothing was kept"),
    };
    while let Some(mut part) = parts.next_field().await.map_err(unread)? {
        let name = part.file_name().unwrap_or_default().to_owned();
        if name.to_ascii_lowercase().ends_with(".zip") {
            let mut archive = tempfile::tempfile().map_err(broken)?;
            while let Some(piece) = part.chunk().await.map_err(unread)? {
                std::io::Write::write_all(&mut archive, &piece).map_err(broken)?;
            }
            archives.push((name, archive));
        } else if let Some(mut place) = sent.place(&name).map_err(broken)? {
            while let Some(piece) = part.chunk().await.map_err(unread)? {
                place.write(&piece).map_err(broken)?;
            }
            sent.placed(&place);
        }
    }
    app.aside(move |app| {
        // Gone with the answer.
        let _folder = folder;
        for (name, mut archive) in archives {
            archive.rewind().map_err(broken)?;
            sent.unpack(&name, archive).map_err(broken)?;
        }
        let documents = sent.documents().map_err(broken)?;
        if documents.is_empty() && sent.faults.is_empty() {
            return Err(Refusal::of_field("file", "choose a .zip, or the tables of a bench"));
        }
        if !sent.faults.is_empty() {
            return Err(refused(&sent.faults));
        }
        let zone = app.file.ask(|store| store.bench())?.zone;
        let mut folder = Folder::read(&documents, zone);
        drop(documents);
        if believe {
            folder.believe_degrees();
        }
        let done = work(app, &folder, conflict)?;
        Ok((done, folder.notes))
    })
    .await
}
