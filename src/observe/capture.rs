//! Capture files: a snapshot as one JSON file, read with suspicion.
//!
//! In: a path to a file, or to a folder of them. Out: snapshots, or an error that says what is
//! wrong, what it means and what to do. Bounded: files over 64 MiB are refused. An HTML report is a
//! capture too: its facts are inside ([`crate::report::enclosed`]).

use std::fs;
use std::io::Read as _;
use std::path::{Path, PathBuf};

use serde::Deserialize;
use thiserror::Error;

use crate::observe::siblings;
use crate::plan::Plan;
use crate::report::enclosed;
use crate::site::Site;
use crate::snapshot::{FORMAT, FormatVersion, Snapshot, VERSION, relate};

/// Largest file that is read, octets.
pub const LARGEST: u64 = 64 * 1024 * 1024;

/// Why a capture could not be used.
#[derive(Debug, Error)]
pub enum CaptureError {
    /// The operating system refused.
    #[error("cannot read {path}: {why}")]
    Unreadable {
        /// File or folder.
        path: PathBuf,
        /// Its words.
        why: std::io::Error,
    },
    /// Too large.
    #[error(
        "{path} is larger than {} MiB; {usual}. Is it the right file?", LARGEST / 1024 / 1024
    )]
    TooLarge {
        /// File.
        path: PathBuf,
        /// How large such a file is, in a clause.
        usual: &'static str,
    },
    /// Not a capture.
    #[error("{path} is not a Linkwright capture: {why}. Make one with: linkwright capture -o FILE")]
    NotACapture {
        /// File.
        path: PathBuf,
        /// What is wrong.
        why: String,
    },
    /// A later format.
    #[error(
        "{path} has capture format {}.{}, and this program reads up to {}.x. Use the newer \
         linkwright that made it.", found.major, found.minor, VERSION.major
    )]
    TooNew {
        /// File.
        path: PathBuf,
        /// Its version.
        found: FormatVersion,
    },
    /// An empty folder.
    #[error("{path} holds no capture: no file in it ends in .json{inside}")]
    EmptyFolder {
        /// Folder.
        path: PathBuf,
        /// What lies in the folders inside it, as a sentence; empty where there is nothing.
        inside: String,
    },
    /// A site or plan file that does not fit.
    #[error("the {kind} {path} cannot be used: {why}")]
    Told {
        /// What it was to be.
        kind: &'static str,
        /// File.
        path: PathBuf,
        /// What is wrong.
        why: String,
    },
}

#[derive(Deserialize)]
struct Head {
    format: Option<String>,
    version: Option<FormatVersion>,
}

/// How large a capture is.
const USUAL_CAPTURE: &str = "a capture of a thousand ports is a tenth of that";
/// How large a site file is.
const USUAL_SITE: &str = "a site file has a few lines of text a port";

/// Reads a file, bounded. `usual` says how large such a file is, for the message.
///
/// # Errors
/// It cannot be read, or is too large.
pub fn read_bounded(path: &Path, usual: &'static str) -> Result<Vec<u8>, CaptureError> {
    let unreadable = |why| CaptureError::Unreadable { path: path.to_owned(), why };
    let file = fs::File::open(path).map_err(unreadable)?;
    let mut bytes = Vec::new();
    file.take(LARGEST + 1).read_to_end(&mut bytes).map_err(unreadable)?;
    if u64::try_from(bytes.len()).unwrap_or(u64::MAX) > LARGEST {
        return Err(CaptureError::TooLarge { path: path.to_owned(), usual });
    }
    Ok(bytes)
}

/// What a capture file, a folder of them, or a report holds.
#[derive(Debug, Default, PartialEq)]
pub struct Loaded {
    /// The captures.
    pub snapshots: Vec<Snapshot>,
    /// Captures of far ends alone, which a report holds for the site file to join.
    pub beside: Vec<Snapshot>,
    /// The capture that a report was given as the far end's.
    pub far: Option<Snapshot>,
    /// The port in it that was named.
    pub far_port: Option<String>,
    /// The site file that a report holds.
    pub site: Option<Site>,
    /// Why the facts in a report may not be those that it was made from, as a clause.
    pub altered: Option<String>,
}

/// Understands the bytes of a capture, or of a report. `path` is for messages only.
///
/// # Errors
/// What keeps it from being a capture, or its version.
pub fn understand(bytes: &[u8], path: &Path) -> Result<Loaded, CaptureError> {
    let wrong = |why: String| CaptureError::NotACapture { path: path.to_owned(), why };
    let text = utf8(bytes).map_err(wrong)?;
    if !enclosed::is_page(text) {
        let snapshots = vec![parse_text(text, path)?];
        return Ok(Loaded { snapshots, ..Loaded::default() });
    }
    let enclosed::Found { enclosed, altered } = enclosed::find(text).map_err(wrong)?;
    let captures = |all: &[&serde_json::value::RawValue]| {
        all.iter().map(|one| parse_text(one.get(), path)).collect::<Result<Vec<_>, _>>()
    };
    let site = enclosed.site.map(Site::checked).transpose();
    Ok(Loaded {
        snapshots: captures(&enclosed.captures)?,
        beside: captures(&enclosed.beside)?,
        far: enclosed.far.map(|far| parse_text(far.get(), path)).transpose()?,
        far_port: enclosed.far_port,
        site: site.map_err(|why| wrong(format!("its site file cannot be used: {why}")))?,
        altered,
    })
}

