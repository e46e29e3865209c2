//! A bench folder as one file: a zip archive (PKWARE, APPNOTE.TXT 6.3). What comes out of one is never trusted: no path in it becomes a
//! path here, and neither its number of entries nor its sizes are believed.

use std::borrow::Cow;
use std::collections::BTreeSet;
use std::fs::File;
use std::io::{self, Read, Seek, Write};
use std::path::{Path, PathBuf};
use std::sync::Arc;

use zip::write::SimpleFileOptions;
use zip::{CompressionMethod, ZipArchive, ZipWriter};

use super::folder::{Document, is_readings};
use super::tables::SMALL;
use crate::bench::rules::{Fault, Origin};

/// Files in one bench folder.
const MOST_FILES: usize = 1_000;
/// Bytes of all tables together, unpacked: about ten probes over a year, read once a minute.
const MOST_BYTES: u64 = 512 * 1024 * 1024;
/// Letters of a file's name.
const MOST_LETTERS: usize = 100;

/// Tables that were sent, held in a folder of their own until they are read; they go with it.
#[derive(Debug)]
pub struct Sent {
    folder: PathBuf,
    /// What each is called; it lies in the folder under its number.
    names: Vec<String>,
    bytes: u64,
    /// What is wrong with what was sent.
    pub faults: Vec<Fault>,
}

/// How far a table that is being sent may grow.
#[derive(Debug)]
pub struct Place {
    file: File,
    left: u64,
}

impl Place {
    /// Takes a piece of a table.
    ///
    /// # Errors
    /// Where it cannot be written, or all tables together are too large.
    pub fn write(&mut self, piece: &[u8]) -> io::Result<()> {
        self.left = self.left.checked_sub(piece.len() as u64).ok_or_else(too_large)?;
        self.file.write_all(piece)
    }
}

fn too_large() -> io::Error {
    io::Error::new(io::ErrorKind::FileTooLarge, format!("its tables are larger than {} MB together", MOST_BYTES / 1024 / 1024))
}

impl Sent {
    /// Nothing yet, to be held in a folder that is empty.
    #[must_use]
    pub fn into_folder(folder: &Path) -> Self {
        Self { folder: folder.to_path_buf(), names: Vec::new(), bytes: 0, faults: Vec::new() }
    }

    fn fault(&mut self, file: &str, what: impl Into<String>) {
        let shown: String = file.chars().filter(|letter| !letter.is_control()).take(MOST_LETTERS).collect();
        self.faults.push(Fault::new(&Origin::File { file: Arc::from(shown), line: None }, what));
    }

    /// Makes room for a table of this name; none where no table of a bench folder is called so, or it came before: that is a fault.
    ///
    /// # Errors
    /// Where its file cannot be made.
    pub fn place(&mut self, name: &str) -> io::Result<Option<Place>> {
        if !is_table(name) {
            let tables: Vec<&str> = SMALL.iter().map(|form| form.file).collect();
            self.fault(
                name,
                format!("unknown file: the tables of a bench folder are {}, readings.csv and readings-*.csv", tables.join(", ")),
            );
            return Ok(None);
        }
        if self.names.iter().any(|there| there == name) {
            self.fault(name, "the file is there twice");
            return Ok(None);
        }
        let file = File::create_new(self.folder.join(self.names.len().to_string()))?;
        self.names.push(name.to_owned());
        Ok(Some(Place { file, left: MOST_BYTES - self.bytes }))
    }

    /// A table has come whole.
    pub fn placed(&mut self, place: &Place) {
        self.bytes = MOST_BYTES - place.left;
    }

