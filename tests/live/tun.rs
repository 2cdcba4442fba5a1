//! A tun device whose speed and modes a test can set: the one kind of device on which a link's
//! two ends can be played without hardware (kernel-facts notes). Test set-up only: the program
//! itself never does this, and this file alone holds `unsafe`.
#![allow(unsafe_code, reason = "two ioctls of the kernel that no safe crate offers")]

use std::fs::{File, OpenOptions};
use std::io;
use std::net::UdpSocket;
use std::os::fd::AsRawFd;

/// Link settings as `struct ethtool_link_settings` and its three bitmaps lay them out.
#[derive(Debug, Clone, Copy, Default)]
pub struct Settings {
    pub speed: u32,
    pub full_duplex: bool,
    pub autonegotiation: bool,
    /// 0 twisted pair, 3 fibre, 5 direct attach.
    pub port: u8,
    pub supported: &'static [u32],
    pub advertised: &'static [u32],
    pub peer: &'static [u32],
}

/// A tun device with carrier, for as long as it is held.
pub struct Tun {
    file: File,
    name: String,
}

#[repr(C)]
struct InterfaceRequest {
    name: [u8; 16],
    data: [u8; 24],
}

const TUNSETIFF: libc::c_ulong = 0x4004_54ca;
const TUNSETCARRIER: libc::c_ulong = 0x4004_54e2;
const SIOCETHTOOL: libc::c_ulong = 0x8946;
const SLINKSETTINGS: u32 = 0x4d;
/// 32-bit words of a mode bitmap on this kernel: asked for below.
const GLINKSETTINGS: u32 = 0x4c;

fn request(name: &str) -> InterfaceRequest {
    let mut request = InterfaceRequest { name: [0; 16], data: [0; 24] };
    request.name[..name.len()].copy_from_slice(name.as_bytes());
    request
}

fn result(code: libc::c_int) -> io::Result<()> {
    if code < 0 { Err(io::Error::last_os_error()) } else { Ok(()) }
}

impl Tun {
    /// Makes the device.
    pub fn new(name: &str) -> io::Result<Self> {
        let file = OpenOptions::new().read(true).write(true).open("/dev/net/tun")?;
        let mut wanted = request(name);
        wanted.data[..2].copy_from_slice(&0x1001u16.to_ne_bytes()); // tun, no packet information
        // SAFETY: the kernel reads and writes an interface request of 40 bytes, which this is.
        result(unsafe { libc::ioctl(file.as_raw_fd(), TUNSETIFF, &raw mut wanted) })?;
        Ok(Self { file, name: name.to_owned() })
    }

    /// Sets carrier.
    pub fn carrier(&self, up: bool) -> io::Result<()> {
        let mut up = libc::c_int::from(up);
        // SAFETY: the kernel reads one int, which this is.
        result(unsafe { libc::ioctl(self.file.as_raw_fd(), TUNSETCARRIER, &raw mut up) })
    }

    /// Sets speed, duplex, negotiation, connector and the three mode lists.
    pub fn set(&self, settings: Settings) -> io::Result<()> {
        // 48 bytes of header, then three bitmaps of the kernel's own size.
        let mut buffer = [0u32; 12 + 3 * 127];
        buffer[0] = GLINKSETTINGS;
        self.exchange(&mut buffer)?;
        // The kernel answers minus the number of words it wants.
        let bytes: Vec<u8> = buffer.iter().flat_map(|word| word.to_ne_bytes()).collect();
        let words = usize::from(bytes[15].cast_signed().unsigned_abs());
        let mut bytes = vec![0u8; 4 * (12 + 3 * 127)];
        bytes[0..4].copy_from_slice(&SLINKSETTINGS.to_ne_bytes());
        bytes[4..8].copy_from_slice(&settings.speed.to_ne_bytes());
        bytes[8] = u8::from(settings.full_duplex);
        bytes[9] = settings.port;
        bytes[11] = u8::from(settings.autonegotiation);
        bytes[15] = u8::try_from(words).unwrap();
        for (list, modes) in
            [settings.supported, settings.advertised, settings.peer].into_iter().enumerate()
        {
            for mode in modes {
                let byte = 48 + 4 * words * list + usize::try_from(mode / 8).unwrap();
                bytes[byte] |= 1 << (mode % 8);
            }
        }
        for (word, four) in buffer.iter_mut().zip(bytes.chunks_exact(4)) {
            *word = u32::from_ne_bytes(four.try_into().unwrap());
        }
        self.exchange(&mut buffer)
    }

    fn exchange(&self, buffer: &mut [u32; 12 + 3 * 127]) -> io::Result<()> {
        let socket = UdpSocket::bind("127.0.0.1:0").or_else(|_| UdpSocket::bind("[::]:0"))?;
        let mut wanted = request(&self.name);
        wanted.data[..8].copy_from_slice(&(buffer.as_mut_ptr() as usize).to_ne_bytes());
        // SAFETY: the request points to a buffer that outlives the call and is as large as the
        // largest bitmaps the kernel can ask for (127 words each).
        result(unsafe { libc::ioctl(socket.as_raw_fd(), SIOCETHTOOL, &raw mut wanted) })
    }
}
