//! Questions that are answered while somebody waits.

use super::app::App;
use super::handled::Refusal;
use crate::answers::{Known, Shelf, keep_fits};
use crate::changes::ChangeError;

/// Asks of what was last worked out; where something was put on record since, or nothing worked out yet, of what is on record now.
pub(super) fn asking<T>(app: &App, ask: impl FnOnce(&Known, &mut Shelf<'_>) -> T) -> Result<T, Refusal> {
    let worked = app.worked_of_now()?;
    let now = app.now();
    let (answer, fresh) = app.file.ask(|store| {
        let read;
        let known = match &worked {
            Some(worked) => &worked.picture.known,
            None => {
                read = Known::as_of(store, now)?;
                &read
            }
        };
        let mut shelf = Shelf::of(store);
        let answer = ask(known, &mut shelf);
        Ok::<_, ChangeError>((answer, shelf.into_fresh()))
    })?;
    if !fresh.is_empty() {
        // Made again next time where they cannot be kept.
        let _ = app.file.change(|store| Ok(keep_fits(store, &fresh, now)?));
    }
    Ok(answer)
}