    /// Takes the tables out of an archive; what is wrong with it is noted.
    ///
    /// # Errors
    /// Where a file cannot be written here.
    pub fn unpack(&mut self, name: &str, archive: impl Read + Seek) -> io::Result<()> {
        let mut archive = match ZipArchive::new(archive) {
            Ok(archive) => archive,
            Err(error) => {
                self.fault(name, format!("this is no zip archive that can be read: {error}"));
                return Ok(());
            }
        };
        if archive.len() > MOST_FILES {
            self.fault(name, format!("it holds {} files: a bench folder has at most {MOST_FILES}", archive.len()));
            return Ok(());
        }
        let mut folders = BTreeSet::new();
        for index in 0..archive.len() {
            let mut entry = match archive.by_index(index) {
                Ok(entry) => entry,
                Err(error) => {
                    self.fault(name, format!("its file number {} cannot be read: {error}", index + 1));
                    continue;
                }
            };
            let whole = String::from_utf8_lossy(entry.name_raw()).into_owned();
            let (folder, file) = whole.rsplit_once(['/', '\\']).unwrap_or(("", &whole));
            if file.is_empty() || is_of_a_system(folder, file) {
                continue;
            }
            if folder.split(['/', '\\']).any(|part| part == ".." || part.contains(':')) || whole.starts_with(['/', '\\']) {
                self.fault(&whole, "its path leads out of the archive");
                continue;
            }
            folders.insert(folder.to_owned());
            if folders.len() > 1 {
                self.fault(&whole, "the tables of a bench lie in one folder, and these lie in several");
                return Ok(());
            }
            let Some(mut place) = self.place(file)? else { continue };
            let mut piece = vec![0; 64 * 1024];
            loop {
                let read = match entry.read(&mut piece) {
                    Ok(0) => break,
                    Ok(read) => read,
                    Err(error) => {
                        self.fault(file, format!("it cannot be unpacked: {error}"));
                        break;
                    }
                };
                match place.write(&piece[..read]) {
                    Err(error) if error.kind() == io::ErrorKind::FileTooLarge => {
                        self.fault(file, error.to_string());
                        return Ok(());
                    }
                    written => written?,
                }
            }
            self.placed(&place);
        }
        Ok(())
    }

    /// What was sent, to be read as a bench folder.
    ///
    /// # Errors
    /// Where it cannot be read.
    pub fn documents(&self) -> io::Result<Vec<Document<'static>>> {
        let read = |(number, name): (usize, &String)| {
            let bytes = std::fs::read(self.folder.join(number.to_string()))?;
            Ok(Document { name: name.clone(), bytes: Cow::Owned(bytes) })
        };
        let mut documents: Vec<Document<'static>> = self.names.iter().enumerate().map(read).collect::<io::Result<_>>()?;
        documents.sort_by(|a, b| a.name.cmp(&b.name));
        Ok(documents)
    }
}

fn is_table(name: &str) -> bool {
    let plain = name.len() <= MOST_LETTERS && !name.contains(['/', '\\']) && !name.chars().any(char::is_control);
    plain && (SMALL.iter().any(|form| form.file == name) || is_readings(name))
}

/// What systems put beside the files that one packs.
fn is_of_a_system(folder: &str, file: &str) -> bool {
    folder.split('/').next() == Some("__MACOSX") || matches!(file, ".DS_Store" | "Thumbs.db" | "desktop.ini")
}

/// Packs files of a folder.
///
/// # Errors
/// Where a file cannot be read, or the archive not be written.
pub fn pack(folder: &Path, files: &[&str], into: impl Write + Seek) -> io::Result<()> {
    let mut archive = ZipWriter::new(into);
    let options = SimpleFileOptions::default().compression_method(CompressionMethod::Deflated).large_file(true);
    for file in files {
        archive.start_file(*file, options)?;
        io::copy(&mut File::open(folder.join(file))?, &mut archive)?;
    }
    archive.finish()?.flush()
}

#[cfg(test)]
mod tests {
    use std::io::Cursor;

    use super::*;

    fn zipped(files: &[(&str, &[u8])]) -> Cursor<Vec<u8>> {
        let mut archive = ZipWriter::new(Cursor::new(Vec::new()));
        for (name, bytes) in files {
            archive.start_file(*name, SimpleFileOptions::default().compression_method(CompressionMethod::Deflated)).unwrap();
            archive.write_all(bytes).unwrap();
        }
        Cursor::new(archive.finish().unwrap().into_inner())
    }

    fn unpacked(archive: impl Read + Seek) -> (Vec<String>, Vec<String>, Vec<String>) {
        let folder = tempfile::tempdir().unwrap();
        let mut sent = Sent::into_folder(folder.path());
        sent.unpack("bench.zip", archive).unwrap();
        let there = std::fs::read_dir(folder.path()).unwrap().map(|entry| entry.unwrap().file_name().into_string().unwrap());
        let there: Vec<String> = there.collect();
        let names = sent.documents().unwrap().into_iter().map(|document| document.name).collect();
        (names, sent.faults.iter().map(ToString::to_string).collect(), there)
    }

