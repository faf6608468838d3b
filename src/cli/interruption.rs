//! A call that is interrupted takes away what it has half written, and ends as it would have ended otherwise.

/// From here on this process waits for an interruption. Where it cannot, the system ends it as it always did.
#[cfg(unix)]
pub fn end_tidily() {
    use signal_hook::iterator::Signals;
    use signal_hook::low_level::emulate_default_handler;

    let Ok(mut signals) = Signals::new(heeded(&ignored())) else { return };
    std::thread::spawn(move || {
        for signal in signals.forever() {
            crate::disk::give_up();
            let _ = emulate_default_handler(signal);
        }
    });
}

#[cfg(not(unix))]
pub fn end_tidily() {}

/// Who started the process may have made it deaf to a signal, as `nohup` does; so it stays.
#[cfg(unix)]
fn heeded(ignored: &str) -> Vec<i32> {
    use signal_hook::consts::{SIGHUP, SIGINT, SIGTERM};
    let ignored = u64::from_str_radix(ignored, 16).unwrap_or_default();
    let is_heeded = |signal: &i32| ignored >> (signal - 1) & 1 == 0;
    [SIGHUP, SIGINT, SIGTERM].into_iter().filter(is_heeded).collect()
}

/// The signals that this process ignores, as bits of a number in hexadecimal digits; none where the system does not tell.
#[cfg(unix)]
fn ignored() -> String {
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let line = status.lines().find_map(|line| line.strip_prefix("SigIgn:"));
    line.unwrap_or_default().trim().to_owned()
}

#[cfg(all(test, unix))]
mod tests {
    use super::heeded;
    use signal_hook::consts::{SIGHUP, SIGINT, SIGTERM};

    #[test]
    fn a_signal_that_is_ignored_is_not_waited_for() {
        assert_eq!(heeded("0000000000000000"), [SIGHUP, SIGINT, SIGTERM]);
        // SIGHUP is 1 and SIGPIPE 13 on every Unix
        assert_eq!(heeded("0000000000001001"), [SIGINT, SIGTERM]);
        assert_eq!(heeded("no number"), [SIGHUP, SIGINT, SIGTERM]);
    }
}
