//! The program as a shell calls it, with what only a shell or the system can set up around it.

use assert_cmd::Command;

use super::Desk;

const PROGRAM: &str = env!("CARGO_BIN_EXE_canewright");

/// A line of a shell on the desk, in which `"$PROGRAM"` is canewright.
pub fn shell(desk: &Desk, line: &str) -> Command {
    let mut command = Command::new("sh");
    command.current_dir(desk.0.path()).env("PROGRAM", PROGRAM).args(["-c", line]);
    command
}

/// The same with a small disk of its own in `disk`, which nobody else sees; none where the system gives a user no such disk.
#[cfg(target_os = "linux")]
pub fn in_a_disk_of_its_own(desk: &Desk, options: &str, line: &str) -> Option<Command> {
    std::fs::create_dir_all(desk.path("disk")).expect("a folder");
    let mount = format!("mount -t tmpfs -o {options} none disk");
    let wrapped = |line: &str| {
        let mut command = Command::new("unshare");
        command.current_dir(desk.0.path()).env("PROGRAM", PROGRAM);
        command.args(["--user", "--map-root-user", "--mount", "sh", "-c", line]);
        command
    };
    let can = wrapped(&mount).output().is_ok_and(|output| output.status.success());
    if !can {
        eprintln!("not run: this system gives no disk of its own to a test");
    }
    can.then(|| wrapped(&format!("{mount} && {{ {line}; }}")))
}