    #[test]
    fn what_was_packed_comes_out_again_also_from_within_a_folder_and_beside_what_systems_add() {
        let folder = tempfile::tempdir().unwrap();
        std::fs::write(folder.path().join("spots.csv"), "spot\nsill\n").unwrap();
        let mut packed = Cursor::new(Vec::new());
        pack(folder.path(), &["spots.csv"], &mut packed).unwrap();
        assert_eq!(unpacked(packed).0, ["spots.csv"]);
        let (names, faults, _) = unpacked(zipped(&[
            ("my bench/", b""),
            ("my bench/spots.csv", b"spot\n"),
            ("my bench/readings-2026.csv", b"time\n"),
            ("__MACOSX/my bench/._spots.csv", b"x"),
            ("my bench/.DS_Store", b"x"),
        ]));
        assert_eq!((names, faults), (vec!["readings-2026.csv".to_owned(), "spots.csv".to_owned()], Vec::new()));
    }

    #[test]
    fn no_path_of_an_archive_is_a_path_here_and_only_tables_come_out() {
        for name in
            ["../spots.csv", "../../../../etc/cron.d/spots.csv", "/spots.csv", "..\\spots.csv", "C:\\spots.csv", "a/../spots.csv"]
        {
            let (names, faults, there) = unpacked(zipped(&[(name, b"spot\n")]));
            assert_eq!((names.len(), faults.len(), there.len()), (0, 1, 0), "{name}: {faults:?}");
        }
        let (names, faults, there) = unpacked(zipped(&[("spots.csv", b""), ("run.sh", b"x"), ("readings-\u{7}.csv", b"x")]));
        assert_eq!((names.len(), faults.len()), (1, 2), "{faults:?}");
        assert_eq!(there, ["0"], "under a number of its own");
        assert!(faults[0].starts_with("run.sh: unknown file"), "{faults:?}");
        let (_, faults, _) = unpacked(zipped(&[("a/spots.csv", b""), ("b/lots.csv", b"")]));
        assert_eq!(faults, ["b/lots.csv: the tables of a bench lie in one folder, and these lie in several"]);
        let (_, faults, _) = unpacked(zipped(&[("a/spots.csv", b""), ("a\\spots.csv", b"")]));
        assert_eq!(faults, ["spots.csv: the file is there twice"].map(str::to_owned), "{faults:?}");
    }

    #[test]
    fn too_many_files_bombs_and_what_is_no_archive_are_refused() {
        let mut archive = ZipWriter::new(Cursor::new(Vec::new()));
        let stored = SimpleFileOptions::default().compression_method(CompressionMethod::Stored);
        for file in 0..100_000 {
            archive.start_file(format!("readings-{file}.csv"), stored).unwrap();
        }
        let many = Cursor::new(archive.finish().unwrap().into_inner());
        let (names, faults, _) = unpacked(many);
        assert_eq!((names.len(), &*faults[0]), (0, "bench.zip: it holds 100000 files: a bench folder has at most 1000"));

        let mut archive = ZipWriter::new(Cursor::new(Vec::new()));
        let zeros = vec![0u8; 1 << 20];
        archive.start_file("readings.csv", SimpleFileOptions::default().compression_method(CompressionMethod::Deflated)).unwrap();
        (0..=MOST_BYTES >> 20).for_each(|_| archive.write_all(&zeros).unwrap());
        let bomb = archive.finish().unwrap().into_inner();
        assert!(bomb.len() < 4 << 20, "{}", bomb.len());
        let (_, faults, _) = unpacked(Cursor::new(bomb));
        assert_eq!(faults, ["readings.csv: its tables are larger than 512 MB together"]);

        for none in [
            &b""[..],
            b"PK",
            b"container,time\n",
            &[0x50, 0x4b, 5, 6, 255, 255, 255, 255, 255, 255, 255, 255, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0],
        ] {
            let (names, faults, _) = unpacked(Cursor::new(none.to_vec()));
            assert!(names.is_empty() && faults.len() == 1 && faults[0].starts_with("bench.zip: "), "{faults:?}");
        }
        let mut torn = zipped(&[("spots.csv", &b"spot\n".repeat(1000))]).into_inner();
        for byte in &mut torn[40..60] {
            *byte ^= 0x5a;
        }
        let (_, faults, _) = unpacked(Cursor::new(torn));
        assert!(!faults.is_empty());
    }
}
