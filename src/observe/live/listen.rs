//! Listening for what neighbours announce of themselves (IEEE 802.1AB), and nothing else.
//!
//! In: interfaces and a time. Out: what was heard on each. This file has no call that lets a frame
//! out (a test here holds it to that, `tests/live` watches it from outside). A socket an interface
//! is bound to it and to the one Ethernet type, so that other traffic never reaches this program.
//! It asks the adapter to let the group address in, as any listener on the host may; the kernel
//! counts the askers and forgets this one when the socket is closed.

use std::collections::HashMap;
use std::io;
use std::os::fd::{AsFd as _, AsRawFd as _};
use std::thread::JoinHandle;
use std::time::{Duration, Instant as Clock};

use nix::errno::Errno;
use nix::ifaddrs::getifaddrs;
use nix::poll::{PollFd, PollFlags, PollTimeout, poll};
use nix::sys::socket::{LinkAddr, SockaddrStorage, bind, recvfrom, setsockopt};
use nix::{setsockopt_impl, sockopt_impl};
use socket2::{Domain, Protocol, Socket, Type};

use crate::observe::neighbour;
use crate::snapshot::{Fact, Missing, Nature, Neighbour, Port, Reason};

/// Longest time, seconds. Announcements come every 30 s where nobody changed that (from memory).
pub const LONGEST_SECONDS: u16 = 600;
/// Most interfaces that are listened on: a socket each, and a process may often have 1024 files.
const MOST_PORTS: usize = 512;
/// Most frames that are taken from one interface: who announces itself that often is no neighbour
/// but a flood, and it is not listened on any longer.
const MOST_FRAMES: u32 = 1000;
/// Most neighbours that are kept of one interface.
const MOST_NEIGHBOURS: usize = 16;

sockopt_impl!(
    /// Lets a multicast address in, until the socket is closed.
    LetIn,
    SetOnly,
    libc::SOL_PACKET,
    libc::PACKET_ADD_MEMBERSHIP,
    libc::packet_mreq
);

/// Listening that has begun, on a thread.
pub struct Listening {
    heard: JoinHandle<Vec<Ear>>,
    ends: Clock,
}

/// One interface that is listened on.
struct Ear {
    place: usize,
    index: u32,
    /// The socket, or why there is none (any more).
    socket: Result<Socket, Missing>,
    began: Clock,
    listened: Duration,
    frames: u32,
    heard: Vec<Neighbour>,
}

impl Listening {
    /// Begins on the ports that can have a neighbour: all that were asked for by name; of the
    /// others those with hardware behind them.
    pub fn start(ports: &mut [Port], named: bool, seconds: u16) -> Self {
        let addresses = addresses();
        let mut ears = Vec::new();
        for (place, port) in ports.iter_mut().enumerate() {
            let Some(index) = port.index.known().copied() else { continue };
            let why_not = match &port.nature {
                Fact::Known(Nature::Loopback) => Some("nothing is at the end of it"),
                _ if !named && !port.is_hardware() => {
                    Some("it is made by software; name the port to listen there")
                }
                _ if ears.len() >= MOST_PORTS => {
                    Some("that many ports are not listened on at once")
                }
                _ => None,
            };
            if let Some(why_not) = why_not {
                port.neighbours = Fact::missing_with(Reason::NotApplicable, why_not);
                continue;
            }
            let socket = match &addresses {
                Ok(addresses) => match addresses.get(&index) {
                    Some(address) => open(address, index),
                    None => Err(Missing::with(Reason::NotSupported, "it has no link address")),
                },
                Err(errno) => Err(why(*errno)),
            };
            ears.push(Ear {
                place,
                index,
                socket,
                began: Clock::now(),
                listened: Duration::ZERO,
                frames: 0,
                heard: Vec::new(),
            });
        }
        // Counted from the last socket, so that each is open that long.
        let ends = Clock::now() + Duration::from_secs(seconds.min(LONGEST_SECONDS).into());
        let heard = std::thread::spawn(move || {
            listen(&mut ears, ends);
            ears
        });
        Self { heard, ends }
    }

