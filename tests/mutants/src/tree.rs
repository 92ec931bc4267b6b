//! A copy of the project with every change in it, built.

use crate::change::{Change, Planter};
use serde_json::Value;
use std::fs;
use std::hash::{DefaultHasher, Hash, Hasher};
use std::path::{Path, PathBuf};
use std::process::Command;
use syn::visit_mut::VisitMut;

/// The changes that build, the tests' binaries, and the folder that they run in.
pub struct Built {
    pub changes: Vec<Change>,
    pub binaries: Vec<PathBuf>,
    pub tree: PathBuf,
}

/// The question that every change asks.
const ASKS: &str = r#"
/// Whether a change is awake; and where that is asked for, that it was reached.
pub(crate) mod mutant {
    extern crate std;
    use std::io::Write;
    use std::sync::atomic::{AtomicBool, Ordering};
    use std::sync::{Mutex, OnceLock};
    static AWAKE: OnceLock<u32> = OnceLock::new();
    static FILE: OnceLock<Option<Mutex<std::fs::File>>> = OnceLock::new();
    static REACHED: [AtomicBool; 100_000] = [const { AtomicBool::new(false) }; 100_000];
    const fn asleep(_: u32) -> bool { false }
    #[cold]
    fn reach(number: u32) {
        let file = FILE.get_or_init(|| {
            let path = std::env::var("MUTANTS_REACHED").ok()?;
            let file = std::fs::OpenOptions::new().create(true).append(true).open(path).ok()?;
            Some(Mutex::new(file))
        });
        if let Some(file) = file {
            let mut file = file.lock().unwrap_or_else(std::sync::PoisonError::into_inner);
            let _ = std::writeln!(file, "{number}");
        }
    }
    fn asked(number: u32) -> bool {
        let reached = &REACHED[number as usize];
        if !reached.load(Ordering::Relaxed) {
            reached.store(true, Ordering::Relaxed);
            reach(number);
        }
        number == *AWAKE.get_or_init(|| {
            std::env::var("MUTANT").ok().and_then(|number| number.parse().ok()).unwrap_or(u32::MAX)
        })
    }
    pub(crate) const fn awake(number: u32) -> bool {
        core::intrinsics::const_eval_select((number,), asleep, asked)
    }
}
"#;

/// The tests that are asked: the library's own, and those that take seconds.
const TESTS: &str = "accuracy alarms annunciator apnoea blind api bits blocks breath_bounds closing edges exhaustive fault_table faults \
    fuzz_seeds implausible journal journal_export jumps kinds lag latching mechanics metamorphic muscle \
    open_circuit oracle pipeline_oracle properties reverse segmentation settings_kept shifts snapshot soak \
    unheard weaning words";

/// Plants all, and again without those that do not build.
pub fn build(root: &Path, work: &Path, files: &[String]) -> Built {
    let tree = work.join("tree");
    let known = work.join("dropped.txt");
    let mark = mark(root, files);
    let mut dropped = dropped_before(&known, &mark);
    for round in 0..12 {
        let changes = plant(root, &tree, files, &dropped);
        // The library alone, until it builds.
        match cargo(&tree, &work.join("built"), false)
            .and_then(|_| cargo(&tree, &work.join("built"), true))
        {
            Ok(binaries) => {
                let numbers = dropped.iter().map(|number| format!("\n{number}"));
                write(&known, (mark + &numbers.collect::<String>()).as_bytes());
                return Built { changes, binaries, tree };
            }
            Err(places) => {
                let wrong = awake_at(&tree, &places);
                assert!(!wrong.is_empty(), "it does not build, and by no change: {places:?}");
                println!("round {round}: {} changes do not build", wrong.len());
                dropped.extend(wrong);
                dropped.sort_unstable();
                dropped.dedup();
            }
        }
    }
    panic!("it does not build after twelve rounds");
}

/// What did not build at the last run, where the same was planted in the same code.
fn dropped_before(known: &Path, mark: &str) -> Vec<u32> {
    let text = fs::read_to_string(known).unwrap_or_default();
    let mut lines = text.lines();
    let same = lines.next() == Some(mark);
    lines.filter(|_| same).filter_map(|line| line.parse().ok()).collect()
}

/// Tells code that is planted in from any other.
fn mark(root: &Path, files: &[String]) -> String {
    let mut hasher = DefaultHasher::new();
    (files, env!("CARGO_PKG_VERSION"), include_str!("change.rs")).hash(&mut hasher);
    for name in listed(root).iter().filter(|name| is_code(name) && !is_test(name)) {
        (name, fs::read(root.join(name)).unwrap()).hash(&mut hasher);
    }
    hasher.finish().to_string()
}

fn is_code(name: &str) -> bool {
    name.starts_with("src/") && name.ends_with(".rs")
}

fn is_test(name: &str) -> bool {
    name.contains("tests") || name.contains("proof") || name.contains("guide/")
}

/// All files that git knows of or would, in order.
fn listed(root: &Path) -> Vec<String> {
    let listed = Command::new("git")
        .args(["-C", &root.display().to_string(), "ls-files", "-co", "--exclude-standard"])
        .output()
        .expect("git");
    let text = String::from_utf8_lossy(&listed.stdout).into_owned();
    let mut names: Vec<String> = text.lines().map(str::to_owned).collect();
    names.retain(|name| root.join(name).is_file());
    names.sort_by(|a, b| Path::new(a).cmp(Path::new(b)));
    names.dedup();
    names
}

