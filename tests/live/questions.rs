//! Watches a program from outside and reads, where it asks the kernel by `ioctl` for what netlink
//! does not tell, which question it asks: a tracer such as `strace` shows no more than that it does.

use std::fs::File;
use std::os::unix::fs::FileExt as _;
use std::process::{Command, Stdio};

use nix::sys::ptrace::{self, Options};
use nix::sys::signal::{Signal, kill};
use nix::sys::wait::{WaitPidFlag, WaitStatus, waitpid};
use nix::unistd::Pid;

/// SIOCETHTOOL, linux/sockios.h.
const SIOCETHTOOL: u64 = 0x8946;

/// Runs the program with these arguments; the interface and number of each question, in order.
pub fn asked(program: &str, arguments: &[&str]) -> Vec<(String, u32)> {
    // It stops itself before it becomes the program, so that nothing is missed.
    #[allow(clippy::zombie_processes, reason = "waited for by its number, below")]
    let child = Command::new("sh")
        .args(["-c", "kill -STOP $$; exec \"$0\" \"$@\"", program])
        .args(arguments)
        .stdout(Stdio::null())
        .spawn()
        .unwrap();
    let pid = Pid::from_raw(i32::try_from(child.id()).unwrap());
    let stopped = waitpid(pid, Some(WaitPidFlag::WUNTRACED)).unwrap();
    assert_eq!(stopped, WaitStatus::Stopped(pid, Signal::SIGSTOP));
    ptrace::attach(pid).unwrap();
    waitpid(pid, None).unwrap();
    let options = Options::PTRACE_O_TRACESYSGOOD
        | Options::PTRACE_O_TRACECLONE
        | Options::PTRACE_O_TRACEEXEC
        | Options::PTRACE_O_EXITKILL;
    ptrace::setoptions(pid, options).unwrap();
    kill(pid, Signal::SIGCONT).unwrap();
    ptrace::syscall(pid, None).unwrap();
    let mut asked = Vec::new();
    let mut within = std::collections::HashSet::new();
    // Other tests of this process wait for children of their own.
    loop {
        let status = waitpid(None, Some(WaitPidFlag::__WALL | WaitPidFlag::__WNOTHREAD)).unwrap();
        let (task, signal) = match status {
            WaitStatus::PtraceSyscall(task) => {
                // Stopped twice a call: on the way in, and on the way out.
                if within.insert(task) {
                    asked.extend(question(task));
                } else {
                    within.remove(&task);
                }
                (task, None)
            }
            WaitStatus::Exited(task, code) => {
                if task == pid {
                    assert_ne!(code, 1, "the program failed");
                    return asked;
                }
                continue;
            }
            WaitStatus::Signaled(task, signal, _) => panic!("{task} died of {signal}"),
            // A new thread stops once at its start.
            WaitStatus::Stopped(task, Signal::SIGSTOP | Signal::SIGTRAP) => (task, None),
            WaitStatus::Stopped(task, signal) => (task, Some(signal)),
            WaitStatus::PtraceEvent(task, _, _) => (task, None),
            other => panic!("{other:?}"),
        };
        ptrace::syscall(task, signal).unwrap();
    }
}

/// The question that a stopped thread is about to ask, if it asks one.
fn question(task: Pid) -> Option<(String, u32)> {
    let call = std::fs::read_to_string(format!("/proc/{task}/syscall")).unwrap();
    let mut words = call.split_whitespace();
    if words.next()?.parse() != Ok(libc::SYS_ioctl) {
        return None;
    }
    let words: Vec<u64> =
        words.map(|word| u64::from_str_radix(word.trim_start_matches("0x"), 16).unwrap()).collect();
    if words[1] != SIOCETHTOOL {
        return None;
    }
    let memory = File::open(format!("/proc/{task}/mem")).unwrap();
    // struct ifreq: the name in 16 octets, then where the question is.
    let mut request = [0; 24];
    memory.read_exact_at(&mut request, words[2]).unwrap();
    let name = request[..16].split(|octet| *octet == 0).next().unwrap();
    let mut number = [0; 4];
    let place = u64::from_ne_bytes(request[16..].try_into().unwrap());
    memory.read_exact_at(&mut number, place).unwrap();
    Some((String::from_utf8_lossy(name).into_owned(), u32::from_ne_bytes(number)))
}
