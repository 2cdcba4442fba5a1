//! Writing a file whole or not at all.

use std::ffi::OsString;
use std::fs::{self, OpenOptions};
use std::io::{self, Write as _};
use std::os::fd::AsRawFd as _;
use std::os::unix::fs::OpenOptionsExt as _;
use std::path::{Path, PathBuf};

use anyhow::{Context as _, bail};
use nix::errno::Errno;
use nix::fcntl::{AT_FDCWD, AtFlags};
use nix::unistd::linkat;

use crate::cli::Out;

/// Where a command's product goes.
#[derive(Debug)]
pub struct Output<'a> {
    path: &'a Path,
    force: bool,
}

impl<'a> Output<'a> {
    /// A file, or the standard output for `-`. A file that exists is told before any work is done.
    pub fn at(path: &'a Path, force: bool) -> anyhow::Result<Self> {
        let output = Self { path, force };
        if !output.is_standard() && !force && path.exists() {
            bail!(exists(path));
        }
        Ok(output)
    }

    fn is_standard(&self) -> bool {
        self.path == Path::new("-")
    }

    /// Writes it; of a file it says so, and of how many ports it is.
    pub fn write(&self, text: &str, ports: usize, out: &mut Out) -> anyhow::Result<()> {
        if self.is_standard() {
            return Ok(out.write(text)?);
        }
        write(text, self.path, self.force)?;
        let plural = if ports == 1 { "" } else { "s" };
        let line = format!("wrote {} ({ports} port{plural})\n", self.path.display());
        Ok(out.write(&line)?)
    }
}

fn exists(path: &Path) -> String {
    format!("{} exists already; use --force to overwrite it", path.display())
}

/// Writes a file so that it is there whole or not at all, whatever happens meanwhile: it has no name
/// until it is whole. Where the file system knows no files without names, it has another one
/// meanwhile, which an end by force may leave behind.
pub fn write(text: &str, path: &Path, force: bool) -> anyhow::Result<()> {
    let done = if force && fs::metadata(path).is_ok_and(|there| !there.is_file()) {
        // A device or a pipe is written to, never replaced.
        OpenOptions::new().write(true).open(path).and_then(|mut to| to.write_all(text.as_bytes()))
    } else {
        // Another name for a file stays: what it leads to is replaced.
        let led = force && path.is_symlink();
        let target = if led { fs::canonicalize(path) } else { Ok(path.to_owned()) };
        target.and_then(|target| whole(text, &target, force))
    };
    match done {
        Err(error) if error.kind() == io::ErrorKind::AlreadyExists && !force => bail!(exists(path)),
        other => other.with_context(|| format!("cannot write {}", path.display())),
    }
}

fn whole(text: &str, path: &Path, force: bool) -> io::Result<()> {
    let folder = path.parent().filter(|folder| !folder.as_os_str().is_empty());
    let folder = folder.unwrap_or(Path::new("."));
    let unnamed = OpenOptions::new().write(true).custom_flags(libc::O_TMPFILE).open(folder);
    let part = part(path);
    let named = match unnamed {
        Ok(mut file) => {
            file.write_all(text.as_bytes())?;
            let held = format!("/proc/self/fd/{}", file.as_raw_fd());
            let name = |to: &Path| {
                linkat(AT_FDCWD, held.as_str(), AT_FDCWD, to, AtFlags::AT_SYMLINK_FOLLOW)
            };
            match name(path) {
                Ok(()) => return Ok(()),
                Err(Errno::EEXIST) if force => name(&part),
                Err(Errno::ENOENT) => Err(Errno::EOPNOTSUPP), // no /proc here
                Err(other) => Err(other),
            }
        }
        Err(error) => match error.raw_os_error() {
            // As open(2) tells it, and older kernels.
            Some(libc::EOPNOTSUPP | libc::EISDIR | libc::EINVAL) => Err(Errno::EOPNOTSUPP),
            _ => return Err(error),
        },
    };
    match named {
        Ok(()) => {}
        Err(Errno::EOPNOTSUPP) => fs::write(&part, text)?,
        Err(other) => return Err(other.into()),
    }
    let moved = if force { fs::rename(&part, path) } else { fs::hard_link(&part, path) };
    if moved.is_err() || !force {
        let _ = fs::remove_file(&part);
    }
    moved
}

/// The name beside it, of this run alone.
fn part(path: &Path) -> PathBuf {
    let mut name = OsString::from(path);
    name.push(format!(".{}.part", std::process::id()));
    name.into()
}
