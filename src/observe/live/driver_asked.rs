//! What netlink does not tell, asked of a driver by `ioctl`.
//!
//! In: an interface by its name, and one of a closed list of questions. Out: the answer's octets,
//! unjudged. It is the only use of `ioctl` and the only `unsafe` of the program. Anybody may ask.
//! The interface is named, not numbered: one that is renamed meanwhile is gone.
#![allow(unsafe_code, reason = "no safe crate asks these questions; see Room and Asker::ask")]

use std::io;
use std::os::fd::AsRawFd;
use std::os::unix::net::UnixDatagram;
use std::ptr::NonNull;

use crate::snapshot::{Missing, Reason};

/// Octets of the largest answer that there is room for: 4096 names of 32 octets, and their head.
const LARGEST: usize = 16 + 4096 * 32;
/// Room for the name of an interface, with the 0 behind it (IFNAMSIZ).
const INTERFACE: usize = 16;
/// SIOCETHTOOL
const SIOCETHTOOL: libc::Ioctl = 0x8946;

/// The questions: all that can be asked here. Each only reads.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[repr(u32)]
pub(super) enum Get {
    /// ETHTOOL_GDRVINFO
    Driver = 0x03,
    /// ETHTOOL_GSTRINGS
    Names = 0x1b,
    /// ETHTOOL_GSTATS
    Values = 0x1d,
    /// ETHTOOL_GSSET_INFO
    Count = 0x37,
}

/// Memory that the kernel writes its answer to. The kernel does not hold itself to the size it is
/// told: it writes as many names and values as the driver has by then. Whatever would be written
/// beyond the room meets a page behind it that nobody may touch, and the kernel says EFAULT.
struct Room {
    start: NonNull<u8>,
    usable: usize,
    mapped: usize,
}

impl Room {
    fn new() -> io::Result<Self> {
        // A multiple of any page size there is (up to 64 KiB).
        const PAGE: usize = 64 * 1024;
        let usable = LARGEST.next_multiple_of(PAGE);
        let mapped = usable + PAGE;
        let flags = libc::MAP_PRIVATE | libc::MAP_ANONYMOUS;
        // SAFETY: new memory at a place the kernel picks; nothing that is there is replaced.
        let start =
            unsafe { libc::mmap(std::ptr::null_mut(), mapped, libc::PROT_NONE, flags, -1, 0) };
        if start == libc::MAP_FAILED {
            return Err(io::Error::last_os_error());
        }
        let start = NonNull::new(start.cast::<u8>()).ok_or(io::ErrorKind::OutOfMemory)?;
        let room = Self { start, usable, mapped };
        // SAFETY: `usable` octets from the start are within the mapping above.
        let opened = unsafe {
            libc::mprotect(start.as_ptr().cast(), usable, libc::PROT_READ | libc::PROT_WRITE)
        };
        if opened == 0 { Ok(room) } else { Err(io::Error::last_os_error()) }
    }

    fn octets(&mut self) -> &mut [u8] {
        // SAFETY: mapped readable and writable, zeroed by the kernel, and ours alone; the
        // slice borrows `self`, so neither a call nor `drop` comes while it is held.
        unsafe { std::slice::from_raw_parts_mut(self.start.as_ptr(), self.usable) }
    }
}

impl Drop for Room {
    fn drop(&mut self) {
        // SAFETY: the mapping that `new` made, once; nothing borrows from it any more.
        unsafe { libc::munmap(self.start.as_ptr().cast(), self.mapped) };
    }
}

/// What the kernel takes: an interface's name, and where the question is (struct ifreq).
#[repr(C)]
struct Request {
    name: [u8; INTERFACE],
    question: *mut u8,
    rest: [u8; 24 - size_of::<*mut u8>()],
}

/// Asks drivers of any number of interfaces.
pub(super) struct Asker {
    socket: UnixDatagram,
    room: Room,
}

impl Asker {
    /// # Errors
    /// The host gives no socket or no memory.
    pub fn new() -> io::Result<Self> {
        // Any socket will do; this kind is bound to nothing and can reach nobody.
        Ok(Self { socket: UnixDatagram::unbound()?, room: Room::new()? })
    }