    /// Waits for the end of the time and tells each port what was heard.
    pub fn finish(self, ports: &mut [Port], progress: &mut dyn FnMut(&str)) {
        while !self.heard.is_finished() {
            let left = self.ends.saturating_duration_since(Clock::now());
            progress(&format!("listening for neighbours, {:.0} s left", left.as_secs_f64().ceil()));
            // A little more than what is left: the thread ends by itself.
            std::thread::sleep(left.clamp(Duration::from_millis(5), Duration::from_millis(250)));
        }
        let ears = self.heard.join().unwrap_or_else(|_| {
            for port in ports.iter_mut().filter(|port| port.neighbours.is_not_asked()) {
                port.neighbours = Fact::missing_with(Reason::NotReported, "listening broke off");
            }
            Vec::new()
        });
        for ear in ears {
            let Some(port) = ports.get_mut(ear.place) else { continue };
            port.neighbours = match ear.socket {
                Err(why) if ear.heard.is_empty() => Fact::Missing(why),
                _ => {
                    let listened = u64::try_from(ear.listened.as_millis()).unwrap_or(u64::MAX);
                    port.listened_milliseconds = Fact::Known(listened);
                    Fact::Known(ear.heard)
                }
            };
        }
    }
}

/// Link addresses of all interfaces by index; in them the socket is told which one to listen on.
fn addresses() -> Result<HashMap<u32, SockaddrStorage>, Errno> {
    let all = getifaddrs()?.filter_map(|interface| interface.address);
    let of = |address: SockaddrStorage| {
        let index = u32::try_from(address.as_link_addr()?.ifindex()).ok()?;
        Some((index, address))
    };
    Ok(all.filter_map(of).collect())
}

fn open(address: &SockaddrStorage, index: u32) -> Result<Socket, Missing> {
    let protocol = Protocol::from(i32::from(neighbour::ETHERNET_TYPE.to_be()));
    let opened = Socket::new(Domain::PACKET, Type::RAW, Some(protocol))
        .and_then(|socket| socket.set_nonblocking(true).map(|()| socket));
    let socket = opened.map_err(|error| why(errno(&error)))?;
    // The address names no Ethernet type: the kernel then keeps that of the socket.
    bind(socket.as_raw_fd(), address).map_err(why)?;
    let mut group = [0; 8];
    for (to, from) in group.iter_mut().zip(neighbour::GROUP) {
        *to = from;
    }
    let membership = libc::packet_mreq {
        mr_ifindex: i32::try_from(index).map_err(|_| why(Errno::ENODEV))?,
        mr_type: u16::try_from(libc::PACKET_MR_MULTICAST).unwrap_or_default(),
        mr_alen: 6,
        mr_address: group,
    };
    setsockopt(&socket, LetIn, &membership).map_err(why)?;
    Ok(socket)
}

fn errno(error: &io::Error) -> Errno {
    Errno::from_raw(error.raw_os_error().unwrap_or_default())
}

fn why(errno: Errno) -> Missing {
    let (reason, text): (_, String) = match errno {
        Errno::EPERM | Errno::EACCES => {
            (Reason::NotPermitted, "listening needs the CAP_NET_RAW capability".into())
        }
        Errno::ENODEV | Errno::ENXIO => (Reason::Gone, "the interface vanished".into()),
        Errno::ENETDOWN => (Reason::NotReported, "the interface is switched off".into()),
        Errno::EAFNOSUPPORT | Errno::EINVAL | Errno::EOPNOTSUPP => (
            Reason::NotSupported,
            "it is no Ethernet interface, or the kernel lets nobody listen".into(),
        ),
        other => (Reason::NotReported, format!("the kernel did not let it listen: {other}")),
    };
    Missing::with(reason, text)
}

