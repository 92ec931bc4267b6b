//! Chooses the board named by `BOARD`: its memory and its peripherals.

use std::{env, fs, path::Path};

const BOARDS: [&str; 3] = ["microbit", "mps2", "an505"];

fn main() {
    println!("cargo:rerun-if-env-changed=BOARD");
    println!("cargo:rerun-if-changed=memory");
    println!("cargo:rustc-check-cfg=cfg(board, values(\"microbit\", \"mps2\", \"an505\"))");
    let is = |name, value| env::var(name).as_deref() == Ok(value);
    if !is("CARGO_CFG_TARGET_OS", "none") || !is("CARGO_CFG_TARGET_ARCH", "arm") {
        return;
    }
    let board = env::var("BOARD").unwrap_or_else(|_| "mps2".into());
    assert!(BOARDS.contains(&board.as_str()), "no board {board}");
    println!("cargo:rustc-cfg=board=\"{board}\"");
    let out = env::var("OUT_DIR").expect("cargo sets OUT_DIR");
    fs::copy(format!("memory/{board}.x"), Path::new(&out).join("memory.x")).expect("its memory");
    println!("cargo:rustc-link-search={out}");
    for arg in ["-Tlink.x", "--nmagic"] {
        println!("cargo:rustc-link-arg-bins={arg}");
    }
    if env::var("CARGO_FEATURE_DEFMT").is_ok() {
        println!("cargo:rustc-link-arg-bins=-Tdefmt.x");
    }
}
