//! The only way to the kernel: questions, every one of them a GET.
//!
//! [`Question`] is a closed list. A message can be made from it alone, and each of its members
//! maps to a GET request of the kernel's published headers, so that no code here can express a
//! SET. The socket is private to this file and used blocking with a time limit: a reply to a
//! question is queued by the kernel before the question's send returns.

use std::io;
use std::os::fd::AsFd as _;

use nix::poll::{PollFd, PollFlags, PollTimeout, poll};
use rtnetlink::packet_core::{
    NLM_F_ACK, NLM_F_DUMP, NLM_F_DUMP_INTR, NLM_F_REQUEST, NLMSG_DONE, NLMSG_ERROR, NLMSG_NOOP,
    NLMSG_OVERRUN,
};
use rtnetlink::sys::protocols::{NETLINK_GENERIC, NETLINK_ROUTE};
use rtnetlink::sys::{Socket, SocketAddr};

use crate::observe::live::attributes::{Attributes, as_text, push};
use crate::snapshot::{Missing, Reason};

/// The family name in the kernel's header `linux/ethtool_netlink.h`.
pub(super) const FAMILY_NAME: &str = "ethtool";

/// `RTM_GETLINK` of `linux/rtnetlink.h`.
const RTM_GETLINK: u16 = 18;
/// `GENL_ID_CTRL` of `linux/genetlink.h`.
const CONTROLLER: u16 = 0x10;
/// `CTRL_CMD_GETFAMILY` of `linux/genetlink.h`.
const GETFAMILY: u8 = 3;

/// Commands of the Ethernet family, from `linux/ethtool_netlink.h` (user to kernel).
pub(super) mod command {
    /// ETHTOOL_MSG_LINKINFO_GET
    pub const LINK_INFO: u8 = 2;
    /// ETHTOOL_MSG_LINKMODES_GET
    pub const LINK_MODES: u8 = 4;
    /// ETHTOOL_MSG_LINKSTATE_GET
    pub const LINK_STATE: u8 = 6;
    /// ETHTOOL_MSG_FEC_GET
    pub const FEC: u8 = 29;
    /// ETHTOOL_MSG_MODULE_EEPROM_GET
    pub const MODULE_MEMORY: u8 = 31;
    /// ETHTOOL_MSG_STATS_GET
    pub const STATISTICS: u8 = 32;
}

/// Compact bitsets in the reply (`ETHTOOL_FLAG_COMPACT_BITSETS`).
const FLAG_COMPACT: u32 = 1;
/// Statistics in the reply (`ETHTOOL_FLAG_STATS`).
const FLAG_STATISTICS: u32 = 4;
/// A nested attribute (`NLA_F_NESTED`).
const NESTED: u16 = 0x8000;

/// Everything that can be asked. There is no other way to build a message.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Question {
    /// All interfaces (dump).
    Links,
    /// The Ethernet family's number and commands.
    Family,
    /// Connector of all interfaces (dump).
    LinkInfo,
    /// Speeds and modes of all interfaces (dump).
    LinkModes,
    /// Link and extended state of all interfaces (dump).
    LinkState,
    /// FEC of all interfaces (dump).
    Fec {
        /// With counters; an older kernel refuses that.
        counters: bool,
    },
    /// Standard statistics of all interfaces (dump).
    Statistics,
    /// A stretch of one module's memory.
    ModuleMemory {
        /// Interface.
        index: u32,
        /// Two-wire address, 7 bits.
        address: u8,
        /// Bank.
        bank: u8,
        /// Page.
        page: u8,
        /// First byte.
        offset: u8,
        /// Bytes, 1 to 128.
        length: u8,
    },
}

impl Question {
    /// True if it goes to the routing socket, false if to the generic one.
    fn is_routing(self) -> bool {
        matches!(self, Self::Links)
    }

    /// True if the answer is a dump.
    fn is_dump(self) -> bool {
        !matches!(self, Self::Family | Self::ModuleMemory { .. })
    }

