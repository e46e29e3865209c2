//! Letting devices in: a code that works once and soon runs out, and what the device knows itself by from then on.

use std::fmt;

use chrono::Duration;
use sha2::{Digest as _, Sha256};

use super::ChangeError;
use super::typed::fault;
use crate::civil::Time;
use crate::store::{Device, Store};

/// A code works for so long.
pub const CODE_MINUTES: i64 = 10;
/// Letters and digits that are not taken for each other: five bits each (the alphabet is that of Crockford's base 32, from memory).
const LETTERS: &[u8; 32] = b"0123456789ABCDEFGHJKMNPQRSTVWXYZ";
/// Fifty bits: guessing a million times a second for ten minutes finds one of two million codes.
const CODE_LETTERS: usize = 10;
/// Bytes of what a device knows itself by.
const TOKEN_BYTES: usize = 32;
/// That a device was here is noted no oftener.
const SEEN_EVERY_HOURS: i64 = 1;

/// What a device may.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum May {
    /// See everything, and record looks.
    Look,
    /// All that the page can do.
    All,
}

impl May {
    /// The word for it.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Look => "look",
            Self::All => "all",
        }
    }

    /// What a word means.
    #[must_use]
    pub fn from_word(word: &str) -> Option<Self> {
        [Self::Look, Self::All].into_iter().find(|known| known.word() == word)
    }
}

/// A device that was let in.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LetIn {
    /// Its number.
    pub id: i64,
    /// What it may; none: nothing that this version knows.
    pub may: Option<May>,
    /// What its owner calls it.
    pub name: String,
    /// When it was let in.
    pub paired: Time,
    /// When it was last here, to the hour.
    pub seen: Time,
}

impl LetIn {
    /// What it may, in words.
    #[must_use]
    pub fn may_words(&self) -> &'static str {
        match self.may {
            Some(May::All) => "may do everything",
            Some(May::Look) => "may look and count",
            None => "may do nothing",
        }
    }
}

/// A secret in letters; nothing prints it by accident.
#[derive(Clone, PartialEq, Eq)]
pub struct Secret(String);

impl Secret {
    /// The letters.
    #[must_use]
    pub fn letters(&self) -> &str {
        &self.0
    }
}

impl fmt::Debug for Secret {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("Secret(…)")
    }
}

/// Makes a code that lets one device in within [`CODE_MINUTES`].
///
/// # Errors
/// [`ChangeError`]; also where the system gives no chance.
pub fn offer_pairing(store: &mut Store, may: May, name: &str, now: Time) -> Result<Secret, ChangeError> {
    let mut bytes = [0u8; CODE_LETTERS];
    chance(&mut bytes)?;
    let code: String = bytes.iter().map(|byte| char::from(LETTERS[usize::from(byte % 32)])).collect();
    let mut change = store.change()?;
    change.put_pairing_code(&digest(&code), may.word(), name, now, now + Duration::minutes(CODE_MINUTES))?;
    change.commit()?;
    Ok(Secret(code))
}

/// Lets a device in that brings a code; gives what it knows itself by from now on, or none where the code is not, or no more, one.
///
/// # Errors
/// [`ChangeError`]; also where the system gives no chance.
pub fn pair(store: &mut Store, code: &str, now: Time) -> Result<Option<Secret>, ChangeError> {
    let mut bytes = [0u8; TOKEN_BYTES];
    chance(&mut bytes)?;
    let token: String = bytes.iter().map(|byte| format!("{byte:02x}")).collect();
    let mut change = store.change()?;
    let Some((may, name)) = change.take_pairing_code(&digest(&as_typed(code)), now)? else { return Ok(None) };
    change.put_device(&digest(&token), &may, &name, now)?;
    change.commit()?;
    Ok(Some(Secret(token)))
}

/// What the device that knows itself by `token` may, and its number; none where it was never let in, or is shut out.
///
/// # Errors
/// [`ChangeError`].
pub fn device_of(store: &Store, token: &str) -> Result<Option<(i64, May)>, ChangeError> {
    let found = store.device_of(&digest(token))?;
    Ok(found.and_then(|(id, may)| Some((id, May::from_word(&may)?))))
}

/// The devices that were let in.
///
/// # Errors
/// [`ChangeError`].
pub fn devices(store: &Store) -> Result<Vec<LetIn>, ChangeError> {
    let let_in = |Device { id, may, name, paired, seen }| LetIn { id, may: May::from_word(&may), name, paired, seen };
    Ok(store.devices()?.into_iter().map(let_in).collect())
}