fn utf8(bytes: &[u8]) -> Result<&str, String> {
    std::str::from_utf8(bytes)
        .map_err(|error| format!("it is not UTF-8 text from byte {}", error.valid_up_to()))
}

/// Understands the bytes of a capture. `path` is for messages only.
///
/// # Errors
/// What keeps it from being a capture, or its version.
pub fn parse(bytes: &[u8], path: &Path) -> Result<Snapshot, CaptureError> {
    let wrong = |why: String| CaptureError::NotACapture { path: path.to_owned(), why };
    parse_text(utf8(bytes).map_err(wrong)?, path)
}

fn parse_text(text: &str, path: &Path) -> Result<Snapshot, CaptureError> {
    let wrong = |why: String| CaptureError::NotACapture { path: path.to_owned(), why };
    let head: Head = serde_json::from_str(text).map_err(|error| wrong(error.to_string()))?;
    if head.format.as_deref() != Some(FORMAT) {
        return Err(wrong(format!("its `format` is not {FORMAT:?}")));
    }
    match head.version {
        None => return Err(wrong("it has no `version`".into())),
        Some(found) if found.major > VERSION.major => {
            return Err(CaptureError::TooNew { path: path.to_owned(), found });
        }
        Some(found) if found.major == 0 => {
            return Err(wrong("version 0 was never in use".into()));
        }
        Some(_) => {}
    }
    let mut snapshot: Snapshot =
        serde_json::from_str(text).map_err(|error| wrong(error.to_string()))?;
    let mut names = std::collections::HashSet::new();
    for port in &snapshot.ports {
        if port.name.is_empty() {
            return Err(wrong("it holds a port without a name".into()));
        }
        if !names.insert(port.name.as_str()) {
            return Err(wrong(format!("it holds port {:?} twice", port.name)));
        }
    }
    for port in &mut snapshot.ports {
        port.module.bound_readings();
    }
    relate(&mut snapshot.ports);
    siblings::fill(&mut snapshot.ports, false);
    Ok(snapshot)
}

/// One capture, with the name of its file.
fn one(path: &Path) -> Result<Loaded, CaptureError> {
    let mut loaded = understand(&read_bounded(path, USUAL_CAPTURE)?, path)?;
    for snapshot in &mut loaded.snapshots {
        snapshot.file = path.file_name().map(|name| name.to_string_lossy().into_owned());
    }
    Ok(loaded)
}

fn is_json(file: &Path) -> bool {
    file.extension().is_some_and(|extension| extension == "json")
}

/// Reads a capture, or every capture of a folder in order of file names; of a report the captures
/// that it is about.
///
/// # Errors
/// The first file that cannot be used.
pub fn load(path: &Path) -> Result<Vec<Snapshot>, CaptureError> {
    Ok(load_whole(path)?.snapshots)
}

/// The same with all that a report holds.
///
/// # Errors
/// The first file that cannot be used.
pub fn load_whole(path: &Path) -> Result<Loaded, CaptureError> {
    let unreadable = |why| CaptureError::Unreadable { path: path.to_owned(), why };
    if !fs::metadata(path).map_err(unreadable)?.is_dir() {
        return one(path);
    }
    let mut files = Vec::new();
    let mut folders = Vec::new();
    for entry in fs::read_dir(path).map_err(unreadable)? {
        let file = entry.map_err(unreadable)?.path();
        if is_json(&file) {
            files.push(file);
        } else {
            folders.push(file);
        }
    }
    files.sort();
    if files.is_empty() {
        folders.sort();
        let holds = |folder: &&PathBuf| {
            fs::read_dir(folder).is_ok_and(|all| all.flatten().any(|one| is_json(&one.path())))
        };
        let inside = folders.iter().find(holds).map_or_else(String::new, |folder| {
            format!(
                ". Folders inside it are not looked into; captures lie there: name one, --from {}",
                folder.display()
            )
        });
        return Err(CaptureError::EmptyFolder { path: path.to_owned(), inside });
    }
    let mut all = Loaded::default();
    for file in &files {
        all.snapshots.extend(one(file)?.snapshots);
    }
    Ok(all)
}

/// Reads a site file.
///
/// # Errors
/// It cannot be read, or what in it does not fit.
pub fn load_site(path: &Path) -> Result<Site, CaptureError> {
    told(path, "site file", USUAL_SITE, Site::parse)
}

/// Reads a plan file.
///
/// # Errors
/// It cannot be read, or what in it does not fit.
pub fn load_plan(path: &Path) -> Result<Plan, CaptureError> {
    told(path, "plan file", USUAL_SITE, crate::plan::read::read)
}

/// Reads a file that the user wrote.
fn told<T>(
    path: &Path,
    kind: &'static str,
    usual: &'static str,
    read: fn(&str) -> Result<T, String>,
) -> Result<T, CaptureError> {
    let bytes = read_bounded(path, usual)?;
    let wrong = |why: String| CaptureError::Told { kind, path: path.to_owned(), why };
    let text = std::str::from_utf8(&bytes).map_err(|_| wrong("it is not UTF-8 text".into()))?;
    read(text).map_err(wrong)
}
