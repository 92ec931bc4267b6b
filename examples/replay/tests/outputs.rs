//! What replay writes: whole or not at all, and never over what it reads.

mod common;

use common::cli::{replay_from, replay_to};
use common::recording::Folder;
use std::fs;

#[test]
fn one_file_under_two_options_is_refused_and_kept() {
    let folder = Folder::new();
    fs::write(folder.path("s.toml"), "weight_g = 980\n").unwrap();
    let before = folder.read("in.csv");
    let absolute = folder.path("in.csv");
    for (args, options) in [
        (&["in.csv", "--breaths", "./in.csv"][..], ["FILE", "--breaths"]),
        (&["in.csv", "--chart", &absolute], ["FILE", "--chart"]),
        (&["in.csv", "--settings", "s.toml", "--events", "s.toml"], ["--settings", "--events"]),
        (&["in.csv", "--breaths", "new.csv", "--events", "./new.csv"], ["--breaths", "--events"]),
        (&["--events", "new.csv", "--chart", "new.csv"], ["--events", "--chart"]),
    ] {
        let outcome = folder.run(args);
        assert_eq!(outcome.code, 2, "{args:?}");
        assert!(options.iter().all(|o| outcome.stderr.contains(o)), "{}", outcome.stderr);
        assert_eq!(folder.names(), ["in.csv", "s.toml"]);
    }
    assert_eq!(folder.read("in.csv"), before);
    assert_eq!(folder.read("s.toml"), "weight_g = 980\n");
}

#[cfg(unix)]
#[test]
fn links_are_followed_and_seen_through() {
    use std::os::unix::fs::symlink;
    let folder = Folder::new();
    fs::create_dir(folder.path("sub")).unwrap();
    fs::write(folder.path("sub/old.csv"), "old").unwrap();
    symlink("sub/old.csv", folder.path("link.csv")).unwrap();
    symlink("sub/new.csv", folder.path("dangling.csv")).unwrap();
    symlink("in.csv", folder.path("input.csv")).unwrap();
    let outcome = folder.run(&["in.csv", "--breaths", "link.csv", "--events", "dangling.csv"]);
    assert_eq!(outcome.code, 0, "{}", outcome.stderr);
    assert!(folder.read("sub/old.csv").starts_with("onset_us,"));
    assert!(folder.read("sub/new.csv").starts_with("t_us,event"));
    for link in ["link.csv", "dangling.csv"] {
        assert!(fs::symlink_metadata(folder.path(link)).unwrap().is_symlink());
    }
    for (one, other) in [("in.csv", "input.csv"), ("link.csv", "sub/old.csv")] {
        let outcome = folder.run(&["in.csv", "--breaths", one, "--events", other]);
        assert_eq!(outcome.code, 2, "{one} {other}");
    }
    let text = folder.read("in.csv");
    let outcome =
        replay_from(&folder.path("in.csv"), folder.0.path(), &["-", "--events", "in.csv"]);
    assert!(outcome.code == 2 && folder.read("in.csv") == text, "{}", outcome.stderr);
    symlink("gone.csv", folder.path("a.csv")).unwrap();
    assert_eq!(folder.run(&["in.csv", "--breaths", "a.csv", "--events", "gone.csv"]).code, 2);
}

#[cfg(target_os = "linux")]
#[test]
fn standard_output_is_written_to_whatever_it_is() {
    let folder = Folder::new();
    // A link as /dev/stdout is one, but not the machine's own, which a mistake would destroy.
    std::os::unix::fs::symlink("/proc/self/fd/1", folder.path("stdout")).unwrap();
    let outcome = folder.run(&["in.csv", "--quiet", "--breaths", "stdout"]);
    assert_eq!((outcome.stdout.lines().count(), outcome.stderr.as_str()), (11, ""));
    // A plain file under its own name and under that of the device.
    for name in ["stdout", "out.csv", "/dev/fd/1"] {
        let args = ["in.csv", "--breaths", name, "--events", "e.csv"];
        let outcome = replay_to(&folder.path("out.csv"), folder.0.path(), &args);
        assert_eq!(outcome.code, 0, "{}", outcome.stderr);
        let out = folder.read("out.csv");
        assert!(out.starts_with("onset_us,") && out.contains("Advisory only"), "{name}: {out}");
    }
    assert_eq!(folder.names(), ["e.csv", "in.csv", "out.csv", "stdout"]);
    assert!(fs::symlink_metadata(folder.path("stdout")).unwrap().is_symlink());
}

#[cfg(unix)]
#[test]
fn files_get_the_usual_rights_and_keep_their_own() {
    use std::os::unix::fs::PermissionsExt;
    let folder = Folder::new();
    fs::write(folder.path("kept.csv"), "").unwrap();
    fs::set_permissions(folder.path("kept.csv"), fs::Permissions::from_mode(0o620)).unwrap();
    fs::write(folder.path("usual"), "").unwrap();
    let args = ["in.csv", "--breaths", "kept.csv", "--events", "e.csv", "--chart", "c.svg"];
    assert_eq!(folder.run(&args).code, 0);
    let mode = |name: &str| fs::metadata(folder.path(name)).unwrap().permissions().mode() & 0o777;
    assert_eq!(mode("kept.csv"), 0o620);
    assert_eq!([mode("e.csv"), mode("c.svg")], [mode("usual"); 2]);
}

#[test]
fn a_chart_that_cannot_be_written_leaves_no_table() {
    let folder = Folder::new();
    fs::create_dir(folder.path("folder")).unwrap();
    for chart in ["no/c.svg", "folder"] {
        let outcome = folder.run(&["in.csv", "--breaths", "b.csv", "--chart", chart]);
        assert_eq!(outcome.code, 2);
        assert!(outcome.stderr.contains(chart), "{}", outcome.stderr);
        assert_eq!(folder.names(), ["folder", "in.csv"]);
    }
}