/// Notes that a device was here, to the hour.
///
/// # Errors
/// [`ChangeError`].
pub fn device_seen(store: &mut Store, id: i64, now: Time) -> Result<(), ChangeError> {
    let lately = store.devices()?.iter().any(|device| device.id == id && now - device.seen < Duration::hours(SEEN_EVERY_HOURS));
    if !lately {
        let mut change = store.change()?;
        change.device_seen(id, now)?;
        change.commit()?;
    }
    Ok(())
}

/// Shuts a device out.
///
/// # Errors
/// [`ChangeError`]; also where there is none of this number.
pub fn shut_out(store: &mut Store, id: i64) -> Result<(), ChangeError> {
    let mut change = store.change()?;
    if !change.remove_device(id)? {
        return Err(fault(format!("there is no device of the number {id}")));
    }
    Ok(change.commit()?)
}

fn chance(bytes: &mut [u8]) -> Result<(), ChangeError> {
    getrandom::fill(bytes).map_err(|error| fault(format!("this system gives no chance to make a code of: {error}")))
}

/// A code as it was made, however it was typed: without spaces and dashes, and with the digits that letters were taken for.
fn as_typed(code: &str) -> String {
    let letters = code.chars().filter(|letter| letter.is_ascii_alphanumeric()).map(|letter| letter.to_ascii_uppercase());
    letters
        .map(|letter| match letter {
            'O' => '0',
            'I' | 'L' => '1',
            other => other,
        })
        .collect()
}

fn digest(secret: &str) -> [u8; 32] {
    Sha256::digest(secret.as_bytes()).into()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::civil::Zone;
    use crate::store::BenchKind;

    #[test]
    fn a_code_lets_one_device_in_once_and_soon_runs_out() {
        let folder = tempfile::tempdir().unwrap();
        let mut store = Store::create(&folder.path().join("b.db"), Zone::UTC, BenchKind::Own).unwrap();
        let now = Time::UNIX_EPOCH + Duration::days(20_000);
        let code = offer_pairing(&mut store, May::Look, "Ann's phone", now).unwrap();
        assert_eq!(pair(&mut store, "0000000000", now).unwrap(), None);
        let typed = format!("{}-{}", &code.letters()[..5].to_lowercase(), &code.letters()[5..]);
        let token = pair(&mut store, &typed, now).unwrap().unwrap();
        assert_eq!(token.letters().len(), 64);
        assert_eq!(pair(&mut store, code.letters(), now).unwrap(), None, "once only");
        let (id, may) = device_of(&store, token.letters()).unwrap().unwrap();
        assert_eq!(may, May::Look);
        assert_eq!(device_of(&store, code.letters()).unwrap(), None);
        assert_eq!(format!("{token:?}"), "Secret(…)");
        device_seen(&mut store, id, now + Duration::minutes(59)).unwrap();
        assert_eq!(devices(&store).unwrap()[0].seen, now);
        device_seen(&mut store, id, now + Duration::hours(2)).unwrap();
        assert_eq!(devices(&store).unwrap()[0].seen, now + Duration::hours(2));
        shut_out(&mut store, id).unwrap();
        assert_eq!(device_of(&store, token.letters()).unwrap(), None);
        assert!(shut_out(&mut store, id).is_err());
        let late = offer_pairing(&mut store, May::All, "late", now).unwrap();
        assert_eq!(pair(&mut store, late.letters(), now + Duration::minutes(CODE_MINUTES) + Duration::seconds(1)).unwrap(), None);
    }

    #[test]
    fn neither_codes_nor_tokens_stand_in_the_file() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("b.db");
        let now = Time::UNIX_EPOCH + Duration::days(20_000);
        let mut store = Store::create(&path, Zone::UTC, BenchKind::Own).unwrap();
        let open = offer_pairing(&mut store, May::All, "open", now).unwrap();
        let used = offer_pairing(&mut store, May::All, "used", now).unwrap();
        let token = pair(&mut store, used.letters(), now).unwrap().unwrap();
        drop(store);
        let bytes = std::fs::read(&path).unwrap();
        for secret in [open, used, token] {
            assert!(!bytes.windows(secret.letters().len()).any(|there| there == secret.letters().as_bytes()));
        }
    }
}