/// Copies the project and plants; the changes that stand in it.
fn plant(root: &Path, tree: &Path, files: &[String], dropped: &[u32]) -> Vec<Change> {
    copy(root, tree);
    let (mut next, mut changes) = (1, Vec::new());
    for full in listed(root).iter().filter(|name| is_code(name)) {
        let path = tree.join(full);
        let name = full.strip_prefix("src/").unwrap().to_owned();
        let asked = files.is_empty() || files.iter().any(|file| file.ends_with(&name));
        let text = fs::read_to_string(root.join(full)).unwrap();
        let mut file = syn::parse_file(&text).unwrap_or_else(|e| panic!("{name}: {e}"));
        fs::create_dir_all(path.parent().unwrap()).unwrap();
        if asked && !is_test(full) && name != "lib.rs" {
            let mut planter = Planter::new(&name, next, dropped);
            planter.visit_file_mut(&mut file);
            next = planter.next();
            changes.extend(planter.changes);
            write(&path, prettyplease::unparse(&file).as_bytes());
        } else if name != "lib.rs" {
            write(&path, text.as_bytes());
        } else {
            let text = text.replace("#![forbid(unsafe_code)]", "");
            let gates = "#![feature(core_intrinsics, const_eval_select)]\n#![allow(warnings)]\n";
            write(&path, format!("{gates}{text}{ASKS}").as_bytes());
        }
    }
    changes
}

/// All but the code of src, which is planted in. What is the same as at the last run is not written again, and so not
/// built again.
fn copy(root: &Path, tree: &Path) {
    for name in listed(root).iter().filter(|name| !is_code(name)) {
        let (from, to) = (root.join(name), tree.join(name));
        fs::create_dir_all(to.parent().unwrap()).unwrap();
        write(&to, &fs::read(from).unwrap());
    }
    // Recordings stand beside the project, where there are any.
    let shared = tree.with_file_name("shared");
    if !shared.exists() {
        let _ = std::os::unix::fs::symlink(root.join("../shared"), shared);
    }
}

/// What stands there already keeps its time: it is not built again.
fn write(path: &Path, bytes: &[u8]) {
    if fs::read(path).ok().as_deref() != Some(bytes) {
        fs::write(path, bytes).unwrap();
    }
}

/// The binaries, or where it does not build: file, first line, last.
fn cargo(tree: &Path, built: &Path, tests: bool) -> Result<Vec<PathBuf>, Vec<(String, u64, u64)>> {
    let mut command = Command::new("cargo");
    let what: &[&str] = if tests { &["test", "--no-run"] } else { &["check"] };
    command.args(what).args(["--message-format=json", "-p", "tidevane", "--lib"]);
    command.args(["--features", "serde,embedded-hal,float"]);
    if tests {
        command.args(TESTS.split_whitespace().map(|test| format!("--test={test}")));
    }
    command.current_dir(tree).env("RUSTC_BOOTSTRAP", "1").env("CARGO_TARGET_DIR", built);
    command.env("RUSTFLAGS", "--cap-lints=allow").env("CARGO_PROFILE_DEV_DEBUG", "0");
    command.env("CARGO_PROFILE_TEST_DEBUG", "0").env("CARGO_INCREMENTAL", "0");
    let out = command.stderr(std::process::Stdio::null()).output().expect("cargo");
    let text = String::from_utf8_lossy(&out.stdout).into_owned();
    let (mut binaries, mut places) = (Vec::new(), Vec::new());
    for message in text.lines().filter_map(|line| serde_json::from_str::<Value>(line).ok()) {
        if let Some(binary) = message["executable"].as_str() {
            binaries.push(PathBuf::from(binary));
        }
        let message = &message["message"];
        if message["level"] == "error" {
            for span in message["spans"].as_array().into_iter().flatten() {
                places.push((
                    span["file_name"].as_str().unwrap_or_default().to_owned(),
                    span["line_start"].as_u64().unwrap_or_default(),
                    span["line_end"].as_u64().unwrap_or_default(),
                ));
            }
        }
    }
    if out.status.success() { Ok(binaries) } else { Err(places) }
}

/// The changes that are asked for about these lines: on them, else on the nearest before.
fn awake_at(tree: &Path, places: &[(String, u64, u64)]) -> Vec<u32> {
    let mut out = Vec::new();
    for (file, first, last) in places {
        let Ok(text) = fs::read_to_string(tree.join(file)) else { continue };
        let lines: Vec<&str> = text.lines().collect();
        let on = |line: usize| -> Vec<u32> {
            let parts = lines.get(line).map_or("", |line| line).split("mutant::awake(").skip(1);
            parts.filter_map(|part| part.split("u32").next()?.parse().ok()).collect()
        };
        let (first, last) =
            ((*first as usize).saturating_sub(1), (*last as usize).saturating_sub(1));
        let here: Vec<u32> = (first..=last).flat_map(on).collect();
        if here.is_empty() {
            let before =
                (first.saturating_sub(12)..first).rev().map(on).find(|all| !all.is_empty());
            out.extend(before.unwrap_or_default());
        } else {
            out.extend(here);
        }
    }
    out
}