/// Takes frames until the time is over, or nobody is left to listen.
fn listen(ears: &mut [Ear], ends: Clock) {
    let mut buffer = [0; neighbour::LONGEST];
    loop {
        let left = ends.saturating_duration_since(Clock::now());
        let open: Vec<usize> =
            (0..ears.len()).filter(|place| ears.get(*place).is_some_and(Ear::is_open)).collect();
        if left.is_zero() || open.is_empty() {
            break;
        }
        let mut awaited: Vec<PollFd<'_>> = open
            .iter()
            .filter_map(|place| ears.get(*place)?.socket.as_ref().ok())
            .map(|socket| PollFd::new(socket.as_fd(), PollFlags::POLLIN))
            .collect();
        // Rounded up, so that the last part of a millisecond is no busy loop.
        let milliseconds = u16::try_from(left.as_millis() + 1).unwrap_or(u16::MAX);
        let polled = poll(&mut awaited, PollTimeout::from(milliseconds));
        let ready: Vec<bool> = awaited.iter().map(|one| one.any() == Some(true)).collect();
        match polled {
            Ok(0) | Err(Errno::EINTR) => continue,
            Ok(_) => {}
            Err(error) => {
                for ear in ears.iter_mut() {
                    ear.close(why(error));
                }
                return;
            }
        }
        for (place, _) in open.iter().zip(&ready).filter(|(_, ready)| **ready) {
            if let Some(ear) = ears.get_mut(*place) {
                ear.take(&mut buffer);
            }
        }
    }
    for ear in ears.iter_mut().filter(|ear| ear.is_open()) {
        ear.listened = ear.began.elapsed();
    }
}

impl Ear {
    fn is_open(&self) -> bool {
        self.socket.is_ok() && self.frames < MOST_FRAMES
    }

    fn close(&mut self, why: Missing) {
        self.listened = self.began.elapsed();
        self.socket = Err(why);
    }

    /// Takes one frame, and what it says.
    fn take(&mut self, buffer: &mut [u8]) {
        let Ok(socket) = &self.socket else { return };
        let (length, from) = match recvfrom::<LinkAddr>(socket.as_raw_fd(), buffer) {
            Ok(taken) => taken,
            Err(Errno::EAGAIN | Errno::EINTR | Errno::ENOBUFS) => return,
            Err(errno) => return self.close(why(errno)),
        };
        self.frames += 1;
        if !self.is_open() {
            self.listened = self.began.elapsed();
        }
        // Before the socket was bound it heard other interfaces too.
        let here = from.is_some_and(|from| u32::try_from(from.ifindex()) == Ok(self.index));
        let told = buffer.get(..length).filter(|_| here).and_then(neighbour::frame);
        if let Some(mut told) = told {
            told.at_milliseconds =
                u64::try_from(self.began.elapsed().as_millis()).unwrap_or(u64::MAX);
            keep(&mut self.heard, told);
        }
    }
}

/// Keeps the latest announcement of each; a lifetime of zero says that it holds no longer.
fn keep(heard: &mut Vec<Neighbour>, told: Neighbour) {
    let same = |known: &Neighbour| known.chassis == told.chassis && known.port == told.port;
    let place = heard.iter().position(same);
    match (place, told.lifetime_seconds) {
        (Some(place), 0) => drop(heard.remove(place)),
        (None, 0) => {}
        (Some(place), _) => {
            if let Some(known) = heard.get_mut(place) {
                *known = told;
            }
        }
        (None, _) if heard.len() < MOST_NEIGHBOURS => heard.push(told),
        (None, _) => {}
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::snapshot::NeighbourName;

    /// No call of this file lets a frame out.
    #[test]
    fn nothing_here_speaks() {
        let source = include_str!("listen.rs");
        let code = source.split("#[cfg(test)]").next().unwrap();
        for word in ["send", "write", "connect"] {
            assert!(!code.contains(word), "{word}");
        }
    }

    fn told(name: &str, seconds: u16, at: u64) -> Neighbour {
        Neighbour {
            at_milliseconds: at,
            port: NeighbourName { kind: "interface name".into(), name: name.into() },
            lifetime_seconds: seconds,
            ..Neighbour::default()
        }
    }

    #[test]
    fn the_latest_of_each_and_no_more_than_fit() {
        let mut heard = Vec::new();
        keep(&mut heard, told("boat0", 120, 1));
        keep(&mut heard, told("boat0", 120, 2));
        assert_eq!(heard.len(), 1);
        assert_eq!(heard[0].at_milliseconds, 2);
        keep(&mut heard, told("boat1", 0, 3));
        assert_eq!(heard.len(), 1, "what says good-bye first was never there");
        keep(&mut heard, told("boat0", 0, 4));
        assert!(heard.is_empty());
        for number in 0..100 {
            keep(&mut heard, told(&format!("boat{number}"), 120, 5));
        }
        assert_eq!(heard.len(), MOST_NEIGHBOURS);
    }
}
