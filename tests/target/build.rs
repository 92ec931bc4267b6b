//! The memory of the board named by `BOARD`, and the link script for the programs that run on it.
//! `no_panic` is never run and takes none.

use std::{env, fs, path::Path};

fn main() {
    println!("cargo:rerun-if-env-changed=BOARD");
    println!("cargo:rerun-if-changed=../../examples/addon/memory");
    if env::var("CARGO_CFG_TARGET_OS").as_deref() != Ok("none") {
        return;
    }
    let board = env::var("BOARD").unwrap_or_else(|_| "mps2".into());
    let out = env::var("OUT_DIR").expect("cargo sets OUT_DIR");
    let memory = fs::read_to_string(format!("../../examples/addon/memory/{board}.x"))
        .unwrap_or_else(|e| panic!("no board {board}: {e}"));
    let clock = memory
        .lines()
        .find_map(|line| line.trim().strip_prefix("/* clock_hz = ")?.strip_suffix(" */"))
        .expect("the board's file says its clock");
    println!("cargo:rustc-env=BOARD_HZ={clock}");
    fs::write(Path::new(&out).join("memory.x"), &memory).expect("OUT_DIR can be written");
    println!("cargo:rustc-link-search={out}");
    for program in ["selftest", "cost", "failures"] {
        for arg in ["-Tlink.x", "-Tstack_sizes.x", "--nmagic"] {
            println!("cargo:rustc-link-arg-bin={program}={arg}");
        }
    }
    // What the compiler says of each function's stack is kept, outside the image.
    let keep = "SECTIONS { .stack_sizes (INFO) : { KEEP(*(.stack_sizes)); } }\n";
    fs::write(Path::new(&out).join("stack_sizes.x"), keep).expect("OUT_DIR can be written");
}
