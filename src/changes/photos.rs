//! Photographs of boxes: kept, each sending once, and taken away.

use super::{ChangeError, typed::fault};
use crate::bench::Name;
use crate::civil::Time;
use crate::exchange::SmallPhoto;
use crate::store::Store;

/// Photographs of one box, at most: a backup holds them all.
pub const PHOTOS_A_BOX: usize = 100;

/// Keeps a photograph of a box, unless `request` was done before; whether it is new. One from before the sowing, or from a time to come,
/// is of a camera whose clock is wrong, or of a file that was copied: it counts as of now.
///
/// # Errors
/// [`ChangeError`]; nothing is kept then.
pub fn keep_photo(
    store: &mut Store,
    request: &str,
    container: &Name,
    taken: Time,
    photo: &SmallPhoto,
    now: Time,
) -> Result<bool, ChangeError> {
    let mut change = store.change()?;
    if !change.put_request(request, now)? {
        return Ok(false);
    }
    let bench = change.bench()?;
    let Some(trial) = bench.trials.get(container) else {
        return Err(fault(format!("there is no box '{container}' on this bench")));
    };
    if change.photos(container)?.len() >= PHOTOS_A_BOX {
        return Err(fault(format!("{PHOTOS_A_BOX} photographs of box '{container}' are kept, and no more: take some away first")));
    }
    let taken = if (trial.container.sown..=now).contains(&taken) { taken } else { now };
    change.put_photo(container, taken, (photo.width, photo.height), &photo.jpeg)?;
    change.commit()?;
    Ok(true)
}

/// Takes a photograph away, for good.
///
/// # Errors
/// [`ChangeError`], also where there is none of this number.
pub fn drop_photo(store: &mut Store, id: i64) -> Result<(), ChangeError> {
    let mut change = store.change()?;
    if !change.remove_photo(id)? {
        return Err(fault("this photograph is not here any more"));
    }
    Ok(change.commit()?)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::bench::Container;
    use crate::bench::rules::{Entry, Key};
    use crate::changes::{Wish, make, take_back};
    use crate::civil::Zone;
    use crate::store::BenchKind;
    use chrono::Duration;

    fn at(hours: i64) -> Time {
        Time::UNIX_EPOCH + Duration::hours(24 * 20_000 + hours)
    }

    fn photo() -> SmallPhoto {
        SmallPhoto { jpeg: b"a picture".to_vec(), width: 4, height: 3 }
    }

    fn bench() -> (tempfile::TempDir, Store, Name) {
        let folder = tempfile::tempdir().unwrap();
        let mut store = Store::create(&folder.path().join("b.db"), Zone::UTC, BenchKind::Own).unwrap();
        let name = |text: &str| Name::new(text).unwrap();
        let container = Container::new(name("A1"), name("b"), name("leek"), name("sill"), at(0));
        make(&mut store, at(0), |_| Ok(vec![Wish::to_record(vec![Entry::Container(container)])])).unwrap();
        (folder, store, name("A1"))
    }

    #[test]
    fn a_photo_is_kept_once_with_a_time_that_can_be() {
        let (_folder, mut store, a1) = bench();
        for (request, taken, kept) in [("r1", at(5), true), ("r1", at(5), false), ("r2", at(-1), true), ("r3", at(90), true)] {
            assert_eq!(keep_photo(&mut store, request, &a1, taken, &photo(), at(10)).unwrap(), kept, "{request}");
        }
        let times: Vec<Time> = store.photos(&a1).unwrap().into_iter().map(|photo| photo.time).collect();
        assert_eq!(times, [at(5), at(10), at(10)]);
        let first = store.photos(&a1).unwrap()[0].id;
        assert_eq!(store.photo(first).unwrap().as_deref(), Some(&b"a picture"[..]));
        drop_photo(&mut store, first).unwrap();
        assert_eq!((store.photos(&a1).unwrap().len(), store.photo(first).unwrap()), (2, None));
        assert!(matches!(drop_photo(&mut store, first), Err(ChangeError::Faults(_))));
    }

    #[test]
    fn no_more_photos_of_a_box_are_kept_than_there_is_room_for() {
        let (_folder, mut store, a1) = bench();
        for count in 0..PHOTOS_A_BOX {
            keep_photo(&mut store, &format!("r{count}"), &a1, at(1), &photo(), at(2)).unwrap();
        }
        let Err(ChangeError::Faults(faults)) = keep_photo(&mut store, "more", &a1, at(1), &photo(), at(2)) else { panic!("kept") };
        assert!(faults[0].what.starts_with("100 photographs of box 'A1' are kept"), "{}", faults[0].what);
        let first = store.photos(&a1).unwrap()[0].id;
        drop_photo(&mut store, first).unwrap();
        assert!(keep_photo(&mut store, "more", &a1, at(1), &photo(), at(2)).unwrap(), "what was refused is not taken for done");
    }

    #[test]
    fn the_photos_of_a_box_that_is_taken_back_go_with_it() {
        let (_folder, mut store, a1) = bench();
        keep_photo(&mut store, "r1", &a1, at(1), &photo(), at(2)).unwrap();
        take_back(&mut store, at(3), |_| Ok(vec![Key::Container(a1.clone())])).unwrap();
        assert_eq!(store.photos(&a1).unwrap(), []);
    }
}
