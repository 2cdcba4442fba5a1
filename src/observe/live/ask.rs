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
    /// ETHTOOL_MSG_RINGS_GET
    pub const RINGS: u8 = 15;
    /// ETHTOOL_MSG_PAUSE_GET
    pub const PAUSE: u8 = 21;
    /// ETHTOOL_MSG_EEE_GET
    pub const ENERGY_SAVING: u8 = 23;
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
/// Request attributes of `linux/ethtool_netlink.h`.
const HEADER_DEV_INDEX: u16 = 1; // ETHTOOL_A_HEADER_DEV_INDEX
const HEADER_FLAGS: u16 = 3; // ETHTOOL_A_HEADER_FLAGS
const HEADER: u16 = 1; // ETHTOOL_A_LINKINFO_HEADER and its like in all but one message
const STATISTICS_HEADER: u16 = 2; // ETHTOOL_A_STATS_HEADER
const STATISTICS_GROUPS: u16 = 3; // ETHTOOL_A_STATS_GROUPS
const BITSET_NOMASK: u16 = 1; // ETHTOOL_A_BITSET_NOMASK
const BITSET_SIZE: u16 = 2; // ETHTOOL_A_BITSET_SIZE
const BITSET_VALUE: u16 = 4; // ETHTOOL_A_BITSET_VALUE
const MEMORY_OFFSET: u16 = 2; // ETHTOOL_A_MODULE_EEPROM_OFFSET
const MEMORY_LENGTH: u16 = 3; // ETHTOOL_A_MODULE_EEPROM_LENGTH
const MEMORY_PAGE: u16 = 4; // ETHTOOL_A_MODULE_EEPROM_PAGE
const MEMORY_BANK: u16 = 5; // ETHTOOL_A_MODULE_EEPROM_BANK
const MEMORY_ADDRESS: u16 = 6; // ETHTOOL_A_MODULE_EEPROM_I2C_ADDRESS
/// A nested attribute (`NLA_F_NESTED`).
const NESTED: u16 = 0x8000;

/// Whom a question is about.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum About {
    /// Every interface (dump).
    All,
    /// The interface with this index.
    One(u32),
}