    /// Message type and body. `family` is the Ethernet family's number.
    fn message(self, family: u16) -> (u16, Vec<u8>) {
        let flags = |flags: u32| {
            let mut header = Vec::new();
            push(&mut header, 3, &flags.to_ne_bytes()); // ETHTOOL_A_HEADER_FLAGS
            header
        };
        let about = |command: u8, header_attribute: u16, header: &[u8]| {
            let mut body = vec![command, 1, 0, 0];
            push(&mut body, header_attribute | NESTED, header);
            body
        };
        match self {
            // struct ifinfomsg, all zero: every family, every index.
            Self::Links => (RTM_GETLINK, vec![0; 16]),
            Self::Family => {
                let mut body = vec![GETFAMILY, 1, 0, 0];
                let mut name = FAMILY_NAME.as_bytes().to_vec();
                name.push(0);
                push(&mut body, 2, &name); // CTRL_ATTR_FAMILY_NAME
                (CONTROLLER, body)
            }
            Self::LinkInfo => (family, about(command::LINK_INFO, 1, &flags(FLAG_COMPACT))),
            Self::LinkModes => (family, about(command::LINK_MODES, 1, &flags(FLAG_COMPACT))),
            Self::LinkState => (family, about(command::LINK_STATE, 1, &flags(FLAG_COMPACT))),
            Self::Fec { counters } => {
                let wanted = if counters { FLAG_COMPACT | FLAG_STATISTICS } else { FLAG_COMPACT };
                (family, about(command::FEC, 1, &flags(wanted)))
            }
            Self::Statistics => {
                // The header is attribute 2 here; groups 0-3 as a compact bitset without mask.
                let mut body = about(command::STATISTICS, 2, &flags(FLAG_COMPACT));
                let mut groups = Vec::new();
                push(&mut groups, 1, &[]); // ETHTOOL_A_BITSET_NOMASK
                push(&mut groups, 2, &4u32.to_ne_bytes()); // ETHTOOL_A_BITSET_SIZE
                push(&mut groups, 4, &0xfu32.to_ne_bytes()); // ETHTOOL_A_BITSET_VALUE
                push(&mut body, 3 | NESTED, &groups);
                (family, body)
            }
            Self::ModuleMemory { index, address, bank, page, offset, length } => {
                let mut header = Vec::new();
                push(&mut header, 1, &index.to_ne_bytes()); // ETHTOOL_A_HEADER_DEV_INDEX
                let mut body = about(command::MODULE_MEMORY, 1, &header);
                push(&mut body, 2, &u32::from(offset).to_ne_bytes());
                push(&mut body, 3, &u32::from(length).to_ne_bytes());
                push(&mut body, 4, &[page]);
                push(&mut body, 5, &[bank]);
                push(&mut body, 6, &[address]);
                (family, body)
            }
        }
    }
}

/// What came back.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Refusal {
    /// Error number, positive.
    pub errno: i32,
    /// The kernel's words, if it had any.
    pub text: Option<String>,
}

impl Refusal {
    /// As a reason for a missing fact.
    pub fn missing(&self) -> Missing {
        let reason = match self.errno {
            libc::EPERM | libc::EACCES => Reason::NotPermitted,
            libc::EOPNOTSUPP => Reason::NotSupported,
            libc::ENODEV => Reason::Gone,
            libc::EIO | libc::EREMOTEIO | libc::ENXIO => Reason::BusError,
            libc::EBUSY | libc::EAGAIN => Reason::Busy,
            libc::ETIMEDOUT => Reason::TimedOut,
            _ => Reason::NotReported,
        };
        let words = io::Error::from_raw_os_error(self.errno);
        match &self.text {
            Some(text) => Missing::with(reason, format!("{text}; {words}")),
            None => Missing::with(reason, words.to_string()),
        }
    }
}

/// Why a question has no answer.
#[derive(Debug)]
pub(super) enum Failure {
    /// The kernel refused.
    Refused(Refusal),
    /// The socket failed.
    Socket(io::Error),
    /// Nothing came in time.
    TimedOut,
}

impl Failure {
    /// As a reason for a missing fact.
    pub fn missing(&self) -> Missing {
        match self {
            Self::Refused(refusal) => refusal.missing(),
            Self::Socket(error) => Missing::with(Reason::NotReported, error.to_string()),
            Self::TimedOut => Reason::TimedOut.into(),
        }
    }
}

/// A dump's or reply's end.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Ended {
    /// The kernel says that the list changed while it was being dumped.
    pub interrupted: bool,
}

/// A connection to the kernel, for questions.
pub(super) struct Kernel {
    routing: Socket,
    generic: Socket,
    family: u16,
    sequence: u32,
    buffer: Vec<u8>,
    milliseconds: u16,
}

/// Room for one datagram: the kernel fills up to 32 KiB of a dump at once.
const DATAGRAM: usize = 64 * 1024;

