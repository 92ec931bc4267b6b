//! Walks the calls of an image from one function and adds up the deepest stack.
//!
//! Frames are what the compiler wrote down (`-Z emit-stack-sizes`); for the few functions it wrote
//! nothing for, what their code takes. Calls are read from the disassembly. A branch to another
//! function counts as a call. A call through a pointer or in a circle cannot be walked and fails.
//!
//! Arguments: the image; its disassembly; the function to begin at. Writes a `figure` line, and the
//! path as comments.

use anyhow::{Context, Result, bail, ensure};
use object::{Object, ObjectSection};
use std::collections::HashMap;
use std::fs;

#[derive(Debug, Default)]
struct Function {
    name: String,
    /// What the disassembly says its code takes.
    taken: u64,
    calls: Vec<u64>,
    /// Calls to where nobody knows.
    blind: Vec<String>,
}

fn main() -> Result<()> {
    let mut arguments = std::env::args().skip(1);
    let image = arguments.next().context("the image")?;
    let disassembly = arguments.next().context("its disassembly")?;
    let root = arguments.next().context("the function to begin at")?;
    let functions = functions(&fs::read_to_string(disassembly)?)?;
    let frames = frames(&fs::read(image)?)?;
    ensure!(!frames.is_empty(), "no stack sizes in the image");
    let start = functions
        .iter()
        .find_map(|(at, f)| (f.name == root).then_some(*at))
        .with_context(|| format!("no function {root}"))?;
    let mut walk = Walk { functions, frames, known: HashMap::new(), path: Vec::new() };
    let (bytes, path) = walk.deepest(start)?;
    for at in path {
        let (frame, told) = walk.frame(at);
        println!(
            "# {frame:5} {}{}",
            walk.functions[&at].name,
            if told { "" } else { " (by its code)" }
        );
    }
    println!("figure stack walked {bytes}");
    Ok(())
}

/// Address and size pairs: four bytes, then a number in groups of seven bits.
fn frames(image: &[u8]) -> Result<HashMap<u64, u64>> {
    let file = object::File::parse(image)?;
    let section = file.section_by_name(".stack_sizes").context("no section .stack_sizes")?;
    let mut data = section.data()?;
    let mut frames = HashMap::new();
    while let Some((address, rest)) = data.split_first_chunk::<4>() {
        let (mut size, mut shift, mut used) = (0_u64, 0, 0);
        for &byte in rest {
            size |= u64::from(byte & 0x7f) << shift;
            shift += 7;
            used += 1;
            if byte & 0x80 == 0 {
                break;
            }
        }
        frames.insert(u64::from(u32::from_le_bytes(*address)) & !1, size);
        data = &rest[used..];
    }
    Ok(frames)
}

fn functions(text: &str) -> Result<HashMap<u64, Function>> {
    let mut functions: HashMap<u64, Function> = HashMap::new();
    let mut here = None;
    for line in text.lines() {
        if let Some((address, name)) = line.strip_suffix(">:").and_then(|l| l.split_once(" <")) {
            let at = u64::from_str_radix(address, 16)?;
            functions.insert(at, Function { name: name.into(), ..Function::default() });
            here = Some(at);
            continue;
        }
        let (Some(at), Some((mnemonic, operands))) = (here, instruction(line)) else { continue };
        let function = functions.get_mut(&at).context("a function")?;
        read(function, mnemonic, operands);
    }
    // Branches inside a function are no calls.
    let starts: HashMap<u64, ()> = functions.keys().map(|&at| (at, ())).collect();
    for (at, function) in &mut functions {
        function.calls.retain(|call| call != at && starts.contains_key(call));
        function.calls.sort_unstable();
        function.calls.dedup();
    }
    Ok(functions)
}

/// `  400:\tf005 f929 \tbl\t5656 <name>`
fn instruction(line: &str) -> Option<(&str, &str)> {
    let mut cells = line.split('\t');
    cells.next()?.trim().strip_suffix(':')?;
    cells.next()?;
    Some((cells.next()?.trim(), cells.next().unwrap_or("")))
}

fn read(function: &mut Function, mnemonic: &str, operands: &str) {
    let plain = mnemonic.split('.').next().unwrap_or(mnemonic);
    match plain {
        "push" => function.taken += 4 * registers(operands),
        "vpush" => function.taken += 8 * registers(operands),
        "stmdb" if operands.starts_with("sp!") => function.taken += 4 * registers(operands),
        "sub" | "subw" if operands.starts_with("sp,") => function.taken += constant(operands),
        "blx" if !operands.contains('<') => function.blind.push(format!("{mnemonic} {operands}")),
        "bx" if operands.trim() != "lr" => function.blind.push(format!("{mnemonic} {operands}")),
        _ if plain.starts_with('b') || plain.starts_with("cb") => {
            let target = operands.rsplit(", ").next().unwrap_or("");
            let target = target.trim().split(' ').next().unwrap_or("");
            // Only the start of a function is one: a branch into the middle is its own.
            if let Ok(at) = u64::from_str_radix(target, 16) {
                function.calls.push(at);
            }
        }
        _ => {}
    }
}

/// How many registers a list such as `{r4, r5-r7, lr}` names.
fn registers(operands: &str) -> u64 {
    let list = operands.split('{').nth(1).unwrap_or("").split('}').next().unwrap_or("");
    let number = |name: &str| name.trim().trim_start_matches(['r', 'd', 's']).parse::<u64>().ok();
    list.split(',')
        .map(|part| match part.split_once('-') {
            Some((from, to)) => match (number(from), number(to)) {
                (Some(from), Some(to)) => to - from + 1,
                _ => 1,
            },
            None => 1,
        })
        .sum()
}

fn constant(operands: &str) -> u64 {
    let text = operands.split('#').nth(1).unwrap_or("");
    text.split(|c: char| !c.is_ascii_digit()).next().and_then(|n| n.parse().ok()).unwrap_or(0)
}

struct Walk {
    functions: HashMap<u64, Function>,
    frames: HashMap<u64, u64>,
    known: HashMap<u64, (u64, Vec<u64>)>,
    path: Vec<u64>,
}

impl Walk {
    /// Bytes of a function's own frame, and whether the compiler told.
    fn frame(&self, at: u64) -> (u64, bool) {
        match self.frames.get(&at) {
            Some(&size) => (size, true),
            None => (self.functions[&at].taken, false),
        }
    }

    fn deepest(&mut self, at: u64) -> Result<(u64, Vec<u64>)> {
        if let Some(known) = self.known.get(&at) {
            return Ok(known.clone());
        }
        let function = &self.functions[&at];
        ensure!(!self.path.contains(&at), "{} calls itself", function.name);
        if let Some(call) = function.blind.first() {
            bail!("{} calls through a pointer: {call}", function.name);
        }
        self.path.push(at);
        let mut below = (0, Vec::new());
        for call in function.calls.clone() {
            let found = self.deepest(call)?;
            if found.0 > below.0 {
                below = found;
            }
        }
        self.path.pop();
        let mut path = vec![at];
        path.extend(below.1);
        let found = (self.frame(at).0 + below.0, path);
        self.known.insert(at, found.clone());
        Ok(found)
    }
}