/// Everything that can be asked. There is no other way to build a message.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Question {
    /// All interfaces (dump).
    Links,
    /// The Ethernet family's number and commands.
    Family,
    /// Connector.
    LinkInfo(About),
    /// Speeds and modes.
    LinkModes(About),
    /// Link and extended state.
    LinkState(About),
    /// FEC.
    Fec {
        /// Whom it is about.
        about: About,
        /// With counters; an older kernel refuses that.
        counters: bool,
    },
    /// Flow control.
    Pause {
        /// Whom it is about.
        about: About,
        /// With counters; an older kernel refuses that.
        counters: bool,
    },
    /// Receive and transmit rings.
    Rings(About),
    /// Energy-efficient Ethernet.
    EnergySaving(About),
    /// Standard statistics.
    Statistics(About),
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
        match self {
            Self::Links => true,
            Self::Family | Self::ModuleMemory { .. } => false,
            Self::LinkInfo(about)
            | Self::LinkModes(about)
            | Self::LinkState(about)
            | Self::Fec { about, .. }
            | Self::Pause { about, .. }
            | Self::Rings(about)
            | Self::EnergySaving(about)
            | Self::Statistics(about) => about == About::All,
        }
    }

    /// Message type and body. `family` is the Ethernet family's number.
    fn message(self, family: u16) -> (u16, Vec<u8>) {
        // Generic header, then the request header as the attribute of the given number.
        let open = |command: u8, number: u16, about: About, flags: u32| {
            let mut header = Vec::new();
            if let About::One(index) = about {
                // The index alone: a name may have changed since.
                push(&mut header, HEADER_DEV_INDEX, &index.to_ne_bytes());
            }
            push(&mut header, HEADER_FLAGS, &flags.to_ne_bytes());
            let mut body = vec![command, 1, 0, 0];
            push(&mut body, number | NESTED, &header);
            body
        };
        let flags_with = |counters: bool| {
            if counters { FLAG_COMPACT | FLAG_STATISTICS } else { FLAG_COMPACT }
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
            Self::LinkInfo(about) => {
                (family, open(command::LINK_INFO, HEADER, about, FLAG_COMPACT))
            }
            Self::LinkModes(about) => {
                (family, open(command::LINK_MODES, HEADER, about, FLAG_COMPACT))
            }
            Self::LinkState(about) => {
                (family, open(command::LINK_STATE, HEADER, about, FLAG_COMPACT))
            }
            Self::Fec { about, counters } => {
                (family, open(command::FEC, HEADER, about, flags_with(counters)))
            }
            Self::Pause { about, counters } => {
                (family, open(command::PAUSE, HEADER, about, flags_with(counters)))
            }
            Self::Rings(about) => (family, open(command::RINGS, HEADER, about, FLAG_COMPACT)),
            Self::EnergySaving(about) => {
                (family, open(command::ENERGY_SAVING, HEADER, about, FLAG_COMPACT))
            }
            Self::Statistics(about) => {
                // Groups 0-3 as a compact bitset without mask.
                let mut body = open(command::STATISTICS, STATISTICS_HEADER, about, FLAG_COMPACT);
                let mut groups = Vec::new();
                push(&mut groups, BITSET_NOMASK, &[]);
                push(&mut groups, BITSET_SIZE, &4u32.to_ne_bytes());
                push(&mut groups, BITSET_VALUE, &0xfu32.to_ne_bytes());
                push(&mut body, STATISTICS_GROUPS | NESTED, &groups);
                (family, body)
            }
            Self::ModuleMemory { index, address, bank, page, offset, length } => {
                let mut body = open(command::MODULE_MEMORY, HEADER, About::One(index), 0);
                push(&mut body, MEMORY_OFFSET, &u32::from(offset).to_ne_bytes());
                push(&mut body, MEMORY_LENGTH, &u32::from(length).to_ne_bytes());
                push(&mut body, MEMORY_PAGE, &[page]);
                push(&mut body, MEMORY_BANK, &[bank]);
                push(&mut body, MEMORY_ADDRESS, &[address]);
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
    /// True if a dump was going on: then it is about one device, and those behind it were not
    /// asked. False if the request itself was refused.
    pub midway: bool,
}

impl Refusal {
    /// As a reason for a missing fact.
    pub fn missing(&self) -> Missing {
        let reason = match self.errno {
            libc::ENODEV if self.is_about_no_interface() => Reason::Gone,
            // The interface is listed, but its device does not answer.
            libc::ENODEV if self.text.is_none() => {
                return Missing::with(
                    Reason::NotReported,
                    "the device is away (asleep, being reset, or being removed)",
                );
            }
            libc::EPERM | libc::EACCES => Reason::NotPermitted,
            libc::EOPNOTSUPP => Reason::NotSupported,
            libc::EIO | libc::EREMOTEIO | libc::ENXIO | libc::ETIMEDOUT => Reason::BusError,
            libc::EBUSY | libc::EAGAIN => Reason::Busy,
            _ => Reason::NotReported,
        };
        let words = io::Error::from_raw_os_error(self.errno);
        match &self.text {
            Some(text) => Missing::with(reason, format!("{text}; {words}")),
            None => Missing::with(reason, words.to_string()),
        }
    }

    /// True if the kernel knows no interface of that index ("no device matches ifindex"; a
    /// device that is merely away is refused without these words).
    fn is_about_no_interface(&self) -> bool {
        self.text.as_deref().is_some_and(|text| text.contains("no device matches"))
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
    /// The list changed while it was being dumped, or a part of it was lost on the way.
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

    /// A second connection that asks as this one does.
    ///
    /// # Errors
    /// The host gives no more sockets.
    pub fn another(&self) -> io::Result<Self> {
        Ok(Self { family: self.family, ..Self::open(self.milliseconds)? })
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
            match socket.recv(&mut self.buffer, 0) {
                Ok(_) => {}
                // A part was lost for want of room. The rest of the dump must be taken off the
                // socket before anything else can be asked.
                Err(error) if error.raw_os_error() == Some(libc::ENOBUFS) => {
                    ended.interrupted = true;
                    continue;
                }
                Err(error) if error.kind() == io::ErrorKind::Interrupted => continue,
                Err(error) => return Err(Failure::Socket(error)),
            }
            for message in Messages(&self.buffer) {
                if message.sequence != self.sequence {
                    continue; // left over from a question that timed out
                }
                ended.interrupted |= message.flags & NLM_F_DUMP_INTR != 0;
                match message.kind {
                    NLMSG_NOOP => {}
                    NLMSG_OVERRUN => ended.interrupted = true,
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
    let midway = message.kind == NLMSG_DONE;
    let text = (message.flags & 0x200 != 0 || midway)
        .then(|| Attributes(rest).find(1).map(as_text))
        .flatten();
    Err(Failure::Refused(Refusal { errno: code.saturating_neg(), text, midway }))
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

    fn all() -> Vec<Question> {
        let memory = Question::ModuleMemory {
            index: 2,
            address: 0x50,
            bank: 0,
            page: 0,
            offset: 0,
            length: 96,
        };
        let mut all = vec![Question::Links, Question::Family, memory];
        for about in [About::All, About::One(7)] {
            all.extend([
                Question::LinkInfo(about),
                Question::LinkModes(about),
                Question::LinkState(about),
                Question::Fec { about, counters: true },
                Question::Fec { about, counters: false },
                Question::Pause { about, counters: true },
                Question::Pause { about, counters: false },
                Question::Rings(about),
                Question::EnergySaving(about),
                Question::Statistics(about),
            ]);
        }
        all
    }

    /// Every message that can leave the program is a GET of the kernel's own headers. The match
    /// has no wildcard: a new question must be named here.
    #[test]
    fn only_get_requests_exist() {
        let family = header("ethtool_netlink.h");
        for question in all() {
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
                Question::LinkInfo(_) => "ETHTOOL_MSG_LINKINFO_GET",
                Question::LinkModes(_) => "ETHTOOL_MSG_LINKMODES_GET",
                Question::LinkState(_) => "ETHTOOL_MSG_LINKSTATE_GET",
                Question::Fec { .. } => "ETHTOOL_MSG_FEC_GET",
                Question::Pause { .. } => "ETHTOOL_MSG_PAUSE_GET",
                Question::Rings(_) => "ETHTOOL_MSG_RINGS_GET",
                Question::EnergySaving(_) => "ETHTOOL_MSG_EEE_GET",
                Question::Statistics(_) => "ETHTOOL_MSG_STATS_GET",
                Question::ModuleMemory { .. } => "ETHTOOL_MSG_MODULE_EEPROM_GET",
            };
            assert!(name.ends_with("_GET"));
            assert_eq!(kind, 0x77);
            assert_eq!(u32::from(body[0]), enumerated(&family, name), "{name}");
        }
        assert_eq!(define(&family, "ETHTOOL_GENL_NAME"), format!("\"{FAMILY_NAME}\""));
    }

    /// Attribute and flag numbers of requests, against the kernel's header.
    #[test]
    fn request_attributes_are_the_headers() {
        let text = header("ethtool_netlink.h");
        for (name, number) in [
            ("ETHTOOL_A_HEADER_DEV_INDEX", HEADER_DEV_INDEX),
            ("ETHTOOL_A_HEADER_FLAGS", HEADER_FLAGS),
            ("ETHTOOL_A_LINKINFO_HEADER", HEADER),
            ("ETHTOOL_A_LINKMODES_HEADER", HEADER),
            ("ETHTOOL_A_LINKSTATE_HEADER", HEADER),
            ("ETHTOOL_A_FEC_HEADER", HEADER),
            ("ETHTOOL_A_PAUSE_HEADER", HEADER),
            ("ETHTOOL_A_RINGS_HEADER", HEADER),
            ("ETHTOOL_A_EEE_HEADER", HEADER),
            ("ETHTOOL_A_MODULE_EEPROM_HEADER", HEADER),
            ("ETHTOOL_A_STATS_HEADER", STATISTICS_HEADER),
            ("ETHTOOL_A_STATS_GROUPS", STATISTICS_GROUPS),
            ("ETHTOOL_A_BITSET_NOMASK", BITSET_NOMASK),
            ("ETHTOOL_A_BITSET_SIZE", BITSET_SIZE),
            ("ETHTOOL_A_BITSET_VALUE", BITSET_VALUE),
            ("ETHTOOL_A_MODULE_EEPROM_OFFSET", MEMORY_OFFSET),
            ("ETHTOOL_A_MODULE_EEPROM_LENGTH", MEMORY_LENGTH),
            ("ETHTOOL_A_MODULE_EEPROM_PAGE", MEMORY_PAGE),
            ("ETHTOOL_A_MODULE_EEPROM_BANK", MEMORY_BANK),
            ("ETHTOOL_A_MODULE_EEPROM_I2C_ADDRESS", MEMORY_ADDRESS),
        ] {
            assert_eq!(enumerated(&text, name), u32::from(number), "{name}");
        }
        assert_eq!(define(&text, "ETHTOOL_FLAG_COMPACT_BITSETS"), "(1 << 0)");
        assert_eq!(FLAG_COMPACT, 1 << 0);
        assert_eq!(define(&text, "ETHTOOL_FLAG_STATS"), "(1 << 2)");
        assert_eq!(FLAG_STATISTICS, 1 << 2);
    }

    #[test]
    fn refusals_are_reasons() {
        let refusal = |errno, text: Option<&str>| {
            Refusal { errno, text: text.map(str::to_owned), midway: false }.missing().reason
        };
        assert_eq!(refusal(libc::EPERM, None), Reason::NotPermitted);
        assert_eq!(refusal(libc::EOPNOTSUPP, None), Reason::NotSupported);
        assert_eq!(refusal(libc::EIO, None), Reason::BusError);
        assert_eq!(refusal(libc::ETIMEDOUT, None), Reason::BusError);
        // The kernel's words for a vanished interface, and a detached one: kernel-facts.
        assert_eq!(refusal(libc::ENODEV, Some("no device matches ifindex")), Reason::Gone);
        assert_eq!(refusal(libc::ENODEV, None), Reason::NotReported);
    }

    /// Byte layout of an answer that ends a dump or refuses a request: kernel-facts, "Extended
    /// ack layout".
    #[test]
    fn a_dump_that_a_device_ends_is_told_from_a_refused_request() {
        let text = |at: &mut Vec<u8>| push(at, 1, b"failed to retrieve link settings\0");
        let mut done = (-libc::EIO).to_ne_bytes().to_vec();
        text(&mut done);
        let message = Message { kind: NLMSG_DONE, flags: 2, sequence: 1, body: &done };
        let Err(Failure::Refused(refusal)) = finish(&message, 4) else { panic!() };
        assert_eq!((refusal.errno, refusal.midway), (libc::EIO, true));
        assert_eq!(refusal.text.as_deref(), Some("failed to retrieve link settings"));
        let mut error = (-libc::EINVAL).to_ne_bytes().to_vec();
        error.extend([0; 16]);
        text(&mut error);
        let message = Message { kind: NLMSG_ERROR, flags: 0x300, sequence: 1, body: &error };
        let Err(Failure::Refused(refusal)) = finish(&message, 20) else { panic!() };
        assert_eq!((refusal.errno, refusal.midway), (libc::EINVAL, false));
        assert!(refusal.text.is_some());
        // Code 0 with words left by a skipped device is success.
        let mut done = 0i32.to_ne_bytes().to_vec();
        text(&mut done);
        let message = Message { kind: NLMSG_DONE, flags: 2, sequence: 1, body: &done };
        assert!(finish(&message, 4).is_ok());
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