impl Kernel {
    /// Opens both sockets.
    ///
    /// # Errors
    /// The host has no netlink.
    pub fn open(milliseconds: u16) -> io::Result<Self> {
        let open = |protocol| -> io::Result<Socket> {
            let mut socket = Socket::new(protocol)?;
            socket.bind_auto()?;
            socket.connect(&SocketAddr::new(0, 0))?;
            socket.set_ext_ack(true)?;
            socket.set_cap_ack(true)?;
            Ok(socket)
        };
        Ok(Self {
            routing: open(NETLINK_ROUTE)?,
            generic: open(NETLINK_GENERIC)?,
            family: 0,
            sequence: 0,
            buffer: Vec::with_capacity(DATAGRAM),
            milliseconds,
        })
    }

    /// The Ethernet family's number, once it is known.
    pub fn set_family(&mut self, family: u16) {
        self.family = family;
    }

    /// Asks, and hands the body of each answer to `take`.
    ///
    /// # Errors
    /// Why there is no answer, or no whole one.
    pub fn ask(
        &mut self,
        question: Question,
        mut take: impl FnMut(&[u8]),
    ) -> Result<Ended, Failure> {
        let (kind, body) = question.message(self.family);
        let flags = NLM_F_REQUEST | if question.is_dump() { NLM_F_DUMP } else { NLM_F_ACK };
        self.sequence = self.sequence.wrapping_add(1);
        let mut message = Vec::with_capacity(16 + body.len());
        let length = u32::try_from(16 + body.len()).unwrap_or(u32::MAX);
        message.extend_from_slice(&length.to_ne_bytes());
        message.extend_from_slice(&kind.to_ne_bytes());
        message.extend_from_slice(&flags.to_ne_bytes());
        message.extend_from_slice(&self.sequence.to_ne_bytes());
        message.extend_from_slice(&0u32.to_ne_bytes());
        message.extend_from_slice(&body);
        let socket = if question.is_routing() { &self.routing } else { &self.generic };
        socket.send(&message, 0).map_err(Failure::Socket)?;
        let mut ended = Ended { interrupted: false };
        loop {
            wait(socket, self.milliseconds)?;
            self.buffer.clear();
            socket.recv(&mut self.buffer, 0).map_err(Failure::Socket)?;
            for message in Messages(&self.buffer) {
                if message.sequence != self.sequence {
                    continue; // left over from a question that timed out
                }
                ended.interrupted |= message.flags & NLM_F_DUMP_INTR != 0;
                match message.kind {
                    NLMSG_NOOP => {}
                    NLMSG_OVERRUN => {
                        return Err(Failure::Socket(io::Error::from_raw_os_error(libc::ENOBUFS)));
                    }
                    NLMSG_DONE => return finish(&message, 4).map(|()| ended),
                    NLMSG_ERROR => {
                        let echoed = if message.flags & 0x100 != 0 {
                            20 // capped: code and header
                        } else {
                            4 + message.body.get(4..8).and_then(length_of).unwrap_or(16)
                        };
                        return finish(&message, echoed).map(|()| ended);
                    }
                    _ => take(message.body),
                }
            }
        }
    }
}

fn length_of(bytes: &[u8]) -> Option<usize> {
    usize::try_from(u32::from_ne_bytes(bytes.try_into().ok()?)).ok()
}

/// Ends a dump or request: code 0 is success, whatever text a skipped device left behind.
fn finish(message: &Message<'_>, attributes_at: usize) -> Result<(), Failure> {
    let code = message
        .body
        .get(..4)
        .and_then(|four| Some(i32::from_ne_bytes(four.try_into().ok()?)))
        .unwrap_or(0);
    if code >= 0 {
        return Ok(());
    }
    // 0x200: attributes follow; attribute 1 is the kernel's text.
    let rest = message.body.get(attributes_at.next_multiple_of(4)..).unwrap_or_default();
    let text = (message.flags & 0x200 != 0 || message.kind == NLMSG_DONE)
        .then(|| Attributes(rest).find(1).map(as_text))
        .flatten();
    Err(Failure::Refused(Refusal { errno: code.saturating_neg(), text }))
}

fn wait(socket: &Socket, milliseconds: u16) -> Result<(), Failure> {
    let mut set = [PollFd::new(socket.as_fd(), PollFlags::POLLIN)];
    loop {
        match poll(&mut set, PollTimeout::from(milliseconds)) {
            Ok(0) => return Err(Failure::TimedOut),
            Ok(_) => return Ok(()),
            Err(nix::errno::Errno::EINTR) => {}
            Err(errno) => return Err(Failure::Socket(errno.into())),
        }
    }
}