    /// Asks one question; the head is what follows its number. The answer is in the room.
    pub fn ask(&mut self, interface: &str, get: Get, head: &[u32]) -> Result<&[u8], Missing> {
        let name = interface.as_bytes();
        let mut request = Request {
            name: [0; INTERFACE],
            question: self.room.start.as_ptr(),
            rest: [0; 24 - size_of::<*mut u8>()],
        };
        // A name that netlink told in other octets than UTF-8 cannot be said here.
        let fits = name.len() < INTERFACE && !name.contains(&0) && !interface.contains('\u{fffd}');
        let place = request.name.get_mut(..name.len()).filter(|_| fits);
        let Some(place) = place else {
            return Err(Missing::with(Reason::NotReported, "the interface's name cannot be said"));
        };
        place.copy_from_slice(name);
        let question = [&[get as u32], head].concat();
        for (four, word) in self.room.octets().chunks_exact_mut(4).zip(question) {
            four.copy_from_slice(&word.to_ne_bytes());
        }
        // SAFETY: the kernel reads a request of 40 octets, which this is, and the question it
        // points to; it writes to the room from its start on and, as the page behind the room is
        // closed to it, nowhere else. Both live until the call is over, and nothing borrows them.
        let code = unsafe {
            libc::ioctl(self.socket.as_raw_fd(), SIOCETHTOOL, std::ptr::from_mut(&mut request))
        };
        if code < 0 { Err(refused(&io::Error::last_os_error())) } else { Ok(self.room.octets()) }
    }
}

fn refused(error: &io::Error) -> Missing {
    match error.raw_os_error() {
        Some(libc::EOPNOTSUPP) => Reason::NotSupported.into(),
        Some(libc::EPERM | libc::EACCES) => Reason::NotPermitted.into(),
        Some(libc::ENODEV) => Reason::Gone.into(),
        Some(libc::EBUSY | libc::EAGAIN) => Reason::Busy.into(),
        // The page behind the room was met.
        Some(libc::EFAULT) => {
            Missing::with(Reason::Interrupted, "the driver changed its counters meanwhile")
        }
        _ => Missing::with(Reason::NotReported, error.to_string()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::observe::live::header_test::{define, header};

    /// Every question is a GET of the kernel's header; the match has no wildcard.
    #[test]
    fn only_gets_exist() {
        let text = header("ethtool.h");
        for get in [Get::Driver, Get::Names, Get::Values, Get::Count] {
            let name = match get {
                Get::Driver => "ETHTOOL_GDRVINFO",
                Get::Names => "ETHTOOL_GSTRINGS",
                Get::Values => "ETHTOOL_GSTATS",
                Get::Count => "ETHTOOL_GSSET_INFO",
            };
            assert!(name.starts_with("ETHTOOL_G"));
            let told = define(&text, &format!("{name}\t"));
            let number = told.trim_start_matches("0x").split_whitespace().next().unwrap();
            assert_eq!(u32::from_str_radix(number, 16).unwrap(), get as u32, "{name}");
        }
    }

    /// Sizes of the request, against the kernel's headers.
    #[test]
    fn layout_is_the_headers() {
        let told = define(&header("sockios.h"), "SIOCETHTOOL");
        assert!(told.starts_with("0x8946"), "{told}");
        assert_eq!(size_of::<Request>(), 40, "struct ifreq of a 64-bit kernel");
        assert_eq!(size_of::<Request>(), size_of::<libc::ifreq>());
        let told = header("if.h");
        let words: Vec<&str> = told.split_whitespace().collect();
        let at = words.iter().position(|word| *word == "IFNAMSIZ").unwrap();
        assert_eq!(words[at + 1], INTERFACE.to_string());
    }

    /// What the kernel would write beyond the room it cannot: it says so, and nothing is lost.
    #[test]
    fn nothing_is_written_behind_the_room() {
        let mut asker = Asker::new().unwrap();
        asker.room.octets().fill(0x5a);
        // Read from a place so near the end of the room that the answer does not fit.
        let behind = asker.room.usable;
        // SAFETY: the kernel is asked to write 8 octets at a place whose second half is closed.
        let place = asker.room.start.as_ptr().wrapping_add(behind - 4);
        let mut ends = [0i32; 2];
        let got = unsafe {
            assert_eq!(libc::pipe(ends.as_mut_ptr()), 0);
            assert_eq!(libc::write(ends[1], [7u8; 8].as_ptr().cast(), 8), 8);
            let got = libc::read(ends[0], place.cast(), 8);
            libc::close(ends[0]);
            libc::close(ends[1]);
            got
        };
        assert!(got <= 4, "{got}");
        assert_eq!(asker.room.octets()[behind - 5], 0x5a);
    }
}
