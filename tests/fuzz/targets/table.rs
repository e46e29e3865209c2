//! A table of temperatures that another program wrote.
#![no_main]

use std::borrow::Cow;

use libfuzzer_sys::fuzz_target;
use seedclock::civil::Zone;
use seedclock::exchange::{Document, OtherTable, TableForm, Told};

fuzz_target!(|bytes: &[u8]| {
    let document = Document { name: "table.csv".to_owned(), bytes: Cow::Borrowed(bytes) };
    let Ok(table) = OtherTable::open(&document) else { return };
    let told = Told { probe: seedclock::bench::Name::new("p1").ok(), ..Told::default() };
    let Ok(form) = TableForm::settle(table.columns(), &told, None, None) else { return };
    let _ = table.said(&form);
    let folder = table.read(&form, Zone::Europe__Dublin);
    assert_eq!(folder, table.read(&form, Zone::Europe__Dublin));
    // What is remembered of it means the same the next time.
    let again = TableForm::settle(table.columns(), &Told::default(), Some(&form.to_text()), None);
    assert_eq!(again.ok().as_ref(), Some(&form));
});