/// One netlink message.
struct Message<'a> {
    kind: u16,
    flags: u16,
    sequence: u32,
    body: &'a [u8],
}

/// Messages of one datagram.
struct Messages<'a>(&'a [u8]);

impl<'a> Iterator for Messages<'a> {
    type Item = Message<'a>;

    fn next(&mut self) -> Option<Message<'a>> {
        let four = |at: usize| self.0.get(at..at + 4);
        let length = length_of(four(0)?)?;
        let kind = u16::from_ne_bytes(self.0.get(4..6)?.try_into().ok()?);
        let flags = u16::from_ne_bytes(self.0.get(6..8)?.try_into().ok()?);
        let sequence = u32::from_ne_bytes(four(8)?.try_into().ok()?);
        let body = self.0.get(16..length)?;
        self.0 = self.0.get(length.next_multiple_of(4)..).unwrap_or_default();
        Some(Message { kind, flags, sequence, body })
    }
}

/// Walks over a datagram as [`Kernel::ask`] does, for fuzzing.
pub(super) fn walk(datagram: &[u8]) -> usize {
    let ends = Messages(datagram).map(|message| finish(&message, 20));
    ends.filter(|end| end.as_ref().is_err_and(|failure| !failure.missing().to_string().is_empty()))
        .count()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::observe::live::header_test::{define, enumerated, header};

    const ALL: [Question; 9] = [
        Question::Links,
        Question::Family,
        Question::LinkInfo,
        Question::LinkModes,
        Question::LinkState,
        Question::Fec { counters: true },
        Question::Fec { counters: false },
        Question::Statistics,
        Question::ModuleMemory { index: 2, address: 0x50, bank: 0, page: 0, offset: 0, length: 96 },
    ];

    /// Every message that can leave the program is a GET of the kernel's own headers. The match
    /// has no wildcard: a new question must be named here.
    #[test]
    fn only_get_requests_exist() {
        let family = header("ethtool_netlink.h");
        for question in ALL {
            let (kind, body) = question.message(0x77);
            let name = match question {
                Question::Links => {
                    assert_eq!(u32::from(kind), 18);
                    let text = header("rtnetlink.h");
                    assert!(text.contains("RTM_GETLINK,"), "after RTM_NEWLINK = 16");
                    assert!(text.contains("RTM_NEWLINK\t= 16"));
                    continue;
                }
                Question::Family => {
                    assert_eq!(kind, 0x10);
                    assert_eq!(enumerated(&header("genetlink.h"), "CTRL_CMD_GETFAMILY"), 3);
                    assert_eq!(body[0], 3);
                    continue;
                }
                Question::LinkInfo => "ETHTOOL_MSG_LINKINFO_GET",
                Question::LinkModes => "ETHTOOL_MSG_LINKMODES_GET",
                Question::LinkState => "ETHTOOL_MSG_LINKSTATE_GET",
                Question::Fec { .. } => "ETHTOOL_MSG_FEC_GET",
                Question::Statistics => "ETHTOOL_MSG_STATS_GET",
                Question::ModuleMemory { .. } => "ETHTOOL_MSG_MODULE_EEPROM_GET",
            };
            assert!(name.ends_with("_GET"));
            assert_eq!(kind, 0x77);
            assert_eq!(u32::from(body[0]), enumerated(&family, name), "{name}");
        }
        assert_eq!(define(&family, "ETHTOOL_GENL_NAME"), format!("\"{FAMILY_NAME}\""));
    }

    #[test]
    fn refusals_are_reasons() {
        let reason = |errno| Refusal { errno, text: None }.missing().reason;
        assert_eq!(reason(libc::EPERM), Reason::NotPermitted);
        assert_eq!(reason(libc::EOPNOTSUPP), Reason::NotSupported);
        assert_eq!(reason(libc::EIO), Reason::BusError);
        assert_eq!(reason(libc::ENODEV), Reason::Gone);
    }

    proptest::proptest! {
        #[test]
        fn any_datagram(bytes in proptest::collection::vec(proptest::num::u8::ANY, 0..400)) {
            for message in Messages(&bytes) {
                let _ = finish(&message, 20);
            }
        }
    }
}
